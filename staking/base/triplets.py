"""A matrix written place by place: as many entries as readings touch, whatever its size."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Triplets:
    """An (m, n) matrix of rows, columns and values; values written to the same place add up."""

    __slots__ = ("_parts", "shape")

    def __init__(self, shape: tuple[int, int]) -> None:
        self.shape = shape
        self._parts: list[tuple[Ints, Ints, Floats]] = []

    def __setitem__(self, place: tuple[ArrayLike, ArrayLike], values: ArrayLike) -> None:
        """Write values; rows, columns and values of one length, or one number for all."""
        rows, columns, numbers = np.broadcast_arrays(
            np.asarray(place[0], dtype=np.int64),
            np.asarray(place[1], dtype=np.int64),
            np.asarray(values, dtype=np.float64),
        )
        self._parts.append((rows.ravel(), columns.ravel(), numbers.ravel()))

    def entries(self) -> tuple[Ints, Ints, Floats]:
        """Return rows, columns and values."""
        if len(self._parts) != 1:
            empty = np.zeros(0, dtype=np.int64)
            parts = self._parts or [(empty, empty, np.zeros(0))]
            rows, columns, values = (np.concatenate(column) for column in zip(*parts, strict=True))
            self._parts = [(rows, columns, values)]
        return self._parts[0]

    def scaled(self, by: Floats) -> Triplets:
        """Return the matrix with each row multiplied by a number; `by` is (m,)."""
        rows, columns, values = self.entries()
        found = Triplets(self.shape)
        found[rows, columns] = values * by[rows]
        return found

    def rows_at(self, at: Ints) -> Triplets:
        """Return the (k, n) matrix of some rows, in the order asked for; a row may be asked for twice."""
        rows, columns, values = self.entries()
        order = np.argsort(rows, kind="stable")
        first = np.searchsorted(rows[order], at)
        count = np.searchsorted(rows[order], at, side="right") - first
        # Entry by entry: where its row begins, and how far on in that row it stands.
        on = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
        chosen = order[np.repeat(first, count) + on]
        found = Triplets((len(at), self.shape[1]))
        found[np.repeat(np.arange(len(at)), count), columns[chosen]] = values[chosen]
        return found

    def touched(self) -> tuple[Ints, Floats]:
        """Return the columns (c,) that have entries, ascending, and the matrix of these alone (m, c)."""
        rows, columns, values = self.entries()
        at, place = np.unique(columns, return_inverse=True)
        some = Triplets((self.shape[0], len(at)))
        some[rows, place] = values
        return at, some.dense()

    def dense(self) -> Floats:
        """Return the whole matrix."""
        rows, columns, values = self.entries()
        m, n = self.shape
        flat: Floats = np.bincount(rows * n + columns, weights=values, minlength=m * n).astype(np.float64)
        return flat.reshape(m, n)

    def sparse(self) -> csr_array:
        """Return the matrix as scipy keeps it, by rows."""
        from scipy.sparse import csr_array

        rows, columns, values = self.entries()
        return csr_array((values, (rows, columns)), shape=self.shape)


def triplets_of(matrix: Floats) -> Triplets:
    """Return a whole matrix as its entries that are not zero."""
    m, n = matrix.shape
    found = Triplets((m, n))
    rows, columns = np.nonzero(matrix)
    found[rows, columns] = matrix[rows, columns]
    return found


def diagonal(count: int) -> Triplets:
    """Return the identity."""
    found = Triplets((count, count))
    found[np.arange(count), np.arange(count)] = 1.0
    return found
