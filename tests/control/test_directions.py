"""Magnetic and grid bearings come to the site's north; what is missing for it is told."""

import math
from dataclasses import replace
from datetime import date

import pytest
from invented_yards import Yard

from staking.base.errors import WrongInput
from staking.book.records import Azimuth, Control, ControlRow, Origin, Site
from staking.control.adjusting import adjusted
from staking.north.convergence import grid_convergence_rad
from staking.north.declination import declination_rad

LAT, LON, DAY, GRID = math.radians(47.0), math.radians(-122.0), date(2026, 6, 1), "EPSG:32611"
PLACES = {"P1": (0.0, 0.0, 0.0), "P2": (20.0, 3.0, 0.0), "Q": (7.0, 9.0, 0.0)}


def booked(azimuth, bearing_north="true", bearing_turn=0.0, site=None, control_points=()):
    yard = Yard(truth=dict(PLACES))
    yard.tape("P1", "P2")
    yard.tape("P1", "Q")
    yard.bearing("P1", "Q")
    yard.bearings[0] = replace(
        yard.bearings[0], north=bearing_north, bearing_rad=yard.bearings[0].bearing_rad - bearing_turn
    )
    control = Control(
        origin=None if control_points else Origin(point="P1", east_m=0, north_m=0), azimuth=azimuth
    )
    book = yard.book(control=control, control_points=control_points)
    site = site or Site(latitude_rad=LAT, longitude_rad=LON, date=DAY, grid=GRID)
    return yard, replace(book, job=replace(book.job, site=site))


def along(yard_azimuth, north="true", turn=0.0):
    return Azimuth(start="P1", to="P2", azimuth_rad=yard_azimuth - turn, north=north)


TRUE = math.atan2(20.0, 3.0)


def assert_q(adjustment, wanted=PLACES["Q"]):
    assert adjustment.points.enz_m[adjustment.points.index("Q"), :2] == pytest.approx(wanted[:2], abs=1e-6)


def test_a_magnetic_bearing_gets_the_declination_added():
    declination = declination_rad(LAT, LON, DAY)
    _, book = booked(along(TRUE), "magnetic", declination.declination_rad)
    got = adjusted(book)
    assert_q(got)
    # Q's direction is no better than bearing and declination together.
    east, north = PLACES["Q"][:2]
    reach = math.hypot(east, north)
    k = 3 * got.points.index("Q")
    across = (north / reach, -east / reach)
    cov = got.points.cov_m2[k : k + 2, k : k + 2]
    sd = math.sqrt(across @ cov @ across) / reach
    assert sd == pytest.approx(math.hypot(math.radians(1.0), declination.sd_rad), rel=1e-6)


def test_a_magnetic_azimuth_is_held_and_told():
    declination = declination_rad(LAT, LON, DAY).declination_rad
    _, book = booked(along(TRUE, "magnetic", declination))
    got = adjusted(book)
    assert_q(got)
    assert any("magnetic" in w for w in got.warnings)


def test_a_grid_bearing_gets_the_convergence_added():
    convergence = grid_convergence_rad(GRID, LAT, LON)
    assert abs(convergence) > 0.01
    _, book = booked(along(TRUE, "grid", convergence), "grid", convergence)
    assert_q(adjusted(book))


def test_with_control_on_a_grid_the_site_s_north_is_the_grid_s():
    convergence = grid_convergence_rad(GRID, LAT, LON)
    rows = tuple(
        ControlRow(table="control.csv", row=k + 2, point=n, east_m=PLACES[n][0], north_m=PLACES[n][1])
        for k, n in enumerate(("P1", "P2"))
    )
    _, on_grid = booked(None, "grid", 0.0, control_points=rows)
    assert_q(adjusted(on_grid))
    # A true bearing is larger than the grid's by the convergence.
    _, true = booked(None, "true", -convergence, control_points=rows)
    assert_q(adjusted(true))


@pytest.mark.parametrize(
    ("north", "site", "lacking"),
    [
        ("magnetic", Site(longitude_rad=LON, date=DAY), "site.latitude"),
        ("magnetic", Site(latitude_rad=LAT, longitude_rad=LON), "site.date"),
        ("magnetic", Site(latitude_rad=LAT, longitude_rad=LON, date=date(1999, 1, 1)), "1999"),
        ("grid", Site(latitude_rad=LAT, longitude_rad=LON), "site.grid"),
        ("grid", Site(latitude_rad=LAT, longitude_rad=LON, grid="EPSG:0"), "EPSG:0"),
    ],
)
def test_what_is_missing_is_named(north, site, lacking):
    _, book = booked(along(TRUE), north, 0.0, site=site)
    with pytest.raises(WrongInput, match=lacking) as caught:
        adjusted(book)
    assert caught.value.mistakes[0].file == "bearings.csv"
    assert caught.value.mistakes[0].row == 2
