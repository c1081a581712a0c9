"""What many sticks have left over, a little each, gathered in one until it takes the last pieces of another.

A stick with something left takes, for one of its pieces, a longer one of another stick; then that one has it
left, and what it had before too. Among thousands of pieces there is nearly always one just so much longer, so
hardly anything stays behind, and in the end what was left in all holds the pieces of a stick that was hardly
used. A common way to improve packings, no source.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from staking.pipes.goal import Goal
from staking.pipes.post_classes import HAIR_M, Filled
from staking.pipes.task import Task

LOOKED_AT = 60
"""Pieces looked at for an exchange, the nearest ones below what would fill the stick."""
STEPS = 20
"""Exchanges at most, times the number of sticks."""
REST = 0.02
"""So many exchanges, times the number of sticks, a stick that was filled is left alone."""
CARE = 0.5
"""What counts that a stick has left beforehand, against what stays behind."""


def rolled(task: Task, goal: Goal, sticks: Sequence[Filled], bound: float) -> list[Filled]:
    """Return the same posts in fewer sticks, or in as many of which one holds less.

    Parameters
    ----------
    task
        Without beams.
    bound
        With no more than this sum of weights nothing is done.
    """
    found = list(sticks)
    while sum(goal.weights[f.kind] for f in found) > bound + goal.step / 2:
        now = len(found)
        found = _Rolling(task, found).gathered()
        if len(found) == now:
            break
    return found


class _Rolling:
    """Sticks with their pieces, all pieces by length, and what each stick has left."""

    def __init__(self, task: Task, sticks: Sequence[Filled]) -> None:
        self.kinds = [f.kind for f in sticks]
        self.numbers = [i for f in sticks for i in f.posts]
        """Of each piece the number of its length."""
        self.lengths = [task.post_lengths[i].length_m for i in self.numbers]
        self.stick = [n for n, f in enumerate(sticks) for _ in f.posts]
        """Of each piece the stick that it lies in."""
        self.inside: list[set[int]] = [set() for _ in sticks]
        for piece, n in enumerate(self.stick):
            self.inside[n].add(piece)
        self.left = [
            task.room_m(f.kind) - sum(self.lengths[p] + task.kerf_m for p in pieces)
            for f, pieces in zip(sticks, self.inside, strict=True)
        ]
        self.gone: set[tuple[int, int]] = set()
        """Pieces with sticks that gave them away: they do not come back, or all would go in a circle."""
        self.kerf_m = task.kerf_m
        self.order = sorted(range(len(self.lengths)), key=lambda p: (self.lengths[p], p))
        self.rising = [self.lengths[p] for p in self.order]

    def gathered(self) -> list[Filled]:
        """Return the sticks when all pieces that may have left the one that holds least."""
        empty = min(range(len(self.left)), key=lambda n: (sum(self.lengths[p] for p in self.inside[n]), n))
        waiting = sorted(self.inside[empty], key=lambda p: (-self.lengths[p], p))
        if sum(self.left) - self.left[empty] >= sum(self.lengths[p] + self.kerf_m for p in waiting):
            self._roll(empty, waiting)
        return [
            Filled(kind=kind, posts=tuple(sorted(self.numbers[p] for p in pieces)), left_m=0.0)
            for kind, pieces in zip(self.kinds, self.inside, strict=True)
            if pieces
        ]

    def _roll(self, empty: int, waiting: list[int]) -> None:
        """Roll on what is left from stick to stick, and lay waiting pieces where they fit."""
        sticks, pause = len(self.left), round(REST * len(self.left))
        last = [-pause - 1] * sticks
        last[empty] = STEPS * sticks
        at: int | None = None
        for step in range(STEPS * sticks):
            if at is None:
                free = [n for n in range(sticks) if last[n] < step - pause]
                at = max(free, key=lambda n: (self.left[n], -n), default=None)
            if at is None:
                return
            last[at] = step
            waiting = [piece for piece in waiting if not self._placed(piece, at)]
            if not waiting:
                return
            at = self._rolled_on(at, last, step - pause)

    def _placed(self, piece: int, stick: int) -> bool:
        """Lay a piece into a stick if it has room for it."""
        need = self.lengths[piece] + self.kerf_m
        if need > self.left[stick] + HAIR_M:
            return False
        self.left[stick] -= need
        self.inside[self.stick[piece]].remove(piece)
        self.inside[stick].add(piece)
        self.stick[piece] = stick
        return True

    def _rolled_on(self, stick: int, last: Sequence[int], before: int) -> int | None:
        """Exchange a piece of a stick for a longer one, and return whose that was; None where there is none.

        Only with sticks that were filled last `before` this step.
        """
        best = 0.0
        change: tuple[int, int] | None = None
        for short in sorted(self.inside[stick]):
            end = bisect_right(self.rising, self.lengths[short] + self.left[stick] + HAIR_M)
            for long in self.order[max(end - LOOKED_AT, 0) : end]:
                more, there = self.lengths[long] - self.lengths[short], self.stick[long]
                back = (long, stick) in self.gone or (short, there) in self.gone
                if last[there] < before and more > 0 and not back and more + CARE * self.left[there] > best:
                    best, change = more + CARE * self.left[there], (short, long)
        if change is None:
            return None
        short, long = change
        there, more = self.stick[long], self.lengths[long] - self.lengths[short]
        for piece, source, target in ((short, stick, there), (long, there, stick)):
            self.inside[source].remove(piece)
            self.inside[target].add(piece)
            self.stick[piece] = target
            self.gone.add((piece, source))
        self.left[stick] -= more
        self.left[there] += more
        return there
