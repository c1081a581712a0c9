"""A group of points adjusted in plan with all others held: for choosing among placements."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from staking.control.equations import Equation, evaluated, misfits, points_of, stacked
from staking.control.loci import XY
from staking.control.placing import Placing
from staking.control.settling import MOST_STEPS, HeldDirection, approached, freed


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
    involved = sorted({p for e in equations for p in points_of(e)} | set(members))
    directions = []
    for direction in placing.directions:
        ends = {direction.start, direction.to}
        if ends <= placed.keys() and ends & set(members):
            involved = sorted({*involved, *ends})
            directions.append(direction)
    place = {p: k for k, p in enumerate(involved)}
    local = np.zeros(3 * len(involved))
    fixed = np.ones(3 * len(involved), dtype=bool)
    for p, k in place.items():
        local[3 * k : 3 * k + 3] = (*placed[p], placing.elevations.get(p, 0.0))
        if p in members:
            fixed[3 * k : 3 * k + 2] = held[3 * p : 3 * p + 2]
    stack = stacked(
        [
            Equation(
                kind=e.kind,
                at=tuple(place[p] for p in points_of(e)),
                value=e.value,
                sd=e.sd,
            )
            for e in equations
        ]
    )
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
    return moved, result[1]
