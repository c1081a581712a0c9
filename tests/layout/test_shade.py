"""Shade from one array to another, against hand formulas and rays cast one by one."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest

from staking.layout.shade import LOOK_S, shaded_shares, shortest_day, suns_of

LAT, LON = math.radians(40.0), math.radians(-75.0)


def face(azimuth, tilt, low_middle, width=6.0, height=3.0):
    """Return the corners of a face that faces an azimuth, its low edge's middle given; plain vectors."""
    e = np.array([-math.cos(azimuth), math.sin(azimuth), 0.0])
    w = np.array([-math.sin(azimuth), -math.cos(azimuth), 0.0])
    v = math.cos(tilt) * w + math.sin(tilt) * np.array([0.0, 0.0, 1.0])
    low = np.asarray(low_middle, dtype=float)
    return np.array(
        [
            low - width / 2 * e,
            low + width / 2 * e,
            low + width / 2 * e + height * v,
            low - width / 2 * e + height * v,
        ]
    )


def toward(azimuth_deg, elevation_deg):
    a, h = math.radians(azimuth_deg), math.radians(elevation_deg)
    return np.array([math.cos(h) * math.sin(a), math.cos(h) * math.cos(a), math.sin(h)])


TILT = math.radians(30.0)


def spaced(apart, sun, rise=0.0, tilt=TILT):
    front = face(math.pi, tilt, (0.0, 0.0, 1.0))
    back = face(math.pi, tilt, (0.0, 3.0 * math.cos(tilt) + apart, 1.0 + rise))
    return float(shaded_shares(front, back, toward(*sun)[None])[0])


@pytest.mark.parametrize("elevation", [15.0, 25.0, 40.0])
@pytest.mark.parametrize("rise", [0.0, 0.6, -0.4])
def test_the_gap_at_noon_is_the_height_over_the_tangent_of_the_sun(elevation, rise):
    # The rule of the trade for rows: gap = (height of the high edge above the next low edge) / tan(elevation)
    # with the sun square to the rows (plain trigonometry; common practice, no source).
    height = 3.0 * math.sin(math.radians(30.0)) - rise
    gap = height / math.tan(math.radians(elevation))
    assert spaced(gap + 0.001, sun=(180.0, elevation), rise=rise) == pytest.approx(0.0, abs=1e-12)
    assert spaced(gap - 0.01, sun=(180.0, elevation), rise=rise) > 1e-4


@pytest.mark.parametrize("off", [20.0, 45.0])
def test_off_the_rows_normal_the_gap_shrinks_by_the_cosine(off):
    # For long rows gap = height * cos(azimuth off the rows' normal) / tan(elevation); these are 400 m long.
    tilt, elevation = math.radians(30.0), math.radians(20.0)
    gap = 3.0 * math.sin(tilt) * math.cos(math.radians(off)) / math.tan(elevation)
    sun = toward(180.0 - off, 20.0)[None]
    for more, wanted in ((0.001, False), (-0.02, True)):
        front = face(math.pi, tilt, (0.0, 0.0, 1.0), width=400.0)
        back = face(math.pi, tilt, (0.0, 3.0 * math.cos(tilt) + gap + more, 1.0), width=400.0)
        assert (float(shaded_shares(front, back, sun)[0]) > 1e-9) is wanted


def by_rays(front, back, sun, count=60):
    """Return the share of points of the back face from which a ray to the sun meets the front face."""
    origin, a, b = back[0], back[1] - back[0], back[3] - back[0]
    u, v = np.meshgrid((np.arange(count) + 0.5) / count, (np.arange(count) + 0.5) / count)
    points = origin + u.reshape(-1, 1) * a + v.reshape(-1, 1) * b
    fo, fa, fb = front[0], front[1] - front[0], front[3] - front[0]
    # p + t s = fo + x fa + y fb, t > 0, 0 <= x, y <= 1
    solved = np.linalg.solve(np.column_stack([sun, -fa, -fb]), (fo - points).T)
    t, x, y = solved
    return float(np.mean((t > 0) & (x >= 0) & (x <= 1) & (y >= 0) & (y <= 1)))


def test_shares_are_those_of_rays_cast_one_by_one():
    rng = np.random.default_rng(4)
    seen = 0
    for _ in range(300):
        front = face(math.radians(rng.uniform(150, 210)), math.radians(rng.uniform(5, 50)), (0, 0, 1))
        where = (rng.uniform(-5, 5), rng.uniform(1, 8), rng.uniform(0, 2))
        back = face(math.radians(rng.uniform(150, 210)), math.radians(rng.uniform(5, 50)), where)
        sun = toward(rng.uniform(110, 250), rng.uniform(5, 60))
        normal = np.cross(back[1] - back[0], back[3] - back[0])
        share = float(shaded_shares(front, back, sun[None])[0])
        if sun @ normal <= 0:
            assert share == 0.0
            continue
        # Grid of 60 by 60: its edge is good to a few of its 3600 points.
        assert share == pytest.approx(by_rays(front, back, sun), abs=0.04)
        seen += share > 0.05
    assert seen > 60


def test_turning_the_site_turns_nothing():
    rng = np.random.default_rng(9)
    front, back = face(2.9, 0.5, (0, 0, 1)), face(3.3, 0.4, (1.0, 4.0, 1.3))
    suns = np.array([toward(rng.uniform(120, 240), rng.uniform(8, 40)) for _ in range(20)])
    c, s = math.cos(0.7), math.sin(0.7)
    turn = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
    plain = shaded_shares(front, back, suns)
    assert plain.max() > 0.01
    assert shaded_shares(front @ turn.T, back @ turn.T, suns @ turn.T) == pytest.approx(plain, abs=1e-9)


@pytest.mark.parametrize(("lat", "wanted"), [(40.0, date(2026, 12, 21)), (-35.0, date(2026, 6, 21))])
def test_the_shortest_day(lat, wanted):
    # Solstices of 2026: 21 December 20:50 and 21 June 08:24 UT (almanac, from memory); noon a day off stands
    # 0.0001 degrees higher, so that the day before or after is as short.
    found = shortest_day(math.radians(lat), LON, 2026)
    assert abs((found - wanted).days) <= 1


def test_the_sun_before_and_after_noon_and_on_turned_axes():
    suns = suns_of(LAT, LON, date(2026, 12, 21), before_s=10_800, after_s=10_800)
    assert len(suns.when) == 2 * 10_800 / LOOK_S + 1
    east, north, up = suns.toward[0]
    assert east > 0 > north
    # At solar noon on the solstice the sun stands at 90 - 40 - 23.44 degrees, due south.
    middle = suns.toward[len(suns.when) // 2]
    assert math.degrees(math.asin(middle[2])) == pytest.approx(26.56, abs=0.05)
    assert math.degrees(math.atan2(middle[0], middle[1])) % 360 == pytest.approx(180.0, abs=0.05)
    # Three hours off noon, by the hour angle: sin h = sin lat sin dec + cos lat cos dec cos 45.
    h = math.asin(
        math.sin(LAT) * math.sin(math.radians(-23.44))
        + math.cos(LAT) * math.cos(math.radians(-23.44)) * math.cos(math.pi / 4)
    )
    assert math.degrees(math.asin(up)) == pytest.approx(math.degrees(h), abs=0.12)  # 0.07 of it refraction
    turned = suns_of(LAT, LON, date(2026, 12, 21), before_s=0, after_s=60, axes_north_rad=0.1)
    assert math.atan2(*turned.toward[0][:2]) % math.tau == pytest.approx(math.pi - 0.1, abs=1e-4)


def test_below_the_horizon_nothing_is_looked_at():
    suns = suns_of(LAT, LON, date(2026, 12, 21), before_s=6 * 3600, after_s=0)
    assert suns.toward[:, 2].min() > 0
    assert len(suns.when) < 6 * 3600 / LOOK_S
