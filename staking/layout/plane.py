"""The plane of the beams' centrelines: from distances along the beam and up the rail to places, and back.

Every function takes scalars or arrays that broadcast. Distances are from pier A1's place on beam A's
centreline: `along` the beams (u), `up` the rails (v), `off` square to both (n); in plan `s` is level to the
right (e) and `t` level up the slope (w). See `staking.base.axes` for the axes themselves.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from staking.base.axes import azimuth_of, facing_axes, plane_axes
from staking.layout.frame import ArrayPlane

Floats = NDArray[np.float64]

FLAT = 1e-12
"""Length of n in plan below which the array lies flat and faces nowhere: rounding of a unit vector."""


def level_offsets(
    tilt_rad: float, cross_slope_rad: ArrayLike, along_m: ArrayLike, up_m: ArrayLike, off_m: ArrayLike = 0.0
) -> tuple[Floats, Floats, Floats]:
    """Return (s, t, z) of along·u + up·v + off·n, metres, relative to A1's place on the beam.

    The sums of u, v and n written out in the axes e, w and z, so that many cross-slopes go at once.
    """
    cross, along, up, off = (np.asarray(x, dtype=float) for x in (cross_slope_rad, along_m, up_m, off_m))
    sin_b, cos_b = math.sin(tilt_rad), math.cos(tilt_rad)
    sin_g, cos_g = np.sin(cross), np.cos(cross)
    s = along * cos_g - up * sin_b * sin_g - off * cos_b * sin_g
    t = up * cos_b - off * sin_b
    z = along * sin_g + up * sin_b * cos_g + off * cos_b * cos_g
    return s, t, z


def beam_height(tilt_rad: float, cross_slope_rad: ArrayLike, s_m: ArrayLike, t_m: ArrayLike) -> Floats:
    """Return the height of the beams' plane over plan offsets (s, t) from A1, relative to A1, metres."""
    cross = np.asarray(cross_slope_rad, dtype=float)
    return np.asarray(np.tan(cross) * s_m + math.tan(tilt_rad) / np.cos(cross) * t_m)


def in_plan(azimuth_rad: float, a1_en_m: ArrayLike, s_m: ArrayLike, t_m: ArrayLike) -> Floats:
    """Return (…, 2) plan positions of plan offsets (s, t) from A1, metres."""
    e, w = facing_axes(azimuth_rad)
    s, t = np.asarray(s_m, dtype=float)[..., None], np.asarray(t_m, dtype=float)[..., None]
    return np.asarray(np.asarray(a1_en_m, dtype=float) + s * e[:2] + t * w[:2])


def in_space(plane: ArrayPlane, along_m: ArrayLike, up_m: ArrayLike, off_m: ArrayLike = 0.0) -> Floats:
    """Return (…, 3) east, north, elevation of along·u + up·v + off·n from A1's place on the beam."""
    s, t, z = level_offsets(plane.tilt_rad, plane.cross_slope_rad, along_m, up_m, off_m)
    en = in_plan(plane.azimuth_rad, plane.a1_en_m, s, t)
    return np.concatenate([en, (plane.z_a1_m + z)[..., None]], axis=-1)


def under(
    azimuth_rad: float,
    tilt_rad: float,
    cross_slope_rad: float,
    a1_en_m: tuple[float, float],
    en_m: Floats,
    off_m: float,
) -> tuple[Floats, Floats]:
    """Return (along, up), each (m,), of the places of the plane `off` along n that are plumb over (m, 2)."""
    e, w = facing_axes(azimuth_rad)
    d = np.asarray(en_m, dtype=float) - np.asarray(a1_en_m)
    s, t = d @ e[:2], d @ w[:2]
    up = (t + off_m * math.sin(tilt_rad)) / math.cos(tilt_rad)
    square = up * math.sin(tilt_rad) + off_m * math.cos(tilt_rad)
    return (s + square * math.sin(cross_slope_rad)) / math.cos(cross_slope_rad), up


def true_tilt(plane: ArrayPlane) -> float:
    """Return the plane's steepest angle against level, radians."""
    n = _normal(plane)
    return math.atan2(math.hypot(n[0], n[1]), n[2])


def true_azimuth(plane: ArrayPlane) -> float:
    """Return the azimuth of n in plan from true north, in [0, 2π); the array's own where it lies flat."""
    n = _normal(plane)
    if math.hypot(n[0], n[1]) < FLAT:
        return plane.facing_rad % math.tau
    return (azimuth_of(n[0], n[1]) + plane.axes_north_rad) % math.tau


def rail_slope(plane: ArrayPlane) -> float:
    """Return what a level laid on a rail reads, radians."""
    return math.asin(math.sin(plane.tilt_rad) * math.cos(plane.cross_slope_rad))


def skew(plane: ArrayPlane, rail_run_m: float) -> float:
    """Return Q·sin β·sin γ for a rail run Q between lowest and highest beam, metres.

    By this much, in plan, the rails meet the high beam further toward the left (toward the low end, when
    the beams rise toward the right) than they meet the low beam; negative: toward the right.
    """
    return rail_run_m * math.sin(plane.tilt_rad) * math.sin(plane.cross_slope_rad)


def _normal(plane: ArrayPlane) -> list[float]:
    n = plane_axes(plane.azimuth_rad, plane.tilt_rad, plane.cross_slope_rad)[2]
    return [float(x) for x in n]
