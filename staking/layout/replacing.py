"""Another place for an array: the keys of ``[place]`` that put it there, rounded so as to be pasted."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.book.records import Place
from staking.layout.words import STEP_M, pasted

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A shift to keys that a tape shows."""

    east_m: float
    north_m: float
    first_m: float
    second_m: float
    """What the two keys then are."""
    text: str
    """The keys as they can be pasted."""

    @property
    def length_m(self) -> float:
        """How far it is."""
        return math.hypot(self.east_m, self.north_m)


def moves_near(
    place: Place, shift: tuple[float, float], *, ahead: tuple[float, float] | None, style: str
) -> Iterator[Move]:
    """Yield shifts to round values of a place's keys near one wanted, the least of them first.

    Parameters
    ----------
    place : Place
        As given.
    shift : (float, float)
        Wanted, east and north, metres.
    ahead : (float, float), optional
        Unit vector (east, north) along the place's line; of a place by a line.
    style : str
        In which lengths are told.
    """
    first, second = np.array(ahead or (1.0, 0.0)), np.array([0.0, 1.0])
    keys, now = ("east", "north"), (place.east_m, place.north_m)
    if ahead is not None:
        second = np.array([ahead[1], -ahead[0]])
        keys, now = ("station", "offset"), (place.station_m, place.offset_m)
    assert now[0] is not None
    assert now[1] is not None
    wanted = [now[0] + float(first @ shift), now[1] + float(second @ shift)]
    step = STEP_M[style]
    near = [[(math.floor(w / step) + k) * step for k in (-1, 0, 1, 2)] for w in wanted]
    for _, a, b in sorted((math.hypot(a - now[0], b - now[1]), a, b) for a in near[0] for b in near[1]):
        by = (a - now[0]) * first + (b - now[1]) * second
        text = f"{keys[0]} = {pasted(a, style)} with {keys[1]} = {pasted(b, style)}"
        yield Move(east_m=float(by[0]), north_m=float(by[1]), first_m=a, second_m=b, text=text)
