"""Sign and size of the convergence by a short line carried to true north on the grid itself."""

from __future__ import annotations

import math

import pytest
from pyproj import CRS, Transformer

from staking.north.convergence import grid_convergence_rad

STEP_DEG = 1e-5
"""About a metre each way: the line's bearing is then good to 1e-8 rad."""


def bearing_of_true_north(epsg, lat, lon):
    crs = CRS.from_epsg(epsg)
    there = Transformer.from_crs(crs.geodetic_crs, crs, always_xy=True)
    east, north = there.transform([lon, lon], [lat - STEP_DEG, lat + STEP_DEG])
    return math.atan2(east[1] - east[0], north[1] - north[0])


@pytest.mark.parametrize(
    ("epsg", "lat", "lon"),
    [
        (28355, -37.95, 144.42),
        (27700, 50.5, 0.5),
        (32633, 60.0, 17.0),
        (32633, 60.0, 13.0),
        (2193, -41.0, 175.0),
        (2927, 46.0, -122.0),
        (31467, 50.0, 9.5),
        (3857, 45.0, 10.0),
        (5041, 75.0, 30.0),
    ],
)
def test_true_azimuth_is_grid_bearing_plus_convergence(epsg, lat, lon):
    found = grid_convergence_rad(f"EPSG:{epsg}", math.radians(lat), math.radians(lon))
    assert bearing_of_true_north(epsg, lat, lon) + found == pytest.approx(0.0, abs=1e-7)


def test_east_of_the_central_meridian_in_the_north_it_is_positive():
    assert grid_convergence_rad("EPSG:32633", math.radians(60), math.radians(17)) > 0
    assert grid_convergence_rad("EPSG:32633", math.radians(60), math.radians(13)) < 0
    assert grid_convergence_rad("EPSG:32733", math.radians(-60), math.radians(17)) < 0
    assert grid_convergence_rad("EPSG:32633", math.radians(60), math.radians(15)) == pytest.approx(
        0, abs=1e-12
    )


def test_a_grid_with_heights_has_the_convergence_of_its_plan_part():
    place = (math.radians(50.5), math.radians(0.5))
    assert grid_convergence_rad("EPSG:7405", *place) == grid_convergence_rad("EPSG:27700", *place) != 0.0


def test_a_grid_with_a_datum_shift_has_the_convergence_of_its_own():
    place = (math.radians(60), math.radians(17))
    shifted = "+proj=utm +zone=33 +ellps=WGS84 +towgs84=1,2,3 +type=crs"
    assert grid_convergence_rad(shifted, *place) == pytest.approx(grid_convergence_rad("EPSG:32633", *place))


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:4979", "EPSG:5703"])
def test_no_map_grid_is_refused(crs):
    with pytest.raises(ValueError, match="no map grid"):
        grid_convergence_rad(crs, 0.5, 0.5)


@pytest.mark.parametrize("crs", ["EPSG:0", "zone 33", ""])
def test_an_unknown_name_is_refused(crs):
    with pytest.raises(ValueError, match="names no coordinate system"):
        grid_convergence_rad(crs, 0.5, 0.5)


def test_a_place_off_the_grid_is_refused():
    with pytest.raises(ValueError, match="own zone"):
        grid_convergence_rad("EPSG:32633", math.radians(50), math.nan)
    with pytest.raises(ValueError, match="own zone"):
        grid_convergence_rad("EPSG:32633", math.radians(91), 0.2)
