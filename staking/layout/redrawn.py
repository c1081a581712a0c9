"""How a fitted array changes when its ground comes out otherwise: posts and cross-slope in many draws of it.

Each draw moves the ground under every pier and under spots of the modules together, as their joint covariance
says; the plane is then fitted again within its limits. Over the few centimetres that a pier moves in plan
with the cross-slope, what the draw adds is taken to be the same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.book.records import ArrayJob
from staking.ground.elevations import Ground
from staking.layout.fitting import posed_of
from staking.layout.frame import Fit
from staking.layout.heights import above_grade, plumb_heights, spots_in_space
from staking.layout.search import bounds_of
from staking.layout.shape import FrameShape
from staking.layout.spots import grid, highest, lowest, lowest_of_edge

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

MOST_SPOTS = 40
"""Spots of the modules at which a draw moves the ground, besides the piers."""
LEAST_SPACING_M = 1.0
STEP_RAD = math.radians(0.1)
"""Between the cross-slopes that a draw may take, those at which it is fitted now among them."""
MOST_SLOPES = 81
AT_ONCE = 4_000_000
"""Numbers in memory at once, about 32 MB."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Redrawing:
    """One array's question to a draw: m piers, k spots, G cross-slopes."""

    job: ArrayJob
    shape: FrameShape
    cross_rad: Floats
    """(G,) rising."""
    pier_en_m: Floats
    """(m, 2)."""
    spot_en_m: Floats
    """(k, 2): the ground beneath the spots."""
    above_m: Floats
    """(G, m) above-grade lengths now with the plane at elevation 0 over A1."""
    under_m: Floats
    """(G, k) clearances now, likewise."""
    over_m: Floats
    """(G, k) heights of the upper face now, likewise."""
    edge: Bools
    """(k,) which spots lie on the low edge."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Redrawn:
    """The array fitted again to each of N draws."""

    above_grade_m: Floats
    """(N, m)."""
    cross_rad: Floats
    """(N,) the cross-slope."""
    within: Bools
    """(N,) whether some plane meets every limit; where none does, the lower limits are met."""


def redrawing_of(
    job: ArrayJob, fit: Fit, ground: Ground, *, placed_en_m: tuple[float, float], style: str = "metric"
) -> Redrawing:
    """Return what is asked of each draw for one array."""
    posed = posed_of(job, placed_en_m=placed_en_m, ground=ground, style=style)
    yard, shape = posed.yard, posed.yard.shape
    now = fit.plane.cross_slope_rad
    cross = np.unique(np.concatenate([[now], *(_slopes(low, high) for low, high in posed.ranges)]))
    spacing = max(LEAST_SPACING_M, math.sqrt(shape.width_m * shape.height_m / MOST_SPOTS))
    spots = np.vstack(
        [
            grid(shape.width_m, shape.height_m, spacing),
            np.array([lowest(yard, now).spot, highest(yard, now).spot, lowest_of_edge(yard, now).spot]),
        ]
    )
    return Redrawing(
        job=job,
        shape=shape,
        cross_rad=cross,
        pier_en_m=fit.piers.en_m,
        spot_en_m=spots_in_space(yard, np.array([now]), spots, shape.stack_m)[0][0],
        above_m=np.array([above_grade(yard, float(one)) for one in cross]),
        under_m=plumb_heights(yard, cross, spots, shape.stack_m),
        over_m=plumb_heights(yard, cross, spots, shape.stack_m + shape.thick_m),
        edge=spots[:, 1] == 0.0,
    )


def _slopes(low: float, high: float) -> Floats:
    if high <= low:
        return np.array([low])
    return np.linspace(low, high, min(MOST_SLOPES, math.ceil((high - low) / STEP_RAD) + 1))


def redrawn(asked: Redrawing, pier_up_m: Floats, spot_up_m: Floats) -> Redrawn:
    """Return the posts of every draw.

    Parameters
    ----------
    asked : Redrawing
    pier_up_m : (N, m)
        How much higher the ground at each pier comes out.
    spot_up_m : (N, k)
        The same at each spot.
    """
    count, slopes = len(pier_up_m), len(asked.above_m)
    width = slopes * (asked.above_m.shape[1] + 2 * asked.under_m.shape[1])
    above = np.empty_like(pier_up_m)
    cross, within = np.empty(count), np.empty(count, dtype=bool)
    step = max(1, AT_ONCE // max(1, width))
    for start in range(0, count, step):
        some = slice(start, start + step)
        above[some], cross[some], within[some] = _some(asked, pier_up_m[some], spot_up_m[some])
    return Redrawn(above_grade_m=above, cross_rad=cross, within=within)


def _some(asked: Redrawing, pier_up_m: Floats, spot_up_m: Floats) -> tuple[Floats, Floats, Bools]:
    limits = bounds_of(asked.job.fit)
    above = asked.above_m - pier_up_m[:, None, :]
    drawn = asked.under_m - spot_up_m[:, None, :]
    under = drawn.min(axis=2)
    over = (asked.over_m - spot_up_m[:, None, :]).max(axis=2)
    low = np.maximum(limits.above_grade_min_m - above.min(axis=2), limits.clearance_m - under)
    high = np.minimum(limits.above_grade_max_m - above.max(axis=2), limits.highest_m - over)
    if limits.low_edge_m is not None:
        wished = limits.low_edge_m - drawn[:, :, asked.edge].min(axis=2)
        low, high = np.maximum(low, wished), np.minimum(high, wished)
    plane = np.where(low <= high, high, low) if limits.high else low
    if asked.job.fit.least == "steel":
        measure = above.shape[2] * plane + above.sum(axis=2)
    else:
        measure = plane + above.max(axis=2)
    short = np.maximum(low - high, 0.0)
    # A cross-slope that misses its limits is worse than any that meets them.
    best = np.where(short > 0, 1e6 * (1.0 + short), measure).argmin(axis=1)
    rows = np.arange(len(above))
    return above[rows, best] + plane[rows, best][:, None], asked.cross_rad[best], short[rows, best] <= 0
