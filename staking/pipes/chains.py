"""Joints that cut one beam into the fewest pieces, and whether there are any."""

from __future__ import annotations

from collections.abc import Sequence

from staking.pipes.cutlist import BeamToCut
from staking.pipes.joints import SNAP_M, START, Spot, may_lie


def farthest_chain(
    beam: BeamToCut, spots: Sequence[Spot], stick_m: float, posts_per_piece: int = 1
) -> tuple[float, ...] | None:
    """Return butted joints of the fewest pieces no longer than `stick_m`, each as far right as it may stand.

    Of the joints that may follow after so many pieces only the rightmost in each spot matters: from there
    everything is reached that is reached from places left of it. None when no legal joints do.
    """
    if beam.length_m <= stick_m + SNAP_M:
        return ()
    end = len(spots)
    # One state is a joint: its spot, its place, and the state before it.
    states: list[tuple[int, float, int]] = [(START, 0.0, -1)]
    layer = [0]
    while layer:
        reached: dict[int, tuple[float, float, int]] = {}
        for number in layer:
            spot, at, _ = states[number]
            for later in range(spot + 1, end):
                if spots[later].low_m > at + stick_m + SNAP_M:
                    break
                if may_lie(beam, spots, spot, later, posts_per_piece):
                    place = max(
                        max(low, min(high, at + stick_m))
                        for low, high in spots[later].intervals
                        if low <= at + stick_m + SNAP_M
                    )
                    reached[later] = max(reached.get(later, (-1.0, 0.0, 0)), (place, at, number))
        layer = list(range(len(states), len(states) + len(reached)))
        states += [(later, place, before) for later, (place, _, before) in sorted(reached.items())]
        for number in reversed(layer):
            spot, at, _ = states[number]
            if beam.length_m - at <= stick_m + SNAP_M and may_lie(beam, spots, spot, end, posts_per_piece):
                joints = []
                while number > 0:
                    _, at, number = states[number]
                    joints.append(at)
                return tuple(reversed(joints))
    return None


def shortest_stick_that_does(beam: BeamToCut, spots: Sequence[Spot], posts_per_piece: int = 1) -> float:
    """Return the least stick length for which butted joints can be placed, to a micrometre."""
    low, high = 0.0, beam.length_m
    while high - low > 1e-6:
        middle = (low + high) / 2
        if farthest_chain(beam, spots, middle, posts_per_piece) is None:
            low = middle
        else:
            high = middle
    return high


def whole_stick_chain(
    beam: BeamToCut,
    spots: Sequence[Spot],
    sticks_m: Sequence[float],
    make_up_m: float,
    posts_per_piece: int = 1,
) -> tuple[float, ...] | None:
    """Return threaded joints of the fewest pieces: every piece between two joints is a whole stick.

    `sticks_m` are the lengths that beams may use; a piece longer than its stick by no more than `SNAP_M`, or
    as much off a whole one, still fits. None when no legal joints do.
    """
    longest, end = max(sticks_m) + SNAP_M, len(spots)
    if beam.length_m <= longest:
        return ()
    # One state is an interval of places for a joint and the state and whole stick that led to it.
    layer: list[tuple[float, float, int, int | None, float]] = [
        (low, min(high, longest + make_up_m / 2), number, None, 0.0)
        for number, spot in enumerate(spots)
        for low, high in spot.intervals
        if low <= longest + make_up_m / 2 and may_lie(beam, spots, START, number, posts_per_piece)
    ]
    states: list[tuple[float, float, int, int | None, float]] = []
    while layer:
        first = len(states)
        states += layer
        for number in range(first, len(states)):
            low, high, spot, parent, step = states[number]
            if beam.length_m - high - make_up_m / 2 <= longest and may_lie(
                beam, spots, spot, end, posts_per_piece
            ):
                place = high
                chain = [place]
                while parent is not None:
                    place -= step
                    low, high, _, parent, step = states[parent]
                    place = min(max(place, low), high)
                    chain.append(place)
                return tuple(reversed(chain))
        layer = [
            (
                max(low + stick + make_up_m - SNAP_M, a),
                min(high + stick + make_up_m + SNAP_M, b),
                later,
                number,
                stick + make_up_m,
            )
            for number in range(first, len(states))
            for low, high, spot, _, _ in [states[number]]
            for stick in sticks_m
            for later in range(spot + 1, end)
            if may_lie(beam, spots, spot, later, posts_per_piece)
            for a, b in spots[later].intervals
            if max(low + stick + make_up_m - SNAP_M, a) <= min(high + stick + make_up_m + SNAP_M, b)
        ]
    return None
