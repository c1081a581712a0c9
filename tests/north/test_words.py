"""Directions in words: sides, signs, date, accuracy and the model's end."""

from __future__ import annotations

import math
from datetime import date

from staking.north.declination import Declination
from staking.north.words import convergence_words, declination_words


def declination(degrees):
    return Declination(
        declination_rad=math.radians(degrees), sd_rad=math.radians(0.37), valid_until=date(2030, 1, 1)
    )


def test_east_is_added_and_west_taken_off():
    east = declination_words(declination(13.2), date(2026, 10, 3))
    assert "13.20° east" in east
    assert "magnetic bearing + 13.20°" in east
    west = declination_words(declination(-13.2), date(2026, 10, 3))
    assert "13.20° west" in west
    assert "magnetic bearing − 13.20°" in west
    for said in ("2026-10-03", "0.37°", "2030-01-01"):
        assert said in east


def test_within_a_year_of_its_end_it_warns():
    assert "RUNS OUT" not in declination_words(declination(1), date(2029, 1, 1))
    assert "RUNS OUT" in declination_words(declination(1), date(2029, 1, 2))


def test_convergence_tells_its_side():
    assert "1.730° east of true north: true azimuth = grid bearing + 1.730°" in convergence_words(
        "EPSG:32633", math.radians(1.73)
    )
    assert "west of true north: true azimuth = grid bearing − 1.730°" in convergence_words(
        "EPSG:32633", math.radians(-1.73)
    )
    assert "is true north here" in convergence_words("EPSG:32633", 1e-9)
