"""Gauss–Newton: from placed points to the least-squares coordinates, with the datum held exactly."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.lsq import RankDeficient, solved, stepped
from staking.control.equations import Stack, evaluated, misfits

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SETTLED = 1e-8
"""Largest last step, metres and radians: far below the 0.1 mm that a yard asks for, far above rounding."""
NEARLY_SETTLED = 1e-6
"""Step at which normal equations hand over to orthogonal factors, which take one or two steps more."""
NEAR = 1e-4
"""Step that is short enough to compare placements."""
MOST_STEPS = 60
"""A well-placed survey settles in 3 to 5 steps; damped ones need more."""
MOST_HALVINGS = 20


class NotSettled(ValueError):
    """The readings contradict each other so much that no adjustment settles."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldDirection:
    """The direction from one point to another, held exactly."""

    start: int
    to: int
    azimuth_rad: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Free:
    """Which coordinates may move, and the few that follow from others so that a direction is held."""

    free: Ints
    """(p,) coordinates that are unknowns."""
    tied: tuple[tuple[int, float, tuple[tuple[int, float], ...]], ...] = ()
    """(coordinate, constant, ((other coordinate, factor), …)): follows from the others."""

    def tie(self, coordinates: Floats) -> None:
        """Set the coordinates that follow from others, in place."""
        for target, constant, terms in self.tied:
            coordinates[target] = constant + sum(factor * coordinates[other] for other, factor in terms)

    def columns(self, jacobian: Floats) -> Floats:
        """Return the (m, p) design of the unknowns from the (m, n) derivatives by every coordinate."""
        design = jacobian[:, self.free]
        place = {int(coordinate): k for k, coordinate in enumerate(self.free)}
        for target, _, terms in self.tied:
            for other, factor in terms:
                if other in place:
                    design[:, place[other]] += factor * jacobian[:, target]
        return design

    def spread(self, count: int) -> Floats:
        """Return the (n, p) matrix that carries unknowns to all `count` coordinates."""
        return self.columns(np.eye(count))


def freed(held: Sequence[bool] | NDArray[np.bool_], directions: Sequence[HeldDirection], at: Floats) -> Free:
    """Return the unknowns that are left when some coordinates and directions are held.

    A held direction ties one coordinate of its two ends to the others: the one whose share in
    ``cos(α)·Δeast − sin(α)·Δnorth = 0`` is largest, so that nothing is divided by a small number.

    Parameters
    ----------
    held
        (n,) True where a coordinate is held.
    directions
        Directions held.
    at
        (n,) coordinates, for the held ones.
    """
    held = np.asarray(held, dtype=bool)
    tied: list[tuple[int, float, tuple[tuple[int, float], ...]]] = []
    taken: set[int] = set()
    for direction in directions:
        c, s = math.cos(direction.azimuth_rad), math.sin(direction.azimuth_rad)
        factors = {
            3 * direction.to: c,
            3 * direction.start: -c,
            3 * direction.to + 1: -s,
            3 * direction.start + 1: s,
        }
        choice = [k for k in factors if not held[k] and k not in taken]
        if not choice:
            continue
        pivot = max(choice, key=lambda k: abs(factors[k]))
        if abs(factors[pivot]) < 0.1:
            continue  # the other axis of both ends is held already: the direction is theirs
        constant = -sum(f * at[k] for k, f in factors.items() if held[k]) / factors[pivot]
        terms = tuple((k, -f / factors[pivot]) for k, f in factors.items() if k != pivot and not held[k])
        tied.append((pivot, float(constant), terms))
        taken.add(pivot)
    free = np.flatnonzero(~held)
    return Free(free=np.array([k for k in free if k not in taken], dtype=np.int64), tied=tuple(tied))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Settled:
    """Least-squares coordinates with everything that follows from them."""

    coordinates: Floats
    cov: Floats
    """(p, p) covariance of the unknowns of `free`."""
    design: Floats
    """(m, p) derivatives by the unknowns, at the end."""
    residuals: Floats
    """(m,) adjusted less observed."""
    redundancy_numbers: Floats
    vtpv: float
    steps: int


@dataclass(slots=True, kw_only=True)
class _Walk:
    """Coordinates on their way to the least sum of squares, in place."""

    stack: Stack
    free: Free
    coordinates: Floats
    misfit: Floats
    jacobian: Floats
    total: float
    steps: int = 0

    def step(self, by: Floats) -> float:
        """Go a step, or the largest half of it that does not climb; return the largest move."""
        share = 1.0
        for _ in range(MOST_HALVINGS):
            trial = self.coordinates.copy()
            trial[self.free.free] += share * by
            self.free.tie(trial)
            predicted, jacobian = evaluated(self.stack, trial)
            misfit = misfits(self.stack, predicted)
            total = float(((misfit / self.stack.sd) ** 2).sum())
            # Rounding in the sum must not be taken for a rise.
            if total <= self.total * (1 + 1e-9) + 1e-9:
                break
            share /= 2
        self.coordinates, self.misfit, self.jacobian, self.total = trial, misfit, jacobian, total
        self.steps += 1
        return float(np.abs(share * by).max(initial=0.0))


def _begun(stack: Stack, start: Floats, free: Free) -> _Walk:
    coordinates = start.copy()
    free.tie(coordinates)
    predicted, jacobian = evaluated(stack, coordinates)
    misfit = misfits(stack, predicted)
    return _Walk(
        stack=stack,
        free=free,
        coordinates=coordinates,
        misfit=misfit,
        jacobian=jacobian,
        total=float(((misfit / stack.sd) ** 2).sum()),
    )


def _approach(walk: _Walk, near: float, most_steps: int = MOST_STEPS) -> bool:
    """Go by normal equations until the steps are short; return whether they became so."""
    while walk.steps < most_steps:
        by = stepped(walk.free.columns(walk.jacobian), walk.misfit, walk.stack.sd)
        if by is None:
            return False
        if walk.step(by) < near:
            return True
    return False


def approached(
    stack: Stack, start: Floats, free: Free, *, most_steps: int = MOST_STEPS
) -> tuple[Floats, float] | None:
    """Return coordinates near the least sum of squares, and that sum; None when the steps do not die out.

    For comparing placements: `settled` is for results.
    """
    walk = _begun(stack, start, free)
    return (walk.coordinates, walk.total) if _approach(walk, NEAR, most_steps) else None


def settled(stack: Stack, start: Floats, free: Free) -> Settled:
    """Adjust from approximate coordinates.

    Parameters
    ----------
    stack
        The equations.
    start
        (n,) approximate coordinates; held ones exact.
    free
        Unknowns.

    Raises
    ------
    RankDeficient
        When unknowns are not determined; its columns are coordinates.
    NotSettled
        When the steps do not die out.
    """
    walk = _begun(stack, start, free)
    _approach(walk, NEARLY_SETTLED)
    while walk.steps < 2 * MOST_STEPS:
        design = free.columns(walk.jacobian)
        try:
            solution = solved(design, walk.misfit, stack.sd)
        except RankDeficient as error:
            raise RankDeficient(tuple(int(free.free[k]) for k in error.columns)) from None
        if walk.step(solution.x) < SETTLED:
            return Settled(
                coordinates=walk.coordinates,
                cov=solution.cov,
                design=design,
                residuals=-walk.misfit,
                redundancy_numbers=np.clip(1.0 - solution.leverage, 0.0, 1.0),
                vtpv=walk.total,
                steps=walk.steps,
            )
    msg = "the readings contradict each other so much that the adjustment does not settle"
    raise NotSettled(msg)
