"""Site axes: east x, north y, up z; azimuths clockwise from true north, radians.

Standing on the low side and looking at an array that faces azimuth α, e runs left to right and w runs away
from the viewer, up the slope of the array.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def facing_axes(azimuth_rad: float) -> tuple[Floats, Floats]:
    """Return the level unit vectors (e, w), each (3,), of an array that faces an azimuth."""
    sin, cos = math.sin(azimuth_rad), math.cos(azimuth_rad)
    return np.array([-cos, sin, 0.0]), np.array([-sin, -cos, 0.0])


def plane_axes(azimuth_rad: float, tilt_rad: float, cross_slope_rad: float) -> tuple[Floats, Floats, Floats]:
    """Return unit vectors (u, v, n), each (3,): along the beam, up the rail, square to both.

    Parameters
    ----------
    azimuth_rad : float
        The way the array faces.
    tilt_rad : float
        Angle through which the array is turned about its beams.
    cross_slope_rad : float
        Angle of the beams against level, positive when they rise toward the right.
    """
    e, w = facing_axes(azimuth_rad)
    up = np.array([0.0, 0.0, 1.0])
    u = math.cos(cross_slope_rad) * e + math.sin(cross_slope_rad) * up
    square = -math.sin(cross_slope_rad) * e + math.cos(cross_slope_rad) * up
    v = math.cos(tilt_rad) * w + math.sin(tilt_rad) * square
    return u, v, np.cross(u, v)


def azimuth_of(east: float, north: float) -> float:
    """Return the azimuth in [0, 2π) of a plan direction."""
    return math.atan2(east, north) % math.tau
