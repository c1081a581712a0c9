"""What the instruments can and cannot prove in this yard, against the tolerances of ``[tolerance]``.

Half-widths are 95 %: 1.96 standard deviations. A claim is proved when the check's half-width is within its
tolerance. Of n sights the mean errs by the rod's sd over √n; pencil and saw do not shrink with sights.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from staking.book.records import Accuracy, FieldBook, Tolerance
from staking.control.adjustment import Points

HALF_95 = 1.959963984540054
"""Standard deviations each side that hold 95 % of a normal error."""
MOST_REPEATS = 9
"""Nobody reads a rod oftener, and beyond it the errors that repeats do not shrink rule (common practice, no
source): then a better instrument is named instead."""

What = Literal["tops", "neighbours", "row", "diagonals", "pins"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """One tolerance, and what these instruments make of it."""

    what: What
    tolerance_m: float
    made_m: float | None
    """Half-width of what cutting to the mark gives; None where nothing is cut."""
    shown_m: float
    """Half-width of one check: a sight of each top, a tape of each diagonal, the survey as it stands."""
    repeats: int | None
    """How often each reading of the check must be taken to prove it; None when `MOST_REPEATS` do not."""
    instrument_m: float
    """The sd of one reading with which a single check would prove it; 0 when no instrument would."""
    between: tuple[str, str] | None = None
    """The two pins least sure of each other, for `pins`."""

    @property
    def holds(self) -> bool:
        """Whether what is cut to its mark keeps the tolerance, 19 times in 20."""
        return self.made_m is not None and self.made_m <= self.tolerance_m

    @property
    def proved(self) -> bool:
        """Whether one check proves it."""
        return self.shown_m <= self.tolerance_m


def sight_sd_m(book: FieldBook) -> float:
    """Return the sd of one sight: the rod's, or that of a rise where no rod was read."""
    accuracy = book.job.accuracy
    return accuracy.rise_m if book.rises and not book.levels else accuracy.rod_m


def claims(
    book: FieldBook,
    points: Points,
    *,
    sight_length_m: float = 0.0,
    diagonal_m: float | None = None,
) -> tuple[Claim, ...]:
    """Return what can be proved.

    Parameters
    ----------
    book
        With accuracies, tolerances, and which instruments were used.
    points
        Adjusted, with their covariance: the benchmark's own uncertainty, and what is between the pins.
    sight_length_m
        How far the tops are from the instrument: it adds to the rod's sd where ``rod_per_100`` says so.
    diagonal_m
        Length of the array's diagonals; None without an array.
    """
    accuracy, tolerance = book.job.accuracy, book.job.tolerance
    sight = math.hypot(sight_sd_m(book), accuracy.rod_per_m * sight_length_m)
    cut_m2 = accuracy.mark_m**2 + accuracy.saw_m**2
    benchmark_m2 = _benchmark_m2(points)
    found = []
    if diagonal_m is not None:
        tops = _repeated("tops", tolerance.tops_m, sight, 2.0, benchmark_m2)
        found.append(_made(tops, benchmark_m2 + sight**2 + cut_m2))
        # From one setup both tops share the height of instrument, so it drops out of their difference.
        between = _repeated("neighbours", tolerance.neighbours_m, sight, 2.0, 0.0)
        found.append(_made(between, 2.0 * cut_m2))
        found.append(_made(_repeated("row", tolerance.row_m, sight, 2.0, 0.0), 2.0 * cut_m2))
        tape = math.hypot(accuracy.tape_m, accuracy.tape_per_m * diagonal_m)
        found.append(_repeated("diagonals", tolerance.diagonals_m, tape, 2.0, 0.0))
    pins = _pins(points, accuracy, tolerance)
    return tuple(found) if pins is None else (*found, pins)


def repeats_needed(tolerance_m: float, reading_sd_m: float, readings: float, fixed_m2: float) -> int | None:
    """Return the least number of times that each reading must be taken; None when too many.

    From ``1.96² · (readings · sd² / n + fixed) ≤ tolerance²``.
    """
    left = (tolerance_m / HALF_95) ** 2 - fixed_m2
    if left <= 0.0:
        return None
    # A hair of rounding must not ask for one sight more.
    n = max(1, math.ceil(readings * reading_sd_m**2 / left - 1e-9))
    return n if n <= MOST_REPEATS else None


def _repeated(what: What, tolerance_m: float, sd_m: float, readings: float, fixed_m2: float) -> Claim:
    left = (tolerance_m / HALF_95) ** 2 - fixed_m2
    return Claim(
        what=what,
        tolerance_m=tolerance_m,
        made_m=None,
        shown_m=HALF_95 * math.sqrt(readings * sd_m**2 + fixed_m2),
        repeats=repeats_needed(tolerance_m, sd_m, readings, fixed_m2),
        instrument_m=math.sqrt(left / readings) if left > 0.0 else 0.0,
    )


def _made(claim: Claim, variance_m2: float) -> Claim:
    return Claim(
        what=claim.what,
        tolerance_m=claim.tolerance_m,
        made_m=HALF_95 * math.sqrt(variance_m2),
        shown_m=claim.shown_m,
        repeats=claim.repeats,
        instrument_m=claim.instrument_m,
    )


def _benchmark_m2(points: Points) -> float:
    """Return the variance of the surest benchmark, or of the surest point without one."""
    variances = points.sd_m()[:, 2] ** 2
    marks = [v for v, kind in zip(variances, points.kinds, strict=True) if kind == "benchmark"]
    known = [float(v) for v in (marks or list(variances)) if np.isfinite(v)]
    return min(known, default=0.0)


def _pins(points: Points, accuracy: Accuracy, tolerance: Tolerance) -> Claim | None:
    """Return whether the survey knows the distance between any two pins well enough for a diagonal.

    A tape between them, n times, leaves the variance ``1 / (1/v + n/tape²)``.
    """
    pins = [
        i
        for i, kind in enumerate(points.kinds)
        if kind in ("pin", "benchmark") and np.isfinite(points.enz_m[i, :2]).all()
    ]
    worst: tuple[float, float, tuple[int, int]] | None = None
    for i, j in combinations(pins, 2):
        run = points.enz_m[j, :2] - points.enz_m[i, :2]
        length = float(np.hypot(*run))
        at = [3 * i, 3 * i + 1, 3 * j, 3 * j + 1]
        cov = points.cov_of(at)
        if length == 0.0 or not np.isfinite(cov).all():
            continue
        along = np.concatenate([-run, run]) / length
        variance = float(along @ cov @ along)
        if worst is None or variance > worst[0]:
            worst = variance, length, (i, j)
    if worst is None:
        return None
    variance, length, (i, j) = worst
    tape = math.hypot(accuracy.tape_m, accuracy.tape_per_m * length)
    asked = (tolerance.diagonals_m / HALF_95) ** 2
    more = 0.0 if variance <= asked else tape**2 * (1.0 / asked - 1.0 / variance)
    n = math.ceil(more - 1e-9)
    return Claim(
        what="pins",
        tolerance_m=tolerance.diagonals_m,
        made_m=None,
        shown_m=HALF_95 * math.sqrt(max(variance, 0.0)),
        repeats=n if n <= MOST_REPEATS else None,
        instrument_m=tape / math.sqrt(more) if more > 0.0 else tape,
        between=(points.names[i], points.names[j]),
    )
