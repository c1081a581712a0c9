"""The least shift in plan after which something fits.

The shifts on a grid are looked at in order of their length, first with a quick measure and then, where that
fits, with the exact one; the nearest gives the distance and the direction. The direction is then turned
either way for as long as a shorter shift fits.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from staking.layout.halving import halved

Short = Callable[[float, float], float]
"""From a shift east and north, metres, to what the limits miss each other by: 0 or less where it fits."""

STEP_M = 0.25
"""Of the grid of shifts: ground as a survey of a yard shows it does not change within this."""
TURN_RAD = math.radians(20)
"""First turn of the direction, over half of the angle between grid places a metre away."""
TURNS = 9
"""Halvings of the turn: down to 0.08°, which over 1 m is 1.4 mm where two limits meet in a corner and a
micrometre of length where one decides."""
SETTLED_M = 1e-4
"""The length along a direction is settled to a tenth of a millimetre."""


def least_move(quick: Short, exact: Short, *, most_m: float) -> tuple[float, float] | None:
    """Return the least shift (east, north), metres, after which `exact` is 0 or less; None beyond `most_m`.

    Nothing smaller than the grid of `STEP_M` is looked for: a pocket narrower than that is missed.
    """
    best: tuple[float, float] | None = None
    for r, angle in _grid(most_m):
        if best is not None and r > best[0] + STEP_M:
            break
        length = r if best is None else min(r, best[0])
        if quick(*_at(length, angle)) <= 0 and exact(*_at(length, angle)) <= 0:
            best = (_shortened(exact, length, angle), angle)
    if best is None:
        return None
    length, angle = best
    turn = TURN_RAD
    for _ in range(TURNS):
        for way in (turn, -turn):
            while exact(*_at(length - SETTLED_M, angle + way)) <= 0:
                angle += way
                length = _shortened(exact, length - SETTLED_M, angle)
        turn /= 2
    return _at(length, angle)


def _grid(most_m: float) -> Iterator[tuple[float, float]]:
    """Yield (length, angle) of the shifts on the grid, shortest first."""
    steps = np.arange(-math.floor(most_m / STEP_M), math.floor(most_m / STEP_M) + 1) * STEP_M
    east, north = (a.ravel() for a in np.meshgrid(steps, steps))
    length, angle = np.hypot(east, north), np.arctan2(north, east)
    for i in np.lexsort((angle, np.round(length, 9))):
        if 0 < length[i] <= most_m:
            yield float(length[i]), float(angle[i])


def _at(length_m: float, angle: float) -> tuple[float, float]:
    return length_m * math.cos(angle), length_m * math.sin(angle)


def _shortened(short: Short, fits_m: float, angle: float) -> float:
    """Return the length at which it just fits along a direction, from one that fits."""
    return halved(lambda m: short(*_at(m, angle)) <= 0, fits_m, 0.0, within=SETTLED_M)
