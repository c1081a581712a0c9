"""The sun against the Solar Position Algorithm.

I. Reda and A. Andreas, Solar Position Algorithm for Solar Radiation Applications, NREL/TP-560-34302 (revised
January 2008), Appendix A.5, Table A5.1 (read in several open-source test suites).
"""

from __future__ import annotations

import math
from datetime import datetime

import pytest

from staking.north.sun import sun_at

ANOTHER_THEORY_DEG = 0.001
"""Two good theories of the sun differ by this much at the most below 80° of elevation."""
AIR_DEG = 0.006
"""The example stands at 820 mbar, ours at 1010: refraction there is 0.016° against 0.020°."""


def place(lat, lon):
    return math.radians(lat), math.radians(lon)


def test_the_printed_example():
    sun = sun_at(*place(39.742476, -105.1786), datetime.fromisoformat("2003-10-17T12:30:30-07:00"))
    assert math.degrees(sun.azimuth_rad) == pytest.approx(194.34024, abs=ANOTHER_THEORY_DEG)
    assert math.degrees(sun.elevation_rad) == pytest.approx(39.888378, abs=AIR_DEG)
    assert math.degrees(sun.declination_rad) == pytest.approx(-9.31434, abs=ANOTHER_THEORY_DEG)


# Computed once by the same algorithm as carried by pvlib 0.16.1 (spa_python), elevation without refraction.
ROWS = [
    ("2026-06-21T16:00:00+00:00", 40, -105, 99.4571, 48.4691),
    ("2026-12-21T13:30:00+00:00", 52.5, 13.4, 213.3064, 7.7071),
    ("2027-03-20T05:00:00+00:00", -33.9, 151.2, 299.5252, 36.6202),
    ("2028-02-29T09:40:00+00:00", -1.3, 36.8, 168.5515, 83.4751),
    ("2029-09-23T00:15:00+00:00", 21.3, -157.8, 235.3399, 55.3990),
    ("2035-06-21T22:00:00+00:00", 69.6, 18.9, 349.3694, 3.4027),
    ("1975-04-10T12:00:00+00:00", 60, 10.7, 192.8976, 37.2371),
]


@pytest.mark.parametrize(("when", "lat", "lon", "azimuth", "elevation"), ROWS)
def test_over_the_world(when, lat, lon, azimuth, elevation):
    sun = sun_at(*place(lat, lon), datetime.fromisoformat(when))
    off = (math.degrees(sun.azimuth_rad) - azimuth + 180.0) % 360.0 - 180.0
    assert abs(off) < ANOTHER_THEORY_DEG
    # Th. Sæmundsson (1986), minutes of arc from the true elevation (from memory): good to 0.1′.
    refraction = 1.02 / math.tan(math.radians(elevation + 10.3 / (elevation + 5.11))) / 60.0
    assert math.degrees(sun.elevation_rad) == pytest.approx(elevation + refraction, abs=0.005)
