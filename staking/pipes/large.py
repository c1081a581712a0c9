"""A large task: posts by one linear program, beams through what they leave, and a bound."""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from staking.pipes.chaining import chained
from staking.pipes.goal import Goal, total
from staking.pipes.greedy import beams_through, cheaper_kinds
from staking.pipes.many import Filled, ManyPosts
from staking.pipes.simple_bounds import up
from staking.pipes.task import Cutting, Load, Task, load_m

SHARES = (0.31, 0.38, 0.25)
"""What is left beside posts for beams is at least this share of the longest stick, tried one by one."""
SHY = 1e-3
"""What it weighs to leave something for beams, in sticks: joints come few where few sticks do."""
MENDS = 16
"""Times that some sticks are filled anew."""
WORST, OTHERS = 30, 60
"""Sticks filled anew at a time: those with most waste, and others by chance."""
SEED = 3
"""Any fixed number: the same pieces are always cut in the same way."""
WHOLE = 600
"""With more pieces no integer program is asked."""
LARGE = 300
"""With more pieces only the first of the shares is tried."""


def many_cut(task: Task, goal: Goal, best: Cutting | None, bound: float) -> tuple[Cutting | None, float]:
    """Return a better cutting where one is found, else `best`, and a bound not below `bound`."""
    if not task.post_lengths:
        return best, bound
    return _with_beams(task, goal, best, bound) if task.beams else _posts_alone(task, goal, best, bound)


def _worth(goal: Goal, cutting: Cutting | None) -> float:
    """Return the sum of weights of a cutting; infinite when there is none."""
    return math.inf if cutting is None else total(cutting, goal.weights)


def _posts_alone(task: Task, goal: Goal, best: Cutting | None, bound: float) -> tuple[Cutting | None, float]:
    """Fill sticks by the linear program, prove, then mend what rounding has spoilt."""

    def take(filled: Sequence[Filled] | None) -> bool:
        """Take up sticks that weigh less; whether nothing better is left to find."""
        nonlocal best
        for cutting in () if filled is None else _beams_laid(task, goal, filled):
            if total(cutting, goal.weights) < _worth(goal, best) - goal.step / 2:
                best = cutting
        return _worth(goal, best) <= bound + goal.step / 2

    program = ManyPosts(task, goal)
    if best is not None:
        program.add_loads(best)
    program.solve(bound)
    filled = program.fill()
    if not take(filled):
        program.prove(_worth(goal, best))
        bound = max(bound, up(program.bound, goal.step))
        if not take(None) and filled is not None and not take(_mended(task, goal, filled, bound)):
            few = best is not None and task.most_pieces <= WHOLE
            take(program.chosen(_worth(goal, best) - goal.step) if few else None)
    return best, min(bound, _worth(goal, best))


def _with_beams(task: Task, goal: Goal, best: Cutting | None, bound: float) -> tuple[Cutting | None, float]:
    """Fill sticks so that what some of them leave serves beams well, and lay the beams through that."""

    def done() -> bool:
        return _worth(goal, best) <= bound + goal.step / 2

    stick = max(task.room_m(k) for k in range(len(task.kinds)))
    for share in SHARES if task.most_pieces <= LARGE else SHARES[:1]:
        if done():
            break
        program = ManyPosts(task, goal, share * stick, SHY)
        if best is not None:
            program.add_loads(best)
        program.solve(bound)
        filled = program.fill()
        for cutting in () if filled is None else _beams_laid(task, goal, filled):
            if total(cutting, goal.weights) < _worth(goal, best) - goal.step / 2:
                best = cutting
    if not done():
        program = ManyPosts(task, goal)
        program.solve(bound)
        if up(program.optimum, goal.step) > bound + goal.step / 2:
            program.prove(_worth(goal, best))
            bound = max(bound, up(program.bound, goal.step))
    return best, min(bound, _worth(goal, best))


def _mended(task: Task, goal: Goal, filled: Sequence[Filled], bound: float) -> list[Filled]:
    """Return sticks for the same posts, some dozens of them filled anew at a time where that saves any.

    Those with most waste and some others, by chance: what was rounded last had few posts to choose from.
    """
    chance = random.Random(SEED)
    sticks = list(filled)
    for _ in range(MENDS):
        if sum(goal.weights[f.kind] for f in sticks) <= bound + goal.step / 2 or len(sticks) <= WORST:
            break
        sticks.sort(key=lambda f: (load_m(task, _load(f), {}) - task.room_m(f.kind), f.kind, f.posts))
        others = chance.sample(range(WORST, len(sticks)), min(OTHERS, len(sticks) - WORST))
        again = [*range(WORST), *others]
        part = [sticks[n] for n in again]
        anew = _filled_anew(task, goal, part, [f for n, f in enumerate(sticks) if n not in set(again)])
        weight = sum(goal.weights[f.kind] for f in part)
        if anew is not None and sum(goal.weights[f.kind] for f in anew) < weight - goal.step / 2:
            sticks = [*(f for n, f in enumerate(sticks) if n not in set(again)), *anew]
    return sticks


def _filled_anew(
    task: Task, goal: Goal, part: Sequence[Filled], others: Sequence[Filled]
) -> list[Filled] | None:
    """Return sticks for the posts of `part`, `others` being what the rest takes."""
    posts = Counter(i for f in part for i in f.posts)
    number = sorted(posts)
    taken = Counter(f.kind for f in others)
    small = replace(
        task,
        kinds=tuple(
            k if k.count is None else replace(k, count=k.count - taken[n]) for n, k in enumerate(task.kinds)
        ),
        post_lengths=tuple(
            replace(task.post_lengths[i], posts=task.post_lengths[i].posts[: posts[i]]) for i in number
        ),
    )
    program = ManyPosts(small, goal)
    program.solve(0.0)
    filled = program.fill()
    if filled is None:
        return None
    return [replace(f, posts=tuple(number[i] for i in f.posts)) for f in filled]


def _load(filled: Filled) -> Load:
    """Return a stick without beams as a load."""
    return Load(kind=filled.kind, posts=tuple(sorted(filled.posts)), parts=())


def _beams_laid(task: Task, goal: Goal, filled: Sequence[Filled]) -> Iterator[Cutting]:
    """Yield cuttings with the beams laid through these sticks."""
    sticks = [(f.kind, f.posts) for f in filled]
    if not task.beams:
        loads = tuple(_load(f) for f in filled)
        yield cheaper_kinds(task, Cutting(loads=loads, places_m={}), goal.weights)
        return
    if not task.threaded:
        yield from (cheaper_kinds(task, c, goal.weights) for c in chained(task, goal.weights, sticks))
    yield from beams_through(task, goal.weights, sticks)
