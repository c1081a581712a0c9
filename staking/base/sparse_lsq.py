"""Weighted least squares of many unknowns: sparse normal equations, and the covariances that are wanted.

The normal matrix of unit columns is factored symmetrically in a minimum-degree order; its inverse is taken at
the places of the factor alone, which hold every pair of unknowns that a reading joins.

Source: K. Takahashi, J. Fagan, M.-S. Chin, Formation of a sparse bus impedance matrix, 8th PICA Conference
(1973) (from memory); A. M. Erisman and W. F. Tinney, Communications of the ACM 18 (1975) 177 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csc_array, csr_array, diags_array, eye_array
from scipy.sparse.linalg import splu

from staking.base.lsq import RankDeficient, Solution
from staking.base.triplets import Triplets

if TYPE_CHECKING:
    from scipy.sparse.linalg import SuperLU

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

PIVOT_TOLERANCE = 1e-11
"""Least pivot of the normal matrix of unit columns that still counts as rank: some 10^4 rounding units. The
factor of the design itself would be its root, 3·10^-6."""
SHIFT = 1e-9
"""Added to a singular normal matrix to find its null space: null vectors grow by its inverse a round, others
by at most the inverse of the least true eigenvalue."""
ROUNDS = 3
TOUCHED = 1e-3
"""Least share of a null vector that counts; below it lies what the rounds have not damped away."""
AT_ONCE = 256
"""Right-hand sides solved together: a few tens of megabytes for 10^4 unknowns."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Normal:
    """Factored normal equations of a design whose rows are weighted and whose columns have unit length."""

    weighted: csr_array
    scale: Floats
    """Length of each column before."""
    factor: SuperLU


def factored(design: Triplets, sd: Floats, damping: float = 0.0) -> Normal:
    """Return the factored normal equations.

    Raises
    ------
    RankDeficient
        When the observations do not determine all unknowns.
    """
    weighted = design.scaled(1.0 / sd).sparse()
    scale = np.sqrt(np.asarray((weighted * weighted).sum(axis=0)).ravel())
    if not np.all(scale > 0):
        raise RankDeficient(tuple(int(k) for k in np.flatnonzero(~(scale > 0))))
    weighted = csr_array(weighted @ diags_array(1.0 / scale))
    normal = csc_array(weighted.T @ weighted + damping * eye_array(len(scale)))
    try:
        factor = _symmetric(normal)
        lost = int(np.count_nonzero(factor.U.diagonal() < PIVOT_TOLERANCE))
    except RuntimeError:  # exactly singular
        lost = 1
    if lost:
        raise RankDeficient(_null_columns(normal, lost))
    return Normal(weighted=weighted, scale=scale, factor=factor)


def _symmetric(normal: csc_array) -> SuperLU:
    return splu(normal, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})


def _null_columns(normal: csc_array, lost: int) -> tuple[int, ...]:
    """Return the columns that the null space touches, by inverse iteration on a few more vectors."""
    count = normal.shape[0]
    width = min(count, 2 * lost + 8)
    factor = _symmetric(csc_array(normal + SHIFT * eye_array(count)))
    block = np.random.default_rng(0).standard_normal((count, width))
    for _ in range(ROUNDS):
        block, _ = np.linalg.qr(factor.solve(block))
    values, turn = np.linalg.eigh(block.T @ (normal @ block))
    null = block @ turn[:, values < SHIFT]
    touched = np.abs(null).max(axis=1, initial=0.0) > TOUCHED
    return tuple(int(k) for k in np.flatnonzero(touched)) or tuple(range(count))


def solved(design: Triplets, observed: Floats, sd: Floats) -> Solution:
    """Solve a weighted linear least-squares problem; parameters and errors as of the dense one."""
    normal = factored(design, sd)
    target = observed / sd
    a = normal.weighted
    x = normal.factor.solve(a.T @ target)
    x += normal.factor.solve(a.T @ (target - a @ x))
    misfit = a @ x - target
    cov = covariance_of(normal)
    return Solution(
        x=x / normal.scale,
        cov=cov,
        residuals=misfit * sd,
        leverage=cov.leverage(),
        vtpv=float(misfit @ misfit),
    )


def stepped(design: Triplets, observed: Floats, sd: Floats, damping: float = 0.0) -> Floats | None:
    """Return the solution for a step of an iteration; None when the unknowns are not determined."""
    try:
        normal = factored(design, sd, damping)
    except RankDeficient:
        return None
    step: Floats = normal.factor.solve(normal.weighted.T @ (observed / sd)) / normal.scale
    return step


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SparseCovariance:
    """The covariance of the unknowns of sparse normal equations, in parts."""

    normal: Normal
    keys: Ints
    """Places ``row · n + column`` of the elements that are kept, ascending."""
    kept: Floats
    """Those elements, of unknowns scaled to unit columns."""

    def __len__(self) -> int:
        return len(self.normal.scale)

    def elements(self, i: Ints, j: Ints) -> Floats:
        """Return elements (k,) at places (k,) and (k,); those not kept are solved for."""
        wanted = i * len(self) + j
        place = np.minimum(np.searchsorted(self.keys, wanted), len(self.keys) - 1)
        found = self.kept[place] / (self.normal.scale[i] * self.normal.scale[j])
        missing = np.flatnonzero(self.keys[place] != wanted)
        columns, which = np.unique(j[missing], return_inverse=True)
        for begin in range(0, len(columns), AT_ONCE):
            some = columns[begin : begin + AT_ONCE]
            unit = np.zeros((len(self), len(some)))
            unit[some, np.arange(len(some))] = 1.0 / self.normal.scale[some]
            solved = self.normal.factor.solve(unit)
            mine = missing[(which >= begin) & (which < begin + AT_ONCE)]
            found[mine] = solved[i[mine], np.searchsorted(some, j[mine])] / self.normal.scale[i[mine]]
        return found

    def carried(self, carry: Triplets) -> Floats:
        """Return the (k, k) covariance of linear functions; `carry` is (k, n)."""
        scaled = csr_array(carry.sparse() @ diags_array(1.0 / self.normal.scale))
        found = np.empty((carry.shape[0], carry.shape[0]))
        for begin in range(0, carry.shape[0], AT_ONCE):
            some = slice(begin, begin + AT_ONCE)
            found[:, some] = scaled @ self.normal.factor.solve(scaled[some].T.toarray())
        return (found + found.T) / 2

    def times(self, columns: Floats) -> Floats:
        """Return the product with columns (n, k)."""
        scale = self.normal.scale[:, None]
        product: Floats = self.normal.factor.solve(columns / scale) / scale
        return product

    def leverage(self) -> Floats:
        """Return the (m,) diagonal of the hat matrix."""
        count = len(self)
        inverse = csr_array((self.kept, (self.keys // count, self.keys % count)), shape=(count, count))
        a = self.normal.weighted
        return np.asarray((a @ inverse).multiply(a).sum(axis=1)).ravel()


def covariance_of(normal: Normal) -> SparseCovariance:
    """Return the covariance of the unknowns, its elements taken where the factor has them."""
    rows, columns, values = _selected_inverse(normal.factor, csc_array(normal.weighted.T @ normal.weighted))
    keys = rows * len(normal.scale) + columns
    order = np.argsort(keys)
    return SparseCovariance(normal=normal, keys=keys[order], kept=values[order])


def _selected_inverse(factor: SuperLU, normal: csc_array) -> tuple[Ints, Ints, Floats]:
    """Return rows, columns and values of the inverse of a symmetric matrix at the places of its factor.

    With ``L D Lᵀ`` and I the rows of column j of L below j: ``Z[I, j] = -Z[I, I]·L[I, j]`` and
    ``Z[j, j] = 1/d - L[I, j]·Z[I, j]``, from the last column to the first. ``Z[I, I]`` stands in the block of
    the column's parent in the elimination tree, which is kept until its last child is done.
    """
    assert np.array_equal(factor.perm_r, factor.perm_c), "a symmetric factor took its pivots off the diagonal"
    count = normal.shape[0]
    back = np.argsort(factor.perm_c).astype(np.int64)
    below, children = _eliminated(csc_array(normal[back][:, back]))
    lower, pivots = csc_array(factor.L), factor.U.diagonal()
    blocks: dict[int, Floats] = {}
    rows: list[ArrayLike] = []
    columns: list[ArrayLike] = []
    values: list[Floats] = []
    for j in range(count - 1, -1, -1):
        under = below[j]
        column = np.empty(len(under) + 1)
        if len(under):
            parent = int(under[0])
            span = slice(lower.indptr[j], lower.indptr[j + 1])
            real = (lower.indices[span] > j) & (lower.data[span] != 0)
            l_j = np.zeros(len(under))
            l_j[np.searchsorted(under, lower.indices[span][real])] = lower.data[span][real]
            # The parent's block holds the parent first, then what is below it.
            at = np.concatenate(([0], np.searchsorted(below[parent], under[1:]) + 1))
            inner = blocks[parent][np.ix_(at, at)]
            column[1:] = -inner @ l_j
            column[0] = 1.0 / pivots[j] - l_j @ column[1:]
            children[parent] -= 1
            if not children[parent]:
                del blocks[parent]
        else:
            column[0] = 1.0 / pivots[j]
        if children[j]:
            block = np.empty((len(column), len(column)))
            block[:, 0] = block[0] = column
            if len(under):
                block[1:, 1:] = inner
            blocks[j] = block
        # Below the diagonal and on it, then above it.
        here = np.full(len(under), j)
        rows += [[j], under, here]
        columns += [[j], here, under]
        values += [column, column[1:]]
    return back[np.concatenate(rows)], back[np.concatenate(columns)], np.concatenate(values)


def _eliminated(permuted: csc_array) -> tuple[list[Ints], Ints]:
    """Return the rows of the factor below each diagonal place, and how many columns hang on each.

    Taken from the pattern and not from the factor's values, where a chance zero would break the tree.
    """
    count = permuted.shape[0]
    permuted.sort_indices()
    below: list[Ints] = []
    pieces: list[list[Ints]] = [[] for _ in range(count)]
    children = np.zeros(count, dtype=np.int64)
    for j in range(count):
        own = permuted.indices[permuted.indptr[j] : permuted.indptr[j + 1]].astype(np.int64)
        under = np.unique(np.concatenate([own[own > j], *pieces[j]]))
        pieces[j] = []
        below.append(under)
        if len(under):
            parent = int(under[0])
            pieces[parent].append(under[1:])
            children[parent] += 1
    return below, children
