"""Magnetic declination from the World Magnetic Model 2025.

Model, error model and life: The US/UK World Magnetic Model for 2025-2030, technical report, NOAA National
Centers for Environmental Information and British Geological Survey, 2024 (as pygeomag carries it).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date as Date

VALID_FROM = Date(2025, 1, 1)
VALID_UNTIL = Date(2030, 1, 1)
"""The model's life is 2025.0 to 2030.0; past it the field has drifted from the forecast."""
LOWEST_M = -1_000.0
HIGHEST_M = 850_000.0
"""Heights for which the model is made."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Declination:
    """Which way a compass points, free of local iron."""

    declination_rad: float
    """Magnetic north from true north, positive to the east: true bearing = magnetic bearing + declination."""
    sd_rad: float
    """Of the model at any one place: the crust's field and the forecast; a compass adds its own."""
    valid_until: Date
    """Last day of the model."""


def declination_rad(lat_rad: float, lon_rad: float, date: Date, height_m: float = 0.0) -> Declination:
    """Return the declination at a place and date.

    Parameters
    ----------
    lat_rad, lon_rad : float
        North and east positive.
    date : date
        From 2025-01-01 to 2030-01-01.
    height_m : float
        Above sea level; 1 km changes the declination by a few thousandths of a degree.

    Raises
    ------
    ValueError
        Outside the model's dates, heights, or when the latitude or longitude is none.
    """
    if not VALID_FROM <= date <= VALID_UNTIL:
        message = (
            f"the magnetic model is valid from {VALID_FROM} to {VALID_UNTIL}, not on {date}; "
            "give north as true, or take a newer version of pygeomag and this program"
        )
        raise ValueError(message)
    if not (abs(lat_rad) <= math.pi / 2 and abs(lon_rad) <= math.tau):
        message = (
            f"latitude {math.degrees(lat_rad):.4f}°, longitude {math.degrees(lon_rad):.4f}° is no place on "
            "earth; expected a latitude from -90 to 90 and a longitude from -180 to 180"
        )
        raise ValueError(message)
    if not LOWEST_M <= height_m <= HIGHEST_M:
        message = (
            f"the magnetic model reaches from -1 km to 850 km of height, not to {height_m / 1000.0:g} km"
        )
        raise ValueError(message)
    from pygeomag import GeoMag

    field = GeoMag(coefficients_file="wmm/WMM_2025.COF").calculate(
        glat=math.degrees(lat_rad),
        glon=math.degrees(math.remainder(lon_rad, math.tau)),
        alt=height_m / 1000.0,
        time=_decimal_year(date),
    )
    return Declination(
        declination_rad=math.radians(field.d),
        sd_rad=math.radians(field.calculate_uncertainty().d),
        valid_until=VALID_UNTIL,
    )


def _decimal_year(date: Date) -> float:
    start, end = Date(date.year, 1, 1), Date(date.year + 1, 1, 1)
    return date.year + (date - start).days / (end - start).days
