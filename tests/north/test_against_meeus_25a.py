"""The sun's declination against J. Meeus, Astronomical Algorithms, 2nd ed. (1998), Example 25.a, p. 165.

Read in several open-source test suites. The book's low-precision method is good to 0.01°.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest

from staking.north.sun import sun_at

DYNAMICAL_LESS_UNIVERSAL = timedelta(seconds=59)
"""In October 1992 (from memory); a minute changes the declination by 0.0003°."""


def test_declination():
    when = datetime(1992, 10, 13, tzinfo=UTC) - DYNAMICAL_LESS_UNIVERSAL
    assert math.degrees(sun_at(0.0, 0.0, when).declination_rad) == pytest.approx(-7.78507, abs=0.01)
