"""Topocentric axes and the Transverse Mercator against the registry's worked examples.

International Association of Oil and Gas Producers (IOGP), Publication 373-7-2, Geomatics Guidance Note number
7, part 2, Coordinate Conversions and Transformations including Formulas: "Geographic/topocentric conversions"
(EPSG method 9837), edition of October 2020, and "Transverse Mercator" (EPSG method 9807), edition of
September 2019, pp. 54-55; read in the test suites of several open-source projection libraries.
"""

import math

import pytest

from staking.base.geodesy import Frame, map_grid

PRINTED_M = 0.001
ROUNDED_M = 0.011
"""The Transverse Mercator example is one unit off in its last printed digit, 0.01 m."""


def test_topocentric():
    """The printed point is 73 m up and the origin 200 m; a frame keeps to its own height, so at 73 m."""
    from pyproj import Transformer

    lat, lon = math.radians(53.80939444444444), math.radians(2.12955)
    frame = Frame(lat_rad=math.radians(55.0), lon_rad=math.radians(5.0), height_m=200.0)
    printed = Transformer.from_pipeline(
        "+proj=pipeline +step +proj=cart +ellps=WGS84 +step +proj=topocentric +ellps=WGS84 "
        "+lat_0=55 +lon_0=5 +h_0=200"
    ).transform(2.12955, 53.80939444444444, 73.0)
    assert printed == pytest.approx((-189013.869, -128642.040, -4220.171), abs=PRINTED_M)
    geocentric = Transformer.from_crs(4979, 4978, always_xy=True)
    # The origin's and the point's geocentric coordinates, as printed.
    assert geocentric.transform(5.0, 55.0, 200.0) == pytest.approx(
        (3652755.3058, 319574.6799, 5201547.3536), abs=1e-4
    )
    assert geocentric.transform(2.12955, 53.80939444444444, 73.0) == pytest.approx(
        (3771793.968, 140253.342, 5124304.349), abs=PRINTED_M
    )
    # 127 m more along the point's own plumb line, which leans from the origin's by 2.05°.
    east, north = frame.placed(lat, lon)
    up = 200.0 - 73.0
    assert math.hypot(east, north) == pytest.approx(
        math.hypot(*printed[:2]) * (1 + up / (6_378_137 + 73)), abs=0.05
    )
    assert math.atan2(east, north) == pytest.approx(math.atan2(*printed[:2]), abs=1e-6)
    assert frame.geodetic(east, north) == pytest.approx((lat, lon), abs=1e-9)


def test_transverse_mercator():
    """On the datum of the grid itself: 50°30' N, 0°30' E on OSGB36 is 577274.99, 69740.50."""
    from pyproj import Transformer

    from_own = Transformer.from_crs(4277, 27700, always_xy=True)
    assert from_own.transform(0.5, 50.5) == pytest.approx((577274.99, 69740.50), abs=ROUNDED_M)
    grid = map_grid("EPSG:27700")
    # From WGS 84 the datum is changed as well: a hundred metres that no ballpark may swallow.
    lat, lon = grid.geodetic(577274.984, 69740.492)
    assert math.degrees(lat) - 50.5 == pytest.approx(0.00055, abs=1e-4)
    assert math.degrees(lon) - 0.5 == pytest.approx(-0.0017, abs=2e-4)
    assert grid.accuracy_m > 0
    assert grid.placed(lat, lon) == pytest.approx((577274.984, 69740.492), abs=PRINTED_M)
