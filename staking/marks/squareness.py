"""Sides, diagonals and running distances that prove a staked array square.

In plan the outer stakes form a true rectangle whatever the cross-slope, so its two diagonals measured level
are equal; taped hub to hub on sloping ground they are not, and must not be forced to be.
"""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from staking.base.axes import facing_axes
from staking.layout.frame import Fit
from staking.marks.stakeout import Side

Floats = NDArray[np.float64]


def outer_corners(fit: Fit) -> tuple[int, ...]:
    """Return the outer stakes in order round the array: first and last of beam A, last and first of the last.

    One beam alone has two, and so has one pier a beam; a single pier is its own only corner.
    """
    beam, number = fit.piers.beam, fit.piers.number
    round_it = [
        int(np.flatnonzero((beam == b) & (number == n))[0])
        for b, n in (
            (beam.min(), number.min()),
            (beam.min(), number.max()),
            (beam.max(), number.max()),
            (beam.max(), number.min()),
        )
    ]
    return tuple(dict.fromkeys(round_it))


def sides_and_diagonals(fit: Fit) -> tuple[tuple[Side, ...], tuple[Side, ...]]:
    """Return the sides and the two diagonals of the rectangle of the outer stakes, level and hub to hub."""
    corners = outer_corners(fit)
    if len(corners) < 4:
        return tuple(_side(fit, a, b) for a, b in itertools.pairwise(corners)), ()
    first, last, far_last, far_first = corners
    sides = tuple(_side(fit, a, b) for a, b in zip(corners, (*corners[1:], first), strict=True))
    return sides, (_side(fit, first, far_last), _side(fit, last, far_first))


def top_to_top(fit: Fit) -> tuple[Side, ...]:
    """Return sides and diagonals between the tops of the outer posts: level, and from top to top.

    Unlike the stakes' ground the tops lie in one plane; with a cross-slope the two diagonals from top to top
    still differ: a plane that falls along both sides of a rectangle makes a parallelogram of it.
    """
    corners = outer_corners(fit)
    pairs = list(itertools.pairwise((*corners, *corners[:1]))) if len(corners) > 2 else [corners]
    if len(corners) == 4:
        pairs += [(corners[0], corners[2]), (corners[1], corners[3])]
    return tuple(_tops_apart(fit, *pair) for pair in pairs if len(pair) == 2)


def _tops_apart(fit: Fit, a: int, b: int) -> Side:
    level = float(np.hypot(*(fit.piers.en_m[b] - fit.piers.en_m[a])))
    rise = float(fit.lengths.top_m[b] - fit.lengths.top_m[a])
    names = fit.piers.names
    return Side(name=f"{names[a]} to {names[b]}", level_m=level, slope_m=float(np.hypot(level, rise)))


def _side(fit: Fit, a: int, b: int) -> Side:
    return _between(fit, a, fit, b)


def across_gap(left: Fit, right: Fit) -> tuple[Side, ...]:
    """Return each beam's line from the last stake of a section to the first of the next, and both diagonals.

    The diagonals run between the lowest and the highest beam; level they are equal.
    """
    low, high = int(left.piers.beam.min()), int(left.piers.beam.max())
    ends = {beam: (_end(left, beam, last=True), _end(right, beam)) for beam in range(low, high + 1)}
    pairs = [ends[beam] for beam in ends]
    if high > low:
        pairs += [(ends[low][0], ends[high][1]), (ends[high][0], ends[low][1])]
    return tuple(_between(left, a, right, b) for a, b in pairs)


def over_all(first: Fit, last: Fit) -> tuple[Side, ...]:
    """Return the low and the high side over all sections of an array, and its diagonals, level alike."""
    low, high = int(first.piers.beam.min()), int(first.piers.beam.max())
    starts = {beam: _end(first, beam) for beam in (low, high)}
    ends = {beam: _end(last, beam, last=True) for beam in (low, high)}
    pairs = [(starts[low], ends[low])]
    if high > low:
        pairs += [(starts[high], ends[high]), (starts[low], ends[high]), (starts[high], ends[low])]
    return tuple(_between(first, a, last, b) for a, b in pairs)


def _end(fit: Fit, beam: int, *, last: bool = False) -> int:
    """Return the index of a beam's first or last pier."""
    on_it = np.flatnonzero(fit.piers.beam == beam)
    return int(on_it[-1 if last else 0])


def _between(one: Fit, a: int, other: Fit, b: int) -> Side:
    level = float(np.hypot(*(other.piers.en_m[b] - one.piers.en_m[a])))
    rise = float(other.lengths.ground_m[b] - one.lengths.ground_m[a])
    return Side(
        name=f"{one.piers.names[a]} to {other.piers.names[b]}",
        level_m=level,
        slope_m=float(np.hypot(level, rise)),
    )


def running_m(fit: Fit) -> Floats:
    """Return (m,) level distances along each beam's line in plan, all from that beam's first pier."""
    e = facing_axes(fit.plane.azimuth_rad)[0][:2]
    along = fit.piers.en_m @ e
    zero = np.empty_like(along)
    for beam in np.unique(fit.piers.beam):
        on_it = np.flatnonzero(fit.piers.beam == beam)
        zero[on_it] = along[on_it[np.argmin(fit.piers.number[on_it])]]
    return along - zero
