"""Arrays, areas and lines so far from what was measured that they cannot be of this yard.

Mostly two systems of coordinates in one folder: control on a map grid and a place typed in small local
numbers, or the other way round.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from staking.base.errors import Mistake, WrongInput
from staking.base.units import in_unit, told_far
from staking.book.records import ArrayJob, FieldBook
from staking.control.adjustment import Points
from staking.control.kinds import key_of
from staking.ground.shots import places_shot
from staking.laying import pier_places, set_out
from staking.layout.place import placed_position

Floats = NDArray[np.float64]

LEAST_FAR_M = 100.0
"""An array no farther than this from a measured point is planned, however small the survey: its lengths are
guesses then, and told as such. Farther, no tape reaches from a pin to a stake, and none of a yard's slope is
left in the ground (common practice, no source)."""
FAR_POINT_M = 2000.0
"""A point of an area or a line farther than this from all that was measured is not of this yard: the sides of
a square mile of land are 1.6 km. Origins of maps lie tens of kilometres and more from any site (common
practice, no source)."""
MOST_NAMED = 4
"""Points named in one sentence; the others are counted."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measured:
    """What was measured, and where."""

    names: tuple[str, ...]
    """Points that readings name: a point that is only listed may be what is far off."""
    en_m: Floats
    """(n, 2)."""
    shot_names: tuple[str, ...]
    """Shots of the ground that stand somewhere without the place of any array."""
    shot_en_m: Floats
    table_en_m: Floats
    """Of a table of ground; (0, 2) without."""

    @property
    def across_m(self) -> float:
        """The diagonal of the ground that was shot."""
        every = np.vstack([self.shot_en_m, self.table_en_m])
        return float(np.hypot(*np.ptp(every, axis=0))) if len(every) else 0.0

    def nearest(self, en_m: Floats, within_m: float) -> tuple[float, int, str]:
        """Return how far places (k, 2) lie from it, by which of them, and from what.

        Nothing nearer than `within_m` is looked for.
        """
        found = (math.inf, 0, "")
        parts = (
            (self.en_m, self.names),
            (self.shot_en_m, self.shot_names),
            (self.table_en_m, ("the table of the ground",)),
        )
        for there, names in parts:
            if len(there) and found[0] > within_m:
                away_m, i, j = _nearest(en_m, there)
                found = min(found, (away_m, i, names[j] if len(names) > 1 else names[0]))
        return found


def refuse_far(book: FieldBook, points: Points) -> None:
    """Refuse what lies where nothing of this survey was measured.

    An array may stand beyond the shots by as much as the ground that was shot is across, or by `LEAST_FAR_M`:
    there the ground is a guess with its uncertainty told. Farther the survey says nothing, and nothing stakes
    it.

    Parameters
    ----------
    book, points
        The readings, and what came of them. An array whose place is open is held by its area's corners.

    Raises
    ------
    WrongInput
        Naming the array or point, how far off it lies, and what to write.
    """
    measured = measured_in(book, points)
    if not len(measured.en_m) and not len(measured.shot_en_m):
        return
    mistakes = list(_parted(book, measured))
    if not mistakes:
        mistakes = [*_far_arrays(book, points, measured), *_far_points(book, points, measured)]
    if mistakes:
        raise WrongInput(mistakes)


def measured_in(book: FieldBook, points: Points) -> Measured:
    """Return what was measured, and where."""
    read = {key_of(row.point) for table in (book.levels, book.offsets, book.fixes) for row in table}
    read |= {
        key_of(name)
        for table in (book.rises, book.tapes, book.offsets, book.bearings, book.shadows, book.equal_shadows)
        for row in table
        for name in (row.start, row.to)
    }
    read |= {key_of(name) for row in book.angles for name in (row.at, row.start, row.to)}
    stood = np.flatnonzero(np.isfinite(points.enz_m[:, :2]).all(axis=1))
    seen = [int(i) for i in stood if key_of(points.names[i]) in read]
    shots, _, shot_en_m, _ = places_shot(points, set_out(book))
    return Measured(
        names=tuple(points.names[i] for i in seen),
        en_m=points.enz_m[seen, :2],
        shot_names=tuple(points.names[i] for i in shots),
        shot_en_m=shot_en_m,
        table_en_m=np.zeros((0, 2)) if book.ground_table is None else book.ground_table.en_m,
    )


def _nearest(some: Floats, others: Floats) -> tuple[float, int, int]:
    """Return the least distance between two lots of places, and by which of each."""
    from scipy.spatial import cKDTree

    away, which = cKDTree(others).query(some)
    i = int(np.argmin(away))
    return float(np.asarray(away)[i]), i, int(np.asarray(which)[i])


def _parted(book: FieldBook, measured: Measured) -> Iterator[Mistake]:
    """Yield what is wrong with shots that lie in two lots with nothing between for `FAR_POINT_M`."""
    names, en_m, style = measured.shot_names, measured.shot_en_m, book.job.site.show
    for axis in (0, 1):
        order = np.argsort(en_m[:, axis], kind="stable")
        gaps = np.diff(en_m[order, axis])
        if not len(gaps) or gaps.max() <= FAR_POINT_M:
            continue
        cut = int(gaps.argmax()) + 1
        few, many = sorted((order[:cut], order[cut:]), key=len)
        away_m, i, j = _nearest(en_m[few], en_m[many])
        file, row = _listed_in(book, names[few[i]])
        yield Mistake(
            file=file,
            row=row,
            problem=f"{_some([names[k] for k in sorted(few)])} {'lies' if len(few) == 1 else 'lie'} "
            f"{told_far(away_m, style)} from all other shots of the ground, the nearest of them "
            f"{names[many[j]]}",
            expected="one survey in one system of coordinates",
            remedy="Give all points the same coordinates, or write ground = no in points.csv for what is no "
            "shot of this ground",
        )
        return


def _listed_in(book: FieldBook, name: str) -> tuple[str, int | None]:
    """Return the table and row that give a point its coordinates."""
    for staked in book.staked:
        if key_of(staked.pier) == key_of(name):
            return staked.table, staked.row
    for listed in book.control_points:
        if key_of(listed.point) == key_of(name):
            return listed.table, listed.row
    for fix in book.fixes:
        if key_of(fix.point) == key_of(name):
            return fix.table, fix.row
    return "job.toml", None


def _some(names: Sequence[str]) -> str:
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return ", ".join(names[:MOST_NAMED]) + more


def _far_arrays(book: FieldBook, points: Points, measured: Measured) -> Iterator[Mistake]:
    style, across_m = book.job.site.show, measured.across_m
    far_m = max(LEAST_FAR_M, across_m)
    for array in book.job.arrays:
        if array.place.area is not None:
            continue
        at = placed_position(array.place, points)
        piers = pier_places(replace(book.job, arrays=(array,)), {array.name: at})
        away_m, i, name = measured.nearest(np.array(list(piers.values())), far_m)
        if away_m <= far_m:
            continue
        by_line = array.place.line is not None
        shot = (
            f"; the ground that was shot is {told_far(across_m, style)} across, and says nothing of the "
            "ground there"
            if across_m
            else ""
        )
        yield Mistake(
            file="job.toml",
            column="place" + (f" of array {array.name}" if array.name else ""),
            read=_read(array, book.job.site.units),
            problem=f"the array would stand {told_far(away_m, style)} from the nearest point that was "
            f"measured (pier {list(piers)[i]} from {name}){shot}",
            expected=f"a place where the survey is: {_survey_at(measured, book.job.site.units)}",
            remedy=(
                "Give the points of the line the same coordinates as the control and the shots"
                if by_line
                else "Give the place in the same coordinates as the control, or by line, station and offset"
            )
            + "; if it is right, shoot the ground there",
        )


def _read(array: ArrayJob, unit: str) -> str:
    place = array.place
    if place.line is not None:
        return (
            f"line {place.line[0]} to {place.line[1]}, station {_bare(place.station_m, unit)}, "
            f"offset {_bare(place.offset_m, unit)}"
        )
    return f"east {_bare(place.east_m, unit)}, north {_bare(place.north_m, unit)}"


def _survey_at(measured: Measured, unit: str) -> str:
    every = np.vstack([measured.en_m, measured.shot_en_m])
    (e0, n0), (e1, n1) = every.min(axis=0), every.max(axis=0)
    return f"east {_bare(e0, unit)} to {_bare(e1, unit)}, north {_bare(n0, unit)} to {_bare(n1, unit)} {unit}"


def _bare(value_m: float | None, unit: str) -> str:
    """Return a length as a bare number of the survey's unit."""
    assert value_m is not None
    places = 0 if unit in ("in", "mm", "cm") else 1
    # Nought added: a minus before nought says nothing.
    return f"{round(in_unit(value_m, unit), places) + 0.0:.{places}f}"


def _far_points(book: FieldBook, points: Points, measured: Measured) -> Iterator[Mistake]:
    """Yield the corners of areas, and the points of lines and trees, that are not of this yard."""
    places = {key_of(name): at for name, at in zip(points.names, points.enz_m[:, :2], strict=True)}
    style, unit = book.job.site.show, book.job.site.units

    def far(names: Sequence[str]) -> dict[str, float]:
        there = {name: places[key_of(name)] for name in dict.fromkeys(names) if key_of(name) in places}
        away = {
            name: measured.nearest(at[None, :], FAR_POINT_M)[0]
            for name, at in there.items()
            if np.isfinite(at).all()
        }
        return {name: m for name, m in away.items() if m > FAR_POINT_M}

    def mistake(file: str, row: int | None, column: str, found: dict[str, float]) -> Mistake:
        return Mistake(
            file=file,
            row=row,
            column=column,
            read=_some(list(found)),
            problem=f"{told_far(min(found.values()), style)} from all points that were measured",
            expected=f"points of this yard; the survey is at {_survey_at(measured, unit)}",
            remedy="Give its points the same coordinates as the control and the shots"
            + ("; of a line that long give the part that passes the yard" if column == "points" else ""),
        )

    for array in book.job.arrays:
        found = far(array.place.area or ())
        if found:
            column = "place.area" + (f" of array {array.name}" if array.name else "")
            yield mistake("job.toml", None, column, found)
    for line in book.lines:
        found = far(line.points)
        if found:
            yield mistake(line.table, line.row, "points", found)
    for point in book.points:
        found = far((point.point,)) if point.kind == "tree" else {}
        if found:
            yield mistake(point.table, point.row, "point", found)
