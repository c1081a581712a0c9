"""A sparse symmetric factor in dense blocks: its inverse at its own places, and many solutions at once.

Neighbouring columns of a factor ``L D Lᵀ`` mostly have the same rows below them: together they are a
supernode, one dense triangle on the diagonal and one dense block below. Work on blocks runs at the speed of
dense products, where column by column, or one right-hand side at a time, it waits for memory.

Source: J. W. H. Liu, E. G. Ng, B. W. Peyton, On finding supernodes for sparse matrix computations, SIAM J.
Matrix Anal. Appl. 14 (1993) 242 (from memory); K. Takahashi, J. Fagan, M.-S. Chin, Formation of a sparse bus
impedance matrix, 8th PICA Conference (1973) (from memory); A. M. Erisman and W. F. Tinney, Communications of
the ACM 18 (1975) 177 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.symmetric import Factor

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

AT_ONCE = 64
"""Right-hand sides solved together: wide enough for dense products, few enough that the rows of a block stay
in the processor's cache."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Supernode:
    """Columns of the factor from `first` up to `last`, with the same rows below them."""

    first: int
    last: int
    rows: Ints
    """(r,) below the columns, ascending."""
    inverse: Floats
    """(k, k), of the unit lower triangle on the diagonal."""
    below: Floats
    """(r, k)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlockFactor:
    """``L D Lᵀ`` of a symmetric matrix with its unknowns in another order."""

    place: Ints
    """(n,) where each unknown stands in the order of the factor."""
    starts: Ints
    """(n + 1,) where each column of the factor begins among its entries."""
    rows: Ints
    """Of the entries: the diagonal first, then what is below it, ascending."""
    pivots: Floats
    """(n,), D."""
    nodes: tuple[Supernode, ...]

    def __len__(self) -> int:
        return len(self.place)

    def solve(self, right: Floats) -> Floats:
        """Return the solutions (n, m) for right-hand sides (n, m)."""
        found = np.empty_like(right)
        for begin in range(0, right.shape[1], AT_ONCE):
            some = slice(begin, begin + AT_ONCE)
            x = np.empty((len(self), right[:, some].shape[1]))
            x[self.place] = right[:, some]
            self._solve(x)
            found[:, some] = x[self.place]
        return found

    def _solve(self, x: Floats) -> None:
        """Solve in place, in the order of the factor."""
        for node in self.nodes:
            here = x[node.first : node.last]
            if not here.any():
                continue
            if len(here) > 1:
                here[:] = node.inverse @ here
            if len(node.rows):
                x[node.rows] -= node.below @ here
        x /= self.pivots[:, None]
        for node in reversed(self.nodes):
            here = x[node.first : node.last]
            if len(node.rows):
                here -= node.below.T @ x[node.rows]
            if len(here) > 1:
                here[:] = node.inverse.T @ here

    def inverse(self) -> Floats:
        """Return the inverse matrix at the places of the factor's entries.

        With I the rows below a supernode K and ``Y = L[I, K]·L[K, K]⁻¹``: ``Z[I, K] = -Z[I, I]·Y`` and
        ``Z[K, K] = L[K, K]⁻ᵀ·D⁻¹·L[K, K]⁻¹ - Yᵀ·Z[I, K]``, from the last supernode to the first. ``Z[I, I]``
        stands in the block of the supernode that holds the first of I, which is kept until nothing more
        hangs on it.
        """
        found = np.empty(len(self.rows))
        owner = np.repeat(np.arange(len(self.nodes)), [node.last - node.first for node in self.nodes])
        hanging = np.bincount(
            [owner[node.rows[0]] for node in self.nodes if len(node.rows)], minlength=len(self.nodes)
        )
        blocks: dict[int, Floats] = {}
        for number in range(len(self.nodes) - 1, -1, -1):
            node = self.nodes[number]
            k, r = node.last - node.first, len(node.rows)
            block = np.empty((k + r, k + r))
            block[:k, :k] = node.inverse.T @ (node.inverse / self.pivots[node.first : node.last, None])
            if r:
                parent = int(owner[node.rows[0]])
                at = _within(self.nodes[parent], node.rows)
                inner = blocks[parent][at[:, None], at]
                y = node.below @ node.inverse
                block[k:, :k] = -inner @ y
                block[:k, :k] -= y.T @ block[k:, :k]
                block[:k, k:] = block[k:, :k].T
                block[k:, k:] = inner
                hanging[parent] -= 1
                if not hanging[parent]:
                    del blocks[parent]
            if hanging[number]:
                blocks[number] = block
            entries = slice(self.starts[node.first], self.starts[node.last])
            found[entries] = block[:k].ravel() if k == 1 else block[:k][_from_diagonal(k, r)]
        return found


def _inverse(lower: Floats) -> Floats:
    """Return the inverse of a unit lower triangle."""
    if len(lower) == 2:
        return np.array([[1.0, 0.0], [-lower[1, 0], 1.0]])
    return np.tril(np.linalg.inv(lower))


def _from_diagonal(k: int, r: int) -> NDArray[np.bool_]:
    """Return which entries of a supernode's columns, told row by row, stand on the diagonal and below it."""
    return np.arange(k + r)[None, :] >= np.arange(k)[:, None]


def _within(node: Supernode, rows: Ints) -> Ints:
    """Return where rows stand in the block of a supernode: its columns first, then the rows below them."""
    k = node.last - node.first
    return np.where(rows < node.last, rows - node.first, k + np.searchsorted(node.rows, rows))


def block_factor(factor: Factor) -> BlockFactor:
    """Return a factor in blocks."""
    starts, rows, values = factor.lower()
    firsts = _firsts(starts, rows)
    nodes = []
    for first, last in zip(firsts, [*firsts[1:], len(starts) - 1], strict=True):
        k = last - first
        r = int(starts[first + 1] - starts[first]) - k
        entries = values[starts[first] : starts[last]]
        if k == 1:
            below, inverse = entries[1:, None], np.ones((1, 1))
        else:
            block = np.zeros((k, k + r))
            block[_from_diagonal(k, r)] = entries
            below, inverse = block[:, k:].T, _inverse(block[:, :k].T)
        nodes.append(
            Supernode(
                first=first,
                last=last,
                rows=rows[starts[first] + k : starts[first + 1]],
                inverse=inverse,
                below=below,
            )
        )
    return BlockFactor(
        place=np.argsort(factor.order),
        starts=starts,
        rows=rows,
        pivots=factor.pivots,
        nodes=tuple(nodes),
    )


def _firsts(starts: Ints, rows: Ints) -> list[int]:
    """Return the first column of each supernode: those whose rows are not the rest of the column before's."""
    count = np.diff(starts)
    second = rows[np.minimum(starts[:-1] + 1, len(rows) - 1)]
    goes_on = (count[:-1] == count[1:] + 1) & (second[:-1] == np.arange(1, len(count)))
    return [0, *(np.flatnonzero(~goes_on) + 1).tolist()] if len(count) else []
