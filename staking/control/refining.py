"""A group of points adjusted in plan with all others held: for choosing among placements."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from staking.control.clouds import started
from staking.control.equations import FIXED, Equation, Kind, evaluated, misfits, points_of, stacked
from staking.control.loci import XY
from staking.control.placing import Placing
from staking.control.settling import MOST_STEPS, Free, HeldDirection, approached, freed


def extras_of(equation: Equation) -> tuple[int, ...]:
    """Return the coordinates of shift and tie that a fix holds."""
    return tuple(k for k in equation.at[1:] if k >= 0) if equation.kind in FIXED else ()


def refined(
    placing: Placing,
    held: NDArray[np.bool_],
    placed: dict[int, XY],
    group: Sequence[int],
    most_steps: int = MOST_STEPS,
) -> tuple[dict[int, XY], float]:
    """Adjust a group in plan with all other points held; return places and weighted sum of squares.

    Where the group is not determined by itself, the places come back as they are.
    """
    members = [p for p in group if p in placed]
    numbers = {k for p in members for k in placing.by_point.get(p, ())}
    equations = [placing.equations[k] for k in sorted(numbers)]
    equations = [e for e in equations if all(p in placed for p in points_of(e))]
    if not equations:
        return placed, 0.0
    own = len(equations)
    if any(e.kind in FIXED for e in equations):
        equations += [
            e
            for k, e in enumerate(placing.equations)
            if e.kind in FIXED and k not in numbers and e.at[0] in placed
        ]
    involved = sorted({p for e in equations for p in points_of(e)} | set(members))
    directions = []
    for direction in placing.directions:
        ends = {direction.start, direction.to}
        if ends <= placed.keys() and ends & set(members):
            involved = sorted({*involved, *ends})
            directions.append(direction)
    place = {p: k for k, p in enumerate(involved)}
    # Shifts and ties of fixes are unknowns here, too; the fixes of all placed points tell them.
    extras = sorted({k for e in equations for k in extras_of(e)})
    slot = {k: 3 * len(involved) + i for i, k in enumerate(extras)}
    local = np.zeros(3 * len(involved) + len(extras))
    fixed = np.ones(len(local), dtype=bool)
    fixed[3 * len(involved) :] = False
    for p, k in place.items():
        local[3 * k : 3 * k + 3] = (*placed[p], placing.elevations.get(p, 0.0))
        if p in members:
            fixed[3 * k : 3 * k + 2] = held[3 * p : 3 * p + 2]
    here = [
        replace(
            e,
            at=(
                *(place[p] for p in points_of(e)),
                *(slot.get(k, -1) for k in e.at[1:] if e.kind in FIXED),
            ),
        )
        for e in equations
    ]
    for k in extras:
        if k in placing.fixes.priors:
            value, sd = placing.fixes.priors[k]
            here.append(Equation(kind=Kind.COORDINATE, at=(slot[k],), value=value, sd=sd))
    known = {k: float(x) for k, x in enumerate(local[: 3 * len(involved)])}
    for k, value in started(
        here, known | {slot[k]: 0.0 for k in extras if k in placing.fixes.priors}
    ).items():
        local[k] = value
    stack = stacked(here)
    free = freed(
        fixed,
        [HeldDirection(start=place[d.start], to=place[d.to], azimuth_rad=d.azimuth_rad) for d in directions],
        local,
    )
    result = approached(stack, local, free, most_steps=most_steps)
    if result is None:
        predicted, _ = evaluated(stack, local)
        return placed, float(((misfits(stack, predicted) / stack.sd) ** 2).sum())
    moved = dict(placed)
    for p in members:
        k = 3 * place[p]
        moved[p] = float(result[0][k]), float(result[0][k + 1])
    # What the other points' fixes miss without the group is no misfit of the group.
    alone = approached(stacked(here[own:]), local, Free(free=np.arange(3 * len(involved), len(local))))
    return moved, result[1] - (alone[1] if alone is not None and len(here) > own else 0.0)
