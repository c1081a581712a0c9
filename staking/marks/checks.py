"""The one distance that proves a stake: it did not place it, and it shows an error in either tie.

With the stake placed through U⁻¹ (see `staking.marks.swing`) and c the unit vector from the check's point
to the stake, an error b in tie k moves the check by (c U⁻¹)_k·b. The smaller of the two |(c U⁻¹)_k| is the
share of an error that the check is sure to show, whichever tie it is in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.marks.swing import SHORTEST_TIE_M, TAPE_LENGTH_M, Rays, Swing

Floats = NDArray[np.float64]

LEAST_SHOWN = 0.25
"""A check shows at least a quarter of an error in either tie, else another is sought: no source."""
ALLOWED_SIGMAS = 3.0
"""A check may differ by three times its own standard deviation, as misclosures may."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PinCheck:
    """A third point from which to check a stake."""

    point: int
    """Index into the rays."""
    shown: float
    """Least share of an error in either tie that the check shows."""
    allowed_m: float | None
    """Three times the standard deviation of taped less expected; None of a stake without ties."""


def pin_check(sights: Rays, swing: Swing) -> PinCheck | None:
    """Return the best third point to check a swung stake from; None when there is no third one.

    Of those that show enough, one within a tape's length comes first, then the one that shows most.
    """
    best: tuple[tuple[bool, bool, float], int] | None = None
    for k, length in enumerate(sights.length_m):
        if k in swing.pair or length < SHORTEST_TIE_M:
            continue
        shown = share_shown(sights.unit[k], swing)
        rank = (shown >= LEAST_SHOWN, bool(length <= TAPE_LENGTH_M), shown)
        if best is None or rank > best[0]:
            best = (rank, k)
    if best is None:
        return None
    (_, _, shown), k = best
    weights = np.zeros(len(sights.length_m))
    weights[list(swing.pair)] = sights.unit[k] @ swing.inverse
    weights[k] -= 1.0
    variance = float(weights @ sights.cov_m2 @ weights)
    return PinCheck(point=k, shown=shown, allowed_m=ALLOWED_SIGMAS * math.sqrt(variance))


def share_shown(unit: Floats, swing: Swing) -> float:
    """Return the least share of an error in either tie that a distance along `unit` (2,) shows."""
    return float(np.abs(unit @ swing.inverse).min())


def neighbour_allowed_m(
    *,
    unit: Floats,
    here: tuple[Rays, Swing],
    there: tuple[Rays, Swing],
    points_cov_m2: Floats,
    tape_sd_m: float,
) -> float:
    """Return what the distance between two swung stakes may differ by: three standard deviations.

    Parameters
    ----------
    unit : (2,)
        From the other stake to this one.
    here, there
        Sights and swing of this stake and the other, from the same k points.
    points_cov_m2 : (2k, 2k)
        Of those points: two stakes swung from one pin share its error.
    tape_sd_m : float
        Of the check's own tape.
    """
    cov = points_cov_m2.reshape(len(points_cov_m2) // 2, 2, -1, 2)
    (rays_a, swing_a), (rays_b, swing_b) = here, there
    a, b = list(swing_a.pair), list(swing_b.pair)
    # Only the points are common to both stakes; each tape is read anew.
    shared = np.einsum("ia,iajb,jb->ij", rays_a.unit[a], cov[a][:, :, b], rays_b.unit[b])
    cross = swing_a.inverse @ shared @ swing_b.inverse.T
    apart = swing_a.cov_m2 + swing_b.cov_m2 - cross - cross.T
    return ALLOWED_SIGMAS * math.sqrt(float(unit @ apart @ unit) + tape_sd_m**2)
