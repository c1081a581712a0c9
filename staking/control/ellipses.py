"""Error ellipses of points in plan, of one point against another, and how sure the distance of two is.

Source: C. D. Ghilani, Adjustment Computations, 5th ed. (Wiley, 2010), ch. 19 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.control.adjustment import Points

Floats = NDArray[np.float64]

WITHIN_95 = math.sqrt(-2.0 * math.log(0.05))
"""Factor on a standard ellipse for one that holds the true place in 95 of 100: the root of the 95 % point of
chi-square with two degrees of freedom, 2.448. The standard ellipse holds it in 39."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ellipse:
    """A standard error ellipse; times `WITHIN_95` it holds the true place in 95 of 100."""

    semi_major_m: float
    semi_minor_m: float
    azimuth_rad: float
    """Of the major axis, clockwise from north, 0 to π; 0 for a circle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """How sure one point is against another, in plan."""

    length_m: float
    sd_m: float
    """Of the level distance."""
    ellipse: Ellipse
    """Of the difference of the two places."""

    @property
    def one_in(self) -> float:
        """Relative precision 1 : n of the distance, as n; infinite between points held."""
        return self.length_m / self.sd_m if self.sd_m > 0 else math.inf


def ellipse_of(cov_m2: Floats) -> Ellipse | None:
    """Return the standard ellipse of a place in plan, None where the place is not known.

    Parameters
    ----------
    cov_m2
        (2, 2) covariance of east and north.
    """
    if not np.isfinite(cov_m2).all():
        return None
    minor, major = np.sqrt(np.maximum(np.linalg.eigvalsh(cov_m2), 0.0))
    # Twice the azimuth is the direction of (Qnn − Qee, 2 Qen).
    twice = math.atan2(2.0 * float(cov_m2[0, 1]), float(cov_m2[1, 1] - cov_m2[0, 0]))
    return Ellipse(
        semi_major_m=float(major), semi_minor_m=float(minor), azimuth_rad=twice / 2.0 % math.pi + 0.0
    )


def ellipses(points: Points) -> tuple[Ellipse | None, ...]:
    """Return the standard ellipse of each point, None where its place is not known."""
    cov = points.plan_cov_m2()
    return tuple(ellipse_of(block) for block in cov)


def pair_of(en_m: Floats, cov_m2: Floats) -> Pair | None:
    """Return how sure one point is against another, None where either is not known or both are one.

    Parameters
    ----------
    en_m
        (2, 2): a row for each point.
    cov_m2
        (4, 4) joint covariance, east and north of the first, then of the second.
    """
    run = en_m[1] - en_m[0]
    length = float(np.hypot(*run))
    difference = np.hstack([-np.eye(2), np.eye(2)])
    between = difference @ cov_m2 @ difference.T
    ellipse = ellipse_of(between)
    if ellipse is None or not length > 0:
        return None
    along = run / length
    return Pair(length_m=length, sd_m=math.sqrt(max(float(along @ between @ along), 0.0)), ellipse=ellipse)


def pair(points: Points, first: str, second: str) -> Pair | None:
    """Return how sure one adjusted point is against another, None where either is not known in plan."""
    i, j = points.index(first), points.index(second)
    at = [3 * i, 3 * i + 1, 3 * j, 3 * j + 1]
    return pair_of(points.enz_m[[i, j], :2], points.cov_of(at))
