"""Designs of one yard side by side: each is planned whole, on the same survey and the same stakes."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from staking.base.errors import WrongInput
from staking.base.units import from_unit, told
from staking.book.records import ArrayJob, FieldBook, StakedRow
from staking.control.kinds import key_of
from staking.laying import pier_places
from staking.layout.place import placed_position
from staking.plan import ArrayPlan, Plan, planned

AS_GIVEN = "as in job.toml"
TILT_STEP_RAD = math.radians(5.0)
TILTS_RAD = (0.0, math.radians(60.0))
"""Between these a tilt is compared. Common practice, no source."""
_RAISED_M = {"feet-inches": from_unit(4, "in"), "decimal feet": from_unit(0.3, "ft"), "metric": 0.1}
"""The steps of height and place that are compared where none are given; any round ones would do."""
_MOVED_M = {"feet-inches": from_unit(2, "ft"), "decimal feet": from_unit(2, "ft"), "metric": 0.5}
_SHAVED = "ground shaved, "


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Compared:
    """One design, planned, and what it comes to."""

    name: str
    plan: Plan | None
    """None where the design cannot be planned; `why` tells it."""
    why: str = ""
    """Why nothing was laid out or cut; empty where all was."""
    shaved: str = ""
    """Of a design that no plane fits: the ground to shave with which it would."""

    @property
    def arrays(self) -> tuple[ArrayPlan, ...]:
        """The arrays laid out; empty where no plane fits."""
        return () if self.plan is None else self.plan.arrays

    @property
    def pipe_m(self) -> float | None:
        """Length of all posts and beams cut, None where they were not."""
        if self.plan is None or self.plan.cuts is None:
            return None
        return math.fsum(piece.length_m for stick in self.plan.cuts.sticks for piece in stick.pieces)


def compared(book: FieldBook, variants: Sequence[tuple[str, FieldBook]]) -> tuple[Compared, ...]:
    """Plan a survey's own design and others of the same yard.

    Parameters
    ----------
    book
        The survey with its own design.
    variants
        Names, and the survey with another design; without any the `usual` ones are taken.

    Returns
    -------
    tuple of Compared
        The survey's own design first. A shot at a stake stays where the stake stands by that design (or by
        ``staked.csv``), whatever the others move.

    Raises
    ------
    WrongInput
        When the survey cannot be adjusted or its own design cannot be built.
    """
    own = planned(book)
    stakes = _stakes(book, own)
    found = [_named(AS_GIVEN, own)]
    for name, other in variants or tuple(usual(own.book)):
        try:
            found.append(_named(name, planned(replace(other, staked=(*other.staked, *stakes)))))
        except WrongInput as error:
            found.append(Compared(name=name, plan=None, why="; ".join(map(_without_file, error.mistakes))))
    return tuple(found)


def _without_file(mistake: object) -> str:
    return str(mistake).removeprefix("job.toml, ")


def _named(name: str, plan: Plan) -> Compared:
    if plan.arrays:
        return Compared(name=name, plan=plan)
    worst = max(plan.conflicts, key=lambda one: one.by_m, default=None)
    shaved = next((text for text in plan.would_do if _SHAVED in text), "")
    return Compared(
        name=name,
        plan=plan,
        why="no plane fits" + ("" if worst is None else f": {worst.text}"),
        shaved=shaved.replace(_SHAVED, "", 1).removesuffix(" would do"),
    )


def _stakes(book: FieldBook, plan: Plan) -> tuple[StakedRow, ...]:
    """Return where the stakes stand by the survey's own design; those of ``staked.csv`` are known already."""
    known = {key_of(row.pier) for row in book.staked}
    if plan.arrays:
        places = {
            array.pier_name(name): (float(east), float(north))
            for array in plan.arrays
            for name, (east, north) in zip(array.fit.piers.names, array.fit.piers.en_m, strict=True)
        }
    else:
        points = plan.adjustment.points
        if any(one.place.area is not None for one in book.job.arrays):
            return ()  # nothing says where they would stand
        places = pier_places(
            book.job, {one.name: placed_position(one.place, points) for one in book.job.arrays}
        )
    return tuple(
        StakedRow(table="staked.csv", row=0, pier=name, east_m=east, north_m=north)
        for name, (east, north) in places.items()
        if key_of(name) not in known
    )


def usual(book: FieldBook) -> Iterator[tuple[str, FieldBook]]:
    """Yield the designs that are compared where none are given: beams, tilts, height and place."""
    style = book.job.site.show
    fits = [one.fit for one in book.job.arrays]
    if all(fit.beams == "sloping" for fit in fits):
        yield "level beams", _each(book, lambda one: replace(one, fit=replace(one.fit, beams="level")))
    elif all(fit.max_cross_slope_rad is not None for fit in fits):
        yield "sloping beams", _each(book, lambda one: replace(one, fit=replace(one.fit, beams="sloping")))
    for turn_rad in (-TILT_STEP_RAD, TILT_STEP_RAD):
        tilts = [one.array.tilt_rad + turn_rad for one in book.job.arrays]
        if all(TILTS_RAD[0] <= tilt <= TILTS_RAD[1] for tilt in tilts):
            way = "steeper" if turn_rad > 0.0 else "flatter"
            yield f"tilt {math.degrees(abs(turn_rad)):.0f}° {way}", _each(book, _tilted(turn_rad))
    raised_m = _RAISED_M[style]
    small = "inches" if style == "feet-inches" else style
    if all(fit.stand == "low" for fit in fits):
        yield f"low edge {told(raised_m, small)} higher", _each(book, _raised(raised_m))
    moved_m = _MOVED_M[style]
    by_line = [one.place.line is not None for one in book.job.arrays]
    if any(one.place.area is not None for one in book.job.arrays):
        return  # no place was found that could be moved
    if any(by_line) != all(by_line):
        return  # "along the line" and "east" are no one move
    for first, second, on_line, compass in (
        (1.0, 0.0, "farther along its line", "east"),
        (-1.0, 0.0, "back along its line", "west"),
        (0.0, 1.0, "to the right of its line", "north"),
        (0.0, -1.0, "to the left of its line", "south"),
    ):
        way = on_line if all(by_line) else compass
        yield f"moved {told(moved_m, style)} {way}", _each(book, _moved(first * moved_m, second * moved_m))


def _each(book: FieldBook, change: Callable[[ArrayJob], ArrayJob]) -> FieldBook:
    return replace(book, job=replace(book.job, arrays=tuple(change(one) for one in book.job.arrays)))


def _tilted(turn_rad: float) -> Callable[[ArrayJob], ArrayJob]:
    return lambda one: replace(one, array=replace(one.array, tilt_rad=one.array.tilt_rad + turn_rad))


def _raised(by_m: float) -> Callable[[ArrayJob], ArrayJob]:
    """Raise both lower limits: the plane stands on the higher of them, so it rises by as much."""
    return lambda one: replace(
        one,
        fit=replace(
            one.fit,
            above_grade_min_m=one.fit.above_grade_min_m + by_m,
            clearance_m=one.fit.clearance_m + by_m,
            low_edge_m=None if one.fit.low_edge_m is None else one.fit.low_edge_m + by_m,
        ),
    )


def _moved(first_m: float, second_m: float) -> Callable[[ArrayJob], ArrayJob]:
    """Move the place: along its line and to the right of it, or east and north."""

    def change(one: ArrayJob) -> ArrayJob:
        place = one.place
        if place.line is not None:
            assert place.station_m is not None
            assert place.offset_m is not None
            moved = replace(place, station_m=place.station_m + first_m, offset_m=place.offset_m + second_m)
        else:
            assert place.east_m is not None
            assert place.north_m is not None
            moved = replace(place, east_m=place.east_m + first_m, north_m=place.north_m + second_m)
        return replace(one, place=moved)

    return change
