"""Adjusted points to the shots that shape the ground, with what their places add to their uncertainty.

A shot says how high the ground is where its point truly stands; the surface takes it where the point is
thought to stand. Off by δ in plan on a slope g, it is wrong there by its own error less g·δ.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.covariance import across, carried
from staking.base.triplets import Triplets
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
    cov_m2: Floats
    """Joint covariance (n, n) of the shots' errors as shots of the ground: as levelled, with what the places
    add through the slope."""
    stakes: Mapping[str, int]
    """Shots at the stakes of piers: the pier's name, in small letters without blanks about it, and its place
    in this list."""
    staked: Ints
    """(s,) the shots at stakes, ascending."""
    level_cov_m2: Floats
    """Joint covariance (s, s) of their elevations as levelled."""
    level_shot_cov_m2: Floats
    """(s, n), covariance of each of these elevations with each shot's error."""


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
    rise = best_plane(en_m, z_m)
    at_stakes = np.flatnonzero(staked)
    shot, level = functions_of_points(used, staked, rise, len(points.names))
    level = level.rows_at(at_stakes)
    cov_m2 = carried(points.cov_m2, shot)
    cov_m2[at_stakes, at_stakes] += float(rise @ rise) * STAKE_SET_SD_M**2
    level_m2 = carried(points.cov_m2, level)
    level_shot_m2 = across(points.cov_m2, shot, level).T
    for array in (en_m, z_m, at_stakes, cov_m2, level_m2, level_shot_m2):
        array.flags.writeable = False
    return Shots(
        names=names,
        en_m=en_m,
        z_m=z_m,
        cov_m2=cov_m2,
        stakes={known_as(name): k for k, name in enumerate(names) if staked[k]},
        staked=at_stakes,
        level_cov_m2=level_m2,
        level_shot_cov_m2=level_shot_m2,
    )


def functions_of_points(
    used: Ints, staked: NDArray[np.bool_], rise: Floats, count: int
) -> tuple[Triplets, Triplets]:
    """Return the errors of shots as functions of those of all points' coordinates.

    Parameters
    ----------
    used
        (n,) the points that were shot.
    staked
        (n,) those whose place is a stake's, not the adjustment's.
    rise
        (2,) of the ground per metre east and north.
    count
        Of all points.

    Returns
    -------
    tuple
        (n, 3·count) of each shot's error, elevation less slope times plan error; and of the elevation alone.
    """
    shot, level = Triplets((len(used), 3 * count)), Triplets((len(used), 3 * count))
    rows = np.arange(len(used))
    placed = np.flatnonzero(~staked)
    for axis in (0, 1):
        shot[placed, 3 * used[placed] + axis] = -rise[axis]
    for one in (shot, level):
        one[rows, 3 * used + 2] = 1.0
    return shot, level
