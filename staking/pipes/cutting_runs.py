"""Beams whose runs are chosen, and posts: all pieces in sticks of their own, or shared out by a program."""

from __future__ import annotations

import math
from collections import Counter, deque
from collections.abc import Sequence
from itertools import pairwise

from staking.pipes.beam_runs import Floats, Run
from staking.pipes.cell_program import CellLoad, CellProgram
from staking.pipes.goal import Goal
from staking.pipes.joints import START
from staking.pipes.post_classes import placed
from staking.pipes.solver import FEASIBLE, INFINITE
from staking.pipes.task import Cutting, Load, Task, part_length_m

PRICED = 3
"""Times that the program is priced after some sticks are fixed, at most."""
SHARE = 0.03
"""At least this share of the sticks still open is fixed at a time."""


class Pieces:
    """The pieces of beams by where they come from: what is left uncut, and parts to be cut from sticks."""

    def __init__(self, task: Task, runs: Sequence[tuple[int, Run]]) -> None:
        part_at = {(p.beam, p.left, p.right): n for n, p in enumerate(task.parts)}
        self.task = task
        self.places: dict[tuple[int, int], float] = {}
        self.uncut: list[Load] = []
        self.parts: list[int] = []
        for beam, run in runs:
            ends = (START, *run.spots, len(task.spots[beam]))
            parts = [part_at[beam, left, right] for left, right in pairwise(ends)]
            for spot, at in zip(run.spots, run.places_m, strict=True):
                self.places[beam, spot] = at
            if run.uncut:
                pairs = zip(run.uncut, parts[1:-1], strict=True)
                self.uncut += [Load(kind=kind, posts=(), parts=(part,)) for kind, part in pairs]
                parts = [parts[0], parts[-1]]
            self.parts += parts

    def apart(self) -> Cutting:
        """Return all pieces and posts each in a stick of its own, whether there are so many or not."""
        task = self.task
        kinds = range(len(task.kinds))
        for_posts = max(kinds, key=lambda k: (task.kinds[k].for_posts, task.room_m(k)))
        for_beams = max(kinds, key=lambda k: (task.kinds[k].for_beams, task.room_m(k)))
        loads = [*self.uncut, *(Load(kind=for_beams, posts=(), parts=(part,)) for part in self.parts)]
        loads += [
            Load(kind=for_posts, posts=(n,), parts=())
            for n, p in enumerate(task.post_lengths)
            for _ in p.posts
        ]
        return Cutting(loads=tuple(loads), places_m=dict(self.places))

    def shared_out(self, goal: Goal) -> Cutting | None:
        """Return a cutting with few sticks, no more threaded ends in one than it has; None if none goes."""
        return _Sticks(self, goal).cutting()


class _Sticks:
    """Sticks fixed few at a time by the program over cells."""

    def __init__(self, pieces: Pieces, goal: Goal) -> None:
        self.pieces, self.task = pieces, pieces.task
        task = self.task
        program = self.program = CellProgram(task, goal, relaxed=False)
        group_of = {beam: n for n, beams in enumerate(program.alike) for beam in beams}
        self.ends: dict[int, deque[int]] = {}
        """Parts still to be cut by their cells; of threaded beams those without a thread are told apart."""
        self.wholes: dict[int, deque[int]] = {}
        """These, by group of beams alike."""
        for number in pieces.parts:
            part = task.parts[number]
            if task.threaded and task.threads(part) == 0:
                self.wholes.setdefault(group_of[part.beam], deque()).append(number)
            else:
                cells = program.grid.need(part_length_m(task, part, pieces.places))
                self.ends.setdefault(cells, deque()).append(number)
        program.hold(
            {cells: len(queue) for cells, queue in self.ends.items()},
            {group: len(queue) for group, queue in self.wholes.items()},
        )
        taken = Counter(load.kind for load in pieces.uncut)
        self.on_hand = [INFINITE if k.count is None else k.count - taken[n] for n, k in enumerate(task.kinds)]
        self.queues = [list(c.posts) for c in program.classes]
        self._ask()

    def cutting(self) -> Cutting | None:
        """Return the cutting."""
        program, loads = self.program, list(self.pieces.uncut)
        program.solve(INFINITE)
        while program.left.any() or any(self.ends.values()):
            fixed = self._fixed(program.priced(PRICED, ()))
            if not fixed:
                return None
            loads += fixed
            self._ask()
        return Cutting(loads=tuple(loads), places_m=dict(self.pieces.places))

    def _ask(self) -> None:
        """Ask for what is still to be cut."""
        program = self.program
        change = program.solver.changeRowBounds
        for n, many in enumerate(program.left):
            change(n, float(many), INFINITE)
        for cells, queue in self.ends.items():
            change(program.cell_row[cells], float(len(queue)), INFINITE)
        for row, on_hand in zip(program.stick_row, self.on_hand, strict=True):
            change(row, 0.0, float(on_hand))

    def _fixed(self, values: Floats) -> list[Load]:
        """Cut sticks as the program does most, those without an empty place first."""
        used = [
            (float(values[n]), n, column)
            for n, column in enumerate(self.program.columns)
            if isinstance(column, CellLoad) and values[n] > FEASIBLE
        ]
        used.sort(key=lambda one: (-one[0], one[1]))
        fixed: list[Load] = []
        for trimmed in (False, True):
            if fixed:
                break
            many = 1 if trimmed else max(1, round(SHARE * sum(value for value, _, _ in used)))
            for value, _, load in used:
                times = math.floor(value + 1e-6)
                if times == 0 and len(fixed) >= many:
                    break
                for _ in range(max(times, 1)):
                    cut = self._cut(load, trimmed=trimmed)
                    if cut is None:
                        break
                    fixed.append(cut)
        return fixed

    def _cut(self, load: CellLoad, *, trimmed: bool) -> Load | None:
        """Cut one stick, if it is there and there is something for each place, or for any if `trimmed`."""
        program = self.program
        if self.on_hand[load.kind] < 1:
            return None
        posts = placed([n for n in load.posts if n < program.posts], program.left[: program.posts])
        groups = [n - program.posts for n in load.posts if n >= program.posts]
        groups = [g for k, g in enumerate(groups) if groups[:k].count(g) < len(self.wholes.get(g, ()))]
        ends: list[int] = []
        for cells in sorted(load.pieces, reverse=True):
            fit = (c for c, queue in self.ends.items() if c <= cells and len(queue) > ends.count(c))
            best = max(fit, default=None)
            if best is not None:
                ends.append(best)
        many = len(posts) + len(groups) + len(ends)
        if many == 0 or (many < len(load.posts) + len(load.pieces) and not trimmed):
            return None
        self.on_hand[load.kind] -= 1
        for n in (*posts, *(program.posts + group for group in groups)):
            program.left[n] -= 1
        parts = [self.wholes[g].popleft() for g in groups] + [self.ends[c].popleft() for c in ends]
        return Load(
            kind=load.kind,
            posts=tuple(sorted(self.queues[n].pop() for n in posts)),
            parts=tuple(sorted(parts)),
        )
