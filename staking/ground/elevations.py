"""What the ground model hands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Elevations:
    """Elevations at m places with their joint covariance: neighbouring piers share error."""

    z_m: Floats
    """(m,)."""
    cov_m2: Floats
    """(m, m)."""

    @property
    def sd_m(self) -> Floats:
        """Standard deviation of each elevation, (m,), metres."""
        return np.sqrt(np.diag(self.cov_m2))


class Ground(Protocol):
    """The ground as the layout sees it."""

    def z(self, en_m: Floats) -> Floats:
        """Return elevations (m,) at plan positions (m, 2): the surface, without uncertainty."""
        ...

    def at(self, en_m: Floats) -> Elevations:
        """Return elevations with joint covariance at plan positions (m, 2)."""
        ...

    def z_at_piers(self, names: tuple[str, ...], en_m: Floats) -> Floats:
        """Return elevations (m,) at piers: the shot at the stake where there is one, else the surface."""
        ...

    def at_piers(self, names: tuple[str, ...], en_m: Floats) -> Elevations:
        """Return elevations with joint covariance at piers, shots at stakes first."""
        ...

    def gradient(self, en_m: Floats) -> Floats:
        """Return the surface's (m, 2) rise per metre east and north."""
        ...

    def outside(self, en_m: Floats) -> Bools:
        """Return (m,) True where a place lies outside the shots."""
        ...

    def shots_en_m(self) -> Floats:
        """Return the plan positions (n, 2) of the shots that shape the surface."""
        ...
