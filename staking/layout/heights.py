"""What the ground asks of the plane's height at a cross-slope.

Everything is first reckoned with beam A's centreline at elevation 0 over pier A1. Raising the plane by h
adds h to every above-grade length and every clearance, so five numbers a cross-slope tell all: the least,
the greatest and the sum of the above-grade lengths, the least clearance and the greatest height of the
upper face.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from staking.ground.elevations import Ground
from staking.layout.piers import a1_places, pier_order, plan_offsets
from staking.layout.plane import beam_height, in_plan, level_offsets
from staking.layout.shape import FrameShape

Floats = NDArray[np.float64]


def _none() -> Floats:
    return np.zeros((0, 2))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Yard:
    """One frame on its ground, one of its piers placed."""

    shape: FrameShape
    ground: Ground
    placed: int
    """Which pier of the order is placed."""
    placed_en_m: tuple[float, float]
    names: tuple[str, ...]
    """The piers' names in order, without the array's: the ground is as this array sees it."""
    array_name: str

    def called(self, pier: int) -> str:
        """Return a pier's name for a message, with the array's where arrays have names."""
        return f"{self.array_name}-{self.names[pier]}" if self.array_name else self.names[pier]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spots:
    """Places of the field of modules that decide; (k, 2) along from its middle, up from its low edge."""

    under: Floats
    """Where the clearance is held."""
    over: Floats
    """Where the greatest height is held."""
    edge: Floats = field(default_factory=_none)
    """Where along the modules' low edge its height is held; none where none is asked for."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grades:
    """The ground under piers and spots at K cross-slopes, rising.

    With the cross-slope a pier or spot moves a few centimetres over the ground; between two of the
    cross-slopes its grade is taken straight. At one of them it is exact.
    """

    cross_rad: Floats
    spots: Spots
    piers_m: Floats
    """(K, m)."""
    under_m: Floats
    """(K, k)."""
    over_m: Floats
    """(K, k)."""
    edge_m: Floats
    """(K, k)."""


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
    low_edge_m: Floats | None = None
    """Least height of the modules' low edge; None where it is not asked for."""

    def differs(self, other: Heights) -> float:
        """Return the greatest difference from another's heights at the same cross-slopes, metres."""
        pairs = [
            (self.least_pier_m, other.least_pier_m),
            (self.most_pier_m, other.most_pier_m),
            (self.clearance_m, other.clearance_m),
            (self.highest_m, other.highest_m),
        ]
        if self.low_edge_m is not None and other.low_edge_m is not None:
            pairs.append((self.low_edge_m, other.low_edge_m))
        return float(max(np.abs(a - b).max() for a, b in pairs))


def grades_of(yard: Yard, cross_rad: Floats, spots: Spots) -> Grades:
    """Return the ground under every pier and spot at cross-slopes (K,), rising."""
    shape = yard.shape
    en = in_plan(shape.azimuth_rad, _a1(yard, cross_rad), *plan_offsets(shape, cross_rad))
    piers = yard.ground.z_at_piers(yard.names * len(cross_rad), en.reshape(-1, 2))
    return Grades(
        cross_rad=cross_rad,
        spots=spots,
        piers_m=piers.reshape(en.shape[:2]),
        under_m=_grade_of_spots(yard, cross_rad, spots.under, shape.stack_m),
        over_m=_grade_of_spots(yard, cross_rad, spots.over, shape.stack_m + shape.thick_m),
        edge_m=_grade_of_spots(yard, cross_rad, spots.edge, shape.stack_m),
    )


def with_spots(yard: Yard, grades: Grades, more: Spots) -> Grades:
    """Return the grades with more spots looked at."""
    shape, cross = yard.shape, grades.cross_rad
    under = _grade_of_spots(yard, cross, more.under, shape.stack_m)
    over = _grade_of_spots(yard, cross, more.over, shape.stack_m + shape.thick_m)
    edge = _grade_of_spots(yard, cross, more.edge, shape.stack_m)
    return Grades(
        cross_rad=cross,
        spots=Spots(
            under=np.vstack([grades.spots.under, more.under]),
            over=np.vstack([grades.spots.over, more.over]),
            edge=np.vstack([grades.spots.edge, more.edge]),
        ),
        piers_m=grades.piers_m,
        under_m=np.hstack([grades.under_m, under]),
        over_m=np.hstack([grades.over_m, over]),
        edge_m=np.hstack([grades.edge_m, edge]),
    )


def with_cross_slope(grades: Grades, exact: Grades) -> Grades:
    """Return the grades with those at one more cross-slope, of the same spots."""
    place = np.searchsorted(grades.cross_rad, exact.cross_rad[0])
    return Grades(
        cross_rad=np.insert(grades.cross_rad, place, exact.cross_rad[0]),
        spots=grades.spots,
        piers_m=np.insert(grades.piers_m, place, exact.piers_m[0], axis=0),
        under_m=np.insert(grades.under_m, place, exact.under_m[0], axis=0),
        over_m=np.insert(grades.over_m, place, exact.over_m[0], axis=0),
        edge_m=np.insert(grades.edge_m, place, exact.edge_m[0], axis=0),
    )


def heights_at(yard: Yard, grades: Grades, cross_rad: Floats) -> Heights:
    """Return what the ground asks at cross-slopes (G,), looking at the spots alone."""
    shape = yard.shape
    above = _pier_rise(yard, cross_rad) - _between(grades.cross_rad, grades.piers_m, cross_rad)
    under = spots_in_space(yard, cross_rad, grades.spots.under, shape.stack_m)[1]
    over = spots_in_space(yard, cross_rad, grades.spots.over, shape.stack_m + shape.thick_m)[1]
    low_edge = None
    if len(grades.spots.edge):
        edge = spots_in_space(yard, cross_rad, grades.spots.edge, shape.stack_m)[1]
        low_edge = (edge - _between(grades.cross_rad, grades.edge_m, cross_rad)).min(axis=1)
    return Heights(
        cross_rad=cross_rad,
        least_pier_m=above.min(axis=1),
        most_pier_m=above.max(axis=1),
        piers_m=above.sum(axis=1),
        clearance_m=(under - _between(grades.cross_rad, grades.under_m, cross_rad)).min(axis=1),
        highest_m=(over - _between(grades.cross_rad, grades.over_m, cross_rad)).max(axis=1),
        count=above.shape[1],
        low_edge_m=low_edge,
    )


def above_grade(yard: Yard, cross_rad: float) -> Floats:
    """Return above-grade lengths (m,) at a cross-slope with the plane at elevation 0 over A1."""
    cross = np.array([cross_rad])
    none = np.zeros((0, 2))
    return np.asarray(
        _pier_rise(yard, cross)[0] - grades_of(yard, cross, Spots(under=none, over=none)).piers_m[0]
    )


def plumb_heights(yard: Yard, cross_rad: Floats, spots: Floats, off_m: float) -> Floats:
    """Return heights (G, k) above the ground of spots (k, 2) on the face `off` from the beams' plane.

    With the plane at elevation 0 over A1.
    """
    z = spots_in_space(yard, cross_rad, spots, off_m)[1]
    return np.asarray(z - _grade_of_spots(yard, cross_rad, spots, off_m))


def _pier_rise(yard: Yard, cross_rad: Floats) -> Floats:
    """Return tops of posts (G, m) with the plane at elevation 0 over A1."""
    s, t = plan_offsets(yard.shape, cross_rad)
    return beam_height(yard.shape.tilt_rad, cross_rad[:, None], s, t) - yard.shape.takeout_m


def _a1(yard: Yard, cross_rad: Floats) -> Floats:
    """Return where A1 stands at each cross-slope, (G, 1, 2)."""
    return a1_places(yard.shape, cross_rad, yard.placed, yard.placed_en_m)[:, None, :]


def _grade_of_spots(yard: Yard, cross_rad: Floats, spots: Floats, off_m: float) -> Floats:
    if not len(spots):
        return np.zeros((len(cross_rad), 0))
    en = spots_in_space(yard, cross_rad, spots, off_m)[0]
    return yard.ground.z(en.reshape(-1, 2)).reshape(en.shape[:2])


def _between(nodes: Floats, values: Floats, at: Floats) -> Floats:
    """Return values (G, k), straight between those (K, k) at nodes (K,)."""
    if len(nodes) == 1:
        return np.broadcast_to(values, (len(at), values.shape[1]))
    left = np.clip(np.searchsorted(nodes, at) - 1, 0, len(nodes) - 2)
    share = ((at - nodes[left]) / (nodes[left + 1] - nodes[left]))[:, None]
    return np.asarray(values[left] * (1 - share) + values[left + 1] * share)


def spots_in_space(yard: Yard, cross_rad: Floats, spots: Floats, off_m: float) -> tuple[Floats, Floats]:
    """Return plan positions (G, k, 2) and elevations (G, k) of spots, the plane at 0 over A1."""
    shape = yard.shape
    lean = math.sin(shape.tilt_rad) * np.tan(cross_rad)
    middle = shape.half_line_m + shape.rail_run_m / 2 * lean
    along = middle[:, None] + spots[:, 0]
    up = np.broadcast_to(spots[:, 1] - shape.beams_at_m[0], along.shape)
    s, t, z = level_offsets(shape.tilt_rad, cross_rad[:, None], along, up, off_m)
    return in_plan(shape.azimuth_rad, _a1(yard, cross_rad), s, t), z


def yard_of(
    shape: FrameShape, ground: Ground, *, pier: str, placed_en_m: tuple[float, float], array_name: str
) -> Yard:
    """Return the yard; raises KeyError when the frame has no pier of that name."""
    names = pier_order(shape)[0]
    wanted = pier.strip().casefold()
    prefix = f"{array_name}-".casefold() if array_name else ""
    for i, name in enumerate(names):
        if wanted in (name.casefold(), prefix + name.casefold()):
            return Yard(
                shape=shape,
                ground=ground,
                placed=i,
                placed_en_m=placed_en_m,
                names=names,
                array_name=array_name,
            )
    raise KeyError(pier)
