"""The middle between two equal shadows, against the sun itself."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta

import pytest

from staking.north.equal_shadows import equal_shadows
from staking.north.shadow import shadow_at
from staking.north.sun import noon_of, sun_at

DEG = math.pi / 180
LON = -75 * DEG
DAYS = [date(2026, 3, 20), date(2026, 5, 1), date(2026, 6, 21), date(2026, 9, 23), date(2026, 12, 21)]
FIRST_ORDER_DEG = 0.002
"""The formula leaves out squares of the declination's change, 0.2° at the most."""


def pair(lat, day, hours):
    """Return a morning's time and the afternoon's of exactly equal elevation, by halving."""
    noon = noon_of(lat, LON, day).when
    morning = noon - timedelta(hours=hours)
    wanted = sun_at(lat, LON, morning).elevation_rad
    low, high = hours * 3600.0 - 900.0, hours * 3600.0 + 900.0
    for _ in range(40):
        middle = (low + high) / 2
        higher = sun_at(lat, LON, noon + timedelta(seconds=middle)).elevation_rad > wanted
        low, high = (middle, high) if higher else (low, middle)
    return morning, noon + timedelta(seconds=low)


@pytest.mark.parametrize("hours", [1.0, 2.0])
@pytest.mark.parametrize("day", DAYS)
@pytest.mark.parametrize("lat", [40 * DEG, 55 * DEG, -35 * DEG])
def test_the_middle_is_that_of_the_two_shadows(lat, day, hours):
    morning, afternoon = pair(lat, day, hours)
    found = equal_shadows(lat, LON, morning, afternoon)
    before, after = (shadow_at(lat, LON, when).azimuth_rad for when in (morning, afternoon))
    east = math.sin(before) + math.sin(after)
    north = math.cos(before) + math.cos(after)
    off = math.remainder(found.middle_rad - math.atan2(east, north), math.tau)
    assert abs(off) < FIRST_ORDER_DEG * DEG
    assert abs(found.unequal_rad) < 1e-4
    assert found.along == pytest.approx(math.hypot(east, north) / 2, abs=0.003)


def test_the_correction_has_its_size_and_sign():
    # Spring: 0.395° north a day (from memory), 0.0988° in six hours; over 2 cos 40° sin 45° that is 0.091°.
    lat = 40 * DEG
    spring = equal_shadows(lat, LON, *pair(lat, date(2026, 3, 20), 3.0)).correction_rad
    assert spring / DEG == pytest.approx(0.091, abs=0.001)
    autumn = equal_shadows(lat, LON, *pair(lat, date(2026, 9, 23), 3.0)).correction_rad
    assert autumn / DEG == pytest.approx(-0.090, abs=0.001)
    solstice = equal_shadows(lat, LON, *pair(lat, date(2026, 6, 21), 2.0)).correction_rad
    assert abs(solstice) < 0.005 * DEG


def test_in_the_south_the_middle_lies_south():
    lat = -35 * DEG
    found = equal_shadows(lat, LON, *pair(lat, date(2026, 6, 21), 2.0))
    assert math.remainder(found.middle_rad - math.pi, math.tau) == pytest.approx(found.correction_rad)


def test_ten_minutes_of_clock_matter_little():
    lat = 40 * DEG
    morning, afternoon = pair(lat, date(2026, 3, 20), 3.0)
    late = timedelta(minutes=10)
    shifted = equal_shadows(lat, LON, morning + late, afternoon + late)
    assert shifted.middle_rad == pytest.approx(
        equal_shadows(lat, LON, morning, afternoon).middle_rad, abs=0.005 * DEG
    )


def test_its_accuracy_is_that_of_marks_thrown_at_random():
    """Marks set with errors across and along, on arcs of one length, then the middle marked."""
    import random

    lat, length, mark = 40 * DEG, 1.5, 0.005
    morning, afternoon = pair(lat, date(2026, 12, 21), 2.0)
    found = equal_shadows(lat, LON, morning, afternoon)
    step = timedelta(seconds=30)

    def angle_by_length(when):
        later, earlier = (shadow_at(lat, LON, when + sign * step) for sign in (1, -1))
        turn = math.remainder(later.azimuth_rad - earlier.azimuth_rad, math.tau)
        return turn / ((later.length - earlier.length) / shadow_at(lat, LON, when).length)

    times = [(shadow_at(lat, LON, when).azimuth_rad, angle_by_length(when)) for when in (morning, afternoon)]
    rng = random.Random(5)
    thrown = []
    for _ in range(4000):
        tips = []
        for shadow_rad, by_length in times:
            azimuth = shadow_rad + rng.gauss(0, mark) / length
            # The tip seems too long: the mark is made where the shadow is shorter by as much.
            azimuth -= rng.gauss(0, mark) / length * by_length
            tips.append((length * math.sin(azimuth), length * math.cos(azimuth)))
        east = (tips[0][0] + tips[1][0]) / 2 + rng.gauss(0, mark)
        north = (tips[0][1] + tips[1][1]) / 2 + rng.gauss(0, mark)
        thrown.append(math.remainder(math.atan2(east, north) - found.middle_rad, math.tau))
    sd = math.sqrt(sum(v * v for v in thrown) / len(thrown))
    # Of 4000 throws the sd is known to 1.1 %; three times that.
    assert found.sd_rad(mark_m=mark, length_m=length) == pytest.approx(sd, rel=0.035)


@pytest.mark.parametrize(
    ("morning", "afternoon", "why"),
    [
        ((5, 0), (22, 0), "the sun was down"),
        ((14, 0), (15, 0), "on the meridian at 17:"),
        ((17, 0), (17, 40), "40 min apart"),
        ((19, 0), (15, 0), "one before and one after noon"),
        ((12, 20), (21, 40), "nearly east and west"),
    ],
)
def test_what_tells_nothing_is_refused(morning, afternoon, why):
    first, second = (datetime(2026, 6, 21, *time, tzinfo=UTC) for time in (morning, afternoon))
    with pytest.raises(ValueError, match=why):
        equal_shadows(40 * DEG, LON, first, second)
