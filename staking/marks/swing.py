"""Two tapes swung from two points: where they cross, and how surely.

A tape from point i of known place p_i to the stake x reads d_i; with u_i the unit vector from the point to
the stake, errors τ_i of the tape and δ_i of the point move the stake by δx, where u_i·δx = τ_i + u_i·δ_i.
So with U of rows u_i and R the joint covariance of the right-hand sides, the place has the covariance
U⁻¹ R U⁻ᵀ, and the longer half-axis of its ellipse is the root of the greater eigenvalue (general law of
propagation of variances and standard error ellipse: C. D. Ghilani, Adjustment Computations, Wiley, chapters 6
and 19, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from staking.book.records import Accuracy

Floats = NDArray[np.float64]

LEAST_CROSSING_RAD = math.radians(30.0)
"""Tapes that cross flatter than this, or than its supplement, fix nothing along the flat: common practice."""
CROSSING_SLACK_RAD = 1e-9
"""So that a crossing of just 30° is not lost to rounding."""
TAPE_LENGTH_M = 30.48
"""One length of a common tape, 100 ft: ties within it are preferred, since a longer one is laid twice."""
SHORTEST_TIE_M = 0.3
"""About a foot: nearer than this, the heads of the two stakes are in each other's way."""
ROUNDING = 1e-12
"""Share of the square of the line's length: tapes that just touch are not parted by the last digit."""
PLACE_STEP_M = 0.0001
"""Pairs whose places are equally sure to 0.1 mm are told apart by the length of the tapes instead."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rays:
    """The sights from k points to one stake."""

    length_m: Floats
    """(k,), level."""
    unit: Floats
    """(k, 2) from each point toward the stake; zero where the two coincide."""
    cov_m2: Floats
    """(k, k) of the level distances as laid off: tape and points."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Swing:
    """Two rays chosen to place a stake."""

    pair: tuple[int, int]
    """Indices into the rays."""
    crossing_rad: float
    """Angle at the stake between the two points, 0 to π."""
    inverse: Floats
    """(2, 2) U⁻¹: from errors of the two distances to errors of the place."""
    cov_m2: Floats
    """(2, 2) of the place, east and north."""
    semi_major_m: float
    """Longer half-axis of the standard ellipse."""


def tape_sd_m(accuracy: Accuracy, length_m: Floats | float) -> Floats:
    """Return the standard deviation of one taped distance: constant and growing part, root-sum-square."""
    return np.asarray(np.hypot(accuracy.tape_m, accuracy.tape_per_m * np.asarray(length_m)))


def rays(*, stake_en_m: Floats, points_en_m: Floats, points_cov_m2: Floats, accuracy: Accuracy) -> Rays:
    """Return the sights from points (k, 2) with joint covariance (2k, 2k) to a stake (2,)."""
    reach = stake_en_m - points_en_m
    length = np.hypot(reach[:, 0], reach[:, 1])
    unit = reach / np.where(length > 0.0, length, 1.0)[:, None]
    k = len(length)
    cov = np.einsum("ia,iajb,jb->ij", unit, points_cov_m2.reshape(k, 2, k, 2), unit)
    return Rays(length_m=length, unit=unit, cov_m2=cov + np.diag(tape_sd_m(accuracy, length) ** 2))


def best_swing(sights: Rays) -> Swing | None:
    """Return the pair that places the stake most surely; None when no two rays cross at 30° to 150°.

    Pairs within one tape's length come first; among equals the shorter tapes.
    """
    usable = np.flatnonzero(sights.length_m >= SHORTEST_TIE_M)
    if len(usable) < 2:
        return None
    first, second = (usable[half] for half in np.triu_indices(len(usable), k=1))
    a, b = sights.unit[first], sights.unit[second]
    cos = np.einsum("ij,ij->i", a, b)
    sin = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    crossing = np.arctan2(np.abs(sin), cos)
    least = LEAST_CROSSING_RAD - CROSSING_SLACK_RAD
    good = (crossing >= least) & (crossing <= math.pi - least)
    if not good.any():
        return None
    first, second, cos, sin, crossing = (part[good] for part in (first, second, cos, sin, crossing))
    semi_major = _semi_major_m(sights.cov_m2, first, second, cos, sin)
    lengths = sights.length_m[np.stack([first, second])]
    order = np.lexsort(
        (lengths.sum(axis=0), np.rint(semi_major / PLACE_STEP_M), lengths.max(axis=0) > TAPE_LENGTH_M)
    )
    best = int(order[0])
    i, j = int(first[best]), int(second[best])
    inverse: Floats = np.asarray(np.linalg.inv(sights.unit[[i, j]]), dtype=np.float64)
    cov = inverse @ sights.cov_m2[np.ix_([i, j], [i, j])] @ inverse.T
    return Swing(
        pair=(i, j),
        crossing_rad=float(crossing[best]),
        inverse=inverse,
        cov_m2=cov,
        semi_major_m=float(semi_major[best]),
    )


def _semi_major_m(
    cov_m2: Floats, first: NDArray[np.intp], second: NDArray[np.intp], cos: Floats, sin: Floats
) -> Floats:
    """Return (m,) longer half-axes of m pairs, from the trace and determinant of U⁻¹ R U⁻ᵀ."""
    r11, r22, r12 = cov_m2[first, first], cov_m2[second, second], cov_m2[first, second]
    half_trace = (r11 + r22 - 2.0 * r12 * cos) / (2.0 * sin**2)
    determinant = (r11 * r22 - r12**2) / sin**2
    return np.sqrt(half_trace + np.sqrt(np.maximum(half_trace**2 - determinant, 0.0)))


def side_of(*, start_en_m: Floats, end_en_m: Floats, at_en_m: Floats) -> Literal["left", "right"]:
    """Return on which side a place lies, looking from start to end."""
    ahead, across = end_en_m - start_en_m, at_en_m - start_en_m
    return "left" if ahead[0] * across[1] - ahead[1] * across[0] > 0.0 else "right"


def where_tapes_cross(
    *,
    start_en_m: Floats,
    end_en_m: Floats,
    from_start_m: float,
    from_end_m: float,
    side: Literal["left", "right"],
) -> Floats:
    """Return the place (2,) at two level distances from two points.

    Parameters
    ----------
    start_en_m, end_en_m : (2,)
        The two points.
    from_start_m, from_end_m : float
        Level distances from them.
    side : str
        Of the line from start to end, looking along it.

    Raises
    ------
    ValueError
        When the two tapes cannot meet, or the two points are one.
    """
    line = end_en_m - start_en_m
    apart = float(np.hypot(line[0], line[1]))
    if apart == 0.0:
        raise ValueError("the two points stand at the same place, so two distances from them fix nothing")
    along = (from_start_m**2 - from_end_m**2 + apart**2) / (2.0 * apart)
    square = (from_start_m - along) * (from_start_m + along)
    if square < -ROUNDING * apart**2:
        raise ValueError("the two distances do not meet: one of them, or the line between them, is wrong")
    ahead = line / apart
    left = np.array([-ahead[1], ahead[0]])
    return start_en_m + along * ahead + math.sqrt(max(square, 0.0)) * (left if side == "left" else -left)
