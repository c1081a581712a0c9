"""Covariances of many unknowns, whole where they are few and asked for in parts where they are many."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from staking.base.triplets import Triplets

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class InParts(Protocol):
    """A covariance too large to be kept whole."""

    def elements(self, i: Ints, j: Ints) -> Floats:
        """Return elements (k,) at places (k,) and (k,)."""

    def carried(self, carry: Triplets) -> Floats:
        """Return the (k, k) covariance of linear functions; `carry` is (k, n)."""

    def across(self, carry: Triplets, other: Triplets) -> Floats:
        """Return the (k, l) covariance of functions with others; `carry` is (k, n), `other` (l, n)."""

    def times(self, columns: Floats) -> Floats:
        """Return the (n, k) product with columns (n, k)."""

    def __len__(self) -> int: ...


Covariance = NDArray[np.float64] | InParts
"""An (n, n) array, or what answers for its parts."""


def elements(cov: Covariance, i: Ints, j: Ints) -> Floats:
    """Return elements (k,) of a covariance at places (k,) and (k,)."""
    if isinstance(cov, np.ndarray):
        found: Floats = cov[i, j]
        return found
    return cov.elements(i, j)


def variances(cov: Covariance) -> Floats:
    """Return the (n,) diagonal."""
    at = np.arange(len(cov))
    return elements(cov, at, at)


def carried(cov: Covariance, carry: Triplets) -> Floats:
    """Return the (k, k) covariance of linear functions; `carry` is (k, n)."""
    if isinstance(cov, np.ndarray):
        at, some = carry.touched()
        found: Floats = some @ cov[np.ix_(at, at)] @ some.T
        return found
    return cov.carried(carry)


def across(cov: Covariance, carry: Triplets, other: Triplets) -> Floats:
    """Return the (k, l) covariance of linear functions with others; `carry` is (k, n), `other` (l, n)."""
    if isinstance(cov, np.ndarray):
        at, some = carry.touched()
        there, others = other.touched()
        found: Floats = some @ cov[np.ix_(at, there)] @ others.T
        return found
    return cov.across(carry, other)


def times(cov: Covariance, columns: Floats) -> Floats:
    """Return the product of a covariance with columns (n, k), or one (n,)."""
    if isinstance(cov, np.ndarray):
        found: Floats = cov @ columns
        return found
    return cov.times(columns.reshape(len(cov), -1)).reshape(columns.shape)


def part(cov: Covariance, at: Ints) -> Floats:
    """Return the (k, k) covariance of some unknowns."""
    if isinstance(cov, np.ndarray):
        return cov[np.ix_(at, at)]
    carry = Triplets((len(at), len(cov)))
    carry[np.arange(len(at)), at] = 1.0
    return cov.carried(carry)


def some(cov: Covariance, at: Ints) -> Covariance:
    """Return the covariance of some unknowns, whole or to be asked for in parts as the one given."""
    if isinstance(cov, np.ndarray):
        whole = part(cov, at)
        whole.setflags(write=False)
        return whole
    carry = Triplets((len(at), len(cov)))
    carry[np.arange(len(at)), at] = 1.0
    return Functions(cov=cov, carry=carry, known=np.ones(len(at), dtype=bool))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Functions:
    """The covariance of linear functions of unknowns, NaN for those that are not known."""

    cov: InParts
    """Of the n unknowns."""
    carry: Triplets
    """(k, n)."""
    known: NDArray[np.bool_]
    """(k,)."""

    def __len__(self) -> int:
        return self.carry.shape[0]

    def elements(self, i: Ints, j: Ints) -> Floats:
        """Return elements (k,) at places (k,) and (k,)."""
        rows, columns, values = self.carry.entries()
        terms = np.bincount(rows, minlength=len(self))
        column, factor = np.zeros(len(self), dtype=np.int64), np.zeros(len(self))
        column[rows], factor[rows] = columns, values
        found = np.zeros(len(i))
        plain = (terms[i] == 1) & (terms[j] == 1)
        found[plain] = (
            factor[i[plain]] * factor[j[plain]] * self.cov.elements(column[i[plain]], column[j[plain]])
        )
        # Functions of several unknowns are few: the ends of held directions.
        mixed = np.flatnonzero(((terms[i] > 1) & (terms[j] > 0)) | ((terms[j] > 1) & (terms[i] > 0)))
        if len(mixed):
            pairs = np.stack([i[mixed], j[mixed]])
            at, place = np.unique(pairs, return_inverse=True)
            place = place.reshape(pairs.shape)
            found[mixed] = self.cov.carried(self.carry.rows_at(at))[place[0], place[1]]
        found[~(self.known[i] & self.known[j])] = np.nan
        return found

    def carried(self, carry: Triplets) -> Floats:
        """Return the (m, m) covariance of linear functions of these; `carry` is (m, k)."""
        found = self.cov.carried(self._through(carry))
        lost = self._lost(carry)
        found[lost] = np.nan
        found[:, lost] = np.nan
        return found

    def across(self, carry: Triplets, other: Triplets) -> Floats:
        """Return the (m, l) covariance of functions of these with others; (m, k) and (l, k)."""
        found = self.cov.across(self._through(carry), self._through(other))
        found[self._lost(carry)] = np.nan
        found[:, self._lost(other)] = np.nan
        return found

    def _through(self, carry: Triplets) -> Triplets:
        """Return functions of these (m, k) as functions of the unknowns (m, n)."""
        product = (carry.sparse() @ self.carry.sparse()).tocoo()
        found = Triplets((carry.shape[0], self.carry.shape[1]))
        found[product.row, product.col] = product.data
        return found

    def _lost(self, carry: Triplets) -> NDArray[np.bool_]:
        """Return which functions (m,) of these hold one that is not known."""
        rows, columns, _ = carry.entries()
        lost = np.zeros(carry.shape[0], dtype=bool)
        lost[rows[~self.known[columns]]] = True
        return lost

    def times(self, columns: Floats) -> Floats:
        """Return the product with columns (k, m); what is not known counts as held."""
        through = self.carry.sparse()
        product: Floats = through @ self.cov.times(through.T @ columns)
        return product
