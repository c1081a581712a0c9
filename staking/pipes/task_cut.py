"""One task cut: what is made least, with its bound, then what decides between equals."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from staking.pipes.fewer_joints import fewest_joints, in_task, with_fewer_joints, with_fewest_joints
from staking.pipes.finishing import USEFUL_M, well_laid
from staking.pipes.goal import Goal, price_step, total
from staking.pipes.greedy import cheaper_kinds, greedy_cuttings
from staking.pipes.large import many_cut
from staking.pipes.laying import FIRST_PACKINGS, laid_cuttings
from staking.pipes.longer_drops import with_longer_drops
from staking.pipes.many import ManyPosts
from staking.pipes.plainest import Plainest
from staking.pipes.pricing import Program
from staking.pipes.remedies import Shown
from staking.pipes.search import best_cutting, better_mix
from staking.pipes.simple_bounds import mix_bound, up
from staking.pipes.sliding import well_slid
from staking.pipes.task import Cutting, Task, joints_in

MORE_LOOKS = 2
"""Quick cuttings still looked at for fewer joints once the bound is reached."""
COUNT_BUDGET = 200_000
"""Of the bound of the number of sticks where the cost is what is made least."""
FEW_PIECES = 40
"""Ties are searched thoroughly only where there are no more pieces than this."""
MANY_PIECES = 150
"""With more pieces than this loads are not searched one by one: posts of nearly one length go together."""
LENGTH_STEP_M = 0.001
"""Between cuttings of equally many sticks, a millimetre of total length is worth a search, less is not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskCut:
    """One task cut, and what is proven of it."""

    task: Task
    cutting: Cutting
    bound: int
    """No cutting has fewer sticks."""
    cost: float | None
    cost_bound: float | None
    proven: bool
    """What is made least equals its bound."""
    note: str | None = None
    """What more joints than need be save."""


def cut_task(task: Task, show: Shown, money: float) -> TaskCut | None:
    """Cut one task; None when the stock on hand does not do."""
    least = _least(task)
    if least is None:
        return None
    goal, cutting, bound, least_sticks = least.goal, least.cutting, least.bound, least.least_sticks
    priced = all(k.price is not None for k in task.kinds)
    if task.beams and task.most_pieces <= MANY_PIECES:
        sure = goal.meets(cutting, bound)
        cutting = with_fewer_joints(task, goal, cutting, thorough=sure)
    plainest = _plainest(task, least, cutting)
    if plainest is not None and plainest.as_good is not None:
        cutting, plainest = plainest.as_good, None
    # Moving pieces about can empty a stick of a large job.
    cutting = in_place(task, _finished(task, cutting))
    best, count = goal.worth(cutting), len(cutting.loads)
    if not priced:
        least_sticks = round(bound)
    elif len(set(goal.weights)) == 1 and goal.weights[0] > 0:
        least_sticks = max(least_sticks, round(bound / goal.weights[0]))
    elif count > least_sticks and task.most_pieces > MANY_PIECES and task.post_lengths:
        many = ManyPosts(task, Goal(weights=tuple(1.0 for _ in task.kinds), step=1.0))
        many.solve(least_sticks)
        if up(many.optimum) > least_sticks:
            many.prove(count, least_sticks)
        least_sticks = max(least_sticks, round(up(many.bound)))
    elif count > least_sticks:
        program = Program(task, Goal(weights=tuple(1.0 for _ in task.kinds), step=1.0))
        program.add_cutting(cutting)
        program.budget = COUNT_BUDGET
        program.solve(count)
        least_sticks = max(least_sticks, round(up(program.bound)))
    return TaskCut(
        task=task,
        note=None if plainest is None else plainest.words(show, money),
        cutting=cutting,
        bound=min(least_sticks, count),
        cost=best if priced else None,
        cost_bound=min(bound, best) if priced else None,
        proven=goal.meets(cutting, bound),
    )


def _quick(task: Task, goal: Goal, second: Sequence[float], bound: float) -> Cutting | None:
    """Return the best quick cutting; soon after the first that equals the bound no more are looked at."""
    best, least = None, (math.inf, math.inf, 0)
    looks: Iterable[Cutting] = greedy_cuttings(task, goal.weights, shuffled=False)
    few = task.most_pieces <= MANY_PIECES
    if few and len(task.kinds) == 1 and goal.weights[0] > 0 and math.isfinite(bound):
        looks = chain(looks, laid_cuttings(task, [0] * round(bound / goal.weights[0]), FIRST_PACKINGS))
    if few:
        looks = chain(looks, greedy_cuttings(task, goal.weights, shuffled=True))
    more = MORE_LOOKS if task.beams and task.most_pieces <= FEW_PIECES else 0
    for cutting in looks:
        worth = (
            round(goal.worth(cutting), 9),
            round(total(cutting, second), 9),
            sum(len(load.parts) for load in cutting.loads),
        )
        if best is None or worth < least:
            best, least = cutting, worth
        if least[0] <= bound + goal.step / 2 and len(set(second)) == 1:
            if more == 0:
                break
            more -= 1
    return best


@dataclass(frozen=True, slots=True, kw_only=True)
class _Least:
    """The best cutting found of one task, before what only decides between equals."""

    goal: Goal
    second: Goal
    """What decides between equals."""
    cutting: Cutting
    bound: float
    """Of the goal."""
    least_sticks: int
    """Sticks that no cutting does without, by length alone."""


def _least(task: Task, *, proof: bool = True) -> _Least | None:
    """Return the cheapest cutting, or that of fewest sticks, then what comes second.

    Without `proof` the integer programs that can take long are left out.
    """
    ones = tuple(1.0 for _ in task.kinds)
    lengths = tuple(k.stock_m for k in task.kinds)
    prices = tuple(k.price for k in task.kinds if k.price is not None)
    priced = len(prices) == len(task.kinds)
    goal = Goal(weights=prices, step=price_step(prices)) if priced else Goal(weights=ones, step=1.0)
    second = Goal(weights=ones, step=1.0) if priced else Goal(weights=lengths, step=LENGTH_STEP_M)
    least_sticks, bound = mix_bound(task, ones), mix_bound(task, goal.weights)
    if not math.isfinite(bound):
        return None
    least_sticks, bound = round(least_sticks), up(bound, goal.step)
    cutting = _quick(task, goal, second.weights, bound)
    if not goal.meets(cutting, bound):
        cutting, bound = many_cut(task, goal, cutting, bound)
    small = task.most_pieces <= MANY_PIECES or cutting is None
    if cutting is None or (small and not goal.meets(cutting, bound)):
        answer = best_cutting(task, goal, cutting, bound, proof=proof)
        if answer.cutting is None:
            return None
        cutting, bound = answer.cutting, answer.bound
    best = goal.worth(cutting)
    # Between equals: fewest sticks when priced, least pipe when not.
    if not priced:
        cutting = cheaper_kinds(task, cutting, second.weights)
    if len(set(second.weights)) > 1 or (priced and len(set(goal.weights)) > 1):
        least = mix_bound(task, second.weights, cap_weights=goal.weights, cap=best + goal.step * 1e-6)
        if total(cutting, second.weights) > least + second.step / 2:
            capped = Goal(
                weights=second.weights,
                step=second.step,
                cap_weights=goal.weights,
                cap=best + goal.step * 1e-6,
            )
            if task.most_pieces <= FEW_PIECES and best <= bound + goal.step / 2:
                cutting = best_cutting(task, capped, cutting, least, proof=False).cutting or cutting
            else:
                cutting = better_mix(task, capped, cutting, least)
    return _Least(goal=goal, second=second, cutting=cutting, bound=bound, least_sticks=least_sticks)


def _finished(task: Task, cutting: Cutting) -> Cutting:
    """Return the cutting from the same sticks, with as many joints, that is laid and slid best."""
    useful_m = USEFUL_M if task.useful_drop_m is None else task.useful_drop_m
    laid = well_laid(task, with_longer_drops(task, cutting), useful_m)
    slid = well_slid(task, laid, useful_m)
    return laid if slid is laid else well_laid(task, slid, useful_m)


def in_place(task: Task, cutting: Cutting) -> Cutting:
    """Return the cutting with each joint where it may stand: those of whole sticks can miss it by a hair."""
    places_m = {}
    for (beam, spot), at in cutting.places_m.items():
        low, high = min(task.spots[beam][spot].intervals, key=lambda i: max(i[0] - at, at - i[1]))
        places_m[beam, spot] = min(max(at, low), high)
    return replace(cutting, places_m=places_m)


def _plainest(task: Task, least: _Least, cutting: Cutting) -> Plainest | None:
    """Return what the fewest joints would take; None where the cutting has no more."""
    fewest, goal = fewest_joints(task), least.goal
    if joints_in(task, cutting) <= sum(fewest):
        return None
    narrow = with_fewest_joints(task, fewest)
    if task.most_pieces <= FEW_PIECES:
        found = _least(narrow, proof=False)
        plain = None if found is None else found.cutting
    else:
        plain = _quick(narrow, goal, goal.weights, mix_bound(narrow, goal.weights))
    plain = None if plain is None else in_task(task, narrow, plain)
    return Plainest(
        task=task, goal=goal, second=least.second, cutting=cutting, plain=plain, fewest=sum(fewest)
    )
