"""Large jobs: a bound, and loads of sticks, from one linear program in which beams are pipe of any length.

Posts of nearly one length are taken together: as long as the longest of them where sticks are filled, as
long as the shortest where the bound is proven. What a stick has left beside its posts goes to the beams,
if it is long enough for any piece of a beam, and to no more such pieces than beams have. Every legal
cutting is a solution of that program, so its optimum is a bound. Loads are found by a table over the stick's
length for all posts at once.
A place for a long post holds a shorter one too; said to the program, this keeps the worth of posts rising
with their length and saves most rounds of pricing.
Sources: Gilmore and Gomory, Operations Research 9 (1961) 849-859; Farley, Operations Research 38 (1990)
922-923, for the bound before the program has converged; Valerio de Carvalho, INFORMS Journal on Computing
17 (2005) 175-182, for the places of longer posts; all from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from staking.pipes.goal import Goal
from staking.pipes.joints import SNAP_M
from staking.pipes.post_classes import Filled, classes_of, most_beam_pieces
from staking.pipes.simple_bounds import needs_m, up
from staking.pipes.solver import INFINITE, new_solver
from staking.pipes.stick_table import Table
from staking.pipes.task import Cutting, Task

CLASSES = 1500
"""Lengths of posts told apart at most."""
CELLS, FINE_CELLS = 24_000, 96_000
"""Of the table over the longest stick's length; the finer one where there are few posts."""
FEW_POSTS = 400
"""So few posts have the finer table, and beside beams each its own place in the end."""
ROUNDS = 60
"""Of pricing at most before sticks are fixed."""
LOOKED = 5
"""Rounds of it after which is looked whether the bound suffices already."""
TURNS = 100_000_000
"""Turns of the simplex method times lengths of posts at most, some dozens of seconds."""
NO_LIMIT = 2**31 - 1
GAIN = 1e-7
"""A load that improves the program by less than this share of its stick is not taken up."""
DEAR = 4.0
"""What a stand-in for a post costs, in dearest sticks."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class ManyPosts:
    """The linear program, and its bound.

    Parameters
    ----------
    least_m
        Less than this beside posts counts as of no use to beams; where their shortest part takes less still,
        the bound is none.
    shy
        What it weighs to leave something for beams beside posts, in heaviest sticks; of more than nought the
        bound is none.
    classes
        Lengths of posts told apart at most.
    """

    def __init__(
        self, task: Task, goal: Goal, least_m: float = 0.0, shy: float = 0.0, classes: int = CLASSES
    ) -> None:
        self.task, self.goal = task, goal
        self.classes = classes_of(task, classes)
        kerf = task.kerf_m
        self.high_m = np.array([c.high_m + kerf for c in self.classes])
        self.low_m = np.array([c.low_m + kerf for c in self.classes])
        self.copies = np.array([len(c.posts) for c in self.classes], dtype=np.int64)
        self.cells = FINE_CELLS if self.copies.sum() <= FEW_POSTS else CELLS
        self.cell_m = max(task.room_m(k) for k in range(len(task.kinds))) / self.cells
        # What a post of each class takes in cells, rounded up and down.
        self.up = np.ceil(self.high_m / self.cell_m - 1e-9).astype(np.int64)
        self.down = np.maximum(np.floor((self.low_m - SNAP_M) / self.cell_m).astype(np.int64), 1)
        _, self.need_m = needs_m(task)
        self.least_m = max(least_m, min((p.shortest_m for p in task.parts), default=0.0) + kerf)
        self.shy = shy * max(goal.weights)
        self.solver = new_solver()
        self.loads: list[Filled] = []
        self.real: list[bool] = []
        """Whether a load fits as it is, not only relaxed."""
        self.seen: set[tuple[int, tuple[int, ...], bool]] = set()
        none = np.array([], dtype=np.int32), np.array([], dtype=np.float64)
        for many in self.copies:
            self.solver.addRow(float(many), INFINITE, 0, *none)
        self.beam_row = len(self.classes)
        self.solver.addRow(self.need_m, INFINITE, 0, *none)
        for most in task.on_hand:
            self.solver.addRow(0.0, most, 0, *none)
        self.most_beam_pieces = most_beam_pieces(task)
        self.piece_row = self.beam_row + 1 + len(task.kinds)
        self.solver.addRow(0.0, float(self.most_beam_pieces), 0, *none)
        dear = DEAR * max(goal.weights)
        for row in range(self.beam_row):
            self.solver.addCol(dear, 0, INFINITE, 1, np.array([row], dtype=np.int32), np.ones(1))
        least = max(self.least_m, min(task.room_m(k) for k in range(len(task.kinds))))
        self.solver.addCol(
            dear / least, 0, INFINITE, 1, np.array([self.beam_row], dtype=np.int32), np.ones(1)
        )
        self.first_place = self.solver.getNumCol()
        for n in range(self.beam_row - 1):
            # A shorter post in the place of a longer one.
            places = np.array([n, n + 1], dtype=np.int32)
            self.solver.addCol(0.0, 0, INFINITE, 2, places, np.array([-1.0, 1.0]))
        self.stand_ins = self.solver.getNumCol()
        for kind in range(len(task.kinds)):
            if task.kinds[kind].for_beams and self.need_m > 0:
                self._add(kind, ())
                self._add(kind, (), relaxed=True)
        self.bound = 0.0
        self.optimum = 0.0

    def left_m(self, kind: int, classes: Sequence[int], *, relaxed: bool = False) -> float:
        """Return what beams may have of a stick with these posts."""
        if not self.task.kinds[kind].for_beams or self.need_m <= 0:
            return 0.0
        if relaxed:
            cells = self._room(kind, relaxed=True) - sum(int(self.down[n]) for n in classes)
            rest = cells * self.cell_m
            return rest if cells >= math.floor(self.least_m / self.cell_m) else 0.0
        rest = self.task.room_m(kind) - float(sum(self.high_m[n] for n in classes))
        return rest if rest >= self.least_m else 0.0

    def _add(self, kind: int, classes: tuple[int, ...], *, relaxed: bool = False) -> bool:
        """Take up a load, with what it leaves for beams and without; False when it is there."""
        if (kind, classes, relaxed) in self.seen:
            return False
        self.seen.add((kind, classes, relaxed))
        left = self.left_m(kind, classes, relaxed=relaxed)
        self._add_as(kind, classes, left, relaxed=relaxed)
        if left > 0 and classes:
            self._add_as(kind, classes, 0.0, relaxed=relaxed)
        return True

    def _add_as(self, kind: int, classes: tuple[int, ...], left: float, *, relaxed: bool) -> None:
        """Take up a load of which so much goes to beams."""
        self.loads.append(Filled(kind=kind, posts=classes, left_m=left))
        self.real.append(not relaxed)
        rows: dict[int, float] = {self.beam_row + 1 + kind: 1.0}
        for n in classes:
            rows[n] = rows.get(n, 0.0) + 1.0
        if left > 0:
            rows[self.beam_row] = left
            if self.counts(classes):
                rows[self.piece_row] = 1.0
        self.solver.addCol(
            self.goal.weights[kind] + (self.shy if left > 0 and classes else 0.0),
            0,
            INFINITE,
            len(rows),
            np.array(list(rows), dtype=np.int32),
            np.array(list(rows.values())),
        )

    def counts(self, classes: Sequence[int]) -> bool:
        """Whether what a load leaves for beams counts as a piece; uncut sticks of threaded beams do not."""
        return bool(classes) or not self.task.threaded

    def add_loads(self, cutting: Cutting) -> None:
        """Take up the loads of a cutting, without their beams, where they fit as their classes do."""
        number = {i: n for n, c in enumerate(self.classes) for i in c.posts}
        for load in cutting.loads:
            classes = tuple(sorted(number[i] for i in load.posts))
            need = float(sum(self.high_m[n] for n in classes))
            if classes and need <= self.task.room_m(load.kind) + SNAP_M:
                self._add(load.kind, classes)

    def solved(self, turns: int = NO_LIMIT) -> tuple[Floats, Floats]:
        """Return the solution and the duals."""
        self.solver.setOptionValue("simplex_iteration_limit", turns)
        self.solver.run()
        solution = self.solver.getSolution()
        self.optimum = self.solver.getObjectiveValue()
        return np.array(solution.col_value), np.array(solution.row_dual)

    def worths(self) -> list[float]:
        """Return what each post is worth in the program, by number of its length in the task."""
        _, duals = self.solved()
        of_class = {i: max(float(duals[n]), 0.0) for n, c in enumerate(self.classes) for i in c.posts}
        return [of_class[i] for i in range(len(self.task.post_lengths))]

    def _best_in(self, table: Table, worth: float, piece: float, kind: int) -> tuple[Floats, Ints]:
        """Return the most that any room of a stick is worth, its rest to beams, and the room for posts.

        `worth` is that of a metre for beams, `piece` what a piece of them costs.
        """
        best = table.best
        room = np.arange(len(best))
        if worth <= 0 or not self.task.kinds[kind].for_beams:
            return best, room
        rate = worth * self.cell_m
        short = math.floor(self.least_m / self.cell_m)
        free = best - rate * room
        top = np.maximum.accumulate(free)
        first = np.where(free >= top, room, 0)
        first = np.maximum.accumulate(first)
        split, value = room.copy(), best.copy()
        if short < len(best):
            with_beam = np.full(len(best), -np.inf)
            with_beam[short:] = top[: len(best) - short] + rate * room[short:] - self.shy - piece
            use = with_beam > value
            split[short:] = np.where(use[short:], first[: len(best) - short], split[short:])
            value = np.where(use, with_beam, value)
        return value, split

    def price(self, duals: Floats, left: Ints, *, relaxed: bool, take: bool = True) -> bool:
        """Take up loads that improve the program, the best with each class; whether there were any.

        Or only raise the bound, where not to `take` any. `relaxed` takes posts for a little shorter than
        they are, whole cells of the table: then no load is missed, and the duals shrunk until none is worth
        more than it costs prove a bound.
        """
        cells = self.down if relaxed else self.up
        values = np.maximum(duals[: self.beam_row], 0.0)
        worth = max(float(duals[self.beam_row]), 0.0)
        piece = max(-float(duals[self.piece_row]), 0.0)
        table = Table(cells, left, values, self.cells + 1, trace=take)
        grew, shrink = False, 1.0
        sums = float(values @ left) + worth * self.need_m - piece * self.most_beam_pieces
        for kind, stick in enumerate(self.task.kinds):
            many = min(float(duals[self.beam_row + 1 + kind]), 0.0)
            room = self._room(kind, relaxed=relaxed)
            value, split = self._best_in(table, worth, piece, kind)
            alone = piece if self.counts(()) else 0.0
            most = max(worth * room * self.cell_m - alone, 0.0) if stick.for_beams else 0.0
            if stick.for_posts:
                most = max(most, float(value[room]))
            if stick.for_posts and take:
                needed = self.goal.weights[kind] - many
                wanted = np.flatnonzero((left > 0) & (cells <= room) & (values > 0))
                gain = values[wanted] + value[room - cells[wanted]] - needed
                wanted = wanted[gain > GAIN * needed]
                rest = split[room - cells[wanted]]
                for n, others in zip(wanted, table.traced(rest), strict=True):
                    classes = [int(n)]
                    for other in others:
                        if classes.count(other) < left[other]:
                            classes.append(other)
                    grew |= self._add(kind, tuple(sorted(classes)), relaxed=relaxed)
            if stick.count is not None:
                # What a stick on hand is worth more than it costs is taken off as often as it is there.
                sums += stick.count * min(many, self.goal.weights[kind] - most)
            elif most > self.goal.weights[kind]:
                shrink = min(shrink, self.goal.weights[kind] / most)
        if relaxed:
            self.bound = max(self.bound, sums * shrink)
        return grew

    def _room(self, kind: int, *, relaxed: bool) -> int:
        """Return the cells of a stick."""
        cells = self.task.room_m(kind) / self.cell_m
        return math.ceil(cells + SNAP_M / self.cell_m) if relaxed else math.floor(cells + 1e-9)

    def solve(self, known: float, enough: float = INFINITE) -> bool:
        """Price until no load improves the program or its optimum, rounded up, is down to `known`.

        Or until the bound, rounded up, reaches `enough`, which is looked at now and then. False where it
        takes too long and so has not come so far.
        """
        turns = TURNS // len(self.copies)
        for n in range(1, ROUNDS + 1):
            _, duals = self.solved(turns)
            turns -= self.solver.getInfo().simplex_iteration_count
            if turns <= 0:
                return False
            if up(self.optimum, self.goal.step) <= known + self.goal.step / 2:
                return True
            if n % LOOKED == 0 and enough < INFINITE:
                self.price(duals, self.copies, relaxed=True, take=False)
                if up(self.bound, self.goal.step) >= enough - self.goal.step / 2:
                    return True
            if not self.price(duals, self.copies, relaxed=False):
                return True
        return False

    def settle(self) -> None:
        """Let no post take the place of a longer one any more, which loses beams what it is shorter by.

        And price again; only where beams are cut, and there are few posts, as it takes long.
        """
        if self.need_m <= 0 or self.copies.sum() > FEW_POSTS:
            return
        for column in range(self.first_place, self.stand_ins):
            self.solver.changeColBounds(column, 0.0, 0.0)
        for _ in range(ROUNDS):
            _, duals = self.solved()
            if not self.price(duals, self.copies, relaxed=False):
                return

    def prove(self, enough: float, known: float = 0.0) -> None:
        """Raise the bound until no more can be proven so, or rounded up it reaches `enough`.

        Or until it is seen that it cannot get above `known`.
        """
        self.ask(self.copies, self.need_m, self.task.on_hand)
        turns = TURNS // len(self.copies)
        for _ in range(ROUNDS):
            _, duals = self.solved(turns)
            turns -= self.solver.getInfo().simplex_iteration_count
            if up(self.optimum, self.goal.step) <= known + self.goal.step / 2:
                return
            grew = self.price(duals, self.copies, relaxed=True)
            if not grew or turns <= 0 or up(self.bound, self.goal.step) >= enough - self.goal.step / 2:
                return

    def ask(self, left: Ints, need: float, on_hand: Sequence[float], pieces: int | None = None) -> None:
        """Ask for what is still left; of beams in so many pieces at most, all that may be if not said."""
        most = self.most_beam_pieces if pieces is None else pieces
        self.solver.changeRowBounds(self.piece_row, 0.0, float(most))
        for n, many in enumerate(left):
            self.solver.changeRowBounds(n, float(many), INFINITE)
        self.solver.changeRowBounds(self.beam_row, need, INFINITE)
        for kind, many in enumerate(on_hand):
            self.solver.changeRowBounds(self.beam_row + 1 + kind, 0.0, many)
