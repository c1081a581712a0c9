"""Weighted least squares of a design written place by place: dense for few unknowns, sparse for many."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from staking.base import lsq
from staking.base.lsq import Solution
from staking.base.triplets import Triplets

Floats = NDArray[np.float64]

MOST_DENSE = 600
"""Unknowns up to which dense factors, by numpy alone, are as fast as loading scipy for sparse ones."""


def solved(design: Triplets, observed: Floats, sd: Floats) -> Solution:
    """Solve a weighted linear least-squares problem.

    Parameters
    ----------
    design
        (m, n) with m at least n.
    observed, sd
        (m,) observations and their standard deviations, all positive.

    Raises
    ------
    RankDeficient
        When the observations do not determine all unknowns.
    """
    if design.shape[1] <= MOST_DENSE:
        return lsq.solved(design.dense(), observed, sd)
    from staking.base import sparse_lsq  # scipy takes a third of a second to load

    return sparse_lsq.solved(design, observed, sd)


def stepped(design: Triplets, observed: Floats, sd: Floats, damping: float = 0.0) -> Floats | None:
    """Return a step of an iteration, damped as Marquardt's; None when the unknowns are not determined."""
    if design.shape[1] <= MOST_DENSE:
        return lsq.stepped(design.dense(), observed, sd, damping)
    from staking.base import sparse_lsq

    return sparse_lsq.stepped(design, observed, sd, damping)
