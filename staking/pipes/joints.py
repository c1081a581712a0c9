"""Where the joints of a beam may fall, and the pieces that may lie between them.

Distances run along the beam from its left end, in metres. A *spot* is a span between two neighbouring
posts in which a joint may stand; a *part* is one possible piece of the beam, from its left end or a spot
to a later spot or its right end. One joint at most in a span and none beyond the end posts, so each
part rests on a post.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

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


def legal_spots(beam: BeamToCut, clear_m: float) -> tuple[Spot, ...]:
    """Return the spans of a beam in which a joint can keep `clear_m` from every post and rail.

    A joint exactly at that distance is legal. Spans without any legal place are left out.
    """
    spots = []
    for span, (left, right) in enumerate(pairwise(beam.posts_m)):
        pieces = [(left + clear_m, right - clear_m)]
        for rail in beam.rails_m:
            pieces = [
                part
                for low, high in pieces
                for part in (
                    ((low, high),)
                    if rail + clear_m <= low or rail - clear_m >= high
                    else ((low, rail - clear_m), (rail + clear_m, high))
                )
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


def possible_parts(
    number: int, beam: BeamToCut, spots: Sequence[Spot], *, longest_m: float, make_up_m: float
) -> tuple[Part, ...]:
    """Return every part of beam `number` whose shortest form is not longer than `longest_m`."""
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
            if shortest <= longest_m:
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


def farthest_chain(beam: BeamToCut, spots: Sequence[Spot], stick_m: float) -> tuple[float, ...] | None:
    """Return the joints of the fewest pieces no longer than `stick_m`, each as far right as it may stand.

    Reaching as far as possible each time needs the fewest joints. None when no legal joints do.
    """
    joints: list[float] = []
    at, following = 0.0, 0
    while beam.length_m - at > stick_m + SNAP_M:
        reach = None
        for number in range(following, len(spots)):
            places = [
                max(low, min(high, at + stick_m))
                for low, high in spots[number].intervals
                if low <= at + stick_m + SNAP_M
            ]
            if places:
                reach, following = max(places), number + 1
        if reach is None:
            return None
        joints.append(reach)
        at = reach
    return tuple(joints)


def shortest_stick_that_does(beam: BeamToCut, spots: Sequence[Spot]) -> float:
    """Return the least stick length for which butted joints can be placed, to a micrometre."""
    low, high = 0.0, beam.length_m
    while high - low > 1e-6:
        middle = (low + high) / 2
        if farthest_chain(beam, spots, middle) is None:
            low = middle
        else:
            high = middle
    return high


def whole_stick_chain(
    beam: BeamToCut, spots: Sequence[Spot], sticks_m: Sequence[float], make_up_m: float
) -> tuple[float, ...] | None:
    """Return threaded joints of the fewest pieces: every piece between two joints is a whole stick.

    `sticks_m` are the lengths that beams may use. None when no legal joints do.
    """
    longest = max(sticks_m)
    if beam.length_m <= longest:
        return ()
    # One state is an interval of places for a joint and the state and whole stick that led to it.
    layer: list[tuple[float, float, int, int | None, float]] = [
        (low, min(high, longest + make_up_m / 2), number, None, 0.0)
        for number, spot in enumerate(spots)
        for low, high in spot.intervals
        if low <= longest + make_up_m / 2
    ]
    states: list[tuple[float, float, int, int | None, float]] = []
    while layer:
        first = len(states)
        states += layer
        for number in range(first, len(states)):
            _, high, _, parent, step = states[number]
            if beam.length_m - high - make_up_m / 2 <= longest:
                place = high
                chain = [place]
                while parent is not None:
                    place -= step
                    chain.append(place)
                    _, _, _, parent, step = states[parent]
                return tuple(reversed(chain))
        layer = [
            (
                max(low + stick + make_up_m, a),
                min(high + stick + make_up_m, b),
                later,
                number,
                stick + make_up_m,
            )
            for number in range(first, len(states))
            for low, high, spot, _, _ in [states[number]]
            for stick in sticks_m
            for later in range(spot + 1, len(spots))
            for a, b in spots[later].intervals
            if max(low + stick + make_up_m, a) <= min(high + stick + make_up_m, b)
        ]
    return None
