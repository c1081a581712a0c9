"""Sections through one array: along each row of posts, and up the slope through each line of piers.

A section is an upright cut through the piers' middles, metres: `s` runs level along it, left to right as seen
from the low side, or from the front to the back; `z` is the elevation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.axes import facing_axes, plane_axes
from staking.plan import ArrayPlan, Plan

Floats = NDArray[np.float64]
SZ = tuple[float, float]

BEYOND_M = 0.6
"""How far the ground is drawn past what stands on it."""
_STEP_M = 0.1
"""From one place of the ground drawn to the next."""
_MOST_STEPS = 600


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionPost:
    """One post in its hole, cut through the middle."""

    name: str
    s_m: float
    ground_m: float
    """At the middle of the hole, where above-grade length counts from."""
    top_m: float
    foot_m: float | None
    """The post's lower end; None where holes are not given."""
    hole_bottom_m: float | None
    hole_radius_m: float | None
    lips_m: tuple[float, float] | None
    """The ground at the hole's edge where the section meets it, first the left or front one."""

    @property
    def above_grade_m(self) -> float:
        """The post above the ground at its middle."""
        return self.top_m - self.ground_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One section."""

    title: str
    ends: tuple[str, str]
    """What lies at its left and right: ``left``, ``right`` or ``front``, ``back``."""
    posts: tuple[SectionPost, ...]
    shot: tuple[tuple[SZ, ...], ...]
    """The ground among the shots, in pieces."""
    guessed: tuple[tuple[SZ, ...], ...]
    """The ground past the outermost shots."""
    heavy: tuple[SZ, SZ]
    """The beam of a row; up the slope the underside of the modules."""
    heavy_name: str


def row_sections(plan: Plan, array: ArrayPlan) -> tuple[Section, ...]:
    """Return the section along each row of posts, the low row first."""
    fit = array.fit
    e, _ = facing_axes(fit.plane.azimuth_rad)
    found = []
    for k, beam in enumerate(fit.beams):
        chosen = np.flatnonzero(fit.piers.beam == k)
        start = fit.piers.en_m[chosen[0]]
        ends = [np.asarray(end) for end in (beam.left_end_enz_m, beam.right_end_enz_m)]
        along = [float((end[:2] - start) @ e[:2]) for end in ends]
        heavy = ((along[0], float(ends[0][2])), (along[1], float(ends[1][2])))
        shot, guessed = _ground(plan, start, e[:2], along[0] - BEYOND_M, along[1] + BEYOND_M)
        found.append(
            Section(
                title=f"Row {array.pier_name(array.beam_letter(beam.letter))}, seen from the front",
                ends=("left", "right"),
                posts=_posts(plan, array, chosen, start, e[:2]),
                shot=shot,
                guessed=guessed,
                heavy=heavy,
                heavy_name="beam",
            )
        )
    return tuple(found)


def line_sections(plan: Plan, array: ArrayPlan) -> tuple[Section, ...]:
    """Return the section up the slope through each line of piers, the leftmost first."""
    fit = array.fit
    _, w = facing_axes(fit.plane.azimuth_rad)
    return tuple(_line_section(plan, array, int(number), w[:2]) for number in np.unique(fit.piers.number))


def _line_section(plan: Plan, array: ArrayPlan, number: int, w: Floats) -> Section:
    fit, frame = array.fit, array.job.frame
    chosen = np.flatnonzero(fit.piers.number == number)
    start = fit.piers.en_m[chosen[0]]
    plane = fit.plane
    # Z rises by tan β / cos γ along w; the underside lies `stack` further along the plane's normal.
    rise = math.tan(plane.tilt_rad) / math.cos(plane.cross_slope_rad)
    plumb_m = frame.stack_m / (math.cos(plane.tilt_rad) * math.cos(plane.cross_slope_rad))
    centre_m = float(fit.lengths.top_m[chosen[0]]) + frame.takeout_m
    first = frame.beams_at_m[int(fit.piers.beam[chosen[0]])]
    # The modules lie off the beams along the normal, which leans toward the front.
    _, _, normal = plane_axes(plane.azimuth_rad, plane.tilt_rad, plane.cross_slope_rad)
    forward_m = frame.stack_m * float(normal[:2] @ w)
    edges = [(q - first) * math.cos(plane.tilt_rad) + forward_m for q in (0.0, array.job.array.height_m)]
    heavy = (
        (edges[0], centre_m + plumb_m + rise * edges[0]),
        (edges[1], centre_m + plumb_m + rise * edges[1]),
    )
    shot, guessed = _ground(plan, start, w, edges[0] - BEYOND_M, edges[1] + BEYOND_M)
    names = " ".join(array.pier_name(fit.piers.names[i]) for i in chosen)
    return Section(
        title=f"Piers {names}",
        ends=("front", "back"),
        posts=_posts(plan, array, chosen, start, w),
        shot=shot,
        guessed=guessed,
        heavy=heavy,
        heavy_name="modules' underside",
    )


def _posts(
    plan: Plan, array: ArrayPlan, chosen: NDArray[np.int64], start: Floats, way: Floats
) -> tuple[SectionPost, ...]:
    fit, footing = array.fit, plan.book.job.footing
    en = fit.piers.en_m[chosen]
    along = (en - start) @ way
    falls = None if plan.ground is None else plan.ground.gradient(en) @ way
    posts = []
    for k, i in enumerate(chosen):
        ground, top = float(fit.lengths.ground_m[i]), float(fit.lengths.top_m[i])
        foot = bottom = radius = lips = None
        if array.holes:
            hole = array.holes[i]
            bottom = ground - hole.hole_depth_m
            foot = bottom + hole.bottom_cover_m
            if footing is not None and falls is not None:
                radius = footing.hole_diameter_m / 2.0
                half = radius * float(falls[k])
                lips = (ground - half, ground + half)
        posts.append(
            SectionPost(
                name=array.pier_name(fit.piers.names[i]),
                s_m=float(along[k]),
                ground_m=ground,
                top_m=top,
                foot_m=foot,
                hole_bottom_m=bottom,
                hole_radius_m=radius,
                lips_m=lips,
            )
        )
    return tuple(posts)


def _ground(
    plan: Plan, start: Floats, way: Floats, low_m: float, high_m: float
) -> tuple[tuple[tuple[SZ, ...], ...], tuple[tuple[SZ, ...], ...]]:
    """Return the ground along a line in pieces, among the shots and past them."""
    if plan.ground is None:
        return (), ()
    count = min(_MOST_STEPS, max(2, math.ceil((high_m - low_m) / _STEP_M) + 1))
    s = np.linspace(low_m, high_m, count)
    places = start + s[:, None] * way
    z = np.asarray(plan.ground.z(places))
    past = np.asarray(plan.ground.outside(places))
    pieces: tuple[list[tuple[SZ, ...]], list[tuple[SZ, ...]]] = ([], [])
    begin = 0
    for k in range(1, count + 1):
        if k == count or past[k] != past[begin]:
            until = min(k + 1, count)  # Up to the first place of the next piece, so that no gap shows.
            points = tuple((float(a), float(b)) for a, b in zip(s[begin:until], z[begin:until], strict=True))
            if len(points) > 1:
                pieces[int(past[begin])].append(points)
            begin = k
    return tuple(pieces[0]), tuple(pieces[1])


def heights(section: Section) -> tuple[float, float]:
    """Return the lowest and the highest elevation drawn, metres."""
    z = [post.top_m for post in section.posts] + [z for _, z in section.heavy]
    z += [bottom for post in section.posts if (bottom := post.hole_bottom_m) is not None]
    z += [z for piece in (*section.shot, *section.guessed) for _, z in piece]
    z += [post.ground_m for post in section.posts]
    return min(z), max(z)


def extent(section: Section) -> tuple[float, float]:
    """Return where the section begins and ends along itself."""
    s = [post.s_m for post in section.posts] + [s for s, _ in section.heavy]
    s += [s for piece in (*section.shot, *section.guessed) for s, _ in piece]
    return min(s), max(s)
