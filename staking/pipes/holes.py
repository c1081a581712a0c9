"""Holes, embedment and the length of each post. See `Hole`."""

from __future__ import annotations

from dataclasses import dataclass


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
    concrete_m3: float
    """Hole less the post's own volume in it."""
    off_mark_m: float | None
    """How far the post may stand off its mark before side cover is too thin; None without side cover."""
