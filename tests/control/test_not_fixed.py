"""What the readings do not fix is said, never given a place with an absurd uncertainty."""

import math

import pytest
from invented_yards import Yard

from staking.base.errors import WrongInput
from staking.book.records import Azimuth, Benchmark, Control, ControlRow, Origin, PointRow
from staking.control.adjusting import adjusted

PIN = PointRow(table="points.csv", row=2, point="P3", kind="pin")


def yard(p3=(18.0, 0.0, 0.0)):
    made = Yard(truth={"P1": (0, 0, 0), "P2": (12, 0, 0), "P3": p3, "BM1": (0, 0, 0)})
    for a, b in (("P1", "P2"), ("P2", "P3"), ("P1", "P3")):
        made.tape(a, b)
    return made


def test_tapes_along_one_line_hold_nothing_across_it():
    """2026-11-25: the pin came back with a standard deviation of a thousand kilometres."""
    straight = yard()
    with pytest.raises(WrongInput, match=r"P3.*station and offset of P3 from P1-P2"):
        adjusted(straight.book(points=(PIN,), side="left"))
    straight.offset("P3", "P1", "P2")
    got = adjusted(straight.book(points=(PIN,), side="left"))
    k = got.points.index("P3")
    assert got.points.enz_m[k, :2] == pytest.approx([18, 0], abs=1e-4)
    assert got.points.sd_m()[k, :2].max() < 0.02


def test_a_place_observed_with_a_large_sd_is_still_a_place():
    """Control that is less sure than the yard is large stays: its sd was stated."""
    made = yard((10.0, 8.0, 0.0))
    rows = tuple(
        ControlRow(table="control.csv", row=k + 2, point=p, east_m=e, north_m=n, sd_east_m=25, sd_north_m=25)
        for k, (p, e, n) in enumerate((("P1", 0.0, 0.0), ("P2", 12.0, 0.0), ("P3", 10.0, 8.0)))
    )
    got = adjusted(made.book(control=Control(), control_points=rows))
    assert got.points.enz_m[got.points.index("P3"), :2] == pytest.approx([10, 8], abs=1e-3)
    assert got.points.sd_m()[got.points.index("P3"), 0] > 10


def test_tapes_that_do_not_meet_are_named_with_their_rows():
    made = Yard(truth={"P1": (0, 0, 0), "P2": (12, 0, 0), "P3": (10, 8, 0), "BM1": (0, 0, 0)})
    made.tape("P1", "P2")
    made.tape("P1", "P3", extra=100.0)
    made.tape("P2", "P3")
    with pytest.raises(
        WrongInput,
        match=r"do not meet: tapes\.csv row 3 \(112\.806\) and row 4 \(8\.246\).*"
        r"one of the two or what says how far P1 is from P2",
    ):
        adjusted(made.book(points=(PIN,), side="left"))


def test_one_known_coordinate_is_not_a_place():
    """2026-11-25: a pin with its east in control.csv and one tape was passed with no north."""
    made = Yard(truth={"P1": (0, 0, 0), "P2": (12, 0, 0), "P3": (12, 8, 0), "BM1": (0, 0, 0)})
    made.tape("P1", "P3")
    rows = (
        ControlRow(table="control.csv", row=2, point="P1", east_m=0, north_m=0),
        ControlRow(table="control.csv", row=3, point="P2", east_m=12, north_m=0),
        ControlRow(table="control.csv", row=4, point="P3", east_m=12),
    )
    with pytest.raises(WrongInput, match=r"may stand at either of two places.*side of P3"):
        adjusted(made.book(control=Control(), control_points=rows, points=(PIN,)))


def test_an_azimuth_between_two_points_given_the_same_place_is_wrong():
    made = yard((10.0, 8.0, 0.0))
    control = Control(
        origin=Origin(point="P1", east_m=0, north_m=0),
        azimuth=Azimuth(start="P1", to="P2", azimuth_rad=math.pi / 2, north="true"),
        benchmark=Benchmark(point="BM1", elevation_m=0),
    )
    rows = (ControlRow(table="control.csv", row=2, point="P2", east_m=0, north_m=0),)
    with pytest.raises(WrongInput, match=r"same east and north.*P1, P2"):
        adjusted(made.book(control=control, control_points=rows))


@pytest.mark.parametrize(("side", "north_m"), [("left", 8), ("right", -8)])
def test_sides_are_named_from_the_first_bearing_when_there_is_no_azimuth(side, north_m):
    """2026-11-25: the side of a pin was asked for and then not heard."""
    made = yard((10.0, 8.0, 0.0))
    made.bearing("P1", "P2")
    control = Control(origin=Origin(point="P1", east_m=0, north_m=0))
    sided = PointRow(table="points.csv", row=2, point="P3", kind="pin", side=side)
    got = adjusted(made.book(control=control, points=(sided,)))
    assert got.points.enz_m[got.points.index("P3"), :2] == pytest.approx([10, north_m], abs=1e-4)
