"""A large task: posts by one linear program, beams through what they leave, and a bound."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from staking.pipes.chaining import chained
from staking.pipes.goal import Goal, total
from staking.pipes.greedy import beams_through, cheaper_kinds
from staking.pipes.many import Filled, ManyPosts
from staking.pipes.simple_bounds import up
from staking.pipes.task import Cutting, Load, Task

SHARES = (0.31, 0.38, 0.25)
"""What is left beside posts for beams is at least this share of the longest stick, tried one by one."""
SHY = 1e-3
"""What it weighs to leave something for beams, in sticks: joints come few where few sticks do."""
LARGE = 300
"""With more pieces only the first of the shares is tried."""


def many_cut(task: Task, goal: Goal, best: Cutting | None, bound: float) -> tuple[Cutting | None, float]:
    """Return a better cutting of a large task where one is found, else `best`, and a bound not below `bound`.

    First sticks are filled with posts so that what some of them leave serves beams well, and beams are
    laid through that; where the cost is not yet down to the bound, the bound is proven anew.
    """

    def reached() -> float:
        return math.inf if best is None else total(best, goal.weights)

    def done() -> bool:
        return reached() <= bound + goal.step / 2

    if not task.post_lengths:
        return best, bound
    stick = max(task.room_m(k) for k in range(len(task.kinds)))
    shares = SHARES if task.most_pieces <= LARGE else SHARES[:1]
    for share in shares if task.beams else (0.0,):
        if done():
            break
        program = ManyPosts(task, goal, share * stick, SHY if task.beams else 0.0)
        if best is not None:
            program.add_loads(best)
        program.solve(bound)
        filled = program.fill()
        for cutting in () if filled is None else _beams_laid(task, goal, filled):
            if total(cutting, goal.weights) < reached() - goal.step / 2:
                best = cutting
        if not task.beams and not done():
            program.prove(reached())
            bound = max(bound, up(program.bound, goal.step))
    if task.beams and not done():
        program = ManyPosts(task, goal)
        program.solve(bound)
        if up(program.optimum, goal.step) > bound + goal.step / 2:
            program.prove(reached())
            bound = max(bound, up(program.bound, goal.step))
    return best, min(bound, reached())


def _beams_laid(task: Task, goal: Goal, filled: Sequence[Filled]) -> Iterator[Cutting]:
    """Yield cuttings with the beams laid through these sticks."""
    sticks = [(f.kind, f.posts) for f in filled]
    if not task.beams:
        loads = tuple(Load(kind=kind, posts=tuple(sorted(posts)), parts=()) for kind, posts in sticks)
        yield cheaper_kinds(task, Cutting(loads=loads, places_m={}), goal.weights)
        return
    if not task.threaded:
        yield from (cheaper_kinds(task, c, goal.weights) for c in chained(task, goal.weights, sticks))
    yield from beams_through(task, goal.weights, sticks)
