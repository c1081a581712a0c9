"""Normal matrices of sparse designs factored, their unknowns in an order that keeps the factor sparse.

The order is by minimum degree. Unknowns that most others hang on, as the pins at the ends of a line from
which every point is measured, make that search slow and belong at the end in any case: they are set aside
before. Designs of one pattern are factored again and again, step by step of an adjustment; what follows from
the pattern alone is kept.

Source: P. R. Amestoy, T. A. Davis, I. S. Duff, An approximate minimum degree ordering algorithm, SIAM J.
Matrix Anal. Appl. 17 (1996) 886, on dense rows (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array, csr_array, eye_array
from scipy.sparse.linalg import splu

if TYPE_CHECKING:
    from scipy.sparse.linalg import SuperLU

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CROWDED = 10.0
"""Times the root of the number of unknowns: one joined to more others is set aside, unless most are."""
KEPT = 4
"""Patterns of which that is kept: a few megabytes each, for 10^4 unknowns."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Factor:
    """``L D Lᵀ`` of a normal matrix with its unknowns in another order."""

    lu: SuperLU
    order: Ints
    """(n,) the unknowns in the order of the factor."""
    design: csr_array
    """Whose normal matrix it is, but for what was added to the diagonal."""

    @property
    def pivots(self) -> Floats:
        """Return D (n,)."""
        return self.lu.U.diagonal()

    def solve(self, right: Floats) -> Floats:
        """Return the solution for one right-hand side (n,) or for a few (n, m)."""
        found = np.empty_like(right)
        found[self.order] = self.lu.solve(right[self.order])
        return found

    def lower(self) -> tuple[Ints, Ints, Floats]:
        """Return L by columns: where each begins, rows ascending, and values.

        With a place for every pair of unknowns that a reading joins and for all that elimination fills from
        them, those too whose value came out as nought.
        """
        assert np.array_equal(self.lu.perm_c, np.arange(len(self.order)))
        assert np.array_equal(self.lu.perm_r, self.lu.perm_c), "pivots were taken off the diagonal"
        filled = _filled(*_told(self.design))
        starts, rows = filled.starts, filled.rows
        lower = csc_array(self.lu.L)
        lower.sort_indices()
        if lower.nnz == len(rows):
            return starts, rows, lower.data
        count = len(self.order)
        keys = np.repeat(np.arange(count), np.diff(starts)) * count + rows
        had = np.repeat(np.arange(count), np.diff(lower.indptr)) * count + lower.indices
        values = np.zeros(len(rows))
        values[np.searchsorted(keys, had)] = lower.data
        return starts, rows, values


def factored(design: csr_array, added: float = 0.0) -> Factor:
    """Return the factor of the normal matrix of a design (m, n), with a number added to its diagonal.

    Raises
    ------
    RuntimeError
        When it is exactly singular.
    """
    design.sort_indices()
    order = _filled(*_told(design)).order
    columns = csc_array(design)[:, order]
    normal = csc_array(columns.T @ columns)
    if added:
        normal = csc_array(normal + added * eye_array(len(order)))
    return Factor(lu=_factor(normal, "NATURAL"), order=order, design=design)


def _factor(matrix: csc_array, order: Literal["NATURAL", "MMD_AT_PLUS_A"]) -> SuperLU:
    return splu(matrix, permc_spec=order, diag_pivot_thresh=0.0, options={"SymmetricMode": True})


def _told(design: csr_array) -> tuple[int, bytes, bytes]:
    """Return the pattern of a design: its unknowns, where each row begins, and the columns."""
    return (
        design.shape[1],
        design.indptr.astype(np.int32).tobytes(),
        design.indices.astype(np.int32).tobytes(),
    )


def _springs(count: int, starts: bytes, columns: bytes) -> csc_array:
    """Return a matrix with the normal matrix's pattern in whose factor nothing cancels.

    That of springs between the unknowns, each held a little: the stiffness of springs in a row or side by
    side is never nought.
    """
    indptr, indices = np.frombuffer(starts, dtype=np.int32), np.frombuffer(columns, dtype=np.int32)
    touched = csr_array((np.ones(len(indices)), indices, indptr), shape=(len(indptr) - 1, count))
    joined = csc_array(touched.T @ touched)
    joined.data[:] = -1.0
    joined.setdiag(np.diff(joined.indptr) + 1.0)
    return joined


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Filled:
    """What follows from a pattern."""

    order: Ints
    """(n,) the unknowns in the order of the factor."""
    starts: Ints
    """(n + 1,) where each column of the factor begins among its entries."""
    rows: Ints
    """Of the entries, ascending."""


@lru_cache(maxsize=KEPT)
def _filled(count: int, starts: bytes, columns: bytes) -> _Filled:
    """Return the order of the unknowns and the places of the factor's entries, for a pattern."""
    springs = _springs(count, starts, columns)
    degree = np.diff(springs.indptr)
    crowded = degree > CROWDED * np.sqrt(count)
    if crowded.sum() > count // 2:
        crowded[:] = False
    order: Ints = np.flatnonzero(~crowded)
    lu = _factor(springs if len(order) == count else csc_array(springs[order][:, order]), "MMD_AT_PLUS_A")
    # The factor goes through what hangs together branch by branch, and its entries stand so already.
    order = order[np.argsort(lu.perm_c)]
    if len(order) < count:
        order = np.concatenate([order, np.flatnonzero(crowded)])
        lu = _factor(csc_array(springs[order][:, order]), "NATURAL")
        order = order[np.argsort(lu.perm_c)]
    lower = csc_array(lu.L)
    lower.sort_indices()
    found = _Filled(order=order, starts=lower.indptr.astype(np.int64), rows=lower.indices.astype(np.int64))
    for array in (found.order, found.starts, found.rows):
        array.setflags(write=False)
    return found
