"""Lengths and angles between text and numbers."""

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from staking.base.units import (
    format_angle,
    format_length,
    from_unit,
    in_unit,
    parse_angle,
    parse_length,
    write_like,
)

# The international foot and inch, exact: NIST SP 811 (2008), appendix B.6 and B.8 (from memory).
FOOT_M = 0.3048
INCH_M = 0.0254


@pytest.mark.parametrize(
    ("text", "unit", "metres"),
    [
        ("5.43", "ft", 5.43 * FOOT_M),
        ("5.43 ft", "m", 5.43 * FOOT_M),
        ("5' 5-1/8\"", "m", 65.125 * INCH_M),
        ("5'-5 1/8\"", "m", 65.125 * INCH_M),
        ("5ft 5 1/8in", "m", 65.125 * INCH_M),
        # 2026-11-28: refused without a blank behind ft.
        ("63ft10.25in", "m", 766.25 * INCH_M),
        ("5 ft. 5 in.", "m", 65 * INCH_M),
        ("65.125 in", "m", 65.125 * INCH_M),
        ('65 1/8"', "m", 65.125 * INCH_M),
        ("67 1/8 in", "m", 67.125 * INCH_M),
        ("65 1/8", "in", 65.125 * INCH_M),
        ("3/8 in", "m", 0.375 * INCH_M),
        ("1.655 m", "ft", 1.655),
        ("1655 mm", "ft", 1.655),
        ("165.5 cm", "ft", 1.655),
        ("1655", "mm", 1.655),
        # 2026-11-28: refused.
        ("3937 usft", "m", 1200.0),
        ("-3937.0 US survey ft", "ft", -1200.0),
        ("3937 U.S. ft.", "m", 1200.0),
        ("-8 ft", "m", -8 * FOOT_M),
        ("-8' 3\"", "m", -99 * INCH_M),
        ("−0.5", "m", -0.5),
        ("5’ 5–1/8”", "m", 65.125 * INCH_M),
        ("5′ 5⅛″", "m", 65.125 * INCH_M),
        ("5½″", "m", 5.5 * INCH_M),
        ("5' 5''", "m", 65 * INCH_M),
        ("  .5 ", "m", 0.5),
        # 2026-11-28: an sd as a program or a spreadsheet writes it was no length.
        ("5e-05", "m", 0.00005),
        ("-1.50E-02 ft", "m", -0.015 * 0.3048),
        ("0", "ft", 0.0),
    ],
)
def test_every_notation_is_read(text, unit, metres):
    assert parse_length(text, unit=unit) == pytest.approx(metres, abs=1e-15)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("1,25 m", "write 1.25 m"),
        ("12-6", "12' 6\""),
        ("5 1/8", "5 1/8 in"),
        ("5' 14\"", "12 inches or more"),
        ("5.5' 3\"", "decimal feet"),
        ("5 9/8 in", "below one"),
        ("5 1/0 in", "below one"),
        ("1/2 m", "fraction of such a unit"),
        ("", "nothing there"),
        ("abc", "not a length"),
        ("1e3", "without their last digits"),
        ("5.71E+06", "without their last digits"),
        ("nan", "not a length"),
        ("5 yd", "not a length"),
        ("5²", "not a length"),
        ("3-58", "not a length"),
        ("9" * 400, "longer than"),
    ],
)
def test_what_is_not_a_length_says_what_to_write(text, says):
    with pytest.raises(ValueError) as caught:
        parse_length(text, unit="ft")
    assert says in str(caught.value)


@given(st.integers(-200_000, 200_000))
@settings(derandomize=True)
def test_sixteenths_round_trip_exactly(sixteenths):
    metres = float(sixteenths * Fraction(254, 160_000))
    for style in ("feet-inches", "inches"):
        text = format_length(metres, style=style)
        assert parse_length(text, unit="m") == metres
        assert format_length(parse_length(text, unit="m"), style=style) == text


@given(st.integers(-2_000_000, 2_000_000))
@settings(derandomize=True)
def test_millimetres_round_trip_exactly(millimetres):
    metres = float(Fraction(millimetres, 1000))
    assert parse_length(format_length(metres, style="metric"), unit="mm") == metres
    assert parse_length(format_length(metres, style="metres"), unit="m") == metres


@given(st.text(max_size=20))
@settings(derandomize=True)
def test_any_text_reads_or_is_refused(text):
    for parse in (lambda t: parse_length(t, unit="ft"), parse_angle):
        try:
            assert math.isfinite(parse(text))
        except ValueError:
            continue


@pytest.mark.parametrize(
    ("value_m", "style", "places", "text"),
    [
        (65.125 * INCH_M, "feet-inches", None, "5' 5-1/8\""),
        (-65.125 * INCH_M, "feet-inches", None, "-5' 5-1/8\""),
        (0.375 * INCH_M, "feet-inches", None, "0' 0-3/8\""),
        (0.375 * INCH_M, "inches", None, '3/8"'),
        (11.99 * INCH_M, "feet-inches", None, "1' 0\""),
        (-0.00001, "feet-inches", None, "0' 0\""),
        (-0.00001, "metric", None, "0"),
        (1.6554, "metric", None, "1655"),
        (1.6555, "metres", 2, "1.66"),
        (5.425 * FOOT_M, "decimal feet", None, "5.43"),
        (0.05 * FOOT_M, "decimal feet", None, "0.05"),
    ],
)
def test_printing_rounds_once(value_m, style, places, text):
    assert format_length(value_m, style=style, places=places) == text


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_what_is_not_finite_is_not_printed(value):
    with pytest.raises(ValueError, match="cannot print"):
        format_length(value, style="metric")


@pytest.mark.parametrize(
    ("value_ft", "read", "text"),
    [
        (4.38, "5.38", "4.38"),
        (4.38, "5.38 ft", "4.38 ft"),
        (5.5, "5' 5-1/8\"", "5' 6\""),
        (5.5, '65 1/8"', '66"'),
        (5.5, "65.1 in", "66.0 in"),
        (1.25, "0.381 m", "0.381 m"),
        (1.25, "381 mm", "381 mm"),
    ],
)
def test_a_repair_is_written_as_the_reading_was(value_ft, read, text):
    assert write_like(value_ft * FOOT_M, read, unit="ft") == text


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("88.5", 88.5),
        ("88°30'", 88.5),
        ("88º30’", 88.5),
        ("88-30-00", 88.5),
        ("88 30 00", 88.5),
        ("88°30'36\"", 88.51),
        ("88 deg 30 36", 88.51),
        ("-12.5", -12.5),
        ("N 88°30' E", 88.5),
        ("N 88-30 W", 271.5),
        ("s 10 w", 190.0),
        ("S 10.5 E", 169.5),
        ("N 0 W", 0.0),
        ("2.5e-07", 2.5e-7),
    ],
)
def test_every_angle_notation_is_read(text, degrees):
    assert math.degrees(parse_angle(text)) == pytest.approx(degrees, abs=1e-12)


@pytest.mark.parametrize(
    "text", ["", "88.5 30", "88-75-00", "N 95 E", "88530'", "9 E", "12:30", "88,5", "9" * 400]
)
def test_what_is_not_an_angle_is_refused(text):
    with pytest.raises(ValueError, match=r"angle|quadrant|minutes|degrees"):
        parse_angle(text)


def test_angles_print_rounded():
    assert format_angle(math.radians(88.55), 1) == "88.6"
    assert format_angle(math.radians(-0.01), 1) == "0.0"


def test_units_convert_both_ways():
    assert in_unit(FOOT_M, "ft") == pytest.approx(1.0, abs=1e-15)
    assert from_unit(12.0, "in") == pytest.approx(FOOT_M, abs=1e-15)
