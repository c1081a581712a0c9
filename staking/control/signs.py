"""A site's latitude and longitude with the other sign: a minus is easily lost."""

from __future__ import annotations

import math
from dataclasses import replace

from staking.book.records import Site

SIGNS = (("latitude",), ("longitude",), ("latitude", "longitude"))
"""Which keys of `[site]` may have lost theirs, one before both."""


def with_other_signs(site: Site, keys: tuple[str, ...]) -> Site:
    """Return the site with the other sign of its latitude, its longitude or both."""
    lat_rad, lon_rad = (-angle_of(site, key) if key in keys else angle_of(site, key) for key in SIGNS[2])
    return replace(site, latitude_rad=lat_rad, longitude_rad=lon_rad)


def angle_of(site: Site, key: str) -> float:
    """Return the latitude or longitude, radians, which must be there."""
    value = site.latitude_rad if key == "latitude" else site.longitude_rad
    assert value is not None
    return value


def degrees_text(angle_rad: float) -> str:
    """Return a latitude or longitude as job.toml has it, without the noise of the last digits."""
    return f"{math.degrees(angle_rad):.10g}"
