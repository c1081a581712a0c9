"""Tests of a survey as a whole: are residuals as small as stated, is the largest of many too large."""

from __future__ import annotations

import math
from statistics import NormalDist

SIGNIFICANCE = 0.01
"""Share of clean surveys that the test may fail."""


def chi_square_upper_tail(value: float, dof: int) -> float:
    """Return the probability that a chi-square variable exceeds `value`.

    For a whole number of degrees of freedom the tail is a finite sum: for even ones
    ``exp(-x/2) * sum((x/2)**j / j!, j < dof/2)``, for odd ones ``erfc(sqrt(x/2))`` and the same terms at
    half-integers. Source: M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions (1964), 26.4.4
    and 26.4.5 (from memory).

    Raises
    ------
    ValueError
        When `dof` is less than one.
    """
    if dof < 1:
        msg = f"degrees of freedom must be at least 1, got {dof}"
        raise ValueError(msg)
    if value <= 0:
        return 1.0
    half = value / 2
    log_half = math.log(half)
    odd = dof % 2
    tail = math.erfc(math.sqrt(half)) if odd else 0.0
    for k in range(dof // 2):
        power = k + 0.5 * odd
        tail += math.exp(power * log_half - half - math.lgamma(power + 1))
    return min(tail, 1.0)


def variance_passes(vtpv: float, redundancy: int) -> bool | None:
    """Return whether the weighted sum of squared residuals passes at 1 %; None without redundancy."""
    if redundancy < 1:
        return None
    return chi_square_upper_tail(vtpv, redundancy) >= SIGNIFICANCE


def largest_passed(many: int, share: float) -> float:
    """Return what the largest of so many normal deviates, signs aside, passes in a share of cases.

    For independent ones ``(1 - p)^n = 1 - share``: Z. Šidák, Journal of the American Statistical Association
    62 (1967) 626 (from memory). Where they hang together it is passed in no more.
    """
    each = -math.expm1(math.log1p(-share) / max(many, 1))
    return -NormalDist().inv_cdf(each / 2.0)
