"""Weighted least squares of many unknowns: sparse normal equations, and the covariances that are wanted.

The normal matrix of unit columns is factored (`symmetric.py`); its inverse is taken at the places of the
factor alone (`supernodes.py`), which hold every pair of unknowns that a reading joins.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array, csr_array, diags_array, eye_array

from staking.base import symmetric
from staking.base.lsq import RankDeficient, Solution
from staking.base.supernodes import BlockFactor, block_factor
from staking.base.symmetric import Factor
from staking.base.triplets import Triplets

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
"""Functions whose covariance is made together: a few tens of megabytes for 10^4 unknowns."""


FEW = 16
"""Right-hand sides up to which scipy's factor is asked; going through blocks has to be worth it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Normal:
    """Factored normal equations of a design whose rows are weighted and whose columns have unit length."""

    weighted: csr_array
    scale: Floats
    """Length of each column before."""
    factor: Factor


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
    # Not by a product, which would leave out derivatives that are nought just here.
    weighted.data /= scale[weighted.indices]
    try:
        factor = symmetric.factored(weighted, damping)
        lost = int(np.count_nonzero(factor.pivots < PIVOT_TOLERANCE))
    except RuntimeError:  # exactly singular
        lost = 1
    if lost:
        raise RankDeficient(_null_columns(weighted, damping, lost))
    return Normal(weighted=weighted, scale=scale, factor=factor)


def _null_columns(weighted: csr_array, damping: float, lost: int) -> tuple[int, ...]:
    """Return the columns that the null space touches, by inverse iteration on a few more vectors."""
    count = weighted.shape[1]
    width = min(count, 2 * lost + 8)
    factor = symmetric.factored(weighted, damping + SHIFT)
    normal = csc_array(weighted.T @ weighted + damping * eye_array(count))
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
    factor: BlockFactor
    keys: Ints
    """Places ``column · n + row`` of the elements that are kept, in the order of the factor, ascending."""
    kept: Floats
    """Those elements, of unknowns scaled to unit columns."""

    def __len__(self) -> int:
        return len(self.normal.scale)

    def _places(self, i: Ints, j: Ints) -> tuple[Ints, NDArray[np.bool_]]:
        """Return where elements (k,) stand among those kept, and which are kept."""
        first, second = self.factor.place[i], self.factor.place[j]
        wanted = np.minimum(first, second) * len(self) + np.maximum(first, second)
        at = np.minimum(np.searchsorted(self.keys, wanted), len(self.keys) - 1)
        return at, self.keys[at] == wanted

    def _solved(self, right: Floats) -> Floats:
        """Return solutions (n, m) with unit columns; of few right-hand sides one after the other."""
        by = self.normal.factor if right.shape[1] <= FEW else self.factor
        return by.solve(right)

    def elements(self, i: Ints, j: Ints) -> Floats:
        """Return elements (k,) at places (k,) and (k,); those not kept are solved for."""
        at, there = self._places(i, j)
        found = self.kept[at]
        missing = np.flatnonzero(~there)
        columns, which = np.unique(j[missing], return_inverse=True)
        for begin in range(0, len(columns), AT_ONCE):
            some = columns[begin : begin + AT_ONCE]
            unit = np.zeros((len(self), len(some)))
            unit[some, np.arange(len(some))] = 1.0
            mine = (which >= begin) & (which < begin + AT_ONCE)
            found[missing[mine]] = self._solved(unit)[i[missing[mine]], which[mine] - begin]
        return found / (self.normal.scale[i] * self.normal.scale[j])

    def carried(self, carry: Triplets) -> Floats:
        """Return the (k, k) covariance of linear functions; `carry` is (k, n)."""
        touched, some = carry.touched()
        if len(touched) <= FEW:
            i, j = (place.ravel() for place in np.meshgrid(touched, touched))
            if self._places(i, j)[1].all():
                # As of one point, or of two that a reading joins.
                found: Floats = some @ self.elements(i, j).reshape(len(touched), len(touched)) @ some.T
                return found
        found = self.across(carry, carry)
        found += found.T.copy()
        found /= 2
        return found

    def across(self, carry: Triplets, other: Triplets) -> Floats:
        """Return the (k, l) covariance of linear functions with others; `carry` is (k, n), `other` (l, n)."""
        unscaled = diags_array(1.0 / self.normal.scale)
        rows, columns = csr_array(carry.sparse() @ unscaled), csr_array(other.sparse() @ unscaled)
        found = np.empty((rows.shape[0], columns.shape[0]))
        for begin in range(0, columns.shape[0], AT_ONCE):
            some = slice(begin, begin + AT_ONCE)
            found[:, some] = rows @ self._solved(columns[some].T.toarray())
        return found

    def times(self, columns: Floats) -> Floats:
        """Return the product with columns (n, k)."""
        scale = self.normal.scale[:, None]
        product: Floats = self._solved(columns / scale) / scale
        return product

    def leverage(self) -> Floats:
        """Return the (m,) diagonal of the hat matrix."""
        a = self.normal.weighted
        found = np.zeros(a.shape[0])
        count = np.diff(a.indptr)
        for size in np.unique(count):
            if size:
                some = np.flatnonzero(count == size)
                entries = a.indptr[some][:, None] + np.arange(size)
                i, j = np.triu_indices(size)
                # Of two unknowns in one reading the factor has the element.
                first, second = (a.indices[entries[:, k]].astype(np.int64) for k in (i, j))
                product = self.kept[self._places(first, second)[0]]
                product *= np.where(i == j, 1.0, 2.0) * a.data[entries[:, i]] * a.data[entries[:, j]]
                found[some] = product.sum(axis=1)
        return found


def covariance_of(normal: Normal) -> SparseCovariance:
    """Return the covariance of the unknowns, its elements taken where the factor has them."""
    factor = block_factor(normal.factor)
    column = np.repeat(np.arange(len(factor)), np.diff(factor.starts))
    return SparseCovariance(
        normal=normal, factor=factor, keys=column * len(factor) + factor.rows, kept=factor.inverse()
    )
