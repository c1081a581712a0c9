"""What the ground asks of the plane's height at a cross-slope.

Everything is first reckoned with beam A's centreline at elevation 0 over pier A1. Raising the plane by h
adds h to every above-grade length and every clearance, so five numbers a cross-slope tell all: the least,
the greatest and the sum of the above-grade lengths, the least clearance and the greatest height of the
upper face.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.ground.elevations import Ground
from staking.layout.piers import a1_places, pier_order, plan_offsets
from staking.layout.plane import beam_height, in_plan, level_offsets
from staking.layout.shape import FrameShape

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Yard:
    """One frame on its ground, one of its piers placed."""

    shape: FrameShape
    ground: Ground
    placed: int
    """Which pier of the order is placed."""
    placed_en_m: tuple[float, float]
    names: tuple[str, ...]
    """The piers' names as the survey has them, with the array's where arrays have names."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spots:
    """Places of the field of modules that decide; (k, 2) along from its middle, up from its low edge."""

    under: Floats
    """Where the clearance is held."""
    over: Floats
    """Where the greatest height is held."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heights:
    """What the ground asks at G cross-slopes with the plane at elevation 0 over A1; all (G,), metres."""

    cross_rad: Floats
    least_pier_m: Floats
    most_pier_m: Floats
    piers_m: Floats
    """Sum of the above-grade lengths."""
    clearance_m: Floats
    highest_m: Floats
    count: int
    """Number of piers."""


def heights_at(yard: Yard, cross_rad: Floats, spots: Spots) -> Heights:
    """Return what the ground asks at cross-slopes (G,), looking at the spots alone."""
    above = above_grade(yard, cross_rad)
    shape = yard.shape
    under = plumb_heights(yard, cross_rad, spots.under, shape.stack_m)
    over = plumb_heights(yard, cross_rad, spots.over, shape.stack_m + shape.thick_m)
    return Heights(
        cross_rad=cross_rad,
        least_pier_m=above.min(axis=1),
        most_pier_m=above.max(axis=1),
        piers_m=above.sum(axis=1),
        clearance_m=under.min(axis=1),
        highest_m=over.max(axis=1),
        count=above.shape[1],
    )


def above_grade(yard: Yard, cross_rad: Floats) -> Floats:
    """Return above-grade lengths (G, m) at cross-slopes (G,) with the plane at elevation 0 over A1."""
    shape = yard.shape
    s, t = plan_offsets(shape, cross_rad)
    a1 = a1_places(shape, cross_rad, yard.placed, yard.placed_en_m)
    en = in_plan(shape.azimuth_rad, a1[:, None, :], s, t)
    grade = yard.ground.z_at_piers(yard.names * len(cross_rad), en.reshape(-1, 2)).reshape(s.shape)
    return np.asarray(beam_height(shape.tilt_rad, cross_rad[:, None], s, t) - shape.takeout_m - grade)


def plumb_heights(yard: Yard, cross_rad: Floats, spots: Floats, off_m: float) -> Floats:
    """Return heights (G, k) above the ground of spots (k, 2) on the face `off` from the beams' plane.

    With the plane at elevation 0 over A1.
    """
    en, z = spots_in_space(yard, cross_rad, spots, off_m)
    return np.asarray(z - yard.ground.z(en.reshape(-1, 2)).reshape(z.shape))


def spots_in_space(yard: Yard, cross_rad: Floats, spots: Floats, off_m: float) -> tuple[Floats, Floats]:
    """Return plan positions (G, k, 2) and elevations (G, k) of spots, the plane at 0 over A1."""
    shape = yard.shape
    lean = math.sin(shape.tilt_rad) * np.tan(cross_rad)
    middle = shape.half_line_m + shape.rail_run_m / 2 * lean
    along = middle[:, None] + spots[:, 0]
    up = np.broadcast_to(spots[:, 1] - shape.beams_at_m[0], along.shape)
    s, t, z = level_offsets(shape.tilt_rad, cross_rad[:, None], along, up, off_m)
    a1 = a1_places(shape, cross_rad, yard.placed, yard.placed_en_m)
    return in_plan(shape.azimuth_rad, a1[:, None, :], s, t), z


def yard_of(
    shape: FrameShape, ground: Ground, *, pier: str, placed_en_m: tuple[float, float], array_name: str
) -> Yard:
    """Return the yard; raises KeyError when the frame has no pier of that name."""
    names = pier_order(shape)[0]
    wanted = pier.strip().casefold()
    prefix = f"{array_name}-".casefold() if array_name else ""
    for i, name in enumerate(names):
        if wanted in (name.casefold(), prefix + name.casefold()):
            full = tuple(f"{array_name}-{n}" for n in names) if array_name else names
            return Yard(shape=shape, ground=ground, placed=i, placed_en_m=placed_en_m, names=full)
    raise KeyError(pier)
