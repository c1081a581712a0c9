"""The best two of many readings not yet taken: every pair tried, each by an update of rank two."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Best:
    """Which one or two of the candidates leave the target surest."""

    chosen: tuple[int, ...]
    """Their numbers; the same one twice when reading it twice is best."""
    variance_m2: float
    """Of the target with them."""


def variances_of_pairs(target_m2: float, shared_m2: Floats, cov_m2: Floats, noise_m2: Floats) -> Floats:
    """Return the target's variance (k, k) with both readings of each pair; on the diagonal one read twice.

    Parameters
    ----------
    target_m2
        Variance of the target now.
    shared_m2
        (k,) covariance of the target with each reading.
    cov_m2
        (k, k) covariance of what the readings measure, without the noise of their own.
    noise_m2
        (k,) variance of each reading's own error; a second reading of the same thing errs anew.
    """
    own = np.diag(cov_m2) + noise_m2
    a, b, c = own[:, None], own[None, :], cov_m2
    p, q = shared_m2[:, None], shared_m2[None, :]
    return np.asarray(target_m2 - (b * p * p - 2.0 * c * p * q + a * q * q) / (a * b - c * c))


def best_of(pairs_m2: Floats, doubles_m2: Floats) -> Best | None:
    """Return the best of all pairs (k, k) and of candidates (d,) that take both readings by themselves.

    The numbers of the latter follow those of the former; of equals the first. None without candidates.
    """
    best: Best | None = None
    if pairs_m2.size:
        i, j = divmod(int(pairs_m2.argmin()), len(pairs_m2))
        best = Best(chosen=(i, j), variance_m2=float(pairs_m2[i, j]))
    if doubles_m2.size:
        d = int(doubles_m2.argmin())
        if best is None or doubles_m2[d] < best.variance_m2:
            best = Best(chosen=(len(pairs_m2) + d,), variance_m2=float(doubles_m2[d]))
    return best
