"""Many starts of one small group adjusted at once: for choosing among placements.

The same steps as one start after the other (`settling.approached`), with the linear algebra of all of them in
one call: hundreds of flips of a few points cost about as much as ten.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.lsq import STEP_TOLERANCE
from staking.control.equations import Stack, evaluated, misfits
from staking.control.settling import (
    FIRST_DAMPING,
    LEAST_DAMPING,
    MOST_DAMPING,
    NEAR,
    STILL,
    STILL_STEPS,
    Free,
)

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

AT_ONCE = 2_000_000
"""Numbers in the derivatives of the starts worked on at once: 16 MB."""


def approached_together(
    stack: Stack, starts: Floats, free: Sequence[Free], *, most_steps: int
) -> list[tuple[Floats, float] | None]:
    """Return for each start what `settling.approached` returns for it.

    Parameters
    ----------
    stack
        m equations that hold points alone, no extra unknowns.
    starts
        (k, n) approximate coordinates.
    free
        Unknowns of each start: the same coordinates; what follows from them may start elsewhere.
    most_steps
        Steps after which a start has gone astray.
    """
    chunk = max(1, AT_ONCE // max(1, len(stack) * starts.shape[1]))
    found: list[tuple[Floats, float] | None] = []
    for k in range(0, len(starts), chunk):
        found += _approached(stack, starts[k : k + chunk], free[k : k + chunk], most_steps)
    return found


def _approached(
    stack: Stack, starts: Floats, free: Sequence[Free], most_steps: int
) -> list[tuple[Floats, float] | None]:
    found: list[tuple[Floats, float] | None] = [None] * len(starts)
    number = np.arange(len(starts))
    ties = _Ties.of(free)
    at = starts.copy()
    ties.tie(at)
    misfit, design, total = _evaluated(stack, at, ties)
    damping, still = np.zeros(len(at)), np.zeros(len(at))
    for _ in range(most_steps):
        by, sure = _steps(design, misfit, damping)
        trial = at.copy()
        trial[:, ties.free] += by
        ties.kept(number).tie(trial)
        new_misfit, new_design, new_total = _evaluated(stack, trial, ties)
        # Rounding in the sum must not be taken for a rise.
        gone = sure & (new_total <= total * (1 + 1e-9) + 1e-9)
        short = sure & (damping == 0) & (np.abs(by).max(axis=1, initial=0.0) < NEAR)
        slow = (damping > 0) & (total - new_total < STILL * total)
        still = np.where(gone, np.where(slow, still + 1, 0), still)
        at[gone], misfit[gone], design[gone] = trial[gone], new_misfit[gone], new_design[gone]
        total = np.where(gone, new_total, total)
        lost = ~sure & (damping == 0)
        rising = np.where(sure, np.maximum(10 * damping, FIRST_DAMPING), 10 * damping)
        damping = np.where(gone, np.where(damping > LEAST_DAMPING, damping / 10, 0.0), rising)
        ended = short | (still == STILL_STEPS) | (damping > MOST_DAMPING)
        for k in np.flatnonzero(ended & ~lost):
            found[number[k]] = at[k].copy(), float(total[k])
        on = ~(ended | lost)
        if not on.any():
            break
        number, at, misfit, design = number[on], at[on], misfit[on], design[on]
        total, damping, still = total[on], damping[on], still[on]
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ties:
    """The unknowns of all starts, and the coordinates that follow from them."""

    free: NDArray[np.int64]
    targets: tuple[tuple[int, tuple[tuple[int, float], ...]], ...]
    constants: Floats
    """(k, number of targets)."""

    @staticmethod
    def of(free: Sequence[Free]) -> _Ties:
        return _Ties(
            free=free[0].free,
            targets=tuple((target, terms) for target, _, terms in free[0].tied),
            constants=np.array([[constant for _, constant, _ in one.tied] for one in free]),
        )

    def kept(self, number: NDArray[np.int64]) -> _Ties:
        return _Ties(free=self.free, targets=self.targets, constants=self.constants[number])

    def tie(self, at: Floats) -> None:
        for k, (target, terms) in enumerate(self.targets):
            at[:, target] = self.constants[:, k] + sum(factor * at[:, other] for other, factor in terms)

    def columns(self, by: Floats) -> Floats:
        """Return derivatives (k, m, n) by all coordinates as (k, m, p) by the unknowns."""
        design = by[:, :, self.free]
        place = {int(coordinate): k for k, coordinate in enumerate(self.free)}
        for target, terms in self.targets:
            for other, factor in terms:
                if other in place:
                    design[:, :, place[other]] += factor * by[:, :, target]
        return design


def _evaluated(stack: Stack, at: Floats, ties: _Ties) -> tuple[Floats, Floats, Floats]:
    """Return misfits (k, m) and derivatives (k, m, p) in standard deviations, and sums of squares (k,)."""
    k, n = at.shape
    m = len(stack)
    # One network of k parts that nothing joins.
    shift = np.repeat(np.arange(k) * (n // 3), m)[:, None]
    tiled_at = np.tile(stack.at, (k, 1))
    parts = Stack(
        kind=np.tile(stack.kind, k),
        at=np.where(tiled_at >= 0, tiled_at + shift, -1),
        value=np.tile(stack.value, k),
        sd=np.tile(stack.sd, k),
        factor=np.tile(stack.factor, k),
    )
    predicted, jacobian = evaluated(parts, at.ravel())
    misfit = misfits(parts, predicted) / parts.sd
    rows, coordinates, values = jacobian.entries()
    flat = np.bincount(
        rows * n + coordinates % n, weights=values / parts.sd[rows], minlength=k * m * n
    ).astype(np.float64)
    misfit = misfit.reshape(k, m)
    return misfit, ties.columns(flat.reshape(k, m, n)), (misfit**2).sum(axis=1)


def _steps(design: Floats, misfit: Floats, damping: Floats) -> tuple[Floats, Bools]:
    """Return the steps (k, p) by normal equations as `lsq.stepped`, and which of them are determined."""
    p = design.shape[2]
    scale = np.linalg.norm(design, axis=1)
    sure = (scale > 0).all(axis=1)
    scale[scale == 0] = 1.0
    unit = design / scale[:, None, :]
    normal = unit.transpose(0, 2, 1) @ unit + damping[:, None, None] * np.eye(p)
    right = (misfit[:, None, :] @ unit).transpose(0, 2, 1)
    factor = np.zeros_like(normal)
    try:
        factor = np.linalg.cholesky(normal)
    except np.linalg.LinAlgError:
        for k in range(len(normal)):
            try:
                factor[k] = np.linalg.cholesky(normal[k])
            except np.linalg.LinAlgError:
                sure[k] = False
    sure &= np.diagonal(factor, axis1=1, axis2=2).min(axis=1, initial=1.0) >= STEP_TOLERANCE
    sure &= np.isfinite(right).all(axis=(1, 2))
    factor[~sure] = np.eye(p)
    forward = np.linalg.solve(factor, right)
    x = np.linalg.solve(factor.transpose(0, 2, 1), forward)[:, :, 0] / scale
    return np.where(sure[:, None], x, 0.0), sure
