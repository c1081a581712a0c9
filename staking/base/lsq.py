"""Dense weighted least squares by orthogonal factors.

Householder QR of the weighted design with its columns scaled to unit length, and one step of iterative
refinement: no normal equations, so the condition of the problem is not squared.

Source: Å. Björck, Numerical Methods for Least Squares Problems (SIAM, 1996), ch. 2 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.covariance import Covariance

Floats = NDArray[np.float64]

RANK_TOLERANCE = 1e-11
"""Least diagonal of R, columns scaled to unit length, that still counts as rank: some 10^4 rounding units of
a double, and far below any geometry that a yard can measure."""
STEP_TOLERANCE = 1e-5
"""The same for a step by normal equations, whose condition is the square of the design's."""


class RankDeficient(ValueError):
    """The design does not determine every unknown; `columns` are those that its null space touches."""

    def __init__(self, columns: tuple[int, ...]) -> None:
        self.columns = columns
        super().__init__(f"the readings do not determine unknowns {columns}")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """The weighted least-squares solution of ``design @ x = observed``."""

    x: Floats
    """(n,) unknowns."""
    cov: Covariance
    """(n, n) covariance of the unknowns from the stated standard deviations, not scaled."""
    residuals: Floats
    """(m,) adjusted less observed, in the unit of the observations."""
    leverage: Floats
    """(m,) diagonal of the hat matrix; one less it is the redundancy number."""
    vtpv: float
    """Weighted sum of the squared residuals."""


def null_columns(design: Floats, *, touched: float = 1e-5) -> tuple[int, ...]:
    """Return the columns that the null space of a design touches, by singular values.

    Parameters
    ----------
    design
        (m, n).
    touched
        Least share of a null vector that counts.
    """
    scale = np.linalg.norm(design, axis=0)
    safe = np.where(scale > 0, scale, 1.0)
    _, singular, vt = np.linalg.svd(design / safe, full_matrices=True)
    rank = int(np.count_nonzero(singular > RANK_TOLERANCE * max(1.0, float(singular.max(initial=0.0)))))
    return tuple(int(j) for j in np.flatnonzero(np.abs(vt[rank:]).max(axis=0, initial=0.0) > touched))


def solved(design: Floats, observed: Floats, sd: Floats | None = None) -> Solution:
    """Solve a weighted linear least-squares problem.

    Parameters
    ----------
    design
        (m, n) with m at least n.
    observed
        (m,).
    sd
        (m,) standard deviations of the observations, all positive; None for unit weights.

    Raises
    ------
    RankDeficient
        When the observations do not determine all unknowns.
    """
    m, n = design.shape
    weight = np.ones(m) if sd is None else 1.0 / sd
    weighted = design * weight[:, None]
    target = observed * weight
    scale = np.linalg.norm(weighted, axis=0)
    if m < n or not np.all(scale > 0):
        raise RankDeficient(null_columns(weighted))
    weighted /= scale
    q, r = np.linalg.qr(weighted)
    if n and float(np.abs(np.diag(r)).min()) < RANK_TOLERANCE:
        raise RankDeficient(null_columns(weighted))
    r_inverse = np.linalg.solve(r, np.eye(n))
    x = r_inverse @ (q.T @ target)
    x += r_inverse @ (q.T @ (target - weighted @ x))
    misfit = weighted @ x - target
    half = r_inverse / scale[:, None]
    return Solution(
        x=x / scale,
        cov=half @ half.T,
        residuals=misfit / weight,
        leverage=np.einsum("ij,ij->i", q, q),
        vtpv=float(misfit @ misfit),
    )


def stepped(design: Floats, observed: Floats, sd: Floats, damping: float = 0.0) -> Floats | None:
    """Return the solution by the normal equations, for a step of an iteration; None when they will not do.

    Three times as fast as `solved` and good to half as many digits; the last step must be `solved`.

    Parameters
    ----------
    design, observed, sd
        As for `solved`.
    damping
        Added to the diagonal of the normal matrix of unit columns: shortens the step and turns it downhill.
        Source: D. W. Marquardt, J. SIAM 11 (1963) 431 (from memory).
    """
    weighted = design / sd[:, None]
    scale = np.linalg.norm(weighted, axis=0)
    if not np.all(scale > 0):
        return None
    weighted /= scale
    try:
        factor = np.linalg.cholesky(weighted.T @ weighted + damping * np.eye(len(scale)))
    except np.linalg.LinAlgError:
        return None
    if float(np.diag(factor).min(initial=1.0)) < STEP_TOLERANCE:
        return None
    right = weighted.T @ (observed / sd)
    x: Floats = np.linalg.solve(factor.T, np.linalg.solve(factor, right)) / scale
    return x
