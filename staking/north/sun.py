"""Where the sun stands: direction, elevation and how fast its direction turns.

Positions are PyEphem's (VSOP87 with nutation, aberration and parallax): azimuths within 0.001° of the Solar
Position Algorithm of I. Reda and A. Andreas, NREL/TP-560-34302 (2008), 2025 to 2035, elevations 10° to 80°.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from datetime import date as Date
from typing import Literal

FIRST_YEAR, LAST_YEAR = 1950, 2100
"""Outside them the turning of the earth is not known or foretold to a second or so."""
SUN_SD_RAD = math.radians(0.001)
"""Of a computed direction below 80° of elevation: the NREL algorithm differed by 0.0009° at the most."""
_PRESSURE_MBAR, _AIR_C = 1010.0, 15.0
"""Air for refraction, which turns no direction and changes a shadow's length by 1 % at 10° of elevation."""
_RATE_S = 60.0
"""Half the time over which the turning is measured."""
SUN_DAY_S = 86_400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sun:
    """The sun at one time."""

    azimuth_rad: float
    """Of the sun's centre, clockwise from true north, in [0, 2π)."""
    elevation_rad: float
    """As seen, with refraction; below the horizon without."""
    declination_rad: float
    """The sun's own: its distance from the sky's equator, north positive."""


def sun_at(lat_rad: float, lon_rad: float, when: datetime) -> Sun:
    """Return where the sun stands.

    Parameters
    ----------
    lat_rad, lon_rad : float
        North and east positive.
    when : datetime
        With its time zone.

    Raises
    ------
    ValueError
        Outside the years, or when `when` has no time zone.
    """
    import ephem

    check_year(when.year)
    if when.tzinfo is None:
        message = "a time without its time zone"
        raise ValueError(message)
    seen = ephem.Observer()
    seen.lat, seen.lon, seen.elevation = lat_rad, lon_rad, 0.0
    seen.pressure, seen.temp = _PRESSURE_MBAR, _AIR_C
    seen.date = ephem.Date(when.astimezone(UTC).replace(tzinfo=None))
    body = ephem.Sun(seen)
    return Sun(azimuth_rad=float(body.az), elevation_rad=float(body.alt), declination_rad=float(body.g_dec))


def check_year(year: int) -> None:
    """Raise ValueError when the sun is not computed for a year."""
    if not FIRST_YEAR <= year <= LAST_YEAR:
        message = f"the sun's place is computed for the years {FIRST_YEAR} to {LAST_YEAR}, not for {year}"
        raise ValueError(message)


def turning_rad_per_s(lat_rad: float, lon_rad: float, when: datetime) -> float:
    """Return how fast the sun's direction turns, clockwise positive, over the two minutes about a time."""
    step = timedelta(seconds=_RATE_S)
    before, after = sun_at(lat_rad, lon_rad, when - step), sun_at(lat_rad, lon_rad, when + step)
    return math.remainder(after.azimuth_rad - before.azimuth_rad, math.tau) / (2.0 * _RATE_S)


@dataclass(frozen=True, slots=True, kw_only=True)
class Noon:
    """The sun highest, on the meridian."""

    when: datetime
    """UTC, good to a second."""
    stands: Literal["south", "north"]
    elevation_rad: float


def noon_of(lat_rad: float, lon_rad: float, day: Date) -> Noon:
    """Return when the sun stands on the upper meridian, on a day of the sun at the place.

    Parameters
    ----------
    lat_rad, lon_rad : float
        North and east positive.
    day : date
        The passage taken is the one within half a day of 12 h of the place's own mean time.

    Raises
    ------
    ValueError
        Outside the years.
    """
    import ephem

    check_year(day.year)
    begin = datetime(day.year, day.month, day.day) - timedelta(
        seconds=SUN_DAY_S * math.remainder(lon_rad, math.tau) / math.tau
    )
    seen = ephem.Observer()
    seen.lat, seen.lon, seen.pressure = lat_rad, lon_rad, 0.0
    seen.date = ephem.Date(begin)
    when = seen.next_transit(ephem.Sun()).datetime().replace(tzinfo=UTC)
    sun = sun_at(lat_rad, lon_rad, when)
    return Noon(
        when=when,
        stands="south" if math.cos(sun.azimuth_rad) < 0.0 else "north",
        elevation_rad=sun.elevation_rad,
    )
