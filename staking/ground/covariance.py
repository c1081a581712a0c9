"""How the ground's departures from its plane go together over distance: closed Matérn forms and sums of them.

M. L. Stein, *Interpolation of Spatial Data* (Springer, 1999), section 2.10, from memory: for smoothness
1/2, 3/2 and 5/2 the Matérn covariance is a polynomial times an exponential, so numpy alone serves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Smoothness:
    """One shape of covariance, ``(1 + b·x + c·x²)·exp(−x)`` at the reduced distance ``x = k·h / range``."""

    name: str
    k: float
    b: float
    c: float

    def at(self, x: Floats) -> Floats:
        """Return the correlation at reduced distances x, any shape."""
        if self.b == 0.0 and self.c == 0.0:
            return np.exp(-x)
        return (1.0 + x * (self.b + self.c * x)) * np.exp(-x)


MATERN_12 = Smoothness(name="Matérn 1/2", k=1.0, b=0.0, c=0.0)
"""The exponential: creased ground."""
MATERN_32 = Smoothness(name="Matérn 3/2", k=math.sqrt(3.0), b=1.0, c=0.0)
MATERN_52 = Smoothness(name="Matérn 5/2", k=math.sqrt(5.0), b=1.0, c=1.0 / 3.0)
"""Smooth: a graded lawn, an earth bank."""


def roughened(shape: Smoothness, share: float) -> Smoothness:
    """Return a shape of which `share` of the variance is exponential, of the same k: fine roughness on it."""
    kept = 1.0 - share
    return Smoothness(name=shape.name, k=shape.k, b=kept * shape.b, c=kept * shape.c)


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One part of a covariance."""

    smoothness: Smoothness
    variance_m2: float
    range_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Covariance:
    """A covariance that depends on distance alone: the sum of its terms."""

    terms: tuple[Term, ...]

    def at(self, h_m: Floats) -> Floats:
        """Return the covariance in m² at distances h, any shape."""
        total = np.zeros_like(h_m)
        for term in self.terms:
            total += term.variance_m2 * term.smoothness.at(h_m * (term.smoothness.k / term.range_m))
        return total

    def between(self, from_m: Floats, to_m: Floats) -> Floats:
        """Return the covariance (m, n) in m² of the ground at (m, 2) with that at (n, 2) places."""
        return self.at(distances_m(from_m, to_m))

    @property
    def variance_m2(self) -> float:
        """Variance of one place, the covariance at distance zero."""
        return sum(term.variance_m2 for term in self.terms)


def distances_m(from_m: Floats, to_m: Floats) -> Floats:
    """Return level distances (m, n) from each of (m, 2) to each of (n, 2) places.

    Differences are taken before squaring, so map coordinates of millions of metres lose nothing.
    """
    east = from_m[:, 0, None] - to_m[None, :, 0]
    north = from_m[:, 1, None] - to_m[None, :, 1]
    return np.sqrt(east * east + north * north)
