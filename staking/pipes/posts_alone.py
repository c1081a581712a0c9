"""Posts alone, and pieces of beams whose joints are held: into sticks by one linear program, with a bound."""

from __future__ import annotations

from collections.abc import Sequence

from staking.pipes.filling import filled_sticks
from staking.pipes.goal import Goal
from staking.pipes.greedy import cheaper_kinds
from staking.pipes.laying import mixes
from staking.pipes.many import CLASSES, ManyPosts
from staking.pipes.parting import Parting
from staking.pipes.post_classes import Filled, filled_by
from staking.pipes.rolling import rolled
from staking.pipes.rounding import chosen_sticks, fixed_sticks
from staking.pipes.simple_bounds import mix_bound, up
from staking.pipes.task import Cutting, Task

FEW = 60
"""With so few pieces sticks are not filled anew some at a time."""
LARGE = 600
"""With more pieces no integer program is asked, and up to the heaviest stick is left open."""
CLOSE = 0.5
"""Of the heaviest stick: so near a bound that can hardly be reached only runs and mending are tried."""
OVER = 2
"""Of the heaviest sticks: no farther above the bound are sticks filled one by one."""


def posts_cut(
    task: Task, goal: Goal, best: Cutting | None, bound: float, *, held: bool = False
) -> tuple[Cutting | None, float]:
    """Return a better cutting where one is found, else `best`, and a bound not below `bound`.

    First on the sticks that would do by length alone. Then sticks are filled by the linear program, the bound
    is proven, and what rounding has spoilt is mended. The program tells posts apart in classes at first, and
    all their lengths where more than a stick is left open.

    Parameters
    ----------
    task
        Without beams.
    held
        Whether posts are pieces of beams too, whose joints could stand elsewhere.
    """
    large = task.most_pieces > LARGE
    bound = max(bound, up(mix_bound(task, goal.weights), goal.step))
    best = _filled_up(task, goal, best, bound)

    def within(sticks: float) -> bool:
        """Whether the best is no more above the bound than so many of the heaviest sticks."""
        return goal.meets(best, bound + sticks * max(goal.weights))

    if large and not within(1):
        # Where hardly any pipe need be lost a post is worth its length.
        rate = bound / sum(p.length_m * len(p.posts) for p in task.post_lengths)
        parting = Parting(task, goal, [rate * p.length_m for p in task.post_lengths])
        sticks = parting.in_parts()
        best = _better(task, goal, best, sticks and rolled(task, goal, sticks, bound))
    for classes in (CLASSES, task.most_pieces) if not within(large) else ():
        program = ManyPosts(task, goal, classes=classes)
        if best is not None:
            program.add_loads(best)
        solved_so_far = program.solve(bound, goal.worth(best))
        bound = max(bound, up(program.bound, goal.step))
        if solved_so_far and not within(0):
            best = _better(task, goal, best, fixed_sticks(program))
        if within(0):
            break
        program.prove(goal.worth(best), bound)
        bound = max(bound, up(program.bound, goal.step))
        if within(large):
            break
        if best is not None:
            best = _better(task, goal, best, rolled(task, goal, filled_by(best), bound))
        parting = Parting(task, goal, program.worths())
        if best is not None and task.most_pieces > FEW and not within(0):
            best = _better(task, goal, best, parting.mended(filled_by(best), bound))
        if best is not None and not large and not within(CLOSE if held and goal.fine else 0):
            best = _better(task, goal, best, chosen_sticks(program, goal.worth(best) - goal.step))
        if within(1) or len(task.post_lengths) <= CLASSES:
            break
    return best, min(bound, goal.worth(best))


def _filled_up(task: Task, goal: Goal, best: Cutting | None, bound: float) -> Cutting | None:
    """Return a better cutting on light sticks that are filled one by one, else `best`.

    Of all numbers of sticks that would do by length the lightest is tried, then further and further ones
    until one goes, and from there back by halves.
    """
    if goal.meets(best, bound):
        return best
    most = min(goal.worth(best), bound + OVER * max(goal.weights))
    listed = mixes(task, goal, bound, most)
    low, high, at = -1, len(listed), 0
    found: list[Filled] | None = None
    while low + 1 < high and at < high:
        filled = filled_sticks(task, [kind for kind, n in enumerate(listed[at]) for _ in range(n)])
        if filled is None:
            low = at
        else:
            high, found = at, filled
        at = 2 * at + 1 if found is None else (low + high) // 2
    return _better(task, goal, best, found)


def _better(task: Task, goal: Goal, best: Cutting | None, filled: Sequence[Filled] | None) -> Cutting | None:
    """Return these sticks as a cutting where they weigh less than `best`, else `best`."""
    if filled is None:
        return best
    cutting = Cutting(loads=tuple(f.load for f in filled), places_m={})
    return goal.lighter(cheaper_kinds(task, cutting, goal.weights), best)
