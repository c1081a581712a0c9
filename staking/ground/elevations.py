"""What the ground model hands on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

GRADIENT_SPAN_M = 0.3
"""Slope is taken over this span, about the width of a hole: what a hole, a stake or a tape meets. Rough
ground has no slope at a point."""

SPAN_STEPS_M = GRADIENT_SPAN_M / 2.0 * np.array([(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)])
"""From a place east, west, north and south to where the ground is looked at for its rise."""


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


class GroundSurface(Protocol):
    """A surface between shots, whatever kind it is."""

    @property
    def model(self) -> str:
        """Say in words what the surface is."""
        ...

    @property
    def slope_rad(self) -> float:
        """Return the slope of the shots' best-fit plane."""
        ...

    @property
    def aspect_rad(self) -> float | None:
        """Return the azimuth straight down that plane; None where it is level."""
        ...

    def z(self, en_m: Floats) -> Floats:
        """Return elevations (m,) at plan positions (m, 2)."""
        ...

    def at(self, en_m: Floats) -> Elevations:
        """Return elevations with joint covariance at plan positions (m, 2)."""
        ...

    def weights(self, en_m: Floats) -> Floats:
        """Return the weight of each shot (m, n) in the elevation at each place."""
        ...

    def gradient(self, en_m: Floats) -> Floats:
        """Return the (m, 2) rise per metre east and north, over `GRADIENT_SPAN_M` centred on each place."""
        ...

    def outside(self, en_m: Floats) -> Bools:
        """Return (m,) True where a place lies outside the shots' convex hull."""
        ...


def span_gradient(z: Callable[[Floats], Floats], en_m: Floats) -> Floats:
    """Return the (m, 2) rise per metre east and north, over `GRADIENT_SPAN_M` centred on each place."""
    en_m = np.asarray(en_m, dtype=float)
    four = z((en_m[None, :, :] + SPAN_STEPS_M[:, None, :]).reshape(-1, 2)).reshape(4, -1)
    return np.column_stack([four[0] - four[1], four[2] - four[3]]) / GRADIENT_SPAN_M


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
