"""Ground between the points of a large table, and how the table ties to the survey's own shots.

Kriging could not take so many: the points are triangulated, and the covariance of the ground between them is
that of some 150 of them about the yard. The table is never moved: how far the survey's shots stand above it
is told, and whether it is more than chance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.errors import Mistake, WrongInput
from staking.book.ground_table import GroundTable
from staking.ground.kriging import PlaneDrift
from staking.ground.left_out_triangles import left_out_weights
from staking.ground.mesh import grid_keys
from staking.ground.outline import convex_outline
from staking.ground.roughness import LIKELIHOOD_SHOTS, estimated_roughness
from staking.ground.shots import Shots
from staking.ground.surface import best_plane, slope_of
from staking.ground.triangle_surface import TriangulatedSurface, left_out_of
from staking.ground.triangulated import estimates, plane_rise, triangles_between

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ABOUT = 2.0
"""The covariance is that of points within this many times the shots' greatest distance from their middle."""
LEFT_OUT_POINTS = 300
"""Points of the table left out in turn, those nearest the middle of the shots."""
MOST_TIED = 500
"""Shots compared with the table at most, evenly through them: their joint covariance is wanted."""
SIGNIFICANT = 2.576
"""A shift this many of its standard deviations off nought comes once in a hundred by chance (normal)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tie:
    """The survey's shots against the table."""

    shots: int
    """How many stand among the table's points."""
    above_m: float
    """Their mean above it; negative: below."""
    sd_m: float
    """Of that mean, from shots and table."""
    rms_m: float
    """Of shots less table, the mean in it."""

    @property
    def significant(self) -> bool:
        """Whether the mean is more than chance."""
        return abs(self.above_m) > SIGNIFICANT * self.sd_m


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TableGround:
    """The ground between the points of a table."""

    table: GroundTable
    surface: TriangulatedSurface

    def above_m(self, shots: Shots) -> Floats:
        """Return each shot (n,) less the table; NaN where it stands outside the table's points."""
        inside = self.surface.triangles.mesh.located(shots.en_m)[0] >= 0
        return np.where(inside, shots.z_m - self.surface.z(shots.en_m), np.nan)

    def tie(self, shots: Shots) -> Tie:
        """Compare the survey's shots with the table.

        Raises
        ------
        WrongInput
            When no shot stands among the table's points.
        """
        above = self.above_m(shots)
        told = np.flatnonzero(np.isfinite(above))
        if not len(told):
            raise WrongInput([self._elsewhere(shots)])
        some = told[np.unique(np.linspace(0, len(told) - 1, min(len(told), MOST_TIED)).round().astype(int))]
        cov = self.surface.at(shots.en_m[some]).cov_m2 + shots.cov_m2[np.ix_(some, some)]
        return Tie(
            shots=len(told),
            above_m=float(above[told].mean()),
            sd_m=math.sqrt(float(cov.sum())) / len(some),
            rms_m=float(np.sqrt(np.mean(above[told] ** 2))),
        )

    def _elsewhere(self, shots: Shots) -> Mistake:
        low, high = self.table.en_m.min(axis=0), self.table.en_m.max(axis=0)
        own_low, own_high = shots.en_m.min(axis=0), shots.en_m.max(axis=0)

        def span(start: Floats, end: Floats) -> str:
            return f"east {start[0]:.1f} to {end[0]:.1f}, north {start[1]:.1f} to {end[1]:.1f} m"

        return Mistake(
            file=self.table.file,
            problem=(
                "none of the survey's ground shots stands among its points: they reach "
                f"{span(low, high)}, the shots {span(own_low, own_high)}"
            ),
            expected="points on the site's axes",
            remedy="Check [ground] units, the order of east and north, and [control] or [site] grid",
        )


def table_ground(table: GroundTable, shots: Shots) -> TableGround:
    """Lay planes between the points of a table.

    Parameters
    ----------
    table
        Its points; those at one place count as their mean.
    shots
        The survey's: the roughness of the ground is that about them.
    """
    en_m, z_m, noise_m2 = _distinct(table)
    middle = shots.en_m.mean(axis=0)
    about = _about(en_m, middle, ABOUT * float(np.hypot(*(shots.en_m - middle).T).max()))
    scale_m = float(np.abs(en_m[about] - en_m[about].mean(axis=0)).max())
    centre = en_m[about].mean(axis=0)
    drift = PlaneDrift(centre_m=(float(centre[0]), float(centre[1])), scale_m=scale_m)
    covariance = estimated_roughness(
        en_m[about], z_m[about], np.diag(noise_m2[about]), drift=drift
    ).covariance
    triangles = triangles_between(en_m)
    near = np.argsort(np.hypot(*(en_m - middle).T), kind="stable")[:LEFT_OUT_POINTS].astype(np.int64)
    left_out = left_out_of(left_out_weights(triangles, en_m, near), near, en_m, z_m, noise_m2, covariance)
    told = np.isfinite(left_out.above_m)
    off = left_out.above_m[told] / left_out.sd_m[told]
    slope_rad, aspect_rad = slope_of(best_plane(en_m[about], z_m[about]))
    border = triangles.mesh.corners[(triangles.mesh.beyond < 0).any(axis=1)]
    return TableGround(
        table=table,
        surface=TriangulatedSurface(
            model=f"triangulated, planes between {len(table.z_m)} points of {table.file}",
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
            outline_en_m=convex_outline(triangles.mesh.en_m[np.unique(border)] + triangles.mesh.origin_m),
        ),
    )


def _distinct(table: GroundTable) -> tuple[Floats, Floats, Floats]:
    """Return places (n, 2), elevations and variances (n,); points at one place are one, their mean."""
    middle = table.en_m.mean(axis=0)
    _, first, spot, counts = np.unique(
        grid_keys(table.en_m - middle), return_index=True, return_inverse=True, return_counts=True
    )
    level = float(table.z_m.mean())
    z_m = level + np.bincount(spot.reshape(-1), weights=table.z_m - level) / counts
    return table.en_m[first], z_m, table.sd_m**2 / counts


def _about(en_m: Floats, middle: Floats, reach_m: float) -> Ints:
    """Return points about a place: half the nearest ones, half evenly out to the reach."""
    away = np.hypot(*(en_m - middle).T)
    order = np.argsort(away, kind="stable")
    within = max(LIKELIHOOD_SHOTS, int(np.searchsorted(away[order], reach_m)))
    within = min(within, len(order))
    half = min(LIKELIHOOD_SHOTS // 2, within)
    spread = np.linspace(half, within - 1, LIKELIHOOD_SHOTS - half).round().astype(np.int64)
    kept = np.unique(np.concatenate([np.arange(half), spread[(spread >= half) & (spread < within)]]))
    return np.asarray(order[kept], dtype=np.int64)
