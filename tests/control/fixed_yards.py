"""Yards with a known truth on the earth, and what a receiver would show in them."""

import math
from dataclasses import dataclass, field

import numpy as np
from invented_yards import Yard
from pyproj import Geod

from staking.book.records import FixRow

GEOD = Geod(ellps="WGS84")
LAT, LON, HEIGHT_M = 40.125, -75.25, 215.0
MIDDLE = 100.0, 50.0
"""Site coordinates of LAT, LON: there true north is the site's north."""


def on_earth(east_m, north_m, height_m=HEIGHT_M):
    """Latitude and longitude by the geodesic, degrees: another route than the topocentric axes."""
    lat = math.radians(LAT)
    azimuth = math.atan2(east_m, north_m)
    # Radius of curvature along that azimuth (Euler), to bring the distance down to the ellipsoid.
    w2 = 1 - GEOD.es * math.sin(lat) ** 2
    meridian, prime = GEOD.a * (1 - GEOD.es) / w2**1.5, GEOD.a / math.sqrt(w2)
    radius = 1 / (math.cos(azimuth) ** 2 / meridian + math.sin(azimuth) ** 2 / prime)
    length = math.hypot(east_m, north_m) * radius / (radius + height_m)
    lon, lat_deg, _ = GEOD.fwd(LON, LAT, math.degrees(azimuth), length)
    return lat_deg, lon


@dataclass(kw_only=True)
class FixedYard(Yard):
    """A yard whose truth lies true north up at LAT, LON."""

    fixes: list[FixRow] = field(default_factory=list)
    shifts: dict[str, tuple[float, float, float]] = field(default_factory=dict)

    def fix(self, name, session="", *, sd_h=None, sd_v=None, height=False, extra=(0.0, 0.0)):
        shift = self.shifts.get(session, (0.0, 0.0, 0.0))
        sd = 0.0 if sd_h is None else sd_h
        east, north = (self.xy(name) + shift[:2] + extra) + [self.noise(sd), self.noise(sd)]
        lat, lon = on_earth(east - MIDDLE[0], north - MIDDLE[1])
        height_m = HEIGHT_M + self.z(name) - 30 + shift[2] + self.noise(sd_v or 0.0) if height else None
        self.fixes.append(
            FixRow(
                table="fixes.csv",
                row=len(self.fixes) + 2,
                read={"lat": f"{lat:.9f}", "lon": f"{lon:.9f}"},
                point=name,
                lat_rad=math.radians(lat),
                lon_rad=math.radians(lon),
                height_m=height_m,
                height_kind="ellipsoidal" if height else None,
                sd_h_m=sd_h,
                sd_v_m=sd_v,
                session=session,
            )
        )


def place(adjustment, name):
    return adjustment.points.enz_m[adjustment.points.index(name)]


def sds(adjustment, name):
    return adjustment.points.sd_m()[adjustment.points.index(name)]


def plan_of(adjustment, names):
    return np.array([place(adjustment, name)[:2] for name in names])
