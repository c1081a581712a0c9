"""What readings that are only planned will prove: the same equations, the readings filled in without error.

A planned reading is NaN in the field book. It gets the value that it must have between rough places, from
`sketch.csv` and from what is read already; then the survey is adjusted like any other.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from staking.base.errors import Mistake, WrongInput
from staking.book.records import FieldBook, Row
from staking.book.tables import TABLES
from staking.control.adjusting import Worked, network_of, worked
from staking.control.adjustment import AdjustedReading
from staking.control.datum import datum_of
from staking.control.directions import Norths
from staking.control.equations import Equation, Kind, evaluated, points_of, stacked
from staking.control.kinds import key_of, sorts
from staking.control.network import NOTHING_CHECKS, Network, adjusted_network
from staking.control.observing import Observed, observed_book
from staking.control.settling import NotSettled
from staking.control.sun_readings import add_sun_readings

Floats = NDArray[np.float64]

ABOVE_M = 1.5
"""How far the instrument is taken to stand above the highest point sighted; nothing hangs on it."""
SAME = 1e-12
"""Metres and radians: readings filled in agree with the places to rounding."""
MOST_FILLS = 20
"""Corrections of a tape follow its length: each filling leaves some thousandths of what was left."""
DETECTED_SDS = 4.13
"""A blunder of ``4.13 sd / √r`` is found in four surveys of five by a test that accuses one good reading in a
thousand: 3.29 + 0.84. W. Baarda, A Testing Procedure for Use in Geodetic Networks (1968), from memory."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Planned:
    """A planned survey, adjusted as if its readings had been taken without error."""

    book: FieldBook
    """With every planned reading filled in."""
    survey: Worked
    planned: int
    """Readings that are yet to be taken."""
    unchecked: tuple[AdjustedReading, ...]
    """Readings that nothing will check."""


def smallest_blunder(reading: AdjustedReading) -> float | None:
    """Return the least blunder that will show, metres or radians; None where nothing checks the reading."""
    if reading.redundancy_number < NOTHING_CHECKS:
        return None
    return DETECTED_SDS * reading.sd / math.sqrt(reading.redundancy_number)


def planned_survey(book: FieldBook, *, pier_names: frozenset[str] = frozenset()) -> Planned:
    """Return a planned survey adjusted.

    Raises
    ------
    WrongInput
        When a point has no rough place, or the survey could not be adjusted once read.
    """
    filled = filled_in(book)
    survey = worked(filled, pier_names=pier_names)
    return Planned(
        book=filled,
        survey=survey,
        planned=sum(len(_planned_columns(row)) for row in _rows(book)),
        unchecked=tuple(r for r in survey.adjustment.readings if r.redundancy_number < NOTHING_CHECKS),
    )


def filled_in(book: FieldBook) -> FieldBook:
    """Return the book with each planned reading as it must be between the rough places, without error."""
    missing = {
        (row.table, row.row, column): attribute
        for row in _rows(book)
        for column, attribute in _planned_columns(row).items()
    }
    if not missing:
        return book
    values = dict.fromkeys(missing, 1.0)
    norths = Norths(book=book)
    places: Floats | None = None
    for turn in range(MOST_FILLS):
        trial = _with(book, missing, values)
        observed, network = _network(trial, norths)
        if places is None:
            places = _places(book, observed, network)
        coordinates = _coordinates(observed, network, places)
        if turn == 0:
            _refuse_unplaced(observed, network, coordinates, missing)
        wanted = _predicted(network, coordinates)
        worst = 0.0
        for k, source in enumerate(observed.sources):
            if source is None or (at := (source.table, source.row, source.column)) not in missing:
                continue
            e = network.equations[k]
            change = float(wanted[k]) - e.value
            if e.kind in (Kind.ANGLE, Kind.BEARING):
                change = math.remainder(change, 2.0 * math.pi)
            values[at] += change
            worst = max(worst, abs(change))
        if worst < SAME:
            break
    return _with(book, missing, values)


def _rows(book: FieldBook) -> Iterable[Row]:
    return (row for table in TABLES if table.planned for row in getattr(book, table.attribute))


def _planned_columns(row: Row) -> dict[str, str]:
    """Return the columns of a row that are yet to be read, with their fields."""
    table = next(one for one in TABLES if one.file == row.table)
    found = {}
    for name in table.planned:
        attribute = table.column(name).attribute
        value = getattr(row, attribute)
        if value is not None and math.isnan(value):
            found[name] = attribute
    return found


def _with(
    book: FieldBook,
    missing: Mapping[tuple[str, int, str], str],
    values: Mapping[tuple[str, int, str], float],
) -> FieldBook:
    tables: dict[str, Any] = {}
    for table in TABLES:
        if not table.planned:
            continue
        rows = []
        for row in getattr(book, table.attribute):
            at = {name: (row.table, row.row, name) for name in table.planned}
            given = {missing[key]: values[key] for key in at.values() if key in missing}
            rows.append(replace(row, **given) if given else row)
        tables[table.attribute] = tuple(rows)
    return replace(book, **tables)


def _network(book: FieldBook, norths: Norths) -> tuple[Observed, Network]:
    observed = observed_book(book, norths)
    add_sun_readings(book, observed, norths)
    datum = datum_of(book, observed, norths)
    mistakes = [*observed.mistakes, *norths.mistakes]
    if mistakes:
        raise WrongInput(mistakes)
    sort_of = sorts(book, {key: observed.names[p] for key, p in observed.numbers.items()})
    return observed, network_of(book, observed, datum, sort_of)


def _predicted(network: Network, coordinates: Floats) -> Floats:
    """Return what each reading should be; the side of a slope offset comes from the places."""
    filled = np.nan_to_num(coordinates)
    level = [replace(e, kind=Kind.OFFSET) if e.kind is Kind.SLOPE_OFFSET else e for e in network.equations]
    sides = np.sign(evaluated(stacked(level), filled)[0])
    signed: list[Equation] = [
        replace(e, value=float(sides[k]) or 1.0) if e.kind is Kind.SLOPE_OFFSET else e
        for k, e in enumerate(network.equations)
    ]
    return evaluated(stacked(signed), filled)[0]


def _places(book: FieldBook, observed: Observed, network: Network) -> Floats:
    """Return rough coordinates (n, 3) of the points, NaN where unknown: what is known, read, sketched."""
    places = np.full((len(observed.names), 3), np.nan)
    for row in book.sketch:
        p = observed.numbers.get(key_of(row.point))
        if p is not None:
            places[p] = [math.nan if v is None else v for v in (row.east_m, row.north_m, row.elevation_m)]
    start = network.start[: 3 * len(observed.names)].reshape(-1, 3)
    for held in network.directions:
        run = places[held.to, :2] - places[held.start, :2]
        if np.isfinite(run).all():
            turn = held.azimuth_rad - math.atan2(run[0], run[1])
            c, s = math.cos(turn), math.sin(turn)
            about = places[held.start, :2].copy()
            places[:, :2] = about + (places[:, :2] - about) @ np.array([[c, -s], [s, c]])
    for axes in ((0, 1), (2,)):
        known = [p for p in range(len(places)) if np.isfinite([*start[p, axes], *places[p, axes]]).all()]
        if known:
            places[:, axes] += (start[known[0]] - places[known[0]])[list(axes)]
    level = start[:, 2][np.isfinite(start[:, 2])]
    places[:, 2] = np.where(np.isnan(places[:, 2]), level[0] if len(level) else 0.0, places[:, 2])
    read = _read_so_far(book)
    for key, p in observed.numbers.items():
        if key in read:
            places[p] = np.where(np.isfinite(read[key]), read[key], places[p])
    return np.where(np.isfinite(start), start, places)


def _read_so_far(book: FieldBook) -> dict[str, Floats]:
    """Return the places that the readings already taken give, by key."""
    tables: dict[str, Any] = {}
    for table in TABLES:
        if table.planned:
            rows = getattr(book, table.attribute)
            tables[table.attribute] = tuple(row for row in rows if not _planned_columns(row))
    if not any(tables.values()):
        return {}
    # A level book with gaps makes no sense: it takes part as far as it is whole.
    first = next((i for i, row in enumerate(book.levels) if _planned_columns(row)), len(book.levels))
    tables["levels"] = book.levels[:first]
    try:
        observed, network = _network(replace(book, **tables), Norths(book=book))
        result = adjusted_network(network)
    except (WrongInput, NotSettled):
        return {}
    enz = result.coordinates[: 3 * len(observed.names)].reshape(-1, 3)
    return {key: enz[p] for key, p in observed.numbers.items()}


def _coordinates(observed: Observed, network: Network, places: Floats) -> Floats:
    """Return all coordinates: places, then the extras, every instrument above what it sights."""
    coordinates = np.concatenate([places.ravel(), np.full(network.extras, 0.0)])
    for setup in observed.setups:
        sights = [network.equations[k] for k in setup.readings]
        coordinates[sights[0].at[0]] = ABOVE_M + max(float(places[e.at[1], 2]) for e in sights)
    for k, extra in enumerate(observed.extras):
        if not math.isnan(extra.start):
            coordinates[3 * len(places) + k] = extra.start
    return coordinates


def _refuse_unplaced(
    observed: Observed,
    network: Network,
    coordinates: Floats,
    missing: Mapping[tuple[str, int, str], str],
) -> None:
    lacking: dict[int, None] = {}
    for k, source in enumerate(observed.sources):
        e = network.equations[k]
        if source is None or (source.table, source.row, source.column) not in missing:
            continue
        if e.kind in (Kind.ROD, Kind.RISE, Kind.COORDINATE):
            continue
        for p in points_of(e):
            if np.isnan(coordinates[3 * p : 3 * p + 2]).any():
                lacking[p] = None
    if lacking:
        one = len(lacking) == 1
        points, each = ("this point", "it") if one else (f"{len(lacking)} points", "each")
        raise WrongInput(
            [
                Mistake(
                    file="sketch.csv",
                    read=", ".join(observed.names[p] for p in lacking),
                    problem=f"a planned tape, offset, angle or bearing has no rough place for {points}",
                    remedy=f"Give {each} a rough east and north in sketch.csv: paced, or off a map",
                )
            ]
        )
