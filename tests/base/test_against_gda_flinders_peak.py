"""Map grid and ground scale against the worked example of the Australian manual.

Intergovernmental Committee on Surveying and Mapping (ICSM), Geocentric Datum of Australia Technical Manual,
version 2.3, worked example Flinders Peak, p. 46; read in the test suites of several open-source projects.
"""

import math

import pytest

from staking.base.geodesy import Frame, map_grid

LAT = -math.radians(37 + 57 / 60 + 3.7203 / 3600)
LON = math.radians(144 + 25 / 60 + 29.5244 / 3600)
EAST_M, NORTH_M = 273741.297, 5796489.777
POINT_SCALE = 1.00023056


def test_coordinates():
    """From WGS 84 to the grid's own datum the registry changes nothing here, and says to how many metres."""
    grid = map_grid("EPSG:28355", near=(LAT, LON))
    assert grid.placed(LAT, LON) == pytest.approx((EAST_M, NORTH_M), abs=0.001)
    assert grid.accuracy_m >= 1


def test_scale_of_the_grid_against_the_ground():
    """At height 0 a frame's lengths are those of the ellipsoid; 60 m either way give the point's scale."""
    grid = map_grid("EPSG:28355", near=(LAT, LON))
    frame = Frame(lat_rad=LAT, lon_rad=LON, height_m=0.0)
    ends = [grid.geodetic(EAST_M + e, NORTH_M + n) for e, n in ((-40.0, 45.0), (40.0, -45.0))]
    on_ground = math.dist(*(frame.placed(*end) for end in ends))
    assert math.hypot(80.0, 90.0) / on_ground == pytest.approx(POINT_SCALE, abs=2e-8)
