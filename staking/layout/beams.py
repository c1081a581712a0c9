"""The beams on their posts and the rails across them, distances along each beam."""

from __future__ import annotations

import math

import numpy as np

from staking.base.errors import Mistake, WrongInput
from staking.base.units import told
from staking.layout.bays import CLEAR_M, clear_bays
from staking.layout.frame import ArrayPlane, Beam
from staking.layout.piers import beam_letter
from staking.layout.plane import in_space
from staking.layout.shape import FrameShape

LEVEL_SHIFT_M = 1e-12
"""A beam that shifts less along itself over all cross-slopes does not shift: rounding."""
MOST_NAMED = 6
"""Rails on posts named one by one; the others are counted."""


def middle_along(shape: FrameShape, cross_slope_rad: float) -> float:
    """Return where the middle of the modules lies, along the beams from pier A1, metres.

    The modules are centred on the piers half-way up the rail run. Rails stay square to the beams while the
    piers of every beam stand square in plan, so a line of piers up the slope leans along the beams by
    sin β·tan γ for each metre up the rail.
    """
    lean = math.sin(shape.tilt_rad) * math.tan(cross_slope_rad)
    return shape.half_line_m + shape.rail_run_m / 2 * lean


def posts_along(shape: FrameShape, cross_slope_rad: float, beam: int) -> list[float]:
    """Return where a beam's posts stand, along the beams from pier A1, metres."""
    lean = math.sin(shape.tilt_rad) * math.tan(cross_slope_rad)
    first = (shape.beams_at_m[beam] - shape.beams_at_m[0]) * lean
    return [first + j * shape.bay_m for j in range(shape.piers_per_beam)]


def beams_of(shape: FrameShape, plane: ArrayPlane) -> tuple[Beam, ...]:
    """Return every beam, low beam first, with its posts, rails and ends.

    A beam runs from `beam_end` beyond its leftmost rail to `beam_end` beyond its rightmost, and at least
    `beam_past_post` past each end post.
    """
    middle = middle_along(shape, plane.cross_slope_rad)
    rails = [middle + x for x in shape.rails_m]
    beams = []
    for i, at in enumerate(shape.beams_at_m):
        posts = posts_along(shape, plane.cross_slope_rad, i)
        left = min(rails[0] - shape.beam_end_m, posts[0] - shape.beam_past_post_m)
        right = max(rails[-1] + shape.beam_end_m, posts[-1] + shape.beam_past_post_m)
        up = at - shape.beams_at_m[0]
        ends = in_space(plane, [left, right], up)
        beams.append(
            Beam(
                letter=beam_letter(i),
                length_m=right - left,
                first_post_m=posts[0] - left,
                posts_m=tuple(x - left for x in posts),
                rails_m=tuple(x - left for x in rails),
                left_end_enz_m=(float(ends[0, 0]), float(ends[0, 1]), float(ends[0, 2])),
                right_end_enz_m=(float(ends[1, 0]), float(ends[1, 1]), float(ends[1, 2])),
            )
        )
    return tuple(beams)


def clear_cross_slopes(
    shape: FrameShape, most_rad: float, *, array_name: str = "", style: str
) -> tuple[tuple[float, float], ...]:
    """Return the ranges of cross-slope within ±`most_rad` at which every rail keeps clear of every post.

    On beam i the distance from a rail to a post is D + (q_mid − q_i)·sin β·tan γ, D being the distance on
    level beams: linear in tan γ, so each pair of rail and post rules out one range.

    Raises
    ------
    WrongInput
        When no range is left: every rail on a post, with the distance that is missing.
    """
    top = math.tan(most_rad)
    ruled_out = _ruled_out(shape, top)
    ranges: list[tuple[float, float]] = []
    start = -top
    for low, high in sorted(ruled_out):
        if low >= high or high <= start:
            continue
        if low > top:
            break
        if low >= start:
            ranges.append((start, low))
        start = high
    if start <= top:
        ranges.append((start, top))
    if not ranges:
        raise WrongInput(_rails_on_posts(shape, array_name, style))
    return tuple((math.atan(low), math.atan(high)) for low, high in ranges)


def _ruled_out(shape: FrameShape, top: float) -> list[tuple[float, float]]:
    """Return the ranges of tan γ within ±`top` at which some rail comes too near to some post."""
    need = shape.rail_clear_m - CLEAR_M
    if need <= 0.0:
        return []
    posts = np.array([_post_from_middle(shape, post) for post in range(shape.piers_per_beam)])
    apart = (np.asarray(shape.rails_m)[None, :] - posts[:, None]).ravel()
    found: list[tuple[float, float]] = []
    for at in shape.beams_at_m:
        lean = ((shape.beams_at_m[0] + shape.beams_at_m[-1]) / 2 - at) * math.sin(shape.tilt_rad)
        if abs(lean) * top < LEVEL_SHIFT_M:
            if (np.abs(apart) < need).any():
                found.append((-math.inf, math.inf))
            continue
        near = apart[np.abs(apart) < need + abs(lean) * top]
        middle, half = -near / lean, need / abs(lean)
        found += zip((middle - half).tolist(), (middle + half).tolist(), strict=True)
    return found


def _post_from_middle(shape: FrameShape, post: int) -> float:
    return post * shape.bay_m - shape.half_line_m


def _level_pairs(shape: FrameShape) -> list[tuple[int, int]]:
    """Return (post, rail), both from 0 at the left, of all pairs."""
    return [(j, k) for j in range(shape.piers_per_beam) for k in range(len(shape.rails_m))]


def _rails_on_posts(shape: FrameShape, array_name: str, style: str) -> list[Mistake]:
    letters = [beam_letter(i) for i in range(len(shape.beams_at_m))]
    found = []
    for post, rail in _level_pairs(shape):
        apart = abs(shape.rails_m[rail] - _post_from_middle(shape, post))
        if apart < shape.rail_clear_m - CLEAR_M:
            names = " and ".join(f"{letter}{post + 1}" for letter in letters)
            short = told(shape.rail_clear_m - apart, style)
            found.append(
                f"rail {rail + 1} from the left lies {told(apart, style)} from the posts of {names}, {short} "
                "too near"
            )
    column = "frame.rail_clear" + (f" of array {array_name}" if array_name else "")
    expected = f"{told(shape.rail_clear_m, style)} or more between each rail and each post"
    more = len(found) - MOST_NAMED
    return [
        Mistake(
            file="job.toml",
            column=column,
            problem=problem + (f"; and {more} more like it" if number == MOST_NAMED and more > 0 else ""),
            expected=expected,
            remedy=_bays_that_do(shape, style) if number == min(len(found), MOST_NAMED) else None,
        )
        for number, problem in enumerate(found[:MOST_NAMED], start=1)
    ]


def _bays_that_do(shape: FrameShape, style: str) -> str:
    """Return which bays keep clear of the rails with level beams, the nearest on either side."""
    near = clear_bays(shape.rails_m, shape.rail_clear_m, shape.piers_per_beam, wanted_m=shape.bay_m)
    shorter = next((bay for bay in near if bay < shape.bay_m), None)
    longer = next((bay for bay in near if bay > shape.bay_m), None)
    words = [
        f"{told(bay, style)} or a little {which}"
        for bay, which in ((shorter, "shorter"), (longer, "longer"))
        if bay is not None
    ]
    if not words:
        return "Change frame.rail_inset, or another number of piers: at each bay a post stands under a rail"
    return f"Change frame.bay (with level beams {', or '.join(words)} keeps clear) or frame.rail_inset"
