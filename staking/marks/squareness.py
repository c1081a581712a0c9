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


def _side(fit: Fit, a: int, b: int) -> Side:
    level = float(np.hypot(*(fit.piers.en_m[b] - fit.piers.en_m[a])))
    rise = float(fit.lengths.ground_m[b] - fit.lengths.ground_m[a])
    return Side(
        name=f"{fit.piers.names[a]}-{fit.piers.names[b]}",
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
