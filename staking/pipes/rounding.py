"""Sticks filled from the linear program of a large job: loads fixed few at a time, or chosen all at once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from staking.pipes.many import GAIN, Floats, Ints, ManyPosts
from staking.pipes.post_classes import Filled, placed
from staking.pipes.rows import Rows
from staking.pipes.solver import FEASIBLE, INFINITE, has_solution, new_solver

FIXED = 0.7
"""Loads used at least so often are fixed at once."""
SHARE = 0.03
"""At least this share of the sticks still open is fixed at a time, where nothing else is said."""
PRICED = 2
"""Times that the program is priced after some sticks are fixed, at most."""
LISTED = 4000
"""Loads in the integer program at most."""
NODES = 300
"""Of it at most: half a minute at the worst met with. No clock stops it, so two runs never differ."""


def fixed_sticks(program: ManyPosts, *, leave: float = 0.0, step: float = SHARE) -> list[Filled] | None:
    """Return sticks filled with all posts, by fixing loads of the program a few at a time.

    None when there is too little stock.

    Parameters
    ----------
    leave
        Of the posts this share may be left over: what is filled last is filled worst.
    step
        At least this share of the sticks still open is fixed at a time.
    """
    left, on_hand = program.copies.copy(), program.task.on_hand
    fixed: list[Filled] = []
    enough = leave * float(left.sum())
    while left.sum() > enough:
        values, duals = program.solved()
        for _ in range(PRICED):
            if not program.price(duals, left, relaxed=False):
                break
            values, duals = program.solved()
        used = values[program.stand_ins :]
        took = 0
        for trimmed in (False, True):
            many = 1 if trimmed else max(1, round(step * float(used.sum())))
            took = took or _fix(program, used, left, on_hand, fixed, many, trimmed=trimmed)
        if took == 0:
            return None
        pieces = sum(f.left_m > 0 and program.counts(f.posts) for f in fixed)
        need = max(program.need_m - sum(f.left_m for f in fixed), 0.0)
        program.ask(left, need, on_hand, max(program.most_beam_pieces - pieces, 0))
    return _with_posts(program, fixed)


def _fix(
    program: ManyPosts,
    used: Floats,
    left: Ints,
    on_hand: list[float],
    fixed: list[Filled],
    many: int,
    *,
    trimmed: bool,
) -> int:
    """Fix loads that the program uses most, about `many`, and return how many; the lists follow.

    Only those with a post for each place, unless fewer will do.
    """
    took = 0
    for n in np.argsort(-used, kind="stable"):
        load, times = program.loads[n], math.floor(used[n] + 1e-6)
        if used[n] <= FEASIBLE or (times == 0 and used[n] < FIXED and took >= many):
            break
        for _ in range(max(times, 1)):
            posts = placed(load.posts, left)
            if not posts or (len(posts) < len(load.posts) and not trimmed) or on_hand[load.kind] < 1:
                break
            np.subtract.at(left, list(posts), 1)
            on_hand[load.kind] -= 1
            left_m = program.left_m(load.kind, posts) if load.left_m > 0 else 0.0
            fixed.append(Filled(kind=load.kind, posts=posts, left_m=left_m))
            took += 1
    return took


def chosen_sticks(program: ManyPosts, most: float) -> list[Filled] | None:
    """Return sticks of at most this sum of weights by an integer program over the loads met.

    None when its limits find none. Loads that are too dear to be among them are left out.
    """
    weights, on_hand = program.goal.weights, program.task.on_hand
    program.ask(program.copies, program.need_m, on_hand)
    _, duals = program.solved()
    gap = most - program.optimum + GAIN
    costs: dict[tuple[int, tuple[int, ...]], float] = {}
    for load, real in zip(program.loads, program.real, strict=True):
        worth = float(duals[list(load.posts)].sum()) + load.left_m * float(duals[program.beam_row])
        weight = weights[load.kind] - float(duals[program.beam_row + 1 + load.kind])
        if real and weight - worth <= gap:
            costs[load.kind, load.posts] = weight - worth
    listed = sorted(costs, key=lambda key: (costs[key], key))[:LISTED]
    rows, copies = Rows(), float(program.copies.sum())
    cover = [rows.limit(float(many), INFINITE) for many in program.copies]
    held = [rows.limit(0.0, many) for many in on_hand]
    beams = rows.limit(program.need_m, INFINITE)
    best = rows.limit(-INFINITE, most + program.goal.step * 1e-6)
    for kind, posts in listed:
        x = rows.variable(weights[kind], copies, whole=True)
        rows.put(held[kind], x, 1.0)
        rows.put(best, x, weights[kind])
        rows.put(beams, x, program.left_m(kind, posts))
        for c in posts:
            rows.put(cover[c], x, 1.0)
    for longer, shorter in pairwise(cover):
        y = rows.variable(0.0, copies)
        rows.put(longer, y, -1.0)
        rows.put(shorter, y, 1.0)
    solver = new_solver()
    solver.setOptionValue("mip_max_nodes", NODES)
    solver.setOptionValue("mip_max_improving_sols", 1)
    solver.passModel(rows.program())
    solver.run()
    if not has_solution(solver):
        return None
    rest, taken = program.copies.copy(), list[Filled]()
    used = solver.getSolution().col_value[: len(listed)]
    for times, (kind, posts) in zip(used, listed, strict=True):
        for _ in range(round(times)):
            kept = placed(posts, rest)
            np.subtract.at(rest, list(kept), 1)
            if kept:
                taken.append(Filled(kind=kind, posts=kept, left_m=program.left_m(kind, kept)))
    return _with_posts(program, taken)


def _with_posts(program: ManyPosts, fixed: Sequence[Filled]) -> list[Filled]:
    """Return the sticks with lengths of posts in place of classes."""
    queues = [list(c.posts) for c in program.classes]
    return [
        Filled(kind=f.kind, posts=tuple(queues[n].pop() for n in f.posts), left_m=f.left_m) for f in fixed
    ]
