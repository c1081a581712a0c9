"""How much ground to shave so that a plane fits under the upper limits.

At a cross-slope the plane goes as high as `above_grade_max` and `highest` let it. Ground is too high where
it stands above the modules' underside less the clearance, and on a pad round a pier where it stands above
the post's top less `above_grade_min`. What is too high, integrated in plan, is the volume; the cross-slope
with the least is taken.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.layout.heights import Yard, above_grade, plumb_heights, spots_in_space
from staking.layout.piers import a1_places, piers_at
from staking.layout.plane import under
from staking.layout.search import HOLDS_M, Bounds, Ranges
from staking.layout.spots import highest

Floats = NDArray[np.float64]

PAD_M = 0.3
"""Radius of the level pad shaved round a post that is too short: room for the auger (common practice, no
source)."""
PAD_CELL_M = 0.05
LOOK_CELLS, TELL_CELLS = 1_000, 20_000
"""Cells over the modules while cross-slopes are compared, and for the volume that is told."""
LOOKS, NARROWED, SHRINK = 25, 3, 8
"""Cross-slopes of a look, and how often the best one's neighbourhood is looked at again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shaved:
    """The ground to be taken away."""

    volume_m3: float
    area_m2: float
    """In plan."""
    deepest_m: float
    deepest_at_en_m: tuple[float, float]
    cross_rad: float
    z_a1_m: float
    """Elevation of the plane over A1 that fits on the shaved ground."""
    piers_m: tuple[float, ...]
    """Depth at each pier of the order."""


def shaved(yard: Yard, bounds: Bounds, ranges: Ranges) -> Shaved | None:
    """Return the least ground to shave; None where that makes another part of the limits fail."""
    best = min(
        (_narrowed(yard, bounds, low, high) for low, high in ranges),
        key=lambda cut: cut[0],
    )[1]
    return _cut(yard, bounds, best, TELL_CELLS)


def shaved_under(yard: Yard, bounds: Bounds, cross_rad: float, top_m: float) -> Shaved | None:
    """Return the ground to shave under a plane of given cross-slope that goes no higher than `top_m`."""
    return _cut(yard, bounds, cross_rad, TELL_CELLS, top_m)


def _narrowed(yard: Yard, bounds: Bounds, low: float, high: float) -> tuple[float, float]:
    """Return the least volume over a range of cross-slopes, and its cross-slope."""
    ends = (low, high)
    found = (math.inf, low)
    for _ in range(1 + NARROWED):
        for cross in np.linspace(low, high, LOOKS if high > low else 1):
            found = min(found, (_volume(yard, bounds, float(cross)), float(cross)))
        if high <= low:
            break
        half = (high - low) / SHRINK / 2
        low, high = max(ends[0], found[1] - half), min(ends[1], found[1] + half)
    return found


def _volume(yard: Yard, bounds: Bounds, cross_rad: float) -> float:
    cut = _cut(yard, bounds, cross_rad, LOOK_CELLS)
    return math.inf if cut is None else cut.volume_m3


def _cut(yard: Yard, bounds: Bounds, cross_rad: float, cells: int, top_m: float = math.inf) -> Shaved | None:
    """Return what is shaved at a cross-slope; None where the shaved ground breaks an upper limit."""
    shape = yard.shape
    above = above_grade(yard, cross_rad)
    top = min(top_m, bounds.above_grade_max_m - float(above.max()))
    if math.isfinite(bounds.highest_m):
        top = min(top, bounds.highest_m - highest(yard, cross_rad).height_m)
    spots, face_m2 = _cells(shape.width_m, shape.height_m, cells)
    cross = np.array([cross_rad])
    depth = bounds.clearance_m - top - plumb_heights(yard, cross, spots, shape.stack_m)[0]
    depth = np.maximum(depth, 0.0)
    en = spots_in_space(yard, cross, spots, shape.stack_m)[0][0]
    plan = math.cos(shape.tilt_rad) * math.cos(cross_rad)
    cell_m2 = face_m2 * plan

    a1 = a1_places(shape, cross_rad, yard.placed, yard.placed_en_m)
    a1_en = (float(a1[0]), float(a1[1]))
    piers = piers_at(shape, cross_rad, a1_en).en_m
    at_piers = np.maximum(bounds.above_grade_min_m - top - above, 0.0)
    round_pier = _pad()
    volume, area = float(depth.sum()) * cell_m2, float((depth > 0).sum()) * cell_m2
    under_piers = _under_depth(yard, bounds, cross_rad, a1_en, top, piers)
    for i in np.flatnonzero(at_piers > 0):
        pad = piers[i] + round_pier
        grade = yard.ground.z(pad)
        own = float(yard.ground.z_at_piers((yard.names[i],), piers[i][None, :])[0])
        both = np.maximum(grade - (own - at_piers[i]), 0.0)
        already = _under_depth(yard, bounds, cross_rad, a1_en, top, pad)
        more = np.maximum(both - already, 0.0)
        volume += float(more.sum()) * PAD_CELL_M**2
        area += float(((more > 0) & (already <= 0)).sum()) * PAD_CELL_M**2
    at_piers = np.maximum(at_piers, under_piers)
    if float((above + top + at_piers).max()) > bounds.above_grade_max_m + HOLDS_M:
        return None
    if math.isfinite(bounds.highest_m):
        over = plumb_heights(yard, cross, spots, shape.stack_m + shape.thick_m)[0] + top
        if float((over + depth).max()) > bounds.highest_m + HOLDS_M:
            return None
    deep, where = (depth, en) if depth.max() >= at_piers.max() else (at_piers, piers)
    most = int(deep.argmax())
    return Shaved(
        volume_m3=volume,
        area_m2=area,
        deepest_m=float(deep[most]),
        deepest_at_en_m=(float(where[most, 0]), float(where[most, 1])),
        cross_rad=cross_rad,
        z_a1_m=top,
        piers_m=tuple(float(x) for x in at_piers),
    )


def _cells(width_m: float, height_m: float, cells: int) -> tuple[Floats, float]:
    """Return the middles (k, 2) of equal cells over the modules' face, and the area of one."""
    side = math.sqrt(width_m * height_m / cells)
    across, up = max(1, round(width_m / side)), max(1, round(height_m / side))
    x = ((np.arange(across) + 0.5) / across - 0.5) * width_m
    y = (np.arange(up) + 0.5) / up * height_m
    spots = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    return spots, width_m * height_m / len(spots)


def _pad() -> Floats:
    """Return the middles (k, 2) of the cells of a pad round its pier."""
    line = np.arange(-PAD_M + PAD_CELL_M / 2, PAD_M, PAD_CELL_M)
    cells = np.stack(np.meshgrid(line, line), axis=-1).reshape(-1, 2)
    return np.asarray(cells[np.hypot(*cells.T) <= PAD_M])


def _under_depth(
    yard: Yard, bounds: Bounds, cross_rad: float, a1_en_m: tuple[float, float], top_m: float, en_m: Floats
) -> Floats:
    """Return how much of the ground (m,) at places is in the way of the clearance; 0 beside the modules."""
    shape = yard.shape
    along, up = under(shape.azimuth_rad, shape.tilt_rad, cross_rad, a1_en_m, en_m, shape.stack_m)
    lean = math.sin(shape.tilt_rad) * math.tan(cross_rad)
    x = along - shape.half_line_m - shape.rail_run_m / 2 * lean
    y = up + shape.beams_at_m[0]
    inside = (np.abs(x) <= shape.width_m / 2) & (y >= 0) & (y <= shape.height_m)
    spots = np.stack([x, y], axis=-1)
    clear = plumb_heights(yard, np.array([cross_rad]), spots, shape.stack_m)[0] + top_m
    return np.where(inside, np.maximum(bounds.clearance_m - clear, 0.0), 0.0)
