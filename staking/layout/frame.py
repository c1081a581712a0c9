"""What the layout hands on: the plane, the piers and their lengths, the frame on them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.errors import StakingError

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArrayPlane:
    """The plane of the beams' centrelines."""

    azimuth_rad: float
    """The way the array faces, clockwise from the site's north axis."""
    tilt_rad: float
    """Angle through which the array is turned about its beams."""
    cross_slope_rad: float
    """Angle of the beams against level, positive rising toward the right."""
    a1_en_m: tuple[float, float]
    z_a1_m: float
    """Elevation of the beam's centreline at pier A1."""
    axes_north_rad: float = 0.0
    """Azimuth of the site's north axis from true north: not nought where control stands on a map grid."""

    @property
    def facing_rad(self) -> float:
        """The way the array faces, clockwise from true north."""
        return self.azimuth_rad + self.axes_north_rad


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piers:
    """Piers in the order A1, A2 … B1, B2 …."""

    names: tuple[str, ...]
    """Without the array's name: ``A1``."""
    beam: NDArray[np.int64]
    """(m,) 0 for beam A."""
    number: NDArray[np.int64]
    """(m,) 1 for the leftmost."""
    en_m: Floats
    """(m, 2) plan positions."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PierLengths:
    """Heights at each pier, all (m,), metres."""

    ground_m: Floats
    ground_cov_m2: Floats
    """(m, m)."""
    top_m: Floats
    """Elevation of the post's top end."""
    sd_top_m: float
    """Of a top against the benchmark: backsight, mark and saw."""
    sd_top_neighbour_m: float
    """Of a top against its neighbour's from one setup: mark and saw of both."""
    above_grade_m: Floats
    sd_above_grade_m: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beam:
    """One beam, distances along it from its left end, metres."""

    letter: str
    length_m: float
    first_post_m: float
    posts_m: tuple[float, ...]
    rails_m: tuple[float, ...]
    left_end_enz_m: tuple[float, float, float]
    right_end_enz_m: tuple[float, float, float]

    @property
    def overhang_left_m(self) -> float:
        """How far the beam runs past its first post, metres along it."""
        return self.posts_m[0]

    @property
    def overhang_right_m(self) -> float:
        """How far the beam runs past its last post, metres along it."""
        return self.length_m - self.posts_m[-1]

    @property
    def rise_m(self) -> float:
        """How much higher its right end lies than its left end, metres; negative: it drops to the right."""
        return self.right_end_enz_m[2] - self.left_end_enz_m[2]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """One array laid out on its ground."""

    plane: ArrayPlane
    piers: Piers
    lengths: PierLengths
    beams: tuple[Beam, ...]
    bay_m: float
    modules_outline_en_m: Floats
    """(4, 2) plan corners of the modules' underside, low left first, counter-clockwise seen from above."""
    plan_outline_en_m: Floats
    """(k, 2) ring round both faces of the modules in plan, counter-clockwise: what must keep clear."""
    rail_length_m: float
    rails: int
    """Number of rails."""
    clearance_m: float
    """Least plumb distance, underside of the modules to the ground."""
    clearance_at_en_m: tuple[float, float]
    highest_m: float
    """Greatest plumb height of the modules' upper face above the ground."""
    highest_at_en_m: tuple[float, float]
    true_tilt_rad: float
    true_azimuth_rad: float
    rail_slope_rad: float
    """What a level laid on a rail reads."""
    skew_m: float

    @property
    def total_above_grade_m(self) -> float:
        """Sum of all above-grade lengths, metres."""
        return float(self.lengths.above_grade_m.sum())


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """One limit that cannot be met together with the others."""

    limit: str
    """The key of job.toml: ``fit.above_grade_max``."""
    where: str
    """Pier or spot of ground, in words."""
    by_m: float
    """By how much, at the plane that comes nearest."""
    text: str
    """The whole sentence, in the survey's units."""


class NoPlaneFits(StakingError):
    """The input is right, but no plane meets the limits."""

    def __init__(self, conflicts: tuple[Conflict, ...], would_do: tuple[str, ...]) -> None:
        self.conflicts = conflicts
        self.would_do = would_do
        super().__init__("\n".join([*(c.text for c in conflicts), *would_do]))
