"""Causes as directions over the readings, and what the survey says along each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.control.causes import Cause

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Field:
    """The causes as directions, and what the survey says along each."""

    causes: Sequence[Cause]
    cause_of: Ints
    """(h,) cause of each hypothesis; a cause has one for each prior of its amount."""
    direction: Ints
    """(h,) its direction."""
    mean: Floats
    variance: Floats
    log_prior: Floats
    along: Floats
    """(k,) b of each direction."""
    between: Floats
    """(k, k) f·R f' between directions; g on the diagonal."""
    length2: Floats
    """(k,) f·f."""
    total: float
    redundancy: int


def field_of(
    causes: Sequence[Cause],
    place: dict[int, int],
    sd: Floats,
    misfit: Floats,
    redundancy_matrix: Floats,
    total: float,
    redundancy: int,
) -> Field:
    """Return the causes as directions over the checked readings.

    Parameters
    ----------
    causes
        The causes.
    place
        Place of each equation among the readings looked at.
    sd, misfit
        Of these readings, the misfit observed less adjusted in standard deviations.
    redundancy_matrix
        Between them.
    total, redundancy
        Of the whole survey.
    """
    numbers: dict[tuple[tuple[int, float], ...], int] = {}
    cause_of, direction, mean, variance, prior = [], [], [], [], []
    for c, cause in enumerate(causes):
        steps = [
            (place[x.equation], step / sd[place[x.equation]])
            for x, step in zip(cause.changes, cause.steps, strict=True)
        ]
        unit = 1.0
        if len(steps) == 1:
            # All causes of one reading share its direction.
            unit = steps[0][1]
            steps = [(steps[0][0], 1.0)]
        key = tuple(steps)
        for amount in cause.amounts:
            cause_of.append(c)
            direction.append(numbers.setdefault(key, len(numbers)))
            mean.append(amount.mean * unit)
            variance.append(amount.variance * unit**2)
            prior.append(math.log(cause.prior * amount.share))
    directions = np.zeros((len(numbers), len(sd)))
    for key, k in numbers.items():
        for row, step in key:
            directions[k, row] += step
    return Field(
        causes=causes,
        cause_of=np.array(cause_of, dtype=np.int64),
        direction=np.array(direction, dtype=np.int64),
        mean=np.array(mean),
        variance=np.array(variance),
        log_prior=np.array(prior),
        along=directions @ misfit,
        between=directions @ redundancy_matrix @ directions.T,
        length2=(directions**2).sum(axis=1),
        total=total,
        redundancy=redundancy,
    )
