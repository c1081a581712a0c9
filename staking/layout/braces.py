"""Braces of tall posts: lengths between fixing points that the engineer or the supplier gives.

A brace runs from the centreline of a tall post, so far down from its top end, to the centreline of a
neighbour, so far up from grade there. Which posts want one, and of what, is not for geometry to say.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from staking.book.records import Braces
from staking.layout.frame import Fit

STEPS = {"low": (-1, 0), "high": (1, 0), "left": (0, -1), "right": (0, 1)}
"""From a pier to the neighbour that a brace runs to: beams up, numbers to the right."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Brace:
    """One brace, between the centrelines of two posts."""

    post: str
    """The tall one."""
    to: str
    length_m: float
    sd_m: float
    """From the grade at both and the marks: fixings are measured off on the posts."""
    above_level_rad: float
    """How steep it stands, from its foot up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Braced:
    """All braces of an array, and the tall posts that no neighbour or no room is there for."""

    braces: tuple[Brace, ...] = ()
    without: tuple[str, ...] = ()


def braced(fit: Fit, wanted: Braces) -> Braced:
    """Return the braces of every post that stands over the height given."""
    if wanted.over_m is None or wanted.from_top_m is None or wanted.above_grade_m is None:
        return Braced()
    piers, lengths = fit.piers, fit.lengths
    at = {
        (int(beam), int(number)): k
        for k, (beam, number) in enumerate(zip(piers.beam, piers.number, strict=True))
    }
    found: list[Brace] = []
    without: list[str] = []
    for k, name in enumerate(piers.names):
        if lengths.above_grade_m[k] <= wanted.over_m:
            continue
        mine = []
        for way in wanted.to:
            beams, numbers = STEPS[way]
            other = at.get((int(piers.beam[k]) + beams, int(piers.number[k]) + numbers))
            if other is None:
                continue
            run = math.dist(piers.en_m[k], piers.en_m[other])
            high = float(lengths.top_m[k]) - wanted.from_top_m
            foot = float(lengths.ground_m[other]) + wanted.above_grade_m
            rise = high - foot
            # The fixing on the neighbour must be on its pipe, and the brace must climb.
            if rise <= 0 or wanted.above_grade_m >= lengths.above_grade_m[other]:
                continue
            length = math.hypot(run, rise)
            var = lengths.sd_top_m**2 + float(lengths.ground_cov_m2[other, other])
            mine.append(
                Brace(
                    post=name,
                    to=piers.names[other],
                    length_m=length,
                    sd_m=rise / length * math.sqrt(var),
                    above_level_rad=math.atan2(rise, run),
                )
            )
        found += mine
        if not mine:
            without.append(name)
    return Braced(braces=tuple(found), without=tuple(without))
