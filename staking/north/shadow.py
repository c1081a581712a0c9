"""The shadow of a plumb line through one day: which way it points, how long it is, what the clock costs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date as Date
from datetime import datetime, timedelta, tzinfo

from staking.north.sun import Noon, noon_of, sun_at, turning_rad_per_s

LOWEST_RAD = math.radians(10.0)
"""Below it shadows are long and faint: common practice, no source."""
HIGHEST_RAD = math.radians(75.0)
"""Above it the shadow of a 1 m line is under 0.27 m, too short to set a line by."""
STEP = timedelta(minutes=10)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shadow:
    """The shadow of a plumb line at one time."""

    when: datetime
    """By the clock's own time zone."""
    azimuth_rad: float
    """The way it falls, from the line's foot, clockwise from true north, in [0, 2π)."""
    length: float
    """On level ground, for a line of length 1."""
    turning_rad_per_s: float
    """How fast it turns, clockwise positive: what each second of clock error costs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShadowDay:
    """One day's shadows."""

    day: Date
    noon: Noon
    shadows: tuple[Shadow, ...]
    """Every ten minutes while the sun stands between `LOWEST_RAD` and `HIGHEST_RAD`."""
    too_high: tuple[datetime, ...]
    """Times left out because the sun stands too near overhead."""


def shadow_at(lat_rad: float, lon_rad: float, when: datetime) -> Shadow:
    """Return the shadow at one time; ValueError outside the years, or when the sun is down."""
    sun = sun_at(lat_rad, lon_rad, when)
    if sun.elevation_rad <= 0.0:
        message = f"the sun was down, {math.degrees(-sun.elevation_rad):.1f}° below the horizon"
        raise ValueError(message)
    return Shadow(
        when=when,
        azimuth_rad=(sun.azimuth_rad + math.pi) % math.tau,
        length=1.0 / math.tan(sun.elevation_rad),
        turning_rad_per_s=turning_rad_per_s(lat_rad, lon_rad, when),
    )


def shadows_on(lat_rad: float, lon_rad: float, day: Date, zone: tzinfo) -> ShadowDay:
    """Return the shadows of one day of the sun at the place, twelve hours about its noon.

    Parameters
    ----------
    lat_rad, lon_rad : float
        North and east positive.
    day : date
        The day at the place.
    zone : tzinfo
        Of the clock that the times are for.

    Raises
    ------
    ValueError
        Outside the years for which the sun is computed.
    """
    noon = noon_of(lat_rad, lon_rad, day)
    # Whole ten minutes of the clock: a zone may be off UTC by a quarter of an hour.
    local = noon.when.astimezone(zone).replace(second=0, microsecond=0)
    first = noon.when.replace(second=0, microsecond=0) - timedelta(minutes=local.minute % 10, hours=12)
    shadows, too_high = [], []
    for k in range(int(timedelta(days=1) / STEP) + 1):
        when = (first + k * STEP).astimezone(zone)
        elevation = sun_at(lat_rad, lon_rad, when).elevation_rad
        if elevation > HIGHEST_RAD:
            too_high.append(when)
        elif elevation >= LOWEST_RAD:
            shadows.append(shadow_at(lat_rad, lon_rad, when))
    return ShadowDay(day=day, noon=noon, shadows=tuple(shadows), too_high=tuple(too_high))
