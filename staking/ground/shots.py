"""Adjusted points to the shots that shape the ground, with what their places add to their uncertainty.

A shot says how high the ground is where its point truly stands; the surface takes it where the point is
thought to stand. Off by δ in plan on a slope g, it is wrong there by its own error less g·δ.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.control.adjustment import Points
from staking.ground.surface import best_plane

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STAKE_SET_SD_M = 0.006
"""One standard deviation, east and north, of a stake about where it was to be set: two tapes of 3 mm that
cross at 60 or 120 degrees, and the hub under them (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shots:
    """The shots that shape the ground, in the order of the points."""

    names: tuple[str, ...]
    en_m: Floats
    """Where each stands, (n, 2)."""
    z_m: Floats
    """(n,)."""
    level_cov_m2: Floats
    """Joint covariance (n, n) of the elevations as levelled."""
    cov_m2: Floats
    """The same with what the places add through the slope: the shots' errors as shots of the ground."""
    level_shot_cov_m2: Floats
    """(n, n), covariance of each levelled elevation with each shot's error."""
    stakes: Mapping[str, int]
    """Shots at the stakes of piers: the pier's name, in small letters without blanks about it, and its place
    in this list."""


def known_as(name: str) -> str:
    """Return a name as names are compared: without regard to case and outer blanks."""
    return name.strip().casefold()


def places_shot(
    points: Points, stakes_en_m: Mapping[str, tuple[float, float]] | None = None
) -> tuple[Ints, NDArray[np.bool_], Floats, Floats]:
    """Return the points that shape the ground by number, which stand at stakes, and where: (k, 2), (k,)."""
    stakes = {known_as(name): place for name, place in (stakes_en_m or {}).items()}
    en_m = points.enz_m[:, :2].copy()
    staked = np.zeros(len(points.names), dtype=bool)
    for i, name in enumerate(points.names):
        place = stakes.get(known_as(name))
        if place is not None:
            staked[i] = True
            en_m[i] = place
    placed = np.isfinite(en_m).all(axis=1) & np.isfinite(points.enz_m[:, 2])
    used = np.flatnonzero(np.asarray(points.shapes_ground, dtype=bool) & placed)
    return used, staked[used], en_m[used], points.enz_m[used, 2]


def ground_shots(points: Points, stakes_en_m: Mapping[str, tuple[float, float]] | None = None) -> Shots:
    """Select the points that shape the ground: they may, and they have a place and an elevation.

    Parameters
    ----------
    points
        From the adjustment.
    stakes_en_m
        Where the stakes of piers stand, by pier: a shot on a point of that name was taken there, whatever
        place the adjustment gives it.

    Raises
    ------
    WrongInput
        With fewer than three shots, or all in one line.

    Notes
    -----
    The slope is that of the shots' best-fit plane; the surface's own slope differs by a few hundredths,
    which times the few millimetres of a place is less than any rod reads.
    """
    used, staked, en_m, z_m = places_shot(points, stakes_en_m)
    names = tuple(points.names[i] for i in used)
    coordinates = (3 * used[:, None] + np.arange(3)).ravel()
    cov_m2 = points.cov_of(coordinates)
    for k in np.flatnonzero(staked):
        cov_m2[3 * k : 3 * k + 2, :] = 0.0
        cov_m2[:, 3 * k : 3 * k + 2] = 0.0
        cov_m2[3 * k, 3 * k] = cov_m2[3 * k + 1, 3 * k + 1] = STAKE_SET_SD_M**2
    level_m2, shot_level_m2, shot_m2 = shot_cov_m2(cov_m2, np.tile(best_plane(en_m, z_m), (len(used), 1)))
    for array in (en_m, z_m, level_m2, shot_level_m2, shot_m2):
        array.flags.writeable = False
    return Shots(
        names=names,
        en_m=en_m,
        z_m=z_m,
        level_cov_m2=level_m2,
        cov_m2=shot_m2,
        level_shot_cov_m2=shot_level_m2,
        stakes={known_as(name): k for k, name in enumerate(names) if staked[k]},
    )


def shot_cov_m2(cov_m2: Floats, gradient: Floats) -> tuple[Floats, Floats, Floats]:
    """Carry points' covariance over to their shots of sloping ground.

    Parameters
    ----------
    cov_m2
        Joint covariance (3n, 3n) of east, north, elevation of each point.
    gradient
        Rise of the ground per metre east and north at each point, (n, 2).

    Returns
    -------
    tuple
        Covariances (n, n): of the elevations alone; of each elevation with each shot's error; of the shots'
        errors, elevation less gradient times plan error.
    """
    n = len(gradient)
    carry = np.column_stack([-gradient, np.ones(n)])
    # Each error touches its point's own three coordinates alone, so no (n, 3n) matrices are multiplied.
    with_error = np.einsum("rjc,jc->rj", cov_m2.reshape(3 * n, n, 3), carry).reshape(n, 3, n)
    error = np.einsum("irj,ir->ij", with_error, carry)
    return cov_m2[2::3, 2::3].copy(), with_error[:, 2].copy(), error
