"""The ground between the shots: universal kriging with a plane as drift."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.axes import azimuth_of
from staking.base.errors import Mistake, WrongInput
from staking.ground.breaks import FOLD_SD, Breaks, broken_covariance, placed_breaks
from staking.ground.elevations import Elevations, span_gradient
from staking.ground.kriging import Kriging, LeftOut, PlaneDrift, solved
from staking.ground.outline import convex_outline, outside_outline
from staking.ground.roughness import Roughness, estimated_roughness

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

IN_LINE_M = 0.025
"""Shots whose rms distance off their best line is less than this are in line: the cross-fall would hang on
less than tapes and offsets place a point to."""
LEVEL_SLOPE = 1e-6
"""Best-fit planes flatter than this, 1 mm in 1 km, have no aspect: it would be rounding."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """The statistical surface: the ground's elevation with its uncertainty anywhere, from shots."""

    en_m: Floats
    """Where the shots stand, (n, 2)."""
    z_m: Floats
    """(n,)."""
    noise_m2: Floats
    """Joint covariance (n, n) of the shots' errors."""
    roughness: Roughness
    kriging: Kriging
    left_out: LeftOut
    """Each shot against all the others."""
    rms_left_out_m: float | None
    """Root mean square of shots less what the others predict; None where every shot is needed."""
    slope_rad: float
    """Of the shots' best-fit plane."""
    aspect_rad: float | None
    """Azimuth straight down that plane; None where it is level."""
    outline_en_m: Floats
    """Corners (k, 2) of the shots' convex hull, counter-clockwise."""
    breaks: Breaks | None = None
    """Where the ground is folded sharply; None without breaks."""

    @property
    def model(self) -> str:
        """Say in words what the surface is."""
        if len(self.z_m) == 3:
            return "the plane through three shots, roughness of the ground assumed"
        with_breaks = "" if self.breaks is None else ", breaks kept sharp"
        return f"universal kriging, plane drift, {self.roughness.smoothness}{with_breaks}"

    def z(self, en_m: Floats) -> Floats:
        """Return elevations (m,) at plan positions (m, 2)."""
        return self.kriging.z(np.asarray(en_m, dtype=float))

    def at(self, en_m: Floats) -> Elevations:
        """Return elevations with joint covariance at plan positions (m, 2).

        The covariance is that of the estimate's error: the shots' own errors and the ground between them.
        """
        return self.kriging.at(np.asarray(en_m, dtype=float))

    def weights(self, en_m: Floats) -> Floats:
        """Return the weight of each shot (m, n) in the elevation at each place."""
        return self.kriging.weights(np.asarray(en_m, dtype=float))

    def gradient(self, en_m: Floats) -> Floats:
        """Return the (m, 2) rise per metre east and north, over 0.3 m centred on each place."""
        return span_gradient(self.z, en_m)

    def outside(self, en_m: Floats) -> Bools:
        """Return (m,) True where a place lies outside the shots' convex hull."""
        return outside_outline(np.asarray(en_m, dtype=float), self.outline_en_m)


def _not_a_surface(problem: str) -> WrongInput:
    return WrongInput(
        [
            Mistake(
                file="levels.csv",
                problem=problem,
                expected="at least three ground shots, placed in plan and with an elevation, not in one line",
                remedy="Shoot the ground at the array's corners and place each shot by tapes or by an offset",
            )
        ]
    )


def best_plane(en_m: Floats, z_m: Floats) -> Floats:
    """Return the rise per metre (2,) east and north of the shots' least-squares plane.

    Raises
    ------
    WrongInput
        With fewer than three shots, or all in one line.
    """
    if len(z_m) < 3:
        shots = {0: "no ground shot has", 1: "only one ground shot has"}.get(
            len(z_m), "only two ground shots have"
        )
        problem = f"{shots} a place and an elevation"
        raise _not_a_surface(problem)
    reduced = en_m - en_m.mean(axis=0)
    off_line = float(np.linalg.svd(reduced, compute_uv=False)[-1]) / math.sqrt(len(z_m))
    if off_line < IN_LINE_M:
        problem = f"the {len(z_m)} ground shots lie in one line"
        raise _not_a_surface(problem)
    columns = np.column_stack([np.ones(len(z_m)), reduced])
    return np.asarray(np.linalg.lstsq(columns, z_m, rcond=None)[0][1:])


def slope_of(rise: Floats) -> tuple[float, float | None]:
    """Return the slope of a plane and the azimuth straight down it, None where it is level."""
    steepness = math.hypot(*rise)
    down = azimuth_of(-float(rise[0]), -float(rise[1])) if steepness > LEVEL_SLOPE else None
    return math.atan(steepness), down


def _own(values: Floats) -> Floats:
    """Return a read-only copy; what is read-only already is kept."""
    if isinstance(values, np.ndarray) and values.dtype == np.float64 and not values.flags.writeable:
        return values
    copy = np.array(values, dtype=float)
    copy.flags.writeable = False
    return copy


def fitted_surface(
    en_m: Floats, z_m: Floats, cov_m2: Floats | None = None, *, breaks_en_m: Sequence[Floats] = ()
) -> Surface:
    """Fit the ground's surface to shots.

    Parameters
    ----------
    en_m, z_m
        Plan positions (n, 2) and elevations (n,), metres. Shots may share a place.
    cov_m2
        Joint covariance (n, n) of the shots' errors, with what their places add through the slope; None for
        shots without error.
    breaks_en_m
        The points (k, 2) of each break of the ground, in order.

    Raises
    ------
    WrongInput
        With fewer than three shots, or all in one line.
    """
    en_m, z_m = _own(en_m).reshape(-1, 2), _own(z_m)
    noise_m2 = _own(np.zeros((len(z_m), len(z_m))) if cov_m2 is None else cov_m2)
    rise = best_plane(en_m, z_m)
    centre = en_m.mean(axis=0)
    scale_m = float(np.abs(en_m - centre).max())
    drift = PlaneDrift(centre_m=(float(centre[0]), float(centre[1])), scale_m=scale_m)
    breaks = placed_breaks(breaks_en_m, en_m)
    if breaks is None:
        roughness = estimated_roughness(en_m, z_m, noise_m2, drift=drift)
        kriging = solved(en_m, z_m, noise_m2, covariance=roughness.covariance, drift=drift)
    else:
        # To the roughness between the breaks, folds of unknown size are but one more error that shots share.
        # That the ground is straight along breaks is given, not seen: it says nothing of the rest.
        folds = breaks.folds(en_m)
        with_folds = noise_m2 + FOLD_SD**2 * (folds @ folds.T)
        roughness = estimated_roughness(en_m, z_m, with_folds, drift=drift)
        broken = broken_covariance(roughness.covariance, breaks)
        kriging = solved(en_m, z_m, noise_m2, covariance=broken, drift=drift)
    left_out = kriging.left_out()
    told = left_out.above_m[np.isfinite(left_out.above_m)]
    slope_rad, aspect_rad = slope_of(rise)
    return Surface(
        en_m=en_m,
        z_m=z_m,
        noise_m2=noise_m2,
        roughness=roughness,
        kriging=kriging,
        left_out=left_out,
        rms_left_out_m=float(np.sqrt(np.mean(told**2))) if len(told) else None,
        slope_rad=slope_rad,
        aspect_rad=aspect_rad,
        outline_en_m=convex_outline(en_m),
        breaks=breaks,
    )
