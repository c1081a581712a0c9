"""Where the placed pier stands."""

import math

import numpy as np
import pytest

from staking.base.errors import WrongInput
from staking.book.records import Place
from staking.control.adjustment import Points
from staking.layout.place import placed_position

POINTS = Points(
    names=("P1", "P2", "Q", "R"),
    kinds=("pin",) * 4,
    shapes_ground=(False,) * 4,
    enz_m=np.array([[1.0, 2.0, 0.0], [1.0, 12.0, 0.0], [np.nan, np.nan, 5.0], [1.0, 2.0, 3.0]]),
    cov_m2=np.zeros((12, 12)),
)


def by_line(line=("P1", "P2"), station_m=3.0, offset_m=2.0):
    return Place(line=line, station_m=station_m, offset_m=offset_m)


def test_offset_is_positive_to_the_right_looking_along_the_line():
    # The line runs north: right is east.
    assert placed_position(by_line(), POINTS) == pytest.approx((3.0, 5.0))
    assert placed_position(by_line(offset_m=-2.0), POINTS) == pytest.approx((-1.0, 5.0))


def test_station_runs_from_the_first_point_to_the_second():
    assert placed_position(by_line(line=("P2", "P1")), POINTS) == pytest.approx((-1.0, 9.0))


def test_a_slanting_line():
    points = Points(
        names=("A", "B"),
        kinds=("pin",) * 2,
        shapes_ground=(False,) * 2,
        enz_m=np.array([[0.0, 0.0, 0.0], [3.0, 4.0, 9.0]]),
        cov_m2=np.zeros((6, 6)),
    )
    east, north = placed_position(by_line(line=("a ", "b"), station_m=5.0, offset_m=10.0), points)
    assert (east, north) == pytest.approx((3.0 + 8.0, 4.0 - 6.0))
    assert math.hypot(east - 3.0, north - 4.0) == pytest.approx(10.0)


def test_east_and_north_as_given_zero_among_them():
    assert placed_position(Place(east_m=0.0, north_m=-4.0), POINTS) == (0.0, -4.0)


@pytest.mark.parametrize(
    ("place", "says"),
    [
        (by_line(line=("P1", "P9")), "no point P9"),
        (by_line(line=("P1", "Q")), "no reading places Q"),
        (by_line(line=("P1", "R")), "stand at one place"),
        (by_line(station_m=None), "place.station: missing"),
        (Place(), "place.line: missing"),
        (Place(east_m=1.0), "place.north: missing"),
        (Place(line=("P1", "P2"), station_m=1.0, offset_m=1.0, east_m=1.0, north_m=1.0), "given twice"),
    ],
)
def test_what_cannot_be_placed_is_told(place, says):
    with pytest.raises(WrongInput, match=says):
        placed_position(place, POINTS)
