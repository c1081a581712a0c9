"""Gauss–Newton: from placed points to the least-squares coordinates, with the datum held exactly."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.lsq import RankDeficient, solved
from staking.control.equations import Stack, evaluated, misfits

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SETTLED = 1e-8
"""Largest last step, metres and radians: far below the 0.1 mm that a yard asks for, far above rounding."""
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
    coordinates = start.copy()
    free.tie(coordinates)
    predicted, jacobian = evaluated(stack, coordinates)
    misfit = misfits(stack, predicted)
    total = float(((misfit / stack.sd) ** 2).sum())
    for step in range(1, MOST_STEPS + 1):
        design = free.columns(jacobian)
        try:
            solution = solved(design, misfit, stack.sd)
        except RankDeficient as error:
            raise RankDeficient(tuple(int(free.free[k]) for k in error.columns)) from None
        share = 1.0
        for _ in range(MOST_HALVINGS):
            trial = coordinates.copy()
            trial[free.free] += share * solution.x
            free.tie(trial)
            predicted, jacobian = evaluated(stack, trial)
            misfit = misfits(stack, predicted)
            trial_total = float(((misfit / stack.sd) ** 2).sum())
            # Rounding in the sum must not be taken for a rise.
            if trial_total <= total * (1 + 1e-9) + 1e-9:
                break
            share /= 2
        coordinates, total = trial, trial_total
        if float(np.abs(share * solution.x).max(initial=0.0)) < SETTLED:
            return Settled(
                coordinates=coordinates,
                cov=solution.cov,
                design=design,
                residuals=-misfit,
                redundancy_numbers=np.clip(1.0 - solution.leverage, 0.0, 1.0),
                vtpv=total,
                steps=step,
            )
    msg = "the readings contradict each other so much that the adjustment does not settle"
    raise NotSettled(msg)
