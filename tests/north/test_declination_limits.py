"""What the declination refuses, and its sign and use."""

from __future__ import annotations

import math
from datetime import date

import pytest

from staking.north.declination import declination_rad


def at(lat, lon, day=date(2026, 10, 3), height_m=0.0):
    return declination_rad(math.radians(lat), math.radians(lon), day, height_m)


def test_east_is_positive():
    # A compass points east of true north in Seattle and west of it in Boston: common knowledge.
    assert at(47.6, -122.3).declination_rad > math.radians(10)
    assert at(42.4, -71.1).declination_rad < math.radians(-10)


@pytest.mark.parametrize("day", [date(2025, 1, 1), date(2029, 12, 31), date(2030, 1, 1)])
def test_the_first_and_last_day_are_in(day):
    assert at(45, 10, day).valid_until == date(2030, 1, 1)


@pytest.mark.parametrize("day", [date(2024, 12, 31), date(2030, 1, 2), date(2035, 6, 1)])
def test_outside_its_life_the_model_is_refused(day):
    with pytest.raises(ValueError, match="2025-01-01 to 2030-01-01"):
        at(45, 10, day)


@pytest.mark.parametrize(("lat", "lon"), [(90.1, 0), (-91, 0), (45, 361), (math.nan, 0), (45, math.nan)])
def test_no_place_on_earth(lat, lon):
    with pytest.raises(ValueError, match="no place on earth"):
        at(lat, lon)


@pytest.mark.parametrize("height_m", [-1001.0, 850_001.0, math.nan])
def test_no_height_of_the_model(height_m):
    with pytest.raises(ValueError, match="height"):
        at(45, 10, height_m=height_m)


def test_longitude_may_run_to_360():
    assert at(45, 190).declination_rad == pytest.approx(at(45, -170).declination_rad, abs=1e-12)


def test_height_is_taken_in_metres():
    # 1 km matters by thousandths of a degree, 1000 km by degrees: a slip of a thousand would show.
    low, high = at(45, -170), at(45, -170, height_m=1000.0)
    assert 0 < abs(low.declination_rad - high.declination_rad) < math.radians(0.02)
    assert abs(low.declination_rad - at(45, -170, height_m=800_000.0).declination_rad) > math.radians(0.2)


def test_days_of_the_year_count():
    year, half = at(45, -100, date(2027, 1, 1)), at(45, -100, date(2027, 7, 2))
    whole = at(45, -100, date(2028, 1, 1))
    drift = whole.declination_rad - year.declination_rad
    assert half.declination_rad - year.declination_rad == pytest.approx(drift * 182 / 365, rel=0.02)
