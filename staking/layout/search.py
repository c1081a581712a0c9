"""The cross-slope and height that meet the limits and make an aim least.

At a fixed cross-slope the height is the largest of the lower limits, checked against the upper ones. The
limits hold everywhere under the modules, which is without number; so the search holds them at a few spots,
looks closely at its answer, adds the worst spot there and searches again, until the answer holds everywhere
(the exchange method for semi-infinite programs; R. Hettich and K. O. Kortanek, "Semi-infinite programming:
theory, methods, and applications", SIAM Review 35 (1993) 380–429, section 7.1, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.book.records import Limits
from staking.layout.heights import (
    Grades,
    Heights,
    Spots,
    Yard,
    grades_of,
    heights_at,
    with_cross_slope,
    with_spots,
)
from staking.layout.spots import Worst, first_spots, highest, lowest, lowest_of_edge

Floats = NDArray[np.float64]
Aim = Callable[[Heights, Floats, Floats], Floats]
"""From what the ground asks and the lowest and highest plane (G,) to what is made least (G,)."""
Ranges = tuple[tuple[float, float], ...]

STEP_RAD = math.radians(0.1)
"""Of the first look over the cross-slopes: over it an end of a 20 m beam moves by 17 mm, less than the
ground's own bends ask for."""
NODE_RAD = math.radians(0.25)
"""Between cross-slopes at which the ground is looked at: over it the modules move 3 mm in plan, and ground
that bends 1 in 1 a metre stays within a thousandth of a millimetre of straight. The answer itself is looked
at exactly."""
FEWEST, MOST = 9, 161
"""Cross-slopes of a look, a range."""
BASINS = 4
"""How many of the best separate cross-slopes are refined."""
POINTS, SHRINK, ROUNDS = 17, 7, 8
"""A round looks at 17 places across the bracket and keeps a seventh of it, more than one place to each side
of the best: after 8 rounds 0.1° has become 3e-10 rad, a hundred-millionth of a metre over any beam."""
HOLDS_M = 1e-6
"""A limit met to a thousandth of a millimetre is met: rounding of typed lengths must not refuse a yard."""
EXCHANGES = 25
"""More than ground bends need; the fourth is rarely reached."""
SHORT = 1e6
"""Put on the measure of a cross-slope that misses its limits, so that any that meets them is better."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """The limits as numbers, metres; ±inf where there is none."""

    above_grade_min_m: float
    above_grade_max_m: float
    clearance_m: float
    highest_m: float
    low_edge_m: float | None = None
    """What the modules' low edge must stand above the ground at its lowest; None: whatever it comes to."""
    high: bool = False
    """Whether the plane stands as high as its limits let it, where steel or tallest is made least."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """The best cross-slope, or the one that comes nearest to the limits."""

    cross_rad: float
    low_m: float
    """Elevation over A1 of the lowest plane that meets the lower limits."""
    high_m: float
    """Elevation over A1 of the highest plane that meets the upper limits."""
    lowest: Worst
    highest: Worst
    low_edge: Worst | None
    """None where the limits do not ask for it."""
    heights: Heights
    """At this cross-slope alone, everywhere under the modules."""

    @property
    def fits(self) -> bool:
        """Whether some height meets every limit."""
        return self.low_m - self.high_m <= HOLDS_M


def bounds_of(limits: Limits) -> Bounds:
    """Return the limits of a job as bounds."""
    return Bounds(
        above_grade_min_m=limits.above_grade_min_m,
        above_grade_max_m=limits.above_grade_max_m,
        clearance_m=limits.clearance_m,
        highest_m=math.inf if limits.highest_m is None else limits.highest_m,
        low_edge_m=limits.low_edge_m,
        high=limits.stand == "high",
    )


def between(heights: Heights, bounds: Bounds) -> tuple[Floats, Floats]:
    """Return elevations over A1, each (G,): the lowest plane that the limits allow, and the highest."""
    low = np.maximum(
        bounds.above_grade_min_m - heights.least_pier_m, bounds.clearance_m - heights.clearance_m
    )
    high = np.minimum(bounds.above_grade_max_m - heights.most_pier_m, bounds.highest_m - heights.highest_m)
    if bounds.low_edge_m is not None and heights.low_edge_m is not None:
        wished = bounds.low_edge_m - heights.low_edge_m
        low, high = np.maximum(low, wished), np.minimum(high, wished)
    return low, high


def least_steel(heights: Heights, low: Floats, high: Floats) -> Floats:
    """Return the total above-grade length, metres."""
    return heights.count * low + heights.piers_m


def least_tallest(heights: Heights, low: Floats, high: Floats) -> Floats:
    """Return the above-grade length of the tallest post, metres."""
    return low + heights.most_pier_m


def least_slope(heights: Heights, low: Floats, high: Floats) -> Floats:
    """Return the size of the cross-slope, radians."""
    return np.abs(heights.cross_rad)


def least_short(heights: Heights, low: Floats, high: Floats) -> Floats:
    """Return what the limits miss each other by, negative where they leave room, metres."""
    return low - high


def most_above_grade_min(heights: Heights, low: Floats, high: Floats) -> Floats:
    """Return the shortest post's above-grade length with the plane as high as it may be, negated, metres."""
    return -(high + heights.least_pier_m)


def most_clearance(heights: Heights, low: Floats, high: Floats) -> Floats:
    """Return the clearance with the plane as high as it may be, negated, metres."""
    return -(high + heights.clearance_m)


def least_highest(heights: Heights, low: Floats, high: Floats) -> Floats:
    """Return the greatest height of the upper face with the plane as low as it may be, metres."""
    return low + heights.highest_m


def least_low_edge(heights: Heights, low: Floats, high: Floats) -> Floats:
    """Return the height of the low edge with the plane as low as it may be, metres."""
    assert heights.low_edge_m is not None
    return low + heights.low_edge_m


def most_low_edge(heights: Heights, low: Floats, high: Floats) -> Floats:
    """Return the height of the low edge with the plane as high as it may be, negated, metres."""
    assert heights.low_edge_m is not None
    return -(high + heights.low_edge_m)


def searched(yard: Yard, bounds: Bounds, aim: Aim, ranges: Ranges) -> Found:
    """Return the cross-slope within the ranges that meets the bounds and makes the aim least.

    Where none meets them, the one whose least worst violation, over all heights, is least.
    """
    over_matters = math.isfinite(bounds.highest_m) or aim is least_highest
    nodes = nodes_of(ranges)
    edge_matters = bounds.low_edge_m is not None or aim in (least_low_edge, most_low_edge)
    first = first_spots(yard, nodes[:: max(1, len(nodes) // 8)], over=over_matters, edge=edge_matters)
    grades = grades_of(yard, nodes, first)
    none = np.zeros((0, 2))
    for _ in range(EXCHANGES):
        cross, held, grades = _settled(yard, bounds, aim, ranges, grades)
        under = lowest(yard, cross)
        over = highest(yard, cross) if over_matters else None
        edge = lowest_of_edge(yard, cross) if edge_matters else None
        missed_under = float(held.clearance_m[0]) - under.height_m > HOLDS_M / 2
        missed_over = over is not None and over.height_m - float(held.highest_m[0]) > HOLDS_M / 2
        missed_edge = (
            edge is not None
            and held.low_edge_m is not None
            and float(held.low_edge_m[0]) - edge.height_m > HOLDS_M / 2
        )
        if not missed_under and not missed_over and not missed_edge:
            break
        more = Spots(
            under=np.array([under.spot]) if missed_under else none,
            over=np.array([over.spot]) if missed_over and over is not None else none,
            edge=np.array([edge.spot]) if missed_edge and edge is not None else none,
        )
        grades = with_spots(yard, grades, more)
    over = over or highest(yard, cross)
    heights = Heights(
        cross_rad=held.cross_rad,
        least_pier_m=held.least_pier_m,
        most_pier_m=held.most_pier_m,
        piers_m=held.piers_m,
        clearance_m=np.minimum(held.clearance_m, under.height_m),
        highest_m=np.maximum(held.highest_m, over.height_m),
        count=held.count,
        low_edge_m=None if edge is None else np.array([edge.height_m]),
    )
    low, high = between(heights, bounds)
    fits = low[0] - high[0] <= HOLDS_M
    return Found(
        cross_rad=cross,
        low_m=float(high[0] if fits and bounds.high else low[0]),
        high_m=float(high[0]),
        lowest=under,
        highest=over,
        low_edge=edge,
        heights=heights,
    )


def may_fit(yard: Yard, bounds: Bounds, ranges: Ranges) -> bool:
    """Return False where a coarse look already shows that nothing fits.

    The look asks less than the whole, and between two of its cross-slopes the limits come nearer to each
    other by less than the modules' width times the step.
    """
    short, looks = _short_at_a_look(yard, bounds, ranges)
    step = max(high_end - low_end for low_end, high_end in ranges) / max(1, looks - 1)
    return short <= HOLDS_M + yard.shape.width_m * max(step, STEP_RAD)


def short_by_a_look(yard: Yard, bounds: Bounds, ranges: Ranges) -> float:
    """Return about what the limits miss each other by, metres, from a coarse look; 0 or less: they meet."""
    return _short_at_a_look(yard, bounds, ranges)[0]


def short_by(yard: Yard, bounds: Bounds, ranges: Ranges) -> float:
    """Return what the limits miss each other by at the cross-slope that suits them best, metres."""
    found = searched(yard, bounds, least_short, ranges)
    return found.low_m - found.high_m


def between_by_a_look(yard: Yard, bounds: Bounds, ranges: Ranges) -> tuple[float, float]:
    """Return about the lowest and the highest plane that the limits allow, where they suit best."""
    low, high = _look(yard, bounds, ranges)
    best = int((low - high).argmin())
    return float(low[best]), float(high[best])


def _short_at_a_look(yard: Yard, bounds: Bounds, ranges: Ranges) -> tuple[float, int]:
    """Return what the limits miss each other by in a coarse look, and the number of cross-slopes in it."""
    low, high = _look(yard, bounds, ranges)
    return float((low - high).min()), len(low)


def _look(yard: Yard, bounds: Bounds, ranges: Ranges) -> tuple[Floats, Floats]:
    """Return the lowest and the highest plane at the cross-slopes of a coarse look, the low edge apart."""
    nodes = nodes_of(ranges)
    grades = grades_of(yard, nodes, first_spots(yard, nodes[:: max(1, len(nodes) // 8)], over=True))
    return between(heights_at(yard, grades, look_at(ranges)), bounds)


def look_at(ranges: Ranges) -> Floats:
    """Return the cross-slopes of a coarse look."""
    return np.concatenate([_first_look(low, high) for low, high in ranges])


def nodes_of(ranges: Ranges) -> Floats:
    """Return the cross-slopes at which the ground itself is looked at."""
    low, high = min(r[0] for r in ranges), max(r[1] for r in ranges)
    if high <= low:
        return np.array([low])
    return np.linspace(low, high, int(np.clip(math.ceil((high - low) / NODE_RAD) + 1, FEWEST, MOST)))


def _first_look(low: float, high: float) -> Floats:
    """Return cross-slopes over a range, level itself among them where it lies within."""
    if high <= low:
        return np.array([low])
    count = int(np.clip(math.ceil((high - low) / STEP_RAD) + 1, FEWEST, MOST))
    look = np.linspace(low, high, count)
    return np.unique(np.append(look, 0.0)) if low < 0 < high else look


def _settled(
    yard: Yard, bounds: Bounds, aim: Aim, ranges: Ranges, grades: Grades
) -> tuple[float, Heights, Grades]:
    """Return the best cross-slope, looking at the spots alone, with what the ground asks there exactly.

    Where the ground looked at there says other than what was taken straight between its neighbours, it
    joins the grades, which are returned too.
    """
    for _ in range(EXCHANGES):
        cross = _best(yard, bounds, aim, ranges, grades)
        at = np.array([cross])
        exact = grades_of(yard, at, grades.spots)
        held = heights_at(yard, exact, at)
        if held.differs(heights_at(yard, grades, at)) <= HOLDS_M / 4:
            break
        grades = with_cross_slope(grades, exact)
    return cross, held, grades


def _best(yard: Yard, bounds: Bounds, aim: Aim, ranges: Ranges, grades: Grades) -> float:
    """Return the best cross-slope, looking at the spots alone."""

    def measure(cross: Floats) -> Floats:
        heights = heights_at(yard, grades, cross)
        low, high = between(heights, bounds)
        short = low - high
        plane = high if bounds.high and aim in (least_steel, least_tallest) else low
        return np.where(short > HOLDS_M / 2, SHORT + short, aim(heights, plane, high))

    starts: list[tuple[float, float, float, float, float]] = []
    for low, high in ranges:
        look = _first_look(low, high)
        value = measure(look)
        padded = np.concatenate([[np.inf], value, [np.inf]])
        dips = np.flatnonzero((value <= padded[:-2]) & (value <= padded[2:]))
        step = (high - low) / max(1, len(look) - 1)
        starts.extend((float(value[i]), float(look[i]), step, low, high) for i in dips)
    starts = sorted(starts)[:BASINS]
    at, width, low_end, high_end = (np.array([s[k] for s in starts]) for k in (1, 2, 3, 4))
    value = np.array([s[0] for s in starts])
    step_of = np.linspace(-1, 1, POINTS)
    for _ in range(ROUNDS if width.max() > 0 else 0):
        near = np.clip(at[:, None] + width[:, None] * step_of, low_end[:, None], high_end[:, None])
        found = measure(near.ravel()).reshape(near.shape)
        best = found.argmin(axis=1)
        rows = np.arange(len(at))
        better = found[rows, best] < value
        at = np.where(better, near[rows, best], at)
        value = np.where(better, found[rows, best], value)
        width = width / SHRINK
    return float(at[int(value.argmin())]) + 0.0  # level is 0, not -0
