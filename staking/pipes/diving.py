"""Runs of beams fixed few at a time by the program over cells, priced and solved anew for what is left.

A large task is parted for this into some alike: the runs of each are chosen beside its own posts, and only
then are all pieces shared out together.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, repeat

from staking.pipes.beam_runs import Floats, Run, Stretches
from staking.pipes.cell_program import CellProgram
from staking.pipes.goal import Goal
from staking.pipes.solver import FEASIBLE, INFINITE
from staking.pipes.task import Task

PRICED = 1
"""Times that the program is priced after some are fixed, at most."""
SWING = 0.5
"""By this share at most a run is taken sooner by chance."""
SEED = 3
"""Any fixed number: the same pieces are always cut in the same way."""
SURE = 0.7
"""Runs that the program uses at least so often are fixed together."""
PART = 120
"""Pieces of one part, about."""

Runs = list[tuple[int, Run]]
"""Beams by number, each with its run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """How runs are chosen: what the program over cells is told."""

    joint: float
    """What a joint weighs, in dearest sticks."""
    knots: int = 8
    """Cells from one length of pieces to the next that are told apart."""
    finer: float = 1
    """Into so many the usual cells are parted; runs of butted beams take the square of that."""
    near: float | None = None
    """To within this share of a stick the program is solved; else till the bound is a whole stick's."""


def chosen_runs(task: Task, goal: Goal, way: Way) -> Runs | None:
    """Return a run for each beam, chosen in some parts of the task; None where none was found."""
    posts = [i for i, p in enumerate(task.post_lengths) for _ in p.posts]
    parts = parts_of(task)
    runs: Runs = []
    for n in range(parts):
        beams = list(range(n, len(task.beams), parts))
        part = _part(task, posts[n::parts], beams, n, parts)
        found = next(runs_tried(solved(part, goal, way)), None)
        if found is None:
            return None
        runs += [(beams[beam], run) for beam, run in found]
    return runs


def solved(task: Task, goal: Goal, way: Way, about: Sequence[Stretches] | None = None) -> CellProgram:
    """Return the program that chooses runs for a task, solved; `about` as `CellProgram` takes it."""
    program = CellProgram(
        task, goal, relaxed=False, knots=way.knots, finer=way.finer, joint=way.joint, about=about
    )
    program.solve(INFINITE, near=way.near)
    return program


def runs_tried(program: CellProgram) -> Iterator[Runs]:
    """Yield a run for each beam of a solved program, so that few sticks do: at first without chance."""
    program.trim()
    chance = random.Random(SEED)
    for swing in chain((0.0,), repeat(SWING)):

        def liking(value: float, swing: float = swing) -> float:
            return value * (1.0 + swing * chance.random())

        found = _dived(program, liking)
        if found is None:
            return
        yield found


def parts_of(task: Task) -> int:
    """Return into how many parts a task is parted."""
    pieces = sum(len(p.posts) for p in task.post_lengths) + sum(max(len(w), 1) for w in task.ways) // 2
    return min(max(round(pieces / PART), 1), len(task.beams))


def _part(task: Task, posts: list[int], beams: list[int], number: int, parts: int) -> Task:
    """Return these posts and beams with their share of the stock, as a task of its own."""
    place = {beam: n for n, beam in enumerate(beams)}
    return replace(
        task,
        kinds=tuple(
            k if k.count is None else replace(k, count=(k.count + number) // parts) for k in task.kinds
        ),
        post_lengths=tuple(
            replace(task.post_lengths[i], posts=task.post_lengths[i].posts[: posts.count(i)])
            for i in sorted(set(posts))
        ),
        beams=tuple(task.beams[beam] for beam in beams),
        spots=tuple(task.spots[beam] for beam in beams),
        ways=tuple(task.ways[beam] for beam in beams),
        parts=tuple(replace(p, beam=place[p.beam]) for p in task.parts if p.beam in place),
    )


def _dived(program: CellProgram, liking: Callable[[float], float]) -> Runs | None:
    """Return a run for each beam; None when the stock does not do.

    `liking` says how soon a run is taken that the program uses so often.
    """
    groups = [list(beams) for beams in program.alike]
    on_hand = [INFINITE if k.count is None else float(k.count) for k in program.task.kinds]
    demand = dict.fromkeys(program.piece_rows, 0.0)
    runs: Runs = []
    _ask(program, groups, on_hand, demand)
    while any(groups):
        fixed = _fixed(program, program.priced(PRICED), liking, groups, on_hand, demand)
        if not fixed:
            return None
        runs += fixed
        _ask(program, groups, on_hand, demand)
    return runs


def _fixed(
    program: CellProgram,
    values: Floats,
    liking: Callable[[float], float],
    groups: list[list[int]],
    on_hand: list[float],
    demand: dict[int, float],
) -> Runs:
    """Put beams together as the program does most; the lists follow."""
    used = [
        (liking(float(values[n])), n, float(values[n]), column)
        for n, column in enumerate(program.columns)
        if isinstance(column, tuple) and values[n] > FEASIBLE and groups[column[0]]
    ]
    used.sort(key=lambda one: (-one[0], one[1]))
    fixed: Runs = []
    for liked, _, value, (group, run) in used:
        if fixed and liked < SURE:
            break
        for _ in range(min(max(math.floor(value + 1e-6), 1), len(groups[group]))):
            if any(run.uncut.count(kind) > on_hand[kind] for kind in run.uncut):
                break
            for kind in run.uncut:
                on_hand[kind] -= 1
            fixed.append((groups[group].pop(0), run))
            for row, share in program.rows_of(group, run).items():
                demand[row] = demand.get(row, 0.0) + share
    return fixed


def _ask(
    program: CellProgram, groups: list[list[int]], on_hand: list[float], demand: dict[int, float]
) -> None:
    """Ask the program for the runs that are still to be chosen and the pieces of those that are."""
    change = program.solver.changeRowBounds
    for group, beams in enumerate(groups):
        program.beams_left[group] = len(beams)
        change(program.beam_row[group], float(len(beams)), INFINITE)
    for row, many in zip(program.stick_row, on_hand, strict=True):
        change(row, 0.0, many)
    for row, pieces in demand.items():
        change(row, pieces, INFINITE)
