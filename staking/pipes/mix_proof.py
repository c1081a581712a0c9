"""A bound mix by mix: every lighter mix of kinds of stick is ruled out by the program over cells, or stands.

Where prices lie near one another the linear program mixes kinds of stick by parts, and its optimum says
little; of a given number of sticks of each kind it often says that they cannot do.
"""

from __future__ import annotations

import math
from dataclasses import replace

from staking.pipes.cell_program import CellProgram
from staking.pipes.goal import Goal
from staking.pipes.laying import mixes
from staking.pipes.simple_bounds import up
from staking.pipes.task import Task

COARSE, FINE = (16, 1), (4, 4)
"""Cells from one length of pieces to the next that are told apart, and into how many the cells are parted."""
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
    if not task.beams or any(beam.threads for beam in task.beams):
        return known
    bound = _by_cells(task, goal, best, known)
    most = [math.floor(best / weight) + 1 if weight > 0 else math.inf for weight in goal.weights]
    if bound > best - goal.step / 2 or len(task.kinds) < 2 or math.prod(most) > MOST_NUMBERS:
        return bound
    lighter = mixes(task, goal, bound, best)
    for counts in lighter[:MOST_MIXES]:
        weight = sum(n * w for n, w in zip(counts, goal.weights, strict=True))
        kinds = tuple(replace(kind, count=n) for kind, n in zip(task.kinds, counts, strict=True))
        held = replace(task, kinds=kinds)
        ways = (COARSE, FINE) if task.most_pieces <= FEW else (COARSE,)
        if all(_by_cells(held, goal, best, bound, way) <= weight + goal.step / 2 for way in ways):
            return max(bound, weight)
    # All before the next mix are ruled out, and where there is none, all that are lighter.
    following = lighter[MOST_MIXES:]
    if not following:
        return best
    return max(bound, sum(n * w for n, w in zip(following[0], goal.weights, strict=True)))


def _by_cells(task: Task, goal: Goal, enough: float, known: float, way: tuple[int, int] = COARSE) -> float:
    """Return the bound by the program over cells, `known` or more."""
    program = CellProgram(task, goal, relaxed=True, knots=way[0], finer=way[1])
    if not program.complete:
        return known
    program.solve(enough, known=known)
    return max(known, up(program.bound, goal.step))
