"""Every way in which a survey's readings may be wrong: which of them, by how much, and how often.

A cause adds a known amount to some readings, or an amount with a prior, along one direction. How well each
explains the survey is weighed in `weighing.py`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass

from staking.base.globe import read_globe, write_globe_like
from staking.base.units import parse_angle, write_like
from staking.control.equations import ANGULAR, Equation, Kind
from staking.control.network import NetworkResult
from staking.control.observing import Observed, Source
from staking.control.repairs import (
    GIVEN,
    LENGTH_KINDS,
    SHARE_OTHER,
    angle_repairs,
    angle_written,
    reading_repairs,
)
from staking.control.sun_readings import EQUAL, SHADOW, rewritten_shadow

WRONG_READINGS = 0.01
"""Share of readings that are blunders (a judgement: common practice, no source)."""
WRONG_SETUPS = 0.002
"""Share of setups in which the instrument moves, and of turning points that move (a judgement)."""
SHARE_EXCHANGED = 0.06
IN_A_ROW = "BS and FS of one row exchanged"
SHARE_HOW = 0.08
SHARE_STATION_FOR_OFFSET = 0.04
ANY_AMOUNT = "wrong by some other amount"
WIDE_M = (0.03, 0.1, 0.3, 1.0, 3.0)
"""Sizes of blunders of some other amount, in metres: every order of size as likely. In half orders: between
whole ones an amount would seem half as likely, and a slip that fits it by accident twice."""
WIDE_ROD_M = WIDE_M[:-1]
"""The same of rods, which are some metres long."""
WIDE_RAD = (0.01, 0.1, 1.0)
"""The same of angles and bearings."""
FAR_M = (10.0, 1e2, 1e3, 1e4, 1e5, 1e6)
"""Sizes of the few that are larger than these: a number typed wrong may be off by any power of ten."""
SHARE_FAR = 0.04
"""Of blunders of some other amount."""
SHARE_EAST_FOR_NORTH = 0.06
MOVED_M = (0.01, 0.1)
"""Sizes by which instruments and turning points move."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One reading put right."""

    equation: int
    by: float
    """To add to the reading, metres or radians; NaN where the readings must tell."""
    column: str
    read: str
    likely: str
    at: tuple[int, ...] | None = None
    """The points and unknowns that the reading then joins, where a name was mistaken."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """One prior of the amount: a normal law; variance 0: known."""

    mean: float
    variance: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One way of going wrong."""

    changes: tuple[Change, ...]
    steps: tuple[float, ...]
    """What one unit of the amount adds to each changed reading, metres or radians."""
    amounts: tuple[Amount, ...]
    prior: float
    """Chance that it happened."""
    why: str
    blamed: tuple[tuple[int, float], ...] = ()
    """Equations that count as wrong and with what share, where not those changed."""

    @property
    def known(self) -> bool:
        """Whether the repaired readings are known beforehand, not only from the others."""
        return all(amount.variance == 0 for amount in self.amounts)

    @property
    def guilty(self) -> tuple[tuple[int, float], ...]:
        """The equations that are wrong if this happened, with the share of the blame."""
        return self.blamed or tuple((change.equation, 1.0) for change in self.changes)


KNOWN = (Amount(mean=1.0, variance=0.0, share=1.0),)


def known(changes: Sequence[Change], share: float, why: str) -> Cause:
    """Return a cause that changes readings by known amounts."""
    return Cause(
        changes=tuple(changes),
        steps=tuple(change.by for change in changes),
        amounts=KNOWN,
        prior=WRONG_READINGS * share,
        why=why,
    )


def wide(sizes: Sequence[float], far: Sequence[float] = ()) -> tuple[Amount, ...]:
    """Return the priors of an amount that nothing foretells: of usual sizes, and seldom of larger ones."""
    usual = 1.0 - (SHARE_FAR if far else 0.0)
    return tuple(
        Amount(mean=0.0, variance=size**2, share=share / len(those))
        for those, share in ((sizes, usual), (far, SHARE_FAR))
        for size in those
    )


def changed(number: int, source: Source, equation: Equation, by: float, unit: str) -> Change:
    """Return a reading changed by some amount, written as its file writes it."""
    return Change(
        equation=number,
        by=by,
        column=source.column,
        read=source.read,
        likely=rewritten(source, equation, by, unit),
    )


def rewritten(source: Source, equation: Equation, by: float, unit: str) -> str:
    """Return a changed reading as its file writes it; empty for NaN."""
    if math.isnan(by):
        return ""
    if source.kind in (SHADOW, EQUAL):
        return rewritten_shadow(source, equation, by)
    if equation.kind in ANGULAR:
        return angle_written(_angle_read(source, equation), by, source.read)
    if source.rad_per_m:
        # A book made by a program may carry no text.
        with suppress(ValueError):
            return write_globe_like(read_globe(source.read) + by * source.rad_per_m, source.read)
        return ""
    return write_like(equation.value - source.shift + by, source.read, unit=unit)


def _angle_read(source: Source, equation: Equation) -> float:
    """Return an angle or bearing from the north in which it was read."""
    # A book made by a program may carry no text.
    with suppress(ValueError):
        return parse_angle(source.read)
    return equation.value


def single_causes(
    observed: Observed, equations: Sequence[Equation], numbers: Sequence[int], unit: str
) -> Iterator[Cause]:
    """Return what may have gone wrong with one reading by itself, a last one by any other amount.

    Parameters
    ----------
    observed
        Readings with their rows.
    equations
        Their equations, extras in their places.
    numbers
        Those to look at.
    unit
        What a bare number of the survey is in.
    """
    for number in numbers:
        source, equation = observed.sources[number], equations[number]
        assert source is not None
        angular = equation.kind in ANGULAR
        if source.kind in ("angle", "bearing"):
            value = _angle_read(source, equation)
            for turn in angle_repairs(value, source.read, kind=source.kind):
                yield known([_put(number, source, turn.by_rad, turn.likely)], turn.share, turn.why)
        elif source.kind in LENGTH_KINDS:
            for one in reading_repairs(
                equation.value - source.shift, source.read, kind=source.kind, column=source.column, unit=unit
            ):
                yield known([_put(number, source, one.by_m, one.likely)], one.share, one.why)
        yield Cause(
            changes=(_put(number, source, math.nan, ""),),
            steps=(1.0,),
            amounts=wide(WIDE_RAD) if angular else wide(*_sizes(equation)),
            prior=WRONG_READINGS * SHARE_OTHER,
            why=ANY_AMOUNT,
        )


def _sizes(equation: Equation) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the usual sizes of blunders in a length of some kind, and the larger ones."""
    return (WIDE_ROD_M if equation.kind is Kind.ROD else WIDE_M), FAR_M


def _put(number: int, source: Source, by: float, likely: str) -> Change:
    return Change(equation=number, by=by, column=source.column, read=source.read, likely=likely)


def exchanges(
    observed: Observed, equations: Sequence[Equation], used: frozenset[int], unit: str
) -> Iterator[Cause]:
    """Return what was exchanged: BS and FS within a setup or a row, station and offset, east and north."""
    pairs: dict[tuple[int, int], str] = {}
    by_row: dict[int, dict[str, int]] = {}
    for setup in observed.setups:
        columns: dict[str, int] = {}
        for number in setup.readings:
            source = observed.sources[number]
            assert source is not None
            columns[source.column] = number
            by_row.setdefault(source.row, {})[source.column] = number
        if "bs" in columns and "fs" in columns:
            pairs[columns["bs"], columns["fs"]] = "BS and FS of one set-up exchanged"
    for row in by_row.values():
        if "bs" in row and "fs" in row:
            pairs[row["bs"], row["fs"]] = IN_A_ROW
    for (a, b), why in pairs.items():
        if a in used and b in used:
            first, second = other_text(observed, equations, a, b, unit)
            yield known([first, second], SHARE_EXCHANGED / (2 if why == IN_A_ROW else 1), why)
    given: dict[tuple[str, int], dict[str, int]] = {}
    for number in used:
        source = _source(observed, number)
        if source.kind == GIVEN:
            # A key of job.toml ends in the axis.
            axis = source.column.rpartition(".")[2]
            given.setdefault((source.table, source.row), {})[axis] = number
    for axes in given.values():
        if "east" in axes and "north" in axes:
            both = other_text(observed, equations, axes["east"], axes["north"], unit)
            yield known(both, SHARE_EAST_FOR_NORTH, "east and north exchanged")
    for number in used:
        if equations[number].kind is Kind.STATION and number + 1 in used:
            station, offset = equations[number].value, equations[number + 1].value
            for sign in (1.0, -1.0):
                meant = abs(offset), sign * abs(station)
                changes = [
                    changed(k, _source(observed, k), equations[k], meant_m - equations[k].value, unit)
                    for k, meant_m in ((number, meant[0]), (number + 1, meant[1]))
                ]
                yield known(changes, SHARE_STATION_FOR_OFFSET / 2, "station and offset exchanged")


def _source(observed: Observed, number: int) -> Source:
    source = observed.sources[number]
    assert source is not None
    return source


def _read(observed: Observed, equations: Sequence[Equation], number: int) -> float:
    """Return a length as it was read, before anything was added for tape or rod."""
    return equations[number].value - _source(observed, number).shift


def other_text(
    observed: Observed, equations: Sequence[Equation], a: int, b: int, unit: str
) -> tuple[Change, Change]:
    """Return two readings with each other's values."""
    by = _read(observed, equations, b) - _read(observed, equations, a)
    return (
        changed(a, _source(observed, a), equations[a], by, unit),
        changed(b, _source(observed, b), equations[b], -by, unit),
    )


def other_how(
    observed: Observed, equations: Sequence[Equation], used: Sequence[int], result: NetworkResult
) -> Iterator[Cause]:
    """Return tapes and offsets taken on the slope and booked as level, and the reverse."""
    coordinates = result.coordinates

    def change(number: int, by: float, sloped: bool) -> Change:
        was, is_now = ("slope", "level") if sloped else ("level", "slope")
        return Change(equation=number, by=by, column="how", read=was, likely=is_now)

    members = frozenset(used)
    for number in used:
        equation = equations[number]
        kind, at = equation.kind, equation.at
        sloped = kind in (Kind.SLOPE_TAPE, Kind.SLOPE_STATION)
        if kind in (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE):
            drop = coordinates[3 * at[1] + 2] - coordinates[3 * at[0] + 2]
            square = equation.value**2 + (drop**2 if sloped else -(drop**2))
            if math.isnan(square) or square <= 0:
                continue
            changes: tuple[Change, ...] = (change(number, math.sqrt(square) - equation.value, sloped),)
        elif kind in (Kind.STATION, Kind.SLOPE_STATION) and number + 1 in members:
            station, offset = equation, equations[number + 1]
            p, f, t = (3 * k for k in at)
            length = math.hypot(coordinates[t] - coordinates[f], coordinates[t + 1] - coordinates[f + 1])
            drop = coordinates[t + 2] - coordinates[f + 2]
            if length == 0 or math.isnan(drop) or math.isnan(coordinates[p + 2]):
                continue
            stretch = math.hypot(1.0, drop / length)
            along = station.value if sloped else station.value / stretch
            rise = coordinates[p + 2] - coordinates[f + 2] - drop / length * along
            square = offset.value**2 + (rise**2 if sloped else -(rise**2))
            across = math.copysign(math.sqrt(max(square, 0.0)), offset.value)
            by_station = (station.value * stretch if sloped else along) - station.value
            changes = (
                change(number, by_station, sloped),
                change(number + 1, across - offset.value, sloped),
            )
        else:
            continue
        why = "taped level, booked as slope" if sloped else "taped on the slope, booked as level"
        yield known(changes, SHARE_HOW, why)
