"""Holes, embedment and the length of each post. See `Hole` and docs/holes.md."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from staking.book.records import Footing, Pipe
from staking.ground.elevations import Ground
from staking.layout.frame import Fit

_SAME_M = 0.0005
"""A sawn post that is shorter by less is not too short: half a millimetre."""


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
    """What more than the cut allowance is sawn off a post whose hole came out shallow after it was sawn.

    Negative: so much of the allowance is in the ground.
    """

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


def with_depth(
    hole: Hole,
    depth_m: float,
    footing: Footing,
    *,
    post_od_m: float,
    allowance_m: float,
    sawn_m: float | None = None,
) -> Hole:
    """Return a hole as it was dug, and the post for it where that is not cut yet.

    In a deeper hole the post is longer by as much, with the bottom cover as planned. In a shallower one the
    bottom cover gives way down to what is asked; beyond, the post is shorter and its embedment less. A post
    that is sawn, ``sawn_m`` long, keeps its length: where the hole is deeper than that asks more concrete
    lies under it; where it is shallower the post is set as high as the bottom cover asks, and more is sawn
    off at its mark. What it lacks is taken from its allowance; one that lacks more counts as not sawn.

    Raises
    ------
    ValueError
        When nothing of the post would stand in the ground.
    """
    planned_m, deeper = hole.embedment_m + hole.lip_m, depth_m - hole.hole_depth_m
    most_m = depth_m - footing.bottom_cover_m
    stands_high_m = 0.0
    in_ground = planned_m + deeper if deeper >= 0 else min(planned_m, most_m)
    if sawn_m is not None:
        reach_m, least_m = planned_m + sawn_m - hole.post_length_m, min(planned_m, most_m)
        if reach_m < least_m - allowance_m - _SAME_M:
            sawn_m = None
        else:
            in_ground = min(max(reach_m, least_m), most_m)
            stands_high_m = reach_m - in_ground
    if in_ground <= hole.lip_m:
        message = "too shallow for the bottom cover and a post in the ground"
        raise ValueError(message)
    hole_m3, over_dig_m3, post_m3, bags = _volumes(footing, depth_m, in_ground, post_od_m)
    return replace(
        hole,
        embedment_m=in_ground - hole.lip_m,
        bottom_cover_m=depth_m - in_ground,
        hole_depth_m=depth_m,
        post_length_m=hole.post_length_m + in_ground - planned_m if sawn_m is None else sawn_m,
        stands_high_m=stands_high_m,
        hole_m3=hole_m3,
        over_dig_m3=over_dig_m3,
        post_m3=post_m3,
        bags=bags,
    )


def _volumes(
    footing: Footing, depth_m: float, in_ground_m: float, post_od_m: float
) -> tuple[float, float, float, float | None]:
    """Return the volumes of a hole, of what is dug more and of the post in it, and the bags of concrete."""
    hole_m3 = math.pi / 4 * footing.hole_diameter_m**2 * depth_m
    post_m3 = math.pi / 4 * post_od_m**2 * min(in_ground_m, depth_m)
    over_dig_m3 = footing.over_dig * hole_m3
    bags = None
    if footing.bag_yield_m3 is not None:
        bags = (hole_m3 + over_dig_m3 - post_m3) / footing.bag_yield_m3
    return hole_m3, over_dig_m3, post_m3, bags


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
    hole_m3, over_dig_m3, post_m3, bags = _volumes(footing, depth, in_ground, post_od_m)
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
