"""Holes, embedment and the length of each post. See `Hole` and docs/holes.md."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from staking.book.records import Footing, Pipe
from staking.ground.elevations import Ground
from staking.layout.frame import Fit


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """One pier's hole and post, metres."""

    pier: str
    lip_m: float
    """What the ground falls from the hole's centre to where embedment counts from."""
    embedment_m: float
    """As the engineer gives it, without the lip."""
    bottom_cover_m: float
    """True size: more than asked where frost depth makes the hole deeper."""
    hole_depth_m: float
    """From the ground at the centre."""
    post_length_m: float
    """Above-grade length + embedment + lip + cut allowance."""
    hole_m3: float
    """The hole as it is drawn: its circle times its depth at the centre.

    So much lies below any plane of grade through that centre: what the uphill side has more, the downhill
    side has less.
    """
    over_dig_m3: float
    """What the auger digs more than its name says, and waste."""
    post_m3: float
    """The post in the hole, as if its foot were closed."""
    bags: float | None
    """Bags of concrete, in parts of one; None where no bag's yield is given."""
    off_mark_m: float | None
    """How far the post may stand off its mark before side cover is too thin; None without side cover.

    Negative: the hole is too narrow for the post even on its mark.
    """

    stands_high_m: float = 0.0
    """What more than the cut allowance is sawn off a post whose hole came out shallow after it was sawn."""

    @property
    def concrete_m3(self) -> float:
        """The hole as it is dug, to grade, less the post in it."""
        return self.hole_m3 + self.over_dig_m3 - self.post_m3


def holes(fit: Fit, footing: Footing, pipe: Pipe, ground: Ground, post_od_m: float) -> tuple[Hole, ...]:
    """Return the hole and the post of every pier, in the order of the piers.

    Parameters
    ----------
    fit : Fit
        The array laid out.
    footing : Footing
        Hole, embedment, covers and frost depth, as the engineer gives them.
    pipe : Pipe
        For the cut allowance.
    ground : Ground
        For the slope of the ground at each pier.
    post_od_m : float
        Outside diameter of the posts.
    """
    gradient = ground.gradient(fit.piers.en_m)
    steepness = np.hypot(gradient[:, 0], gradient[:, 1])
    return tuple(
        _hole(name, float(tan_slope), float(above), footing, pipe, post_od_m)
        for name, tan_slope, above in zip(fit.piers.names, steepness, fit.lengths.above_grade_m, strict=True)
    )


def lip_reach_m(footing: Footing) -> float:
    """Return how far from the hole's centre embedment counts from: its lip, or `daylight` if farther."""
    return max(footing.hole_diameter_m / 2, footing.daylight_m or 0.0)


def with_depth(hole: Hole, depth_m: float, footing: Footing, *, post_od_m: float, post_is_cut: bool) -> Hole:
    """Return a hole as it was dug, and the post for it where that is not cut yet.

    In a deeper hole the post is longer by as much, with the bottom cover as planned. In a shallower one the
    bottom cover gives way down to what is asked; beyond, the post is shorter and its embedment less. A post
    that is cut keeps its length: in a deeper hole more concrete lies under it, in a shallower one it is set
    as high as the bottom cover asks, and more is sawn off at its mark.

    Raises
    ------
    ValueError
        When nothing of the post would stand in the ground.
    """
    planned_m, deeper = hole.embedment_m + hole.lip_m, depth_m - hole.hole_depth_m
    if deeper >= 0:
        in_ground = planned_m if post_is_cut else planned_m + deeper
    else:
        in_ground = min(planned_m, depth_m - footing.bottom_cover_m)
    if in_ground <= hole.lip_m:
        message = "too shallow for the bottom cover and a post in the ground"
        raise ValueError(message)
    hole_m3 = math.pi / 4 * footing.hole_diameter_m**2 * depth_m
    post_m3 = math.pi / 4 * post_od_m**2 * min(in_ground, depth_m)
    over_dig_m3 = footing.over_dig * hole_m3
    concrete_m3 = hole_m3 + over_dig_m3 - post_m3
    return replace(
        hole,
        embedment_m=in_ground - hole.lip_m,
        bottom_cover_m=depth_m - in_ground,
        hole_depth_m=depth_m,
        post_length_m=hole.post_length_m + (0.0 if post_is_cut else in_ground - planned_m),
        stands_high_m=planned_m - in_ground if post_is_cut else 0.0,
        hole_m3=hole_m3,
        over_dig_m3=over_dig_m3,
        post_m3=post_m3,
        bags=None if footing.bag_yield_m3 is None else concrete_m3 / footing.bag_yield_m3,
    )


def _hole(
    pier: str, tan_slope: float, above_grade_m: float, footing: Footing, pipe: Pipe, post_od_m: float
) -> Hole:
    lip = lip_reach_m(footing) * tan_slope
    in_ground = footing.embedment_m + lip
    frost = footing.frost_depth_m or 0.0
    depth = max(in_ground + footing.bottom_cover_m, frost + lip)
    off_mark = None
    if footing.side_cover_m is not None:
        off_mark = (footing.hole_diameter_m - post_od_m) / 2 - footing.side_cover_m
    hole_m3 = math.pi / 4 * footing.hole_diameter_m**2 * depth
    over_dig_m3 = footing.over_dig * hole_m3
    post_m3 = math.pi / 4 * post_od_m**2 * in_ground
    bags = None
    if footing.bag_yield_m3 is not None:
        bags = (hole_m3 + over_dig_m3 - post_m3) / footing.bag_yield_m3
    return Hole(
        pier=pier,
        lip_m=lip,
        embedment_m=footing.embedment_m,
        bottom_cover_m=depth - in_ground,
        hole_depth_m=depth,
        post_length_m=above_grade_m + in_ground + pipe.cut_allowance_m,
        hole_m3=hole_m3,
        over_dig_m3=over_dig_m3,
        post_m3=post_m3,
        bags=bags,
        off_mark_m=off_mark,
    )
