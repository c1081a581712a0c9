"""The triangulated surface with its uncertainty, from shots.

Any estimate that is a sum of shots, ``W z``, with weights that give a plane back, has the error covariance
``C − W k − kᵀ Wᵀ + W Σ Wᵀ``: Σ that of the ground at the shots plus their errors, k that of the ground at the
shots with the places, C that between the places. It holds whatever W is; kriging's is the W that makes it
least. N. A. C. Cressie, *Statistics for Spatial Data* (Wiley, rev. ed. 1993), section 3.4, from memory.

C is that of the statistical surface's roughness, without the folds of breaks, for no triangle runs over a
break. Where left-out shots lie further off the others' triangles than it says, it is raised to meet them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.ground.elevations import Elevations, span_gradient
from staking.ground.kriging import NOISE_FLOOR_M, GroundCovariance, LeftOut
from staking.ground.left_out_triangles import left_out_weights
from staking.ground.outline import convex_outline, outside_outline
from staking.ground.surface import best_plane, slope_of
from staking.ground.triangulated import Triangles, estimates, plane_rise, triangles_between

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TriangulatedSurface:
    """Planes between shots; meets the `GroundSurface` protocol."""

    model: str
    """In words."""
    z_m: Floats
    """(n,), of the shots."""
    en_m: Floats
    """(n, 2)."""
    noise_m2: Floats
    """Covariance of the shots' errors, (n, n), or variances (n,) of errors that have nothing in common."""
    triangles: Triangles
    vertices_z_m: Floats
    """(v,)."""
    rise: Floats
    """(2,): per metre east and north, of the plane outside the shots."""
    covariance: GroundCovariance
    """Of the ground."""
    raised: float
    """The ground's variance is this many times what the covariance says; one or more."""
    left_out: LeftOut
    """Shots against all the others, (n,); NaN where their triangles do not reach."""
    slope_rad: float
    aspect_rad: float | None
    outline_en_m: Floats
    """Corners (k, 2) of the shots' convex hull, counter-clockwise."""

    def z(self, en_m: Floats) -> Floats:
        """Return elevations (m,) at plan positions (m, 2)."""
        at = self.triangles.placed(en_m)
        return np.asarray((self.vertices_z_m[at.vertices] * at.share).sum(axis=1) + at.step_m @ self.rise)

    def weights(self, en_m: Floats) -> Floats:
        """Return the weight of each shot (m, n) in the elevation at each place."""
        return self.triangles.weights(en_m).over(np.arange(len(self.z_m)))

    def at(self, en_m: Floats) -> Elevations:
        """Return elevations with joint covariance at plan positions (m, 2)."""
        en_m = np.asarray(en_m, dtype=float)
        row = self.triangles.weights(en_m)
        used = row.used()
        weights = row.over(used)
        between = self.covariance.between
        k = weights @ between(self.en_m[used], en_m)
        at_shots = weights @ between(self.en_m[used], self.en_m[used]) @ weights.T
        ground = between(en_m, en_m) - k - k.T + at_shots
        cov = self.raised * ground + weights @ _noise_of(self.noise_m2, used) @ weights.T
        cov = (cov + cov.T) / 2.0
        # Rounding can leave a variance of zero a hair below it.
        np.fill_diagonal(cov, np.maximum(np.diag(cov), 0.0))
        z = self.z(en_m)
        z.flags.writeable = cov.flags.writeable = False
        return Elevations(z_m=z, cov_m2=cov)

    def gradient(self, en_m: Floats) -> Floats:
        """Return the (m, 2) rise per metre east and north, over 0.3 m centred on each place."""
        return span_gradient(self.z, en_m)

    def outside(self, en_m: Floats) -> Bools:
        """Return (m,) True where a place lies outside the shots' convex hull."""
        return outside_outline(np.asarray(en_m, dtype=float), self.outline_en_m)


def triangulated_surface(
    en_m: Floats,
    z_m: Floats,
    noise_m2: Floats,
    *,
    covariance: GroundCovariance,
    breaks_en_m: Sequence[Floats] = (),
) -> TriangulatedSurface:
    """Lay planes between shots.

    Parameters
    ----------
    en_m, z_m
        Plan positions (n, 2) and elevations (n,), metres.
    noise_m2
        Joint covariance (n, n) of the shots' errors.
    covariance
        Of the ground between them.
    breaks_en_m
        The points (k, 2) of each break of the ground, in order.

    Raises
    ------
    WrongInput
        With fewer than three shots, or all in one line.
    """
    slope_rad, aspect_rad = slope_of(best_plane(en_m, z_m))
    triangles = triangles_between(en_m, breaks_en_m=breaks_en_m)
    every = np.arange(len(z_m))
    rows = left_out_weights(triangles, en_m, every, breaks_en_m=breaks_en_m)
    left_out = left_out_of(rows, every, en_m, z_m, noise_m2, covariance)
    told = np.isfinite(left_out.above_m)
    off = left_out.above_m[told] / left_out.sd_m[told]
    kept = ", breaks as sides" if any(len(line) > 1 for line in breaks_en_m) else ""
    return TriangulatedSurface(
        model=f"triangulated, planes between the shots{kept}",
        z_m=z_m,
        en_m=en_m,
        noise_m2=noise_m2,
        triangles=triangles,
        vertices_z_m=estimates(triangles.of_vertices, z_m),
        rise=plane_rise(triangles.of_vertices, z_m),
        covariance=covariance,
        raised=max(1.0, float(np.mean(off**2))) if len(off) else 1.0,
        left_out=left_out,
        slope_rad=slope_rad,
        aspect_rad=aspect_rad,
        outline_en_m=convex_outline(en_m),
    )


def left_out_of(
    rows: Sequence[tuple[Ints, Floats]],
    which: Ints,
    en_m: Floats,
    z_m: Floats,
    noise_m2: Floats,
    covariance: GroundCovariance,
) -> LeftOut:
    """Return shots (k,) against the triangles of the others, with the sd that the covariance gives that.

    Parameters
    ----------
    rows, which
        Of `left_out_weights`, and the shots that were left out.
    en_m, z_m, noise_m2, covariance
        As of the surface.
    """
    above, sd = np.full(len(which), np.nan), np.full(len(which), np.nan)
    for i, (shot, (others, weights)) in enumerate(zip(which.tolist(), rows, strict=True)):
        if not len(others):
            continue
        both, away = np.append(shot, others), np.append(1.0, -weights)
        sigma = covariance.between(en_m[both], en_m[both]) + _noise_of(noise_m2, both)
        # Heights over this shot's: map elevations of hundreds of metres would be rounded.
        above[i] = -weights @ (z_m[others] - z_m[shot])
        sd[i] = np.sqrt(max(float(away @ sigma @ away), NOISE_FLOOR_M**2))
    return LeftOut(above_m=above, sd_m=sd)


def _noise_of(noise_m2: Floats, used: Ints) -> Floats:
    """Return the covariance (u, u) of some shots' errors."""
    own = np.diag(noise_m2[used]) if noise_m2.ndim == 1 else noise_m2[np.ix_(used, used)]
    return np.asarray(own + np.eye(len(used)) * NOISE_FLOOR_M**2)
