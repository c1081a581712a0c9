"""The corners of the field of modules."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from staking.layout.beams import middle_along
from staking.layout.frame import ArrayPlane
from staking.layout.plane import in_space
from staking.layout.shape import FrameShape

Floats = NDArray[np.float64]


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
