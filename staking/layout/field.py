"""The corners of the field of modules, and its outline in plan."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from staking.ground.outline import convex_outline
from staking.layout.beams import beams_of, middle_along
from staking.layout.frame import ArrayPlane
from staking.layout.plane import in_space
from staking.layout.shape import FrameShape

Floats = NDArray[np.float64]

ON_A_SIDE_M = 1e-7
"""A corner no further off the line between its neighbours is none: rounding of coordinates on a map grid."""


def corners_of(shape: FrameShape, plane: ArrayPlane, off_m: float) -> Floats:
    """Return (4, 3) corners of a face of the modules, low left first, counter-clockwise seen from above.

    `off_m` is the face's distance from the beams' plane along n: `stack_m` for the underside, the modules'
    thickness more for the upper face.
    """
    middle = middle_along(shape, plane.cross_slope_rad)
    half = shape.width_m / 2
    low, high = -shape.beams_at_m[0], shape.height_m - shape.beams_at_m[0]
    along = [middle - half, middle + half, middle + half, middle - half]
    return in_space(plane, along, [low, low, high, high], off_m)


def both_faces(shape: FrameShape, plane: ArrayPlane) -> Floats:
    """Return (8, 3) corners of the modules: four of the upper face, then four of the underside."""
    off_m = (shape.stack_m + shape.thick_m, shape.stack_m)
    return np.vstack([corners_of(shape, plane, off) for off in off_m])


def ends_of_frame(shape: FrameShape, plane: ArrayPlane) -> Floats:
    """Return (8, 3) ends of the outer rails, right under the modules, then of the beams' centrelines.

    Each four go round: low left, low right, high right, high left. The ends of the beams are those of the one
    that reaches out furthest to the side, at the lowest and the highest beam.
    """
    middle = middle_along(shape, plane.cross_slope_rad)
    left, right = middle + min(shape.rails_m), middle + max(shape.rails_m)
    low = -shape.beams_at_m[0] - shape.rail_end_m
    high = shape.height_m - shape.beams_at_m[0] + shape.rail_end_m
    rails = in_space(plane, [left, right, right, left], [low, low, high, high], shape.stack_m)
    ends = [(beam.left_end_enz_m, beam.right_end_enz_m) for beam in beams_of(shape, plane)]
    beams = [ends[0][0], ends[0][1], ends[-1][1], ends[-1][0]]
    return np.vstack([rails, beams])


def edges_of(shape: FrameShape, plane: ArrayPlane) -> Floats:
    """Return (16, 3) corners of all that keeps clear as one: both faces of the modules, rails and beams."""
    return np.vstack([both_faces(shape, plane), ends_of_frame(shape, plane)])


def plan_outline(faces_m: Floats) -> Floats:
    """Return the ring (k, 2) round corners seen from above, counter-clockwise.

    Both faces count: the upper one lies the modules' thickness further along n, in plan that times the sine
    of the tilt toward the low side. So it reaches out along the low edge, the underside along the high one.

    Parameters
    ----------
    faces_m
        (n, 2) or (n, 3), from `both_faces` or `edges_of`.
    """
    ring = convex_outline(faces_m[:, :2])
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    # What lies on a side is a corner by rounding alone.
    off_m = (before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]) / np.hypot(*(before + after).T)
    return np.asarray(ring[off_m > ON_A_SIDE_M])
