"""The most that posts are worth in any part of a stick, by a table over its length for all posts at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Table:
    """The most that posts are worth in any part of a stick: each class as often as it has posts."""

    def __init__(self, weights: Ints, copies: Ints, values: Floats, cells: int, *, trace: bool) -> None:
        self.weights = weights
        self.best = np.zeros(cells + 1)
        self.items: list[int] = []
        self.taken: list[NDArray[np.bool_]] = []
        order = np.argsort(-values / weights, kind="stable")
        for n in order[::-1]:
            w, v = int(weights[n]), float(values[n])
            if v <= 0:
                continue
            for _ in range(min(int(copies[n]), cells // w)):
                other = self.best[:-w] + v
                better = other > self.best[w:] + 1e-12
                if not better.any():
                    break
                if trace:
                    taken = np.zeros(cells + 1, dtype=bool)
                    taken[w:] = better
                    self.taken.append(taken)
                    self.items.append(int(n))
                np.copyto(self.best[w:], other, where=better)

    def traced(self, rooms: Ints) -> list[list[int]]:
        """Return the classes that make up the best in each of these rooms."""
        rooms = rooms.copy()
        found: list[list[int]] = [[] for _ in rooms]
        for item, taken in zip(reversed(self.items), reversed(self.taken), strict=True):
            hit = np.flatnonzero(taken[rooms])
            for k in hit:
                found[k].append(item)
            rooms[hit] -= self.weights[item]
        return found
