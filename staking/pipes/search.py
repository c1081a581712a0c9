"""The best cutting of one task and its proof."""

from __future__ import annotations

import math
from dataclasses import dataclass

from staking.pipes.choosing import choose
from staking.pipes.goal import Goal, total
from staking.pipes.laying import PACKINGS, laid_cuttings, mixes
from staking.pipes.pricing import Program
from staking.pipes.simple_bounds import up
from staking.pipes.task import Cutting, Task

LISTED = 4000
"""Loads in one integer program at most; more take too long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The best cutting found, None when there is none, and a proven bound of its sum of weights."""

    cutting: Cutting | None
    bound: float
    short_of_stock: bool = False
    """Proven: what is on hand cannot do."""


def laid_on_mixes(task: Task, goal: Goal, best: Cutting | None, bound: float) -> Cutting | None:
    """Return a better cutting laid on the first mix of sticks, from the bound up, on which it goes."""
    high = math.inf if best is None else total(best, goal.weights)
    if math.isinf(high):
        return best
    for counts in mixes(task, goal, bound, high):
        kinds = [kind for kind, n in enumerate(counts) for _ in range(n)]
        packings = PACKINGS if len(counts) == 1 else PACKINGS // 4
        laid = next(laid_cuttings(task, kinds, packings), None)
        if laid is not None:
            return laid
    return best


def best_cutting(task: Task, goal: Goal, start: Cutting | None, bound: float) -> Answer:
    """Improve on `start` until it equals a proven bound, or as far as a limited search goes.

    First column generation for the bound. Then, while there is a gap, an integer program over the loads
    met so far; then one over all loads that a better cutting could hold, which settles the matter.
    """
    best = start
    program = Program(task, goal)
    if best is not None:
        program.add_cutting(best)
    program.solve(math.inf if best is None else total(best, goal.weights))
    bound = up(max(bound, program.bound), goal.step)
    if best is None and program.exact and program.short_of_stock():
        return Answer(cutting=None, bound=bound, short_of_stock=True)

    def is_proven() -> bool:
        return best is not None and total(best, goal.weights) <= bound + goal.step / 2

    if not is_proven():
        best = laid_on_mixes(task, goal, best, bound)
    tried_met = False
    while not is_proven():
        most = math.inf if best is None else total(best, goal.weights) - goal.step
        if not tried_met:
            tried_met = True
            met = list(dict.fromkeys(c.load for c in program.columns))[-LISTED:]
            choice = choose(task, goal, met, most)
            if choice.cutting is not None:
                best = choice.cutting
                continue
        most = bound if math.isinf(most) else most
        loads, complete = program.loads(most, LISTED)
        choice = choose(task, goal, loads, most)
        if complete and choice.done:
            # Every cutting up to `most` was weighed.
            bound = (
                most + goal.step
                if choice.cutting is None
                else max(bound, total(choice.cutting, goal.weights))
            )
        if choice.cutting is not None:
            best = choice.cutting
        elif not (complete and choice.done):
            break
    return Answer(cutting=best, bound=bound)
