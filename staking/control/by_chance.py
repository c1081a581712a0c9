"""How often a clean survey would seem to hold a blunder: chance among many readings, counted in.

Along one direction over the readings everything that is said of its causes follows from one number,
``w = b/√g``, which is a standard normal deviate where nothing is wrong. What speaks for the causes of the
direction together is ``F(w) = Σ prior·likelihood ratio``. It is convex in w, so that ``F < t`` holds between
two limits; the shares of normal deviates beyond them, summed over all directions, are at most (Boole,
Bonferroni) how often a clean survey has ``F ≥ t`` along one of them. With more readings the limits are wider,
and as many clean surveys pass them.

Source: limits for the largest of n standardized residuals so set, A. J. Pope, The Statistics of Residuals and
the Detection of Outliers, NOAA Technical Report NOS 65 NGS 1 (1976) (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.control.hypotheses import Field
from staking.control.network import NOTHING_CHECKS

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FARTHEST_SDS = 9.0
"""Limits are looked for between minus and plus so many standard deviations; beyond, chance is 2e-19."""
STEP_SDS = 0.05
"""Steps in which they are looked for; between two of them the logarithm is taken as straight."""


STATED = 0.01
"""At most so large a share of clean surveys, of whatever size, has somebody named: as large as that of those
that fail the variance test."""
SAME_DIRECTION = 0.999
"""Correlation of two directions from which on chance strikes both at once."""


def strongest(field: Field) -> float:
    """Return the logarithm of the strongest evidence along one direction: prior times likelihood ratio."""
    directions = _directions(field)
    if directions is None:
        return -math.inf
    w = directions.along / np.sqrt(directions.checked)
    return float(directions.log_evidence(np.repeat(w, directions.counts)[:, None]).max())


def by_chance(field: Field, evidence: float, more: float = 1.0) -> float:
    """Return at most how often a clean survey holds evidence as strong along one of its directions.

    Parameters
    ----------
    field
        The causes as directions over the readings looked at.
    evidence
        Logarithm of prior times likelihood ratio, of the causes of a direction together.
    more
        How many times as many readings were checked as were looked at: the others have their like chances.
    """
    directions = _directions(field)
    if directions is None:
        return 1.0
    grid = np.arange(-FARTHEST_SDS, FARTHEST_SDS + STEP_SDS / 2, STEP_SDS)
    low, high = _limits(grid, directions.log_evidence(grid[None, :]), evidence)
    left, share = list(range(len(low))), 0.0
    at = directions.at
    between = field.between[np.ix_(at, at)] / np.sqrt(np.outer(directions.checked, directions.checked))
    while left:
        own = between[left[0], left]
        same = np.abs(own) >= SAME_DIRECTION
        same[0] = True
        inside = np.array(left)[same]
        turned = own[same] < 0
        ends = (
            np.where(turned, -high[inside], low[inside]).max(),
            np.where(turned, low[inside], -high[inside]).max(),
        )
        share += math.fsum(0.5 * math.erfc(-float(end) / math.sqrt(2.0)) for end in ends)
        left = [k for k, alike in zip(left, same, strict=True) if not alike]
    return min(1.0, more * share)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Directions:
    """The checked directions, and their hypotheses in that order."""

    at: Ints
    """(k,) which directions of the field."""
    counts: Ints
    """(k,) how many hypotheses each has."""
    along: Floats
    """(k,) b."""
    checked: Floats
    """(k,) g."""
    mean: Floats
    """(h,) of the amounts times the root of g: in standard deviations of w."""
    spread: Floats
    """(h,) variance of w with that of the amount in it."""
    log_prior: Floats

    def log_evidence(self, w: Floats) -> Floats:
        """Return (k, n) logarithms of F at (h, n) values of w of each hypothesis, or (1, n) of all alike."""
        off = w + self.mean[:, None]
        each = (self.log_prior - 0.5 * np.log(self.spread))[:, None] + 0.5 * (
            w**2 - off**2 / self.spread[:, None]
        )
        starts = np.cumsum(self.counts) - self.counts
        found: Floats = np.logaddexp.reduceat(each, starts, axis=0)
        return found


def _directions(field: Field) -> _Directions | None:
    """Return the directions that some reading checks; None where there is none."""
    g = np.diag(field.between)
    checked = np.flatnonzero((g > NOTHING_CHECKS * field.length2)[field.direction])
    if not len(checked):
        return None
    order = checked[np.argsort(field.direction[checked], kind="stable")]
    at, counts = np.unique(field.direction[order], return_counts=True)
    own = np.repeat(g[at], counts)
    return _Directions(
        at=at,
        counts=counts,
        along=field.along[at],
        checked=g[at],
        mean=field.mean[order] * np.sqrt(own),
        # A name's amount may be surer than the readings know it: taken as known.
        spread=1.0 + own * np.maximum(field.variance[order], 0.0),
        log_prior=field.log_prior[order],
    )


def _limits(grid: Floats, log_f: Floats, limit: float) -> tuple[Floats, Floats]:
    """Return between which w convex functions (k, n) on a grid are below a limit.

    Where one is nowhere below, both are zero: every clean survey reaches the limit.
    """
    below = log_f < limit
    rows = np.arange(len(log_f))
    first, last = below.argmax(axis=1), len(grid) - 1 - below[:, ::-1].argmax(axis=1)

    def crossing(inside: Ints, step: int) -> Floats:
        outside = np.clip(inside + step, 0, len(grid) - 1)
        here, there = log_f[rows, inside], log_f[rows, outside]
        part = np.where(there > here, (limit - here) / np.where(there > here, there - here, 1.0), 0.0)
        found: Floats = grid[inside] + part * step * STEP_SDS
        return np.where(below.any(axis=1), found, 0.0)

    return crossing(first, -1), crossing(last, 1)
