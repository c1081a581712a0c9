"""Posts and beams to sticks: the fewest or the cheapest, proven."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from staking.base.units import Style
from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import BeamToCut, CannotCut, CutList, CutPiece, Piece, Stick
from staking.pipes.fewer_joints import fewest_joints, in_task, with_fewer_joints, with_fewest_joints
from staking.pipes.finishing import USEFUL_M, well_laid
from staking.pipes.goal import Goal, total
from staking.pipes.greedy import cheaper_kinds, greedy_cuttings
from staking.pipes.joints import SNAP_M
from staking.pipes.large import many_cut
from staking.pipes.laying import FIRST_PACKINGS, laid_cuttings
from staking.pipes.longer_drops import with_longer_drops
from staking.pipes.many import ManyPosts
from staking.pipes.plainest import Plainest
from staking.pipes.pricing import Program
from staking.pipes.refusal import why_not
from staking.pipes.remedies import Shown
from staking.pipes.search import best_cutting, better_mix
from staking.pipes.simple_bounds import mix_bound, up
from staking.pipes.sliding import well_slid
from staking.pipes.task import Cutting, Kind, Task, joints_in, load_m, make_task, part_length_m

CENTS = 100
"""Prices are whole hundredths, so sums of prices are multiples of their greatest common divisor."""
MORE_LOOKS = 2
"""Quick cuttings still looked at for fewer joints once the bound is reached."""
COUNT_BUDGET = 200_000
"""Of the bound of the number of sticks where the cost is what is made least."""
FEW_PIECES = 40
"""Ties are searched thoroughly only where there are no more pieces than this."""
MANY_PIECES = 150
"""With more pieces than this loads are not searched one by one: posts of nearly one length go together."""
NOT_PROVEN = "not proven best"
"""In the warning that says so of one pipe."""
LENGTH_STEP_M = 0.001
"""Between cuttings of equally many sticks, a millimetre of total length is worth a search, less is not."""


def same_pipe(a: str, b: str) -> bool:
    """Whether two names mean one pipe: case and blanks do not matter."""
    return "".join(a.split()).casefold() == "".join(b.split()).casefold()


def _tasks(posts: Sequence[Piece], beams: Sequence[BeamToCut], pipe: Pipe) -> list[Task]:
    """Part the pieces into tasks that share no stock."""
    names: list[str] = []
    for name in sorted([*(p.pipe for p in posts), *(b.pipe for b in beams)]):
        if not any(same_pipe(name, other) for other in names):
            names.append(name)
    tasks = []
    for name in names:
        these = [p for p in posts if same_pipe(p.pipe, name)]
        those = [b for b in beams if same_pipe(b.pipe, name)]
        stock = [s for s in pipe.stock if s.pipe is None or same_pipe(s.pipe, name)]
        if any(s.use == "both" for s in stock):
            tasks.append(make_task(name, these, those, _usable(stock, these, those), pipe))
        else:
            tasks += [make_task(name, these, (), _usable(stock, these, ()), pipe)] if these else []
            tasks += [make_task(name, (), those, _usable(stock, (), those), pipe)] if those else []
    return tasks


def _usable(stock: Sequence[Stock], posts: Sequence[Piece], beams: Sequence[BeamToCut]) -> list[Stock]:
    """Return the stock that these pieces may be cut from."""
    return [s for s in stock if (posts and s.use != "beam") or (beams and s.use != "post")]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Done:
    """One task cut."""

    task: Task
    cutting: Cutting
    bound: int
    cost: float | None
    cost_bound: float | None
    proven: bool
    note: str | None = None


def price_step(prices: Sequence[float]) -> float:
    """Return a sum of money of which every sum of these prices is a multiple."""
    cents = [round(p * CENTS) for p in prices]
    if any(abs(p * CENTS - c) > 1e-6 for p, c in zip(prices, cents, strict=True)):
        return 1.0 / CENTS**2
    return (math.gcd(*cents) or 1) / CENTS


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
    least_sticks: int


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


def _solve(task: Task, show: Shown, money: float) -> _Done | None:
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
    return _Done(
        task=task,
        note=None if plainest is None else plainest.words(show, money),
        cutting=cutting,
        bound=min(least_sticks, count),
        cost=best if priced else None,
        cost_bound=min(bound, best) if priced else None,
        proven=goal.meets(cutting, bound),
    )


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


def cut(
    posts: Sequence[Piece],
    beams: Sequence[BeamToCut],
    pipe: Pipe,
    *,
    style: Style = "metric",
    money: float = 1.0,
) -> CutList:
    """Return the best way to cut all posts and beams, with a proven bound.

    With prices on all stock the cost is least, then the number of sticks; without, the number of sticks,
    then their total length. Drops are gathered where that costs nothing. Joints may stand anywhere legal
    and are part of the choice. The result does not depend on the order of the pieces.

    Parameters
    ----------
    style
        Notation of lengths in the messages.
    money
        Prices are so many times what a person pays: the messages say what is paid.

    Raises
    ------
    CannotCut
        A post is longer than any stick, a beam has no legal joints, or the stock on hand does not do;
        every reason at once.
    """
    show = Shown(style=style)
    tasks = _tasks(posts, beams, pipe)
    reasons = [reason for task in tasks for reason in why_not(task, show)]
    if reasons:
        raise CannotCut(tuple(reasons))
    done: list[_Done] = []
    for task in tasks:
        result = _solve(task, show, money)
        if result is None:
            reasons.append(
                f"{task.pipe}: no way was found to cut all pieces from the sticks on hand; "
                "raise a stock's count or allow more of one length"
            )
        else:
            done.append(result)
    if reasons:
        raise CannotCut(tuple(reasons))
    costs = [d.cost for d in done if d.cost is not None]
    cost_bounds = [d.cost_bound for d in done if d.cost_bound is not None]
    all_priced = len(costs) == len(done) and bool(done)
    joints: dict[str, tuple[float, ...]] = {}
    for d in done:
        for number, beam in enumerate(d.task.beams):
            joints[beam.name] = tuple(sorted(at for (b, _), at in d.cutting.places_m.items() if b == number))
    return CutList(
        sticks=tuple(stick for d in done for stick in _sticks(d.task, d.cutting)),
        joints_m={beam.name: joints[beam.name] for beam in beams},
        count=sum(len(d.cutting.loads) for d in done),
        bound=sum(d.bound for d in done),
        cost=round(sum(costs), 6) if all_priced else None,
        cost_bound=round(sum(cost_bounds), 6) if all_priced else None,
        proven=all(d.proven for d in done),
        warnings=(*_warnings(tasks, done, money), *_of_which_pipe(tasks, pipe, show)),
        notes=tuple(d.note for d in done if d.note is not None),
    )


def _of_which_pipe(tasks: Sequence[Task], pipe: Pipe, show: Shown) -> list[str]:
    """Ask of which pipe sticks on hand are, where several sizes are cut and their line names none."""
    warnings = []
    for stock in pipe.stock:
        if stock.pipe is None and stock.count:
            sizes = {
                task.pipe
                for task in tasks
                if any((k.stock_m, k.count) == (stock.length_m, stock.count) for k in task.kinds)
            }
            if len(sizes) > 1:
                warnings.append(
                    f"{stock.count} on hand of {show(stock.length_m)} were counted for each of "
                    f"{', '.join(sorted(sizes))}, as their stock line names no pipe: give it one"
                )
    return warnings


def _costs_nothing(kind: Kind, money: float) -> bool:
    """Whether a stick's price is no money a person pays: it only keeps sticks on hand few."""
    return kind.count is not None and (kind.price or 0.0) < money / CENTS / 2


def _warnings(tasks: Sequence[Task], done: Sequence[_Done], money: float) -> tuple[str, ...]:
    """Return what the user should know about the cutting."""
    warnings = []
    for task in tasks:
        some = {k.price is None for k in task.kinds}
        if len(some) == 2:
            warnings.append(
                f"{task.pipe}: some stock has no price, so the fewest sticks were sought, not the least cost"
            )
    for d in done:
        hand = [kind for kind, one in enumerate(d.task.kinds) if one.count is not None]
        bought = [load.kind for load in d.cutting.loads if load.kind not in hand]
        used = len(d.cutting.loads) - len(bought)
        if bought and d.cost is None and used < sum(d.task.kinds[kind].count or 0 for kind in hand):
            warnings.append(
                f"{d.task.pipe}: without prices a stick on hand counts as much as one that is bought, and "
                "some on hand are left: give what is bought a price, and those on hand are taken wherever "
                "that saves money"
            )
    for d in done:
        if not d.proven:
            sticks = f"{d.task.pipe}: {len(d.cutting.loads)} sticks"
            if d.cost is None or d.cost_bound is None:
                warnings.append(f"{sticks}, {NOT_PROVEN}; the bound is {d.bound}")
                continue
            paid = [0.0 if _costs_nothing(kind, money) else (kind.price or 0.0) for kind in d.task.kinds]
            free = sum((k.count or 0) * (k.price or 0.0) for k in d.task.kinds if _costs_nothing(k, money))
            cost, step = total(d.cutting, paid) / money, price_step([p / money for p in paid])
            least = up(max(0.0, d.cost_bound - free) / money, step)
            warnings.append(f"{sticks} for {cost:.2f}, {NOT_PROVEN}; no cutting costs less than {least:.2f}")
    return tuple(warnings)


def _sticks(task: Task, cutting: Cutting) -> list[Stick]:
    """Return the sticks with named pieces, long stock and small drops first."""
    left = [list(p.posts) for p in task.post_lengths]
    names = _part_names(task, cutting)
    made = []
    order = sorted(
        cutting.loads,
        key=lambda load: (
            -task.kinds[load.kind].stock_m,
            round(task.room_m(load.kind) - load_m(task, load, cutting.places_m), 6),
            load.posts,
            load.parts,
        ),
    )
    for load in order:
        plain: list[CutPiece] = []
        threaded: list[CutPiece] = []
        for i in load.posts:
            post = left[i].pop(0)
            plain.append(CutPiece(piece=post.name, length_m=post.length_m))
        for number in load.parts:
            part = task.parts[number]
            length = part_length_m(task, part, cutting.places_m)
            target = threaded if task.threads(part) else plain
            target.append(CutPiece(piece=names[number], length_m=length))
        plain.sort(key=lambda p: (-round(p.length_m, 9), p.piece))
        threaded.sort(key=lambda p: (-round(p.length_m, 9), p.piece))
        pieces = (*threaded[:1], *plain, *threaded[1:])
        stock = task.kinds[load.kind]
        made.append(
            Stick(
                stock_m=stock.stock_m,
                price=stock.price,
                pipe=task.pipe,
                pieces=pieces,
                drop_m=drop_m(stock.stock_m, [p.length_m for p in pieces], task.kerf_m),
                last_from_far_end=len(threaded) > 1,
                on_hand=stock.count is not None,
            )
        )
    return made


def drop_m(stock_m: float, lengths_m: Sequence[float], kerf_m: float) -> float:
    """Return what is left of a stick after the last kerf: none when the last piece ends with the stick."""
    rest = stock_m - math.fsum(lengths_m) - len(lengths_m) * kerf_m
    return rest if rest > SNAP_M else 0.0


def _part_names(task: Task, cutting: Cutting) -> dict[int, str]:
    """Return ``beam A 1``, ``beam A 2`` … from the left, by part."""
    names = {}
    for beam in range(len(task.beams)):
        parts = sorted(
            (task.parts[p].left, p)
            for load in cutting.loads
            for p in load.parts
            if task.parts[p].beam == beam
        )
        names.update({p: f"{task.beams[beam].name} {n}" for n, (_, p) in enumerate(parts, start=1)})
    return names
