"""Gauss–Newton: from placed points to the least-squares coordinates, with the datum held exactly."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from staking.base import least_squares
from staking.base.covariance import Covariance
from staking.base.least_squares import solved, stepped
from staking.base.lsq import RankDeficient
from staking.base.triplets import Triplets, diagonal, triplets_of
from staking.control.equations import FIXED, Stack, evaluated, misfits

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SETTLED = 1e-8
"""Largest last step, metres and radians: far below the 0.1 mm that a yard asks for, far above rounding."""
NEARLY_SETTLED = 1e-6
"""Step at which normal equations hand over to orthogonal factors, which take one or two steps more."""
NEARLY_SETTLED_SPARSE = 5e-6
"""The same where both ways factor normal equations: the full step after it is far below `SETTLED` mostly."""
NEAR = 1e-4
"""Step that is short enough to compare placements."""
LEAST_SHARE = 0.1
"""Least share of a coordinate in a held direction written by it: errors of the others grow tenfold."""
MOST_ROUNDS = 2
"""Rounds of damped and full steps before the adjustment is taken as it stands, and that is said."""
MOST_STEPS = 60
"""A well-placed survey settles in 3 to 5 steps; with gross blunders damped ones need more."""
FIRST_DAMPING = 1e-4
LEAST_DAMPING = 1e-6
MOST_DAMPING = 1e8
FIRST_STEPS = 15
"""Beside fixes: a site that has not settled by then creeps."""
SOFT = 0.1
"""Share of the fixes' sd below which no reading's sd stays while a creeping site is brought near."""
STILL = 1e-10
"""Relative fall of the sum of squares below which a damped step stands still."""
STILL_STEPS = 3
"""So many of them in a row are the bottom."""


class NotSettled(ValueError):
    """The readings contradict each other so much that the adjustment leaves the site."""


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

    def columns(self, jacobian: Triplets) -> Triplets:
        """Return the (m, p) design of the unknowns from the (m, n) derivatives by every coordinate."""
        rows, coordinates, values = jacobian.entries()
        place = np.full(jacobian.shape[1], -1)
        place[self.free] = np.arange(len(self.free))
        design = Triplets((jacobian.shape[0], len(self.free)))
        moves = place[coordinates] >= 0
        design[rows[moves], place[coordinates[moves]]] = values[moves]
        for target, _, terms in self.tied:
            mine = coordinates == target
            for other, factor in terms:
                if place[other] >= 0:
                    design[rows[mine], place[other]] = factor * values[mine]
        return design

    def of_unknowns(self, matrix: Floats) -> Floats:
        """Return a few functions of all coordinates (k, n) as functions of the unknowns (k, p)."""
        return self.columns(triplets_of(matrix)).dense()

    def spread(self, count: int) -> Triplets:
        """Return the (n, p) matrix that carries unknowns to all `count` coordinates."""
        return self.columns(diagonal(count))


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
        if abs(factors[pivot]) < LEAST_SHARE:
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
    cov: Covariance
    """(p, p) covariance of the unknowns of `free`."""
    design: Triplets
    """(m, p) derivatives by the unknowns, at the end."""
    sd: Floats
    """(m,) of the readings."""
    residuals: Floats
    """(m,) adjusted less observed."""
    redundancy_numbers: Floats
    vtpv: float
    steps: int
    last_step: float
    """Largest move that an undamped step would still make, metres and radians: above `SETTLED` only when
    gross blunders keep the adjustment from settling."""


@dataclass(slots=True, kw_only=True)
class _Walk:
    """Coordinates on their way to the least sum of squares, in place."""

    stack: Stack
    free: Free
    coordinates: Floats
    misfit: Floats
    jacobian: Triplets
    total: float
    steps: int = 0

    def step(self, by: Floats) -> bool:
        """Go a step unless the sum of squares rises; return whether it was gone."""
        self.steps += 1
        trial = self.coordinates.copy()
        trial[self.free.free] += by
        self.free.tie(trial)
        predicted, jacobian = evaluated(self.stack, trial)
        misfit = misfits(self.stack, predicted)
        total = float(((misfit / self.stack.sd) ** 2).sum())
        # Rounding in the sum must not be taken for a rise.
        if not total <= self.total * (1 + 1e-9) + 1e-9:
            return False
        self.coordinates, self.misfit, self.jacobian, self.total = trial, misfit, jacobian, total
        return True


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
    """Go by normal equations, damped while full steps climb; return whether the steps became short."""
    damping, still = 0.0, 0
    until = walk.steps + most_steps
    while walk.steps < until:
        by = stepped(walk.free.columns(walk.jacobian), walk.misfit, walk.stack.sd, damping)
        if by is None and damping == 0:
            return False
        if by is None:
            damping *= 10
            walk.steps += 1
            continue
        before = walk.total
        gone = walk.step(by)
        if damping == 0 and float(np.abs(by).max(initial=0.0)) < near:
            return True
        if gone:
            still = still + 1 if damping and before - walk.total < STILL * before else 0
            damping = damping / 10 if damping > LEAST_DAMPING else 0.0
        else:
            damping = max(10 * damping, FIRST_DAMPING)
        if still == STILL_STEPS or damping > MOST_DAMPING:
            return True
    return False


def approached(
    stack: Stack, start: Floats, free: Free, *, most_steps: int = MOST_STEPS
) -> tuple[Floats, float] | None:
    """Return coordinates near the least sum of squares, and that sum; None when the steps do not die out.

    For comparing placements: `settled` is for results.
    """
    walk = _begun(stack, start, free)
    steps = min(most_steps, FIRST_STEPS) if _loose(stack) else most_steps
    if _approach(walk, NEAR, steps):
        return walk.coordinates, walk.total
    if not _loose(stack):
        return None
    walk = _begun(stack, _softly(stack, start, free), free)
    return (walk.coordinates, walk.total) if _approach(walk, NEAR, most_steps) else None


def _loose(stack: Stack) -> bool:
    """Return whether fixes take part, beside which tapes are stiff."""
    return bool(np.isin(stack.kind, tuple(FIXED)).any())


def _softly(stack: Stack, start: Floats, free: Free) -> Floats:
    """Return coordinates near the least sum of squares with no reading much finer than the fixes.

    Where fixes turn a site of tapes, the sum of squares is a narrow bent valley: full steps leave it and
    damped ones creep. With wide tapes it is a bowl, whose bottom lies near that of the valley.
    """
    fixes = stack.sd[np.isin(stack.kind, tuple(FIXED))]
    soft = replace(stack, sd=np.maximum(stack.sd, SOFT * float(np.median(fixes))))
    walk = _begun(soft, start, free)
    _approach(walk, NEAR, FIRST_STEPS)
    return walk.coordinates


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
        When the coordinates run out of the numbers.
    """
    walk = _begun(stack, start, free)
    near = NEARLY_SETTLED if len(free.free) <= least_squares.MOST_DENSE else NEARLY_SETTLED_SPARSE
    for _ in range(MOST_ROUNDS):
        loose = _loose(stack)
        if not _approach(walk, near, FIRST_STEPS if loose else MOST_STEPS) and loose:
            walk = _begun(stack, _softly(stack, walk.coordinates, free), free)
            _approach(walk, near)
        # One or two full steps by orthogonal factors; where they climb, damped ones go on.
        for _ in range(3):
            design = free.columns(walk.jacobian)
            if not (np.isfinite(walk.total) and np.isfinite(design.entries()[2]).all()):
                msg = "the readings contradict each other so much that the adjustment leaves the site"
                raise NotSettled(msg)
            try:
                solution = solved(design, walk.misfit, stack.sd)
            except RankDeficient as error:
                raise RankDeficient(tuple(int(free.free[k]) for k in error.columns)) from None
            last = float(np.abs(solution.x).max(initial=0.0))
            if not walk.step(solution.x) or last < SETTLED:
                break
        if last < SETTLED:
            break
    return Settled(
        coordinates=walk.coordinates,
        cov=solution.cov,
        design=design,
        sd=stack.sd,
        residuals=-walk.misfit,
        redundancy_numbers=np.clip(1.0 - solution.leverage, 0.0, 1.0),
        vtpv=walk.total,
        steps=walk.steps,
        last_step=last,
    )


def written_about(stack: Stack, at: Floats, free: Free) -> Settled:
    """Return the least squares of equations written about given coordinates, which are not moved.

    For hypotheses about readings whose blunders would drag the places along: residuals and sums are those
    of the linear equations there.

    Raises
    ------
    RankDeficient
        When unknowns are not determined; its columns are coordinates.
    """
    predicted, jacobian = evaluated(stack, at)
    design = free.columns(jacobian)
    try:
        solution = solved(design, misfits(stack, predicted), stack.sd)
    except RankDeficient as error:
        raise RankDeficient(tuple(int(free.free[k]) for k in error.columns)) from None
    return Settled(
        coordinates=at,
        cov=solution.cov,
        design=design,
        sd=stack.sd,
        residuals=solution.residuals,
        redundancy_numbers=np.clip(1.0 - solution.leverage, 0.0, 1.0),
        vtpv=solution.vtpv,
        steps=0,
        last_step=float(np.abs(solution.x).max(initial=0.0)),
    )
