"""Where the joints of a beam may fall, and the pieces that may lie between them.

Distances run along the beam from its left end, in metres. A *spot* is a span between two neighbouring
posts in which a joint may stand; a *part* is one possible piece of the beam, from its left end or a spot
to a later spot or its right end. One joint at most in a span and none beyond the end posts, so each
part rests on a post; where two are asked for, parts that rest on one are left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from staking.book.records import Pipe
from staking.pipes.cutlist import BeamToCut

INSET_M = 1e-9
"""Joints keep this much more than the least distance, so that rounding never brings one too near."""

SNAP_M = 1e-6
"""A stick overfull by no more than this is full: lengths typed to six decimals must still fit."""

START = -1
"""Stands for the beam's left end where the number of a spot is asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """One span between neighbouring posts, and the intervals in which its joint may stand."""

    span: int
    """0 for the span between the first and the second post."""
    intervals: tuple[tuple[float, float], ...]

    @property
    def low_m(self) -> float:
        """Leftmost legal place."""
        return self.intervals[0][0]

    @property
    def high_m(self) -> float:
        """Rightmost legal place."""
        return self.intervals[-1][1]

    @property
    def width_m(self) -> float:
        """From the leftmost to the rightmost legal place."""
        return self.high_m - self.low_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One possible piece of a beam; its length grows as its two joints move apart."""

    beam: int
    left: int
    """Number of the spot at its left end, or `START`."""
    right: int
    """Number of the spot at its right end; the number of spots stands for the beam's right end."""
    shortest_m: float
    left_grow_m: float
    """How much longer it gets when its left joint goes from the rightmost to the leftmost legal place."""
    right_grow_m: float
    joints: int
    """How many of its ends are joints."""

    @property
    def longest_m(self) -> float:
        """With both joints as far apart as they may stand."""
        return self.shortest_m + self.left_grow_m + self.right_grow_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """Where joints may stand and what a piece must rest on."""

    clear_m: float
    """Least distance from a joint to a post or a rail."""
    no_joint: tuple[float, float] | None = None
    """The part of each bay without joints, as shares of the bay from its left post."""
    posts_per_piece: int = 1
    """A piece of a beam with joints rests on so many posts at least."""


def rules_of(pipe: Pipe) -> Rules:
    """Return the rules that ``[pipe]`` states."""
    return Rules(
        clear_m=pipe.joint_clear_m, no_joint=pipe.no_joint_shares, posts_per_piece=pipe.posts_per_piece
    )


def legal_spots(beam: BeamToCut, rules: Rules) -> tuple[Spot, ...]:
    """Return the spans of a beam in which a joint keeps clear of posts, rails and what is forbidden.

    A joint exactly at a limit is legal. Spans without any legal place are left out.
    """
    spots = []
    clear = rules.clear_m
    for span, (left, right) in enumerate(pairwise(beam.posts_m)):
        pieces = [(left + clear, right - clear)]
        forbidden = [(rail - clear, rail + clear) for rail in beam.rails_m]
        if rules.no_joint is not None:
            a, b = rules.no_joint
            if a < b:
                forbidden.append((left + a * (right - left), left + b * (right - left)))
        for a, b in forbidden:
            pieces = [
                part
                for low, high in pieces
                for part in (((low, high),) if b <= low or a >= high else ((low, a), (b, high)))
            ]
        legal = []
        for low, high in pieces:
            if high - low > 2 * INSET_M:
                legal.append((low + INSET_M, high - INSET_M))
            elif high - low >= -INSET_M:
                legal.append(((low + high) / 2, (low + high) / 2))
        if legal:
            spots.append(Spot(span=span, intervals=tuple(legal)))
    return tuple(spots)


def _posts_under(beam: BeamToCut, spots: Sequence[Spot], left: int, right: int) -> int:
    """Return on how many posts the part between these spots rests."""
    first = 0 if left == START else spots[left].span + 1
    last = len(beam.posts_m) if right == len(spots) else spots[right].span + 1
    return last - first


def may_lie(beam: BeamToCut, spots: Sequence[Spot], left: int, right: int, posts_per_piece: int) -> bool:
    """Whether a part between these spots rests on enough posts; a beam without joints always may."""
    whole = left == START and right == len(spots)
    return whole or _posts_under(beam, spots, left, right) >= posts_per_piece


def possible_parts(
    number: int,
    beam: BeamToCut,
    spots: Sequence[Spot],
    *,
    longest_m: float,
    make_up_m: float,
    posts_per_piece: int = 1,
) -> tuple[Part, ...]:
    """Return every part of beam `number` that rests on enough posts and can be as short as `longest_m`."""
    parts = []
    end = len(spots)
    for left in range(START, end):
        for right in range(left + 1, end + 1):
            joints = (left != START) + (right != end)
            from_m, left_grow = (0.0, 0.0) if left == START else (spots[left].high_m, spots[left].width_m)
            to_m, right_grow = (
                (beam.length_m, 0.0) if right == end else (spots[right].low_m, spots[right].width_m)
            )
            shortest = to_m - from_m - joints * make_up_m / 2
            if shortest <= longest_m and may_lie(beam, spots, left, right, posts_per_piece):
                parts.append(
                    Part(
                        beam=number,
                        left=left,
                        right=right,
                        shortest_m=max(shortest, 0.0),
                        left_grow_m=left_grow,
                        right_grow_m=right_grow,
                        joints=joints,
                    )
                )
    return tuple(parts)


def ways_on(parts: Sequence[Part], number: int, spots: Sequence[Spot]) -> tuple[tuple[int, ...], ...]:
    """Return, for beam `number`, the spots to which a part may run from its left end and from each spot.

    The farthest first; only those from which parts can be put on to the beam's right end. Entry ``i + 1``
    is for spot `i`, entry 0 for the left end.
    """
    end = len(spots)
    ways: list[tuple[int, ...]] = [()] * (end + 1)
    by_left: dict[int, list[int]] = {}
    for part in parts:
        if part.beam == number:
            by_left.setdefault(part.left, []).append(part.right)
    for left in range(end - 1, START - 1, -1):
        rights = sorted(by_left.get(left, ()), reverse=True)
        ways[left + 1] = tuple(right for right in rights if right == end or ways[right + 1])
    return tuple(ways)
