"""A bound mix by mix: every lighter mix of kinds of stick is ruled out by the program over cells, or stands.

Where prices lie near one another the linear program mixes kinds of stick by parts, and its optimum says
little; of a given number of sticks of each kind it often says that they cannot do.
"""

from __future__ import annotations

import math
from dataclasses import replace

from staking.pipes.cell_program import bound_by_cells
from staking.pipes.goal import Goal
from staking.pipes.laying import mixes
from staking.pipes.task import Task

KNOTS, FINE_KNOTS = 16, 4
"""Cells from one length of pieces to the next that are told apart, and where the cells are finer."""
FINER = 4
"""Into so many the cells are parted for what the usual ones do not rule out."""
FEW = 60
"""Of more pieces the finer cells are not tried."""
MOST_MIXES = 40
"""So many mixes are looked at, at most: each takes about half a second."""
MOST_NUMBERS = 20_000
"""With more numbers of sticks of all kinds together the mixes are not listed."""


def bound_by_mixes(task: Task, goal: Goal, best: float, known: float) -> float:
    """Return a bound, `known` or more, for a task whose best cutting weighs so much.

    Only of beams that are not begun.
    """
    if not task.beams or task.begun:
        return known
    bound = bound_by_cells(task, goal, best, known, knots=KNOTS)
    most = [math.floor(best / weight) + 1 if weight > 0 else math.inf for weight in goal.weights]
    if bound > best - goal.step / 2 or len(task.kinds) < 2 or math.prod(most) > MOST_NUMBERS:
        return bound
    lighter = mixes(task, goal, bound, best)
    for counts in lighter[:MOST_MIXES]:
        weight = sum(n * w for n, w in zip(counts, goal.weights, strict=True))
        kinds = tuple(replace(kind, count=n) for kind, n in zip(task.kinds, counts, strict=True))
        held = replace(task, kinds=kinds)
        least = bound_by_cells(held, goal, best, bound, knots=KNOTS)
        if least <= weight + goal.step / 2 and task.most_pieces <= FEW:
            least = bound_by_cells(held, goal, best, bound, knots=FINE_KNOTS, finer=FINER)
        if least <= weight + goal.step / 2:
            return max(bound, weight)
    # All before the next mix are ruled out, and where there is none, all that are lighter.
    following = lighter[MOST_MIXES:]
    if not following:
        return best
    return max(bound, sum(n * w for n, w in zip(following[0], goal.weights, strict=True)))
