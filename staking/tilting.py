"""Arrays whose tilt is left open: the steepest at which every limit is met."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from staking.base.units import format_angle
from staking.book.records import ArrayJob, FieldBook
from staking.control.adjustment import Points
from staking.ground.elevations import Ground
from staking.ground.yard import fitted_ground, ground_of_table
from staking.laying import refuse_stakes, set_out
from staking.layout.fitting import AIMS, posed_of
from staking.layout.place import placed_position
from staking.layout.remedies import conflicts_of
from staking.layout.search import bounds_of, searched
from staking.layout.stepped import sections_of
from staking.layout.turning import ANGLE_STEP_RAD, first_that_fits, tilted


@dataclass(frozen=True, slots=True, kw_only=True)
class Tilted:
    """One array's tilt as it was found."""

    array: str
    tilt_rad: float
    max_tilt_rad: float
    limit: str
    """What a tenth of a degree more would miss, and where; empty at the steepest allowed."""


def with_tilts(book: FieldBook, points: Points) -> tuple[FieldBook, tuple[Tilted, ...]]:
    """Return the book with a tilt written into every array that leaves it open, and how it was found.

    The ground is that of all shots whose place is known without it. Where no tilt does, the least one stays,
    and the plan then says what it misses.

    Raises
    ------
    WrongInput
        When a stake of such an array was shot that stands nowhere yet.
    """
    job = book.job
    free = [one for one in job.arrays if one.array.max_tilt_rad is not None]
    if not free:
        return book, ()
    refuse_stakes(book, points, {one.name: "array.max_tilt" for one in free})
    table = ground_of_table(book.ground_table, points)
    ground = fitted_ground(points, set_out(book), book.lines, asked=job.ground.asked_surface, table=table)
    arrays: list[ArrayJob] = []
    found: list[Tilted] = []
    for one in job.arrays:
        if one.array.max_tilt_rad is None:
            arrays.append(one)
            continue
        at = placed_position(one.place, points)
        tilt = steepest(one, placed_en_m=at, ground=ground.for_array(one.name), style=job.site.show)
        if tilt is not None:
            found.append(tilt)
        value = one.array.tilt_rad if tilt is None else tilt.tilt_rad
        arrays.append(replace(one, array=replace(one.array, tilt_rad=value, max_tilt_rad=None)))
    return replace(book, job=replace(job, arrays=tuple(arrays))), tuple(found)


def steepest(job: ArrayJob, *, placed_en_m: tuple[float, float], ground: Ground, style: str) -> Tilted | None:
    """Return the steepest tilt from `tilt` up to `max_tilt` that fits, in tenths of a degree; None: none.

    Tilts are looked at a degree apart from the steepest down, so what fits over less than that is missed.
    """
    most = job.array.max_tilt_rad
    assert most is not None

    def fits(tenths: int) -> bool:
        there = tilted(job, tenths)
        return sections_of(there, placed_en_m=placed_en_m, ground=ground, style=style) is not None

    least = math.ceil(job.array.tilt_rad / ANGLE_STEP_RAD - 1e-6)
    last = math.floor(most / ANGLE_STEP_RAD + 1e-6)
    if last < least:
        return None
    tenths: int | None = last
    if not fits(last):
        tenths = first_that_fits(fits, last, least) if last > least else None
    if tenths is None:
        return None
    limit = "" if tenths == last else _missed(tilted(job, tenths + 1), placed_en_m, ground, style)
    return Tilted(array=job.name, tilt_rad=tenths * ANGLE_STEP_RAD, max_tilt_rad=most, limit=limit)


def _missed(job: ArrayJob, at: tuple[float, float], ground: Ground, style: str) -> str:
    """Return which limit an array of one plane misses and where; empty for one in sections."""
    if job.fit.stepped:
        return ""
    posed = posed_of(job, placed_en_m=at, ground=ground, style=style)
    found = searched(posed.yard, bounds_of(job.fit), AIMS[job.fit.least], posed.ranges)
    conflicts = conflicts_of(posed.yard, job.fit, found, style=style)
    return "" if not conflicts else f"{conflicts[0].limit.removeprefix('fit.')}, {conflicts[0].where}"


def tilting_remarks(found: Sequence[Tilted]) -> tuple[str, ...]:
    """Return which tilt arrays were given, so that it can be held."""
    return tuple(_words(one) for one in found)


def _words(one: Tilted) -> str:
    front = f"array {one.array}: " if one.array else ""
    tilt = format_angle(one.tilt_rad)
    why = f"the steepest up to {format_angle(one.max_tilt_rad)}° at which every limit is met"
    if one.limit:
        why += f"; 0.1° more misses {one.limit}"
    return (
        f"{front}tilted {tilt}°, {why}. Before stakes are set write tilt = {tilt} into [array] instead of "
        "max_tilt, or another shot may turn it"
    )
