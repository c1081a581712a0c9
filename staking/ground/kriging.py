"""Universal kriging of shots with errors of their own: estimate, joint covariance, weights, left-out shots.

N. A. C. Cressie, *Statistics for Spatial Data* (Wiley, rev. ed. 1993), section 3.4 (universal kriging) and
3.2.1 (readings with error); E. H. Isaaks and R. M. Srivastava, *An Introduction to Applied Geostatistics*
(OUP, 1989), ch. 12; left-out shots in closed form: O. Dubrule, Mathematical Geology 15 (1983) 687-699. All
from memory; the tests rebuild each by an independent route.

Write Σ for the covariance of the ground at the shots plus that of their errors, F (n, p) for the drift at
the shots, k and f for the same at a place. The weights w solve ``Σ w + F μ = k`` and ``Fᵀ w = f``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from staking.ground.elevations import Elevations

Floats = NDArray[np.float64]
Drift = Callable[[Floats], Floats]
"""Plan positions (m, 2) to the drift's columns there (m, p)."""


class GroundCovariance(Protocol):
    """How the ground's departures from its drift go together."""

    def between(self, from_m: Floats, to_m: Floats) -> Floats:
        """Return the covariance (m, n) in m² of the ground at (m, 2) with that at (n, 2) places."""
        ...


NOISE_FLOOR_M = 1e-5
"""Least sd of a shot, 0.01 mm: far below any rod, and keeps Σ invertible where shots share a place."""
CHUNK = 16384
"""Distances worked on at a time: a block of 128 kB stays in the processor's cache, twice as fast as 4 MB."""
ESSENTIAL = 1e-9
"""A shot with less than this share of its weight left beside the drift determines the drift alone."""
TRIANGLE = 128
"""Triangular matrices up to this size are inverted whole; larger ones by halves."""


ROWS = 512
"""Rows of Σ made at a time, each up to its diagonal: beside Σ itself there is little more to keep."""
LARGE = 1000
"""Shots from which on Σ is turned into its factor and that into its inverse in place, by LAPACK through
scipy, which a yard does not load."""


def _sigma(en_m: Floats, noise_m2: Floats, covariance: GroundCovariance) -> Floats:
    """Return Σ (n, n), of which only the part up to the diagonal is right."""
    sigma = np.array(noise_m2)
    for begin in range(0, len(en_m), ROWS):
        end = min(begin + ROWS, len(en_m))
        sigma[begin:end, :end] += covariance.between(en_m[begin:end], en_m[:end])
    np.fill_diagonal(sigma, np.diag(sigma) + NOISE_FLOOR_M**2)
    return sigma


def _whitening(sigma: Floats) -> Floats:
    """Return the inverse (n, n) of the lower Cholesky factor of Σ, which is used up.

    Raises
    ------
    LinAlgError
        When Σ is no covariance.
    """
    if len(sigma) < LARGE:
        return inverse_of_lower(np.asarray(np.linalg.cholesky(sigma), dtype=np.float64))
    from scipy.linalg import lapack

    # LAPACK counts by columns: the lower triangle by rows is its upper one.
    upper, failed = lapack.dpotrf(sigma.T, lower=0, clean=1, overwrite_a=1)
    if not failed:
        upper, failed = lapack.dtrtri(upper, lower=0, overwrite_c=1)
    if failed:
        msg = "the covariance of the shots is not positive definite"
        raise np.linalg.LinAlgError(msg)
    white: Floats = upper.T
    return white


def inverse_of_lower(lower: Floats) -> Floats:
    """Return the inverse (n, n) of a lower triangle, by halves: a sixth of the work of a general inverse."""
    n = len(lower)
    if n <= TRIANGLE:
        return np.tril(np.linalg.inv(lower))
    half = n // 2
    inverse = np.zeros_like(lower)
    inverse[:half, :half] = inverse_of_lower(lower[:half, :half])
    inverse[half:, half:] = inverse_of_lower(lower[half:, half:])
    inverse[half:, :half] = -inverse[half:, half:] @ (lower[half:, :half] @ inverse[:half, :half])
    return inverse


def constant_drift(en_m: Floats) -> Floats:
    """Return the (m, 1) column of a level drift, as in ordinary kriging."""
    return np.ones((len(en_m), 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneDrift:
    """A sloping plane, counted from a centre and in units of a scale so that the numbers stay near one."""

    centre_m: tuple[float, float]
    scale_m: float

    def __call__(self, en_m: Floats) -> Floats:
        """Return the columns 1, east, north, (m, 3)."""
        reduced = (en_m - np.asarray(self.centre_m)) / self.scale_m
        return np.column_stack([np.ones(len(en_m)), reduced])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LeftOut:
    """Each shot against what all the others say of it, the covariance kept, (n,); NaN where they cannot."""

    above_m: Floats
    """The shot less the others' prediction."""
    sd_m: Floats
    """Of that difference: the prediction's and the reading's."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kriging:
    """Shots solved once, ready for any number of look-ups."""

    en_m: Floats
    """(n, 2)."""
    covariance: GroundCovariance
    drift: Drift
    white: Floats
    """(n, n), the inverse of Σ's lower Cholesky factor."""
    q: Floats
    """(n, p), orthonormal columns of the whitened drift ``white @ F = q r``."""
    r_inverse: Floats
    """(p, p)."""
    beta: Floats
    """(p,), the drift's coefficients."""
    alpha: Floats
    """(n,), Σ⁻¹ times the shots less their drift."""
    whitened_z: Floats
    """(n,), the whitened shots, square to the drift."""

    def z(self, en_m: Floats) -> Floats:
        """Return the estimate (m,) at places (m, 2)."""
        out = np.empty(len(en_m))
        step = max(1, CHUNK // len(self.en_m))
        for start in range(0, len(en_m), step):
            block = en_m[start : start + step]
            k = self.covariance.between(block, self.en_m)
            out[start : start + step] = self.drift(block) @ self.beta + k @ self.alpha
        return out

    def _parts(self, en_m: Floats) -> tuple[Floats, Floats]:
        """Return the whitened covariances (n, m) and the drift that they leave over (m, p)."""
        k = self.white @ self.covariance.between(self.en_m, en_m)
        left = self.drift(en_m) @ self.r_inverse - k.T @ self.q
        return k, left

    def weights(self, en_m: Floats) -> Floats:
        """Return the weight of each shot (m, n) in the estimate at each place."""
        k, left = self._parts(en_m)
        return (k.T + left @ self.q.T) @ self.white

    def multipliers(self, en_m: Floats) -> Floats:
        """Return the Lagrange multipliers μ (m, p) of ``Σ w + F μ = k``."""
        _, left = self._parts(en_m)
        return -left @ self.r_inverse.T

    def at(self, en_m: Floats) -> Elevations:
        """Return estimates with the joint covariance of their errors, estimate less true ground."""
        k, left = self._parts(en_m)
        cov = self.covariance.between(en_m, en_m) - k.T @ k + left @ left.T
        cov = (cov + cov.T) / 2.0
        # Rounding can leave a variance of zero a hair below it.
        np.fill_diagonal(cov, np.maximum(np.diag(cov), 0.0))
        cov.flags.writeable = False
        z = self.z(en_m)
        z.flags.writeable = False
        return Elevations(z_m=z, cov_m2=cov)

    def left_out(self) -> LeftOut:
        """Return each shot against the estimate from all the others, by Dubrule's closed form."""
        whole = np.einsum("ij,ij->j", self.white, self.white)
        onto_drift = self.white.T @ self.q
        p = whole - np.einsum("ij,ij->i", onto_drift, onto_drift)
        told = p > ESSENTIAL * whole
        p = np.where(told, p, 1.0)
        above = np.where(told, (self.white.T @ self.whitened_z) / p, np.nan)
        return LeftOut(above_m=above, sd_m=np.where(told, np.sqrt(1.0 / p), np.nan))


def solved(
    en_m: Floats, z_m: Floats, noise_m2: Floats, *, covariance: GroundCovariance, drift: Drift
) -> Kriging:
    """Solve the kriging system of shots.

    Parameters
    ----------
    en_m, z_m
        Plan positions (n, 2) and elevations (n,) of the shots, metres.
    noise_m2
        Joint covariance (n, n) of the shots' errors; `NOISE_FLOOR_M` is added to each.
    covariance, drift
        Of the ground.
    """
    white = _whitening(_sigma(en_m, noise_m2, covariance))
    columns = drift(en_m)
    # The plain least-squares drift goes off first: on an exact plane nothing is then left to whiten.
    first = np.linalg.lstsq(columns, z_m, rcond=None)[0]
    q, r = np.linalg.qr(white @ columns)
    r_inverse = np.linalg.inv(r)
    whitened = white @ (z_m - columns @ first)
    on_drift = q.T @ whitened
    whitened = whitened - q @ on_drift
    return Kriging(
        en_m=en_m,
        covariance=covariance,
        drift=drift,
        white=white,
        q=q,
        r_inverse=r_inverse,
        beta=first + r_inverse @ on_drift,
        alpha=white.T @ whitened,
        whitened_z=whitened,
    )
