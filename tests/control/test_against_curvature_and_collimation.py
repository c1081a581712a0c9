"""Curvature, refraction and a level's line of sight, worked in print.

Curvature and refraction: https://civilnoteppt.com/find-the-correction-for-curvature-refraction-for-a-given-distance/,
https://civinnovate.com/2026/06/23/levelling-explanation-14/; in feet C. D. Ghilani and P. R. Wolf, Elementary
Surveying, 13th ed., eqs. 4.1-4.4 (from memory).
"""

import math

import numpy as np
import pytest

from staking.book.records import Accuracy, PegRow
from staking.control.curvature import curvature_and_refraction
from staking.control.equations import Equation, Kind, evaluated, stacked
from staking.control.pegs import peg_tests

FT = 0.3048


@pytest.mark.parametrize(
    ("dist_km", "refraction", "printed_m", "within_m"),
    [
        (0.9, 0.0, 0.063, 0.001),  # printed cut off, not rounded
        (2.5, 0.0, 0.49, 0.005),
        (2.5, 1 / 7, 0.42, 0.005),
        (1.0, 0.14, 0.0675, 0.00005),
    ],
)
def test_metric(dist_km, refraction, printed_m, within_m):
    got = curvature_and_refraction(1000 * dist_km, refraction=refraction)
    assert got == pytest.approx(printed_m, abs=within_m)


@pytest.mark.parametrize(("dist_km", "printed_m"), [(0.7, 0.0055), (1.5, 0.0252)])
def test_refraction_alone(dist_km, printed_m):
    bend = curvature_and_refraction(1000 * dist_km, refraction=0.0) - curvature_and_refraction(
        1000 * dist_km, refraction=1 / 7
    )
    assert bend == pytest.approx(printed_m, abs=0.00005)


@pytest.mark.parametrize(
    ("dist_ft", "printed_ft", "within_ft"),
    [
        (100, 0.00021, 5e-6),
        (200, 0.00082, 5e-6),
        (300, 0.0019, 5e-5),
        (500, 0.0052, 6e-5),
        (5280, 0.574, 6e-4),
    ],
)
def test_feet(dist_ft, printed_ft, within_ft):
    assert curvature_and_refraction(dist_ft * FT) / FT == pytest.approx(printed_ft, abs=within_ft)


def sights(*rows, instrument=""):
    return [
        PegRow(table="pegs.csv", row=k + 2, setup=s, point=p, rod_m=rod, dist_m=d, instrument=instrument)
        for k, (s, p, rod, d) in enumerate(rows)
    ]


def test_two_pegs_100_m_apart():
    """https://watch-this.online/v/-QssAt7Kx64: from the middle 2.0 and 3.0, from 120 m and 20 m 1.50 and
    2.75. By hand: 0.25 in 100 m, the line of sight falls, the rods should have read 1.80 and 2.80."""
    rows = sights(("E", "C", 2.0, 50), ("E", "D", 3.0, 50), ("F", "C", 1.5, 120), ("F", "D", 2.75, 20))
    tests, mistakes = peg_tests(rows, Accuracy())
    assert not mistakes
    # Earth and air bend the sight of 120 m by 1 mm, which the page leaves out.
    assert tests[""].rise == pytest.approx(-0.0025, abs=1.5e-5)
    assert 1.5 - 120 * tests[""].rise == pytest.approx(1.80, abs=0.005)
    assert 2.75 - 20 * tests[""].rise == pytest.approx(2.80, abs=0.005)
    # Four readings of 1.5 mm over 100 m of difference.
    assert tests[""].sd == pytest.approx(2 * 0.0015 / 100, rel=1e-9)


def test_two_pegs_50_m_apart():
    """https://answerhappy.com/viewtopic.php?p=675959: from the middle 1.283 and 0.860, from 5 m beyond B
    1.612 and 1.219. By hand: -0.030 m in 50 m."""
    rows = sights(("I", "A", 1.283, 25), ("I", "B", 0.860, 25), ("II", "A", 1.612, 55), ("II", "B", 1.219, 5))
    (test,) = peg_tests(rows, Accuracy())[0].values()
    assert 50 * test.rise == pytest.approx(-0.030, abs=0.0005)


def test_20_seconds_at_50_m():
    """https://www.ellenow.com/p/296791616366: about 5 mm."""
    rise = math.radians(20 / 3600)
    rows = sights(
        ("m", "A", 1.5, 25), ("m", "B", 1.5, 25), ("n", "A", 1.5, 0), ("n", "B", 1.5 + 50 * rise, 50)
    )
    assert 50 * peg_tests(rows, Accuracy())[0][""].rise == pytest.approx(0.005, abs=0.001)


def test_a_known_rise_taken_out_of_a_long_backsight():
    """J. Mahun, Open Access Surveying Library, Elevations ch. G section 7,
    http://jerrymahun.com/index.php/home/open-access/elevations/15-elevations-chap-g?start=6: -2.66e-5 ft/ft,
    152 ft, 5.540 ft read: the error is -0.004, 5.544 is right."""
    equation = Equation(kind=Kind.ROD, at=(3, 0, 4), value=5.540, sd=1.0, factor=152.0)
    # At elevation 0 the rod shows the height of instrument, plus the rise of the sight.
    predicted, _ = evaluated(stacked([equation]), np.array([0.0, 0.0, 0.0, 5.544, -2.66e-5]))
    assert predicted[0] == pytest.approx(5.540, abs=0.0005)
    assert predicted[0] - 5.544 == pytest.approx(-0.004, abs=0.0005)


def test_equal_sights_tell_nothing_and_that_is_said():
    rows = sights(("I", "A", 1.3, 25), ("I", "B", 0.9, 25), ("II", "A", 1.6, 30), ("II", "B", 1.2, 30))
    tests, mistakes = peg_tests(rows, Accuracy())
    assert not tests
    assert (mistakes[0].file, mistakes[0].row) == ("pegs.csv", 2)
