"""Joints that cut one beam into the fewest pieces, and whether there are any."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product

from staking.pipes.cutlist import BeamToCut
from staking.pipes.joints import SNAP_M, START, Spot, may_lie
from staking.pipes.task import Task


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


def fewest_pieces(
    beam: BeamToCut,
    spots: Sequence[Spot],
    sticks_m: Sequence[float],
    make_up_m: float | None,
    posts_per_piece: int,
) -> tuple[float, ...] | None:
    """Return the joints of the fewest pieces; None when no legal joints do.

    `make_up_m` is None for butted joints.
    """
    if make_up_m is None:
        return farthest_chain(beam, spots, max(sticks_m), posts_per_piece)
    return whole_stick_chain(beam, spots, sticks_m, make_up_m, posts_per_piece)


def chain_of(task: Task, number: int) -> list[tuple[int, float]] | None:
    """Return the joints of the fewest pieces of a beam, each with its spot and place; None where none do."""
    beam, spots = task.beams[number], task.spots[number]
    sticks = sorted({kind.stock_m for kind in task.kinds if kind.for_beams}, reverse=True)
    make_up = task.make_up_m if task.threaded else None
    joints = fewest_pieces(beam, spots, sticks, make_up, task.rules.posts_per_piece)
    if joints is None:
        return None
    return [
        (next(n for n, spot in enumerate(spots) if spot.low_m - SNAP_M <= at <= spot.high_m + SNAP_M), at)
        for at in joints
    ]


def _spots_in_turn(
    beam: BeamToCut,
    spots: Sequence[Spot],
    sticks_m: Sequence[float],
    make_up_m: float | None,
    posts_per_piece: int,
    joints: int,
) -> list[set[int]]:
    """Return, for the first of so many joints, the second …, the spots that pieces from the left reach.

    `make_up_m` is None for butted joints.
    """
    end, half_m = len(spots), 0.0 if make_up_m is None else make_up_m / 2
    farthest = (0.0, max(sticks_m) + SNAP_M + half_m)
    whole = [(s + 2 * half_m - SNAP_M, s + 2 * half_m + SNAP_M) for s in sticks_m]
    reached: list[set[int]] = []
    # From where the last joint may stand: its spot, START for the beam's end, and places from low to high.
    layer = [(START, 0.0, 0.0)]
    for number in range(joints):
        steps = [farthest] if make_up_m is None or number == 0 else whole
        found: dict[tuple[int, float, float], tuple[int, float, float]] = {}
        for spot, low, high in layer:
            for later in range(spot + 1, end):
                if not may_lie(beam, spots, spot, later, posts_per_piece):
                    continue
                for (a, b), (least, most) in product(spots[later].intervals, steps):
                    first, last = max(a, low + least), min(b, high + most)
                    if first <= last:
                        # Of butted joints only the farthest matters: from there all the others' is reached.
                        key = (later, round(first, 6), 0.0 if make_up_m is None else round(last, 6))
                        found[key] = max(found.get(key, (later, first, last)), (later, first, last))
        layer = list(found.values())
        reached.append({spot for spot, _, _ in layer})
    return reached


def spots_by_number(
    beam: BeamToCut,
    spots: Sequence[Spot],
    sticks_m: Sequence[float],
    make_up_m: float | None,
    posts_per_piece: int,
    joints: int,
) -> list[set[int]]:
    """Return the spots in which the first of so many joints may stand, the second …: seen from both ends."""
    length, last = beam.length_m, len(spots) - 1
    turned = replace(beam, posts_m=tuple(length - at for at in reversed(beam.posts_m)))
    spans = len(beam.posts_m) - 2
    mirrored = tuple(
        Spot(
            span=spans - spot.span,
            intervals=tuple((length - high, length - low) for low, high in reversed(spot.intervals)),
        )
        for spot in reversed(spots)
    )
    ahead = _spots_in_turn(beam, spots, sticks_m, make_up_m, posts_per_piece, joints)
    back = _spots_in_turn(turned, mirrored, sticks_m, make_up_m, posts_per_piece, joints)
    return [one & {last - spot for spot in other} for one, other in zip(ahead, reversed(back), strict=True)]
