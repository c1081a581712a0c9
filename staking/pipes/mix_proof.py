"""A bound mix by mix: every lighter mix of kinds of stick is ruled out by the program over cells, or stands.

Where prices lie near one another the linear program mixes kinds of stick by parts, and its optimum says
little; of a given number of sticks of each kind it often says that they cannot do.
"""

from __future__ import annotations

import math

from staking.pipes.cell_program import bound_by_cells
from staking.pipes.goal import Goal
from staking.pipes.laying import ENOUGH, LOOKED_AT, mixes
from staking.pipes.task import Task

KNOTS, FINE_KNOTS = 16, 4
"""Cells from one length of pieces to the next that are told apart, and where the cells are finer."""
FINER = 4
"""Into so many the cells are parted for what the usual ones do not rule out."""
FEW, THREADED_FEW = 60, 150
"""Of more pieces the finer cells are not tried; those of threaded beams take less time."""
MOST_MIXES = 40
"""So many mixes are looked at, at most: each takes half a second, of some hundred pieces three."""


def lighter_mixes(task: Task, goal: Goal, bound: float, best: float) -> list[tuple[float, tuple[int, ...]]]:
    """Return the mixes that weigh `bound` or more and less than `best`, the lightest first.

    What each weighs, and how many sticks of each kind it has. None where the kinds weigh alike, as what one
    mix does the longest sticks do, or where there are too many.
    """
    # Of sticks on hand no more than there are, as they weigh next to nothing.
    most = [
        min(math.floor(best / weight) if weight > 0 else math.inf, there) + 1
        for weight, there in zip(goal.weights, task.on_hand, strict=True)
    ]
    numbers = math.prod(most)
    if len(set(goal.weights)) < 2 or bound > best - goal.step / 2:
        return []
    # A list that `mixes` breaks off would prove nothing.
    if numbers > ENOUGH or numbers * len(most) > LOOKED_AT:
        return []
    return [
        (sum(n * weight for n, weight in zip(counts, goal.weights, strict=True)), counts)
        for counts in mixes(task, goal, bound, best)
    ]


def bound_by_mixes(task: Task, goal: Goal, best: float, bound: float) -> float:
    """Return a bound, `bound` or more, for a task whose best cutting weighs so much."""
    if not task.beams:
        return bound
    lighter = lighter_mixes(task, goal, bound, best)
    few = THREADED_FEW if task.threaded else FEW
    for weight, counts in lighter[:MOST_MIXES]:
        # A mix is ruled out by any bound above what it weighs.
        held, enough = task.of_mix(counts), weight + goal.step
        least = bound_by_cells(held, goal, enough, bound, knots=KNOTS)
        if least < enough - goal.step / 2 and task.most_pieces <= few:
            least = bound_by_cells(held, goal, enough, bound, knots=FINE_KNOTS, finer=FINER)
        if least < enough - goal.step / 2:
            return max(bound, weight)
    if len(lighter) > MOST_MIXES:
        # All before the next mix are ruled out.
        return max(bound, lighter[MOST_MIXES][0])
    return best if lighter else bound
