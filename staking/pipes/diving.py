"""Runs of beams fixed few at a time by the program over cells, priced and solved anew for what is left.

A large task is parted for this into some alike: the runs of each are chosen beside its own posts, and only
then are all pieces shared out together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from staking.pipes.beam_runs import Floats, Run
from staking.pipes.cell_program import CellProgram
from staking.pipes.goal import Goal
from staking.pipes.solver import FEASIBLE, INFINITE
from staking.pipes.task import Task

PRICED = 1
"""Times that the program is priced after some are fixed, at most."""
SURE = 0.7
"""Runs that the program uses at least so often are fixed together."""
PART = 120
"""Pieces of one part, about."""

Runs = list[tuple[int, Run]]
"""Beams by number, each with its run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """Runs of beams, and what may be hoped for."""

    runs: Runs | None
    """One for each beam; None where none was found."""
    optimum: float
    """Of the program before any run is fixed; if it tells all lengths apart, no such program proves more."""


def chosen_runs(task: Task, goal: Goal, *, parted: bool, knots: int, near: float | None = None) -> Chosen:
    """Return a run for each beam, so that few sticks do.

    Parameters
    ----------
    parted
        Whether a large task is parted.
    knots
        Cells from one length of pieces to the next that the program tells apart.
    near
        How far the program is solved, as `CellProgram.solve` takes it.
    """
    posts = [i for i, p in enumerate(task.post_lengths) for _ in p.posts]
    parts = parts_of(task) if parted else 1
    runs: Runs = []
    optimum = 0.0
    for n in range(parts):
        beams = list(range(n, len(task.beams), parts))
        part = task if parts == 1 else _part(task, posts[n::parts], beams, n, parts)
        program = CellProgram(part, goal, relaxed=False, knots=knots)
        program.solve(INFINITE, near=near)
        optimum += program.optimum
        found = _dived(program)
        if found is None:
            return Chosen(runs=None, optimum=optimum)
        runs += [(beams[beam], run) for beam, run in found]
    return Chosen(runs=runs, optimum=optimum)


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


def _dived(program: CellProgram) -> Runs | None:
    """Return a run for each beam; None when the stock does not do. The program is used up by it."""
    groups = [list(beams) for beams in program.alike]
    on_hand = [INFINITE if k.count is None else float(k.count) for k in program.task.kinds]
    demand: dict[int, float] = {}
    runs: Runs = []
    program.trim()
    while any(groups):
        fixed = _fixed(program, program.priced(PRICED), groups, on_hand, demand)
        if not fixed:
            return None
        runs += fixed
        _ask(program, groups, on_hand, demand)
    return runs


def _fixed(
    program: CellProgram,
    values: Floats,
    groups: list[list[int]],
    on_hand: list[float],
    demand: dict[int, float],
) -> Runs:
    """Put beams together as the program does most; the lists follow."""
    used = [
        (float(values[n]), n, column)
        for n, column in enumerate(program.columns)
        if isinstance(column, tuple) and values[n] > FEASIBLE and groups[column[0]]
    ]
    used.sort(key=lambda one: (-one[0], one[1]))
    fixed: Runs = []
    for value, _, (group, run) in used:
        if fixed and value < SURE:
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
