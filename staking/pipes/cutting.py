"""Posts and beams to sticks: the fewest or the cheapest, proven."""

from __future__ import annotations

import math
from collections.abc import Sequence

from staking.base.units import Style
from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import BeamToCut, CannotCut, CutList, CutPiece, Piece, Stick
from staking.pipes.goal import CENTS, price_step, total
from staking.pipes.joints import SNAP_M
from staking.pipes.refusal import why_not
from staking.pipes.remedies import Shown
from staking.pipes.simple_bounds import up
from staking.pipes.task import Cutting, Kind, Task, load_m, make_task, part_length_m
from staking.pipes.task_cut import TaskCut, cut_task

NOT_PROVEN = "not proven best"
"""In the warning that says so of one pipe."""


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
    done: list[TaskCut] = []
    for task in tasks:
        result = cut_task(task, show, money)
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


def _warnings(tasks: Sequence[Task], done: Sequence[TaskCut], money: float) -> tuple[str, ...]:
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
