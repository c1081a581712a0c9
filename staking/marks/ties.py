"""Ties as the tape meets them: level, and hub to hub on that ground, each with its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.book.records import Accuracy
from staking.control.adjustment import Points
from staking.ground.elevations import Ground
from staking.layout.frame import Fit
from staking.marks.pins import plan_is_known
from staking.marks.stakeout import Tie
from staking.marks.swing import Rays, Swing, best_swing, rays, tape_sd_m

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pins:
    """The pins of a yard, k of them."""

    names: tuple[str, ...]
    en_m: Floats
    """(k, 2)."""
    cov_m2: Floats
    """(2k, 2k), plan only."""
    z_m: Floats
    """(k,) the pin's own elevation, else the ground's there."""
    var_z_m2: Floats
    """(k,)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Yard:
    """An array among its pins."""

    fit: Fit
    pins: Pins
    accuracy: Accuracy
    sights: tuple[Rays, ...]
    """From the pins to each stake."""
    swings: tuple[Swing | None, ...]
    """The best pair at each stake; None where no two pins cross well."""


def look_round(
    fit: Fit, *, points: Points, pins: tuple[str, ...], ground: Ground, accuracy: Accuracy
) -> Yard:
    """Return the array among its pins, those without a known plan position passed over."""
    at = [i for i in (points.index(pin) for pin in pins) if plan_is_known(points, i)]
    plan = np.array([3 * i + axis for i in at for axis in (0, 1)], dtype=np.intp)
    en, z = points.enz_m[at, :2].reshape(-1, 2), points.enz_m[at, 2].copy()
    var_z = points.sd_m()[at, 2] ** 2
    bare = ~(np.isfinite(z) & np.isfinite(var_z))
    if bare.any():
        surface = ground.at(en[bare])
        z[bare], var_z[bare] = surface.z_m, np.diag(surface.cov_m2)
    known = Pins(
        names=tuple(points.names[i] for i in at),
        en_m=en,
        cov_m2=points.cov_of(plan),
        z_m=z,
        var_z_m2=var_z,
    )
    sights = tuple(
        rays(stake_en_m=stake, points_en_m=en, points_cov_m2=known.cov_m2, accuracy=accuracy)
        for stake in fit.piers.en_m
    )
    return Yard(
        fit=fit,
        pins=known,
        accuracy=accuracy,
        sights=sights,
        swings=tuple(best_swing(each) for each in sights),
    )


def pin_tie(yard: Yard, i: int, k: int) -> Tie:
    """Return the tie from pin `k` to the stake of pier `i`."""
    heights, unit = yard.fit.lengths, yard.sights[i].unit[k]
    at = slice(2 * k, 2 * k + 2)
    return _tie(
        yard.pins.names[k],
        level_m=float(yard.sights[i].length_m[k]),
        rise_m=float(heights.ground_m[i] - yard.pins.z_m[k]),
        var_point_m2=float(unit @ yard.pins.cov_m2[at, at] @ unit),
        var_rise_m2=float(heights.ground_cov_m2[i, i] + yard.pins.var_z_m2[k]),
        accuracy=yard.accuracy,
    )


def stake_tie(fit: Fit, *, start: int, to: int, accuracy: Accuracy, swing: Swing | None = None) -> Tie:
    """Return the tie from one pier's stake to another's.

    `swing` placed the stake at its start, whose uncertainty the tie then carries; without it that stake is
    taken as it stands.
    """
    reach = fit.piers.en_m[to] - fit.piers.en_m[start]
    level = float(np.hypot(reach[0], reach[1]))
    cov = fit.lengths.ground_cov_m2
    return _tie(
        fit.piers.names[start],
        level_m=level,
        rise_m=float(fit.lengths.ground_m[to] - fit.lengths.ground_m[start]),
        var_point_m2=0.0 if swing is None else float(reach @ swing.cov_m2 @ reach) / level**2,
        var_rise_m2=float(cov[to, to] + cov[start, start] - 2.0 * cov[to, start]),
        accuracy=accuracy,
    )


def _tie(
    name: str, *, level_m: float, rise_m: float, var_point_m2: float, var_rise_m2: float, accuracy: Accuracy
) -> Tie:
    slope = float(np.hypot(level_m, rise_m))
    flat, steep = (level_m / slope, rise_m / slope) if slope > 0.0 else (1.0, 0.0)
    var_slope = flat**2 * var_point_m2 + steep**2 * var_rise_m2 + tape_sd_m(accuracy, slope) ** 2
    return Tie(
        point=name,
        level_m=level_m,
        slope_m=slope,
        sd_m=float(np.sqrt(var_point_m2 + tape_sd_m(accuracy, level_m) ** 2)),
        sd_slope_m=float(np.sqrt(var_slope)),
    )
