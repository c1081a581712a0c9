"""Many positions logged while the receiver stood on one point, to one fix."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

METRES_PER_DEGREE = 111_195.0
"""On a sphere of 6371 km: good to half a percent, and only used for scatter."""
MOVED_M = 15.0
"""A receiver whose positions scatter more did not stand on one point: three times what a phone is good to."""
SAYS_NOTHING = (
    "the scatter of one session says nothing of the shift that all its fixes share: log the point again on "
    "another day to see that"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """One logged position, degrees and metres."""

    lat: float
    lon: float
    height_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """The mean of a log."""

    lat: float
    lon: float
    height_m: float | None
    """Mean of the heights; None unless every position has one."""
    spread_m: float
    """Standard deviation of one position, east and north each; 0 for a single one."""
    spread_height_m: float | None
    count: int


def stood(positions: Sequence[Position]) -> Standing:
    """Return the mean of positions with their scatter.

    Parameters
    ----------
    positions
        At least one.
    """
    first = positions[0]
    lats = [p.lat - first.lat for p in positions]
    # By the short way round, so that a log across 180° has its mean there.
    lons = [math.remainder(p.lon - first.lon, 360.0) for p in positions]
    east = METRES_PER_DEGREE * math.cos(math.radians(first.lat))
    spread, spread_height = 0.0, None
    heights = [p.height_m for p in positions if p.height_m is not None]
    whole = len(heights) == len(positions)
    if len(positions) > 1:
        spread = math.hypot(stdev(lats) * METRES_PER_DEGREE, stdev(lons) * east) / math.sqrt(2)
        spread_height = stdev(heights) if whole else None
    return Standing(
        lat=first.lat + fmean(lats),
        lon=math.remainder(first.lon + fmean(lons), 360.0),
        height_m=fmean(heights) if whole else None,
        spread_m=spread,
        spread_height_m=spread_height,
        count=len(positions),
    )
