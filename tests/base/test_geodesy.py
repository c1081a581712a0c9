"""The site's frame on the earth: round trips, turn, height and units."""

import math

import pytest
from pyproj import Geod

from staking.base.geodesy import Frame, map_grid

LAT, LON = math.radians(40.125), math.radians(-75.25)
MICRON_M = 1e-6


@pytest.mark.parametrize("turn", [0.0, 0.03, -1.2])
@pytest.mark.parametrize("xy", [(0.0, 0.0), (60.0, -20.0), (-350.0, 410.0)])
def test_there_and_back(turn, xy):
    frame = Frame(lat_rad=LAT, lon_rad=LON, height_m=215.0, turn_rad=turn, east_m=1000.0, north_m=-500.0)
    assert frame.placed(*frame.geodetic(*xy)) == pytest.approx(xy, abs=MICRON_M)


def test_distance_and_azimuth_by_the_geodesic():
    frame = Frame(lat_rad=LAT, lon_rad=LON, height_m=0.0)
    azimuth, _, length = Geod(ellps="WGS84").inv(-75.25, 40.125, -75.2493, 40.1256)
    east, north = frame.placed(math.radians(40.1256), math.radians(-75.2493))
    assert math.hypot(east, north) == pytest.approx(length, abs=1e-5)
    assert math.degrees(math.atan2(east, north)) == pytest.approx(azimuth, abs=1e-4)


def test_a_turned_frame_counts_from_its_own_north():
    """North of the site 10° east of true north: what lies at azimuth 30° is at 20° of the site."""
    turn = math.radians(10)
    straight = Frame(lat_rad=LAT, lon_rad=LON, height_m=0.0)
    turned = Frame(lat_rad=LAT, lon_rad=LON, height_m=0.0, turn_rad=turn)
    place = straight.geodetic(50 * math.sin(math.radians(30)), 50 * math.cos(math.radians(30)))
    east, north = turned.placed(*place)
    assert math.degrees(math.atan2(east, north)) == pytest.approx(20.0, abs=1e-6)


def test_a_higher_site_is_larger():
    low, high = (Frame(lat_rad=LAT, lon_rad=LON, height_m=h) for h in (0.0, 2000.0))
    place = LAT + 1e-5, LON
    assert high.placed(*place)[1] / low.placed(*place)[1] == pytest.approx(1 + 2000 / 6_363_000, rel=1e-6)


def test_metres_per_radian():
    per_north, per_east = Frame(lat_rad=LAT, lon_rad=LON, height_m=0.0).metres_per_radian()
    assert per_north == pytest.approx(6_361_800, rel=1e-4)
    assert per_east == pytest.approx(6_387_000 * math.cos(LAT), rel=1e-4)


def test_a_grid_in_feet_comes_out_in_metres():
    """EPSG:2263, in US survey feet: its false easting is 300 000 m."""
    grid = map_grid("EPSG:2263", near=(math.radians(40.7), math.radians(-74.0)))
    assert grid.placed(math.radians(40.7), math.radians(-74.0))[0] == pytest.approx(300_000.0, abs=2.0)
    assert grid.accuracy_m > 0


def test_a_grid_on_the_same_datum_is_exact():
    assert map_grid("EPSG:32618").accuracy_m == 0


@pytest.mark.parametrize("name", ["EPSG:4326", "EPSG:99999", "state plane"])
def test_no_grid(name):
    with pytest.raises(ValueError, match=r"no map grid|no coordinate system"):
        map_grid(name)
