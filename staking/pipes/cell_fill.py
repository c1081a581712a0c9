"""What fills a stick best, in whole cells: posts by a table, pieces of beams of any length beside them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from staking.pipes.beam_runs import PAD, Worths
from staking.pipes.stick_table import Table

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MORE = 1e-12
"""What a piece must add, against rounding."""


class CellFill:
    """The most that one stick is worth by its cells, and what is in it.

    Parameters
    ----------
    table
        Posts and whole beams; None where the stick has none.
    worths
        Of pieces of beams; None where the stick has none.
    least
        Pieces of beams take no fewer cells than this.
    threads
        So many of these pieces at most, the ends of threaded beams; None of butted ones, of any number.
    """

    def __init__(
        self, table: Table | None, worths: Worths | None, least: int, cells: int, *, threads: int | None
    ) -> None:
        self.table, self.least, self.threaded = table, least, threads is not None
        posts = np.zeros(cells + 1) if table is None else table.best
        self.levels = [posts]
        self.taken: list[Ints] = []
        if worths is None or least > cells:
            return
        self.piece = worths.of[PAD : PAD + cells + 1]
        if threads is None:
            self._any_number()
            return
        for _ in range(threads):
            self._one_more()

    @property
    def top(self) -> Floats:
        """The most that each room is worth."""
        return self.levels[-1]

    @property
    def beside(self) -> Floats:
        """The most that each room is worth beside a piece of a beam."""
        return self.levels[-2] if self.threaded and len(self.levels) > 1 else self.levels[-1]

    def _one_more(self) -> None:
        """Lay one more piece of a beam into every room."""
        before = self.levels[-1]
        best, taken = before.copy(), np.zeros(len(before), dtype=np.int64)
        for cells in self._rising():
            worth = self.piece[cells]
            with_it = before[: len(before) - cells] + worth
            better = with_it > best[cells:] + MORE
            np.copyto(best[cells:], with_it, where=better)
            taken[cells:][better] = cells
        self.levels.append(best)
        self.taken.append(taken)

    def _rising(self) -> list[int]:
        """Return the lengths that are worth more than any shorter one."""
        worth = self.piece[self.least :]
        rises = np.flatnonzero(np.isfinite(worth) & (np.diff(worth, prepend=0.0) > 0))
        return [self.least + int(n) for n in rises]

    def _any_number(self) -> None:
        """Lay pieces of beams into every room, the room's last one after what fills the rest best."""
        best, taken = self.levels[-1].copy(), np.zeros(len(self.levels[-1]), dtype=np.int64)
        finite = np.flatnonzero(np.isfinite(self.piece))
        most = int(finite[-1]) if len(finite) else 0
        for room in range(self.least, len(best)):
            high = min(room, most)
            if high < self.least:
                break
            with_it = self.piece[self.least : high + 1] + best[room - high : room - self.least + 1][::-1]
            n = int(np.argmax(with_it))
            if with_it[n] > best[room] + MORE:
                best[room] = with_it[n]
                taken[room] = self.least + n
        self.levels.append(best)
        self.taken.append(taken)

    def traced(self, rooms: Sequence[int], *, beside: bool) -> list[tuple[list[int], list[int]]]:
        """Return posts' classes and pieces' cells that make up the best of each room, or that `beside`."""
        left = np.array(rooms, dtype=np.int64)
        pieces: list[list[int]] = [[] for _ in rooms]
        levels = self.taken[:-1] if beside and self.threaded else self.taken
        for n in range(len(rooms)):
            room = int(left[n])
            for taken in reversed(levels):
                while taken[room] > 0:
                    pieces[n].append(int(taken[room]))
                    room -= int(taken[room])
                    if self.threaded:
                        break
            left[n] = room
        posts = [[] for _ in rooms] if self.table is None else self.table.traced(left)
        return list(zip(posts, pieces, strict=True))
