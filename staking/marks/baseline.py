"""Station and offset: along the baseline, and square off it to the right."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.control.adjustment import Points
from staking.marks.pins import SAME_PLACE_M

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Baseline:
    """The line that stations run along."""

    ends: tuple[str, str]
    start_en_m: Floats
    """(2,)."""
    ahead: Floats
    """(2,) unit vector from the first end toward the second."""

    def station_offset_m(self, en_m: Floats) -> tuple[Floats, Floats]:
        """Return (m,) level stations and (m,) offsets, positive to the right looking along, of (m, 2)."""
        reach = en_m - self.start_en_m
        return reach @ self.ahead, reach @ np.array([self.ahead[1], -self.ahead[0]])

    def place_text(self, en_m: Floats, show: Callable[[float], str]) -> str:
        """Return a place (2,) in words: ``station 12.000 m, 3.000 m right of P1-P2``."""
        (station,), (offset,) = self.station_offset_m(en_m[None, :])
        hand = "right" if offset >= 0.0 else "left"
        return f"station {show(float(station))}, {show(abs(float(offset)))} {hand} of {'-'.join(self.ends)}"


def baseline_through(points: Points, ends: tuple[str, str]) -> Baseline:
    """Return the baseline from one point toward another.

    Raises
    ------
    ValueError
        When an end has no known place, or both ends have the same.
    """
    i, j = (points.index(end) for end in ends)
    start = points.enz_m[i, :2]
    line = points.enz_m[j, :2] - start
    length = float(np.hypot(line[0], line[1]))
    if not length > SAME_PLACE_M:
        message = f"the baseline {ends[0]}-{ends[1]} has no known length to measure along"
        raise ValueError(message)
    return Baseline(ends=ends, start_en_m=start, ahead=line / length)
