"""Latitudes and longitudes written as they were typed."""

import math

import pytest

from staking.base.globe import read_globe, write_globe_like


@pytest.mark.parametrize(
    ("read", "degrees", "likely"),
    [
        ("40.1250000", 40.12501234, "40.1250123"),
        ("-75.25", -75.256, "-75.26"),
        ("75.2500 W", -75.2512, "75.2512 W"),
        ("N 40.125", 40.1256, "N 40.126"),
        ("40°07'30.0\"", 40.1251, "40°07'30.4\""),
        ("40°59'59.9\"N", 41.0, "41°00'00.0\"N"),
        ("40-07-30", 40.1259, "40-07-33"),
        ("40 07.500", 40.1251, "40 07.506"),
        ("33.5 s", -33.61, "33.6 s"),
        ("0.5", -0.4, "-0.4"),
    ],
)
def test_written_like(read, degrees, likely):
    assert write_globe_like(math.radians(degrees), read) == likely


@pytest.mark.parametrize(
    ("text", "degrees"), [("40.125", 40.125), ("75°15' W", -75.25), ("S 33.5", -33.5), ("-75.25", -75.25)]
)
def test_read(text, degrees):
    assert math.degrees(read_globe(text)) == pytest.approx(degrees, abs=1e-12)
