"""A ground that counts what is asked of it, so that work stays bounded however large an array is."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from staking.ground.elevations import Bools, Elevations, Ground

Floats = NDArray[np.float64]


class AskedEnough(Exception):
    """More places were looked at than the work may take."""


class CountedGround:
    """The same ground; raises AskedEnough at the first question after `most` places were asked for.

    The count, unlike a clock, gives the same answer on every machine.
    """

    def __init__(self, ground: Ground, most: int) -> None:
        self._ground, self._left = ground, most

    def _count(self, places: int) -> None:
        if self._left < 0:
            raise AskedEnough
        self._left -= places

    def z(self, en_m: Floats) -> Floats:
        """Return elevations (m,) at plan positions (m, 2)."""
        self._count(len(en_m))
        return self._ground.z(en_m)

    def at(self, en_m: Floats) -> Elevations:
        """Return elevations with joint covariance at plan positions (m, 2)."""
        return self._ground.at(en_m)

    def z_at_piers(self, names: tuple[str, ...], en_m: Floats) -> Floats:
        """Return elevations (m,) at piers."""
        self._count(len(en_m))
        return self._ground.z_at_piers(names, en_m)

    def at_piers(self, names: tuple[str, ...], en_m: Floats) -> Elevations:
        """Return elevations with joint covariance at piers."""
        return self._ground.at_piers(names, en_m)

    def gradient(self, en_m: Floats) -> Floats:
        """Return the surface's (m, 2) rise per metre east and north."""
        return self._ground.gradient(en_m)

    def outside(self, en_m: Floats) -> Bools:
        """Return (m,) True where a place lies outside the shots."""
        return self._ground.outside(en_m)

    def shots_en_m(self) -> Floats:
        """Return the plan positions (n, 2) of the shots that shape the surface."""
        return self._ground.shots_en_m()


class NoGround:
    """Where an array is only drawn in plan: level ground at 0, of which nothing is to be asked."""

    def z(self, en_m: Floats) -> Floats:
        """Return elevations (m,) at plan positions (m, 2)."""
        return np.zeros(len(en_m))

    def at(self, en_m: Floats) -> Elevations:
        """Return elevations at plan positions (m, 2), without an error."""
        return Elevations(z_m=self.z(en_m), cov_m2=np.zeros((len(en_m), len(en_m))))

    def z_at_piers(self, names: tuple[str, ...], en_m: Floats) -> Floats:
        """Return elevations (m,) at piers."""
        return self.z(en_m)

    def at_piers(self, names: tuple[str, ...], en_m: Floats) -> Elevations:
        """Return elevations at piers, without an error."""
        return self.at(en_m)

    def gradient(self, en_m: Floats) -> Floats:
        """Return the surface's (m, 2) rise per metre east and north."""
        return np.zeros((len(en_m), 2))

    def outside(self, en_m: Floats) -> Bools:
        """Return (m,) False: nothing was shot that a place could lie outside of."""
        return np.zeros(len(en_m), dtype=bool)

    def shots_en_m(self) -> Floats:
        """Return no shots."""
        return np.zeros((0, 2))
