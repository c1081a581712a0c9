"""Noon, shadows and what the clock costs: limits, symmetry and mirrors."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest

from staking.north.shadow import HIGHEST_RAD, LOWEST_RAD, shadow_at, shadows_on
from staking.north.sun import noon_of, sun_at, turning_rad_per_s

DEG = math.pi / 180
LAT, LON = 40 * DEG, -105 * DEG
MONTHS = [date(2026, month, 21) for month in range(1, 13)]


@pytest.mark.parametrize("day", MONTHS)
@pytest.mark.parametrize("lat", [-60, -35, -10, 5, 40, 60])
def test_at_noon_the_sun_stands_on_the_meridian_to_a_second(lat, day):
    noon = noon_of(lat * DEG, LON, day)
    sun = sun_at(lat * DEG, LON, noon.when)
    off = math.remainder(sun.azimuth_rad - (math.pi if noon.stands == "south" else 0.0), math.tau)
    assert abs(off) < abs(turning_rad_per_s(lat * DEG, LON, noon.when)) * 1.0
    assert abs(math.remainder(noon.when.timestamp() / 86400 + LON / math.tau - 0.5, 1.0)) * 1440 < 17


def test_the_sun_stands_south_in_the_north_north_in_the_south_and_both_in_the_tropics():
    assert {noon_of(LAT, LON, day).stands for day in MONTHS} == {"south"}
    assert {noon_of(-LAT, LON, day).stands for day in MONTHS} == {"north"}
    assert {noon_of(10 * DEG, LON, day).stands for day in MONTHS} == {"south", "north"}


@pytest.mark.parametrize(("month", "degrees"), [(12, 0.26), (6, 0.8)])
def test_what_a_minute_costs_at_noon_at_40_north(month, degrees):
    # From the rate 15°/h · (sin φ + cos φ · tan h) at h = 90° − φ + δ: 0.257° and 0.796°.
    noon = noon_of(LAT, LON, date(2026, month, 21))
    assert turning_rad_per_s(LAT, LON, noon.when) * 60 / DEG == pytest.approx(degrees, abs=0.005)


@pytest.mark.parametrize("hour", [14, 16, 18, 20, 22])
@pytest.mark.parametrize("lat", [-45, -20, 30, 55])
def test_the_turning_is_that_of_the_sky(lat, hour):
    """Derivative of the azimuth by the hour angle: sin φ − cos φ · tan h · cos A (textbook)."""
    when = datetime(2026, 6, 21, hour, tzinfo=UTC)
    sun = sun_at(lat * DEG, LON, when)
    if sun.elevation_rad < 5 * DEG:
        return
    sky = math.sin(lat * DEG) - math.cos(lat * DEG) * math.tan(sun.elevation_rad) * math.cos(sun.azimuth_rad)
    assert turning_rad_per_s(lat * DEG, LON, when) == pytest.approx(sky * 15 * DEG / 3600, rel=3e-3, abs=2e-8)


def test_morning_and_afternoon_mirror_each_other_at_a_solstice():
    noon = noon_of(LAT, LON, date(2026, 6, 21))
    for hours in (1, 3, 5):
        before, after = (shadow_at(LAT, LON, noon.when + sign * timedelta(hours=hours)) for sign in (-1, 1))
        assert before.azimuth_rad + after.azimuth_rad == pytest.approx(math.tau, abs=0.01 * DEG)
        assert before.length == pytest.approx(after.length, rel=1e-3)
        assert math.pi < before.azimuth_rad < math.tau, "in the morning it falls to the west"


def test_at_the_equinox_on_the_equator_the_shadow_lies_east_and_west_all_day():
    day = shadows_on(0.0, 0.0, date(2026, 3, 20), UTC)
    assert day.too_high
    for shadow in day.shadows:
        side = 270 if shadow.when < day.noon.when else 90
        # The declination stays within 0.2° of nought that day; near overhead it counts for more.
        assert abs(shadow.azimuth_rad / DEG - side) < 0.2 / math.cos(75 * DEG)


def test_the_southern_yard_half_a_year_on_is_the_northern_one_in_a_mirror():
    north = noon_of(LAT, LON, date(2026, 6, 21))
    south = noon_of(-LAT, LON, date(2026, 12, 21))
    for hours in (-4, -1, 2):
        one = shadow_at(LAT, LON, north.when + timedelta(hours=hours))
        other = shadow_at(-LAT, LON, south.when + timedelta(hours=hours))
        assert one.azimuth_rad + other.azimuth_rad - math.pi == pytest.approx(
            math.tau if one.azimuth_rad + other.azimuth_rad > 2 * math.pi else 0.0, abs=0.05 * DEG
        )
        assert one.turning_rad_per_s == pytest.approx(-other.turning_rad_per_s, rel=0.01)


def test_rows_are_whole_ten_minutes_of_the_clock_within_the_usable_heights():
    for zone in (UTC, timezone(timedelta(hours=5, minutes=45)), ZoneInfo("America/Denver")):
        day = shadows_on(LAT, LON, date(2026, 6, 21), zone)
        assert 30 < len(day.shadows) < 80
        assert all(s.when.minute % 10 == 0 and s.when.second == 0 for s in day.shadows)
        for shadow in day.shadows:
            assert LOWEST_RAD <= sun_at(LAT, LON, shadow.when).elevation_rad <= HIGHEST_RAD


def test_summer_time_moves_the_clock_and_not_the_sun():
    denver = ZoneInfo("America/Denver")
    before, after = (noon_of(LAT, LON, date(2026, 3, day)).when.astimezone(denver) for day in (7, 8))
    assert (before.hour, after.hour) == (12, 13), "the clocks went forward on 8 March 2026"


def test_polar_night_and_polar_day():
    dark = shadows_on(75 * DEG, 20 * DEG, date(2026, 12, 21), UTC)
    assert dark.shadows == ()
    assert dark.noon.elevation_rad < 0
    light = shadows_on(75 * DEG, 20 * DEG, date(2026, 6, 21), UTC)
    assert len(light.shadows) > 120, "the sun stays up and above 8° all day"


@pytest.mark.parametrize("lat", [-math.pi / 2, math.pi / 2])
def test_at_a_pole_nothing_fails(lat):
    for month in (6, 12):
        shadows_on(lat, 0.0, date(2026, month, 21), UTC)


@pytest.mark.parametrize("day", [date(1, 1, 1), date(1949, 12, 31), date(2101, 1, 1), date(9999, 12, 31)])
def test_a_day_outside_the_years_is_said(day):
    with pytest.raises(ValueError, match="1950 to 2100"):
        shadows_on(LAT, LON, day, UTC)


def test_no_shadow_when_the_sun_is_down():
    with pytest.raises(ValueError, match="the sun was down"):
        shadow_at(LAT, LON, datetime(2026, 6, 21, 6, tzinfo=UTC))


def test_a_time_without_a_zone_is_refused():
    with pytest.raises(ValueError, match="zone"):
        sun_at(LAT, LON, datetime(2026, 6, 21, 6))
