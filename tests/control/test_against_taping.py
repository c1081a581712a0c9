"""Tape corrections worked in print.

"Taping Corrections", course slides, https://www.slideserve.com/leiko/taping-corrections;
NPTEL course 105107122 Surveying, module 3, Ex 9-6,
https://archive.nptel.ac.in/content/storage2/courses/105107122/modules/module3/htmlpage/29.htm;
sag with supports between, https://curioustab.com/sag-50-m-tape-weighing-4-kg-under-5-kg-tension-roughly-66919.
"""

import math

import pytest

from staking.base.quantities import GRAVITY_M_S2, INCH_M, POUND_N, parse_expansion, parse_temperature
from staking.book.records import Supports, Tape
from staking.control.tape_corrections import (
    Laid,
    correction,
    length_correction,
    level_of_slope,
    pull_correction,
    sag_correction,
    spans,
    temperature_correction,
)

FT = 0.3048


def test_slides_a_tape_of_wrong_length():
    """500.00 ft with a tape of 100.02 ft: 500.10 ft."""
    got = 500 + length_correction(500 * FT, true_m=100.02 * FT, nominal_m=100 * FT) / FT
    assert got == pytest.approx(500.10, abs=0.005)


def test_slides_slope():
    """300.0 ft at 5°, 26.15 ft of rise: 298.86 ft level; by the short form v²/2s 1.14 ft less."""
    assert 300 - level_of_slope(300 * FT, 26.15 * FT) / FT == pytest.approx(1.14, abs=0.005)
    assert level_of_slope(300 * FT, 26.15 * FT) / FT == pytest.approx(298.86, abs=0.005)
    assert 300 * math.sin(math.radians(5)) == pytest.approx(26.15, abs=0.005)


def test_slides_temperature():
    """368.5 ft at 22 °F, 6.5e-6 per °F from 68 °F: -0.11 ft."""
    got = temperature_correction(
        368.5 * FT,
        temperature_c=parse_temperature("22 F", unit="ft"),
        standard_c=parse_temperature("68 F", unit="ft"),
        per_degree=parse_expansion("6.5e-6 per F", unit="ft"),
    )
    assert got / FT == pytest.approx(-0.11, abs=0.005)
    assert 368.5 + got / FT == pytest.approx(368.39, abs=0.005)


@pytest.mark.parametrize(
    ("pull_lb", "supports", "printed"),
    [
        (12, Supports(way="ends"), -0.71),
        (18, Supports(way="ends"), -0.31),
        (12, Supports(way="every", every_m=50 * FT), -0.20),
    ],
)
def test_slides_sag(pull_lb, supports, printed):
    """348.75 ft with a tape of 100 ft that weighs 2.8 lb."""
    tape = Tape(nominal_m=100 * FT, weight_n=2.8 * POUND_N)
    got = correction(348.75 * FT, tape, Laid(pull_n=pull_lb * POUND_N, supports=supports))
    assert got / FT == pytest.approx(printed, abs=0.005)


def test_slides_stretch():
    """100 ft, 18 lb where 12 lb is standard, 0.015 sq in, 29 000 000 psi: 0.0014 ft."""
    got = pull_correction(
        100 * FT,
        pull_n=18 * POUND_N,
        standard_n=12 * POUND_N,
        area_m2=0.015 * INCH_M**2,
        modulus_pa=29e6 * POUND_N / INCH_M**2,
    )
    assert got / FT == pytest.approx(0.0014, abs=0.00005)


def test_nptel_slope():
    """120 m along a slope that rises 3.6 m: 119.946 m."""
    assert level_of_slope(120.0, 3.6) == pytest.approx(119.946, abs=0.0005)


def test_sag_with_supports_every_10_m():
    """50 m, 4 kg, pulled with 5 kg: 0.010667 m a span, 0.053 m in all, 1.33 m on its ends alone."""
    weight = 4 * GRAVITY_M_S2 / 50
    pull = 5 * GRAVITY_M_S2
    assert sag_correction((10.0,), weight_n_per_m=weight, pull_n=pull) == pytest.approx(-0.010667, abs=5e-7)
    every = spans(50.0, Supports(way="every", every_m=10.0), nominal_m=50.0)
    assert every == spans(50.0, Supports(way="number", number=6), nominal_m=None)
    assert sag_correction(every, weight_n_per_m=weight, pull_n=pull) == pytest.approx(-0.053, abs=0.0005)
    ends = spans(50.0, Supports(way="ends"), nominal_m=50.0)
    assert sag_correction(ends, weight_n_per_m=weight, pull_n=pull) == pytest.approx(-1.33, abs=0.005)
