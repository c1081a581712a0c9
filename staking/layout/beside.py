"""The room that one array takes from the others: its modules and its holes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from staking.book.records import ArrayJob
from staking.ground.elevations import Ground
from staking.layout.around import Needs
from staking.layout.asking import NoGround
from staking.layout.fitting import Posed, posed_of
from staking.layout.room import ROUND_PARTS, print_of, swing_of
from staking.layout.sections import parting_of, parts_of
from staking.layout.stepped import jobs_of
from staking.lines.obstacles import Obstacle


def sections_posed(job: ArrayJob, ground: Ground, style: str) -> list[Posed]:
    """Return the sections, or the only one, with the placed pier at 0, 0."""
    zero = (0.0, 0.0)
    if job.fit.break_after is None:
        return [posed_of(job, placed_en_m=zero, ground=ground, style=style)]
    parting = parting_of(job, style=style)
    parts = parts_of(job.fit.break_after, parting.lines)
    return [
        posed_of(one, placed_en_m=parting.first_at(part, zero), ground=ground, style=style)
        for one, part in zip(jobs_of(parting, parts), parts, strict=True)
    ]


def taken_by(
    job: ArrayJob, *, placed_en_m: tuple[float, float], hole_m: float, style: str
) -> tuple[Obstacle, ...]:
    """Return what an array takes, as areas to keep out of, section by section.

    It stands as with level beams; by what a cross-slope can swing any part of it others keep further off.
    Breaks that are open are none.

    Parameters
    ----------
    job, placed_en_m
        The array, and where its placed pier stands.
    hole_m
        Radius of a hole: a hole at the modules' edge reaches out under it.
    style
        In which messages tell lengths.
    """
    from shapely import Point, Polygon, get_coordinates, get_exterior_ring, union_all

    if job.fit.break_after is None:
        job = replace(job, fit=replace(job.fit, sections=1))
    found = []
    for one in sections_posed(job, NoGround(), style):
        yard, needs = one.yard, Needs(hole_m=hole_m)
        most = max(abs(end) for span in one.ranges for end in span)
        own = print_of(yard.shape, yard.placed, needs, 0.0, yard.placed_en_m)
        holes = [Point(at).buffer(hole_m, quad_segs=ROUND_PARTS) for at in own.holes_en_m]
        taken = union_all([*map(Polygon, own.outlines_en_m), *holes])
        found.append(
            Obstacle(
                name=f"array {job.name}",
                kind="no_build",
                en_m=get_coordinates(get_exterior_ring(taken))[:-1] + np.asarray(placed_en_m),
                closed=True,
                setback_m=swing_of(yard.shape, yard.placed, needs, most) if most else 0.0,
                setback_given=True,
            )
        )
    return tuple(found)
