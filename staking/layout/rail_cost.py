"""What the least distance from a rail to a post costs: cross-slopes that it closes might need less pipe."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from staking.book.records import ArrayJob
from staking.ground.elevations import Ground
from staking.layout.fitting import AIMS, posed_of
from staking.layout.search import bounds_of, searched

LEAST_TOLD_M = 0.005
"""A cost under 5 mm of pipe in all is not worth a word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RailCost:
    """The plane that would be best if rails might touch posts, against the one that is."""

    steel_m: float
    """How much more all above-grade lengths come to than they then would."""
    cross_rad: float
    """The beams' cross-slope as it is."""
    free_cross_rad: float
    """And as it would be."""


def rail_cost(
    job: ArrayJob, *, placed_en_m: tuple[float, float], ground: Ground, style: str = "metric"
) -> RailCost | None:
    """Return what `rail_clear` costs an array of one plane; None where it closes nothing that is better."""
    most = job.fit.max_cross_slope_rad
    if job.fit.stepped or job.sections > 1 or job.fit.beams == "level" or most is None:
        return None
    posed = posed_of(job, placed_en_m=placed_en_m, ground=ground, style=style)
    if math.isclose(sum(high - low for low, high in posed.ranges), 2 * most):
        return None
    free = replace(job, frame=replace(job.frame, rail_clear_m=0.0))
    open_to = posed_of(free, placed_en_m=placed_en_m, ground=ground, style=style)
    aim, bounds = AIMS[job.fit.least], bounds_of(job.fit)
    now = searched(posed.yard, bounds, aim, posed.ranges)
    best = searched(open_to.yard, bounds, aim, open_to.ranges)
    if not now.fits or not best.fits:
        return None
    count = now.heights.count
    steel = count * (now.low_m - best.low_m) + float(now.heights.piers_m[0] - best.heights.piers_m[0])
    if steel < LEAST_TOLD_M:
        return None
    return RailCost(steel_m=steel, cross_rad=now.cross_rad, free_cross_rad=best.cross_rad)
