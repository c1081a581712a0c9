"""Which points serve as pins, and which line as the baseline."""

from __future__ import annotations

import math

import pytest
from marks_yard import points_at

from staking.base.errors import WrongInput
from staking.book.records import (
    ArrayDesign,
    ArrayJob,
    Azimuth,
    Benchmark,
    Control,
    ControlRow,
    FieldBook,
    FrameDesign,
    Job,
    Limits,
    LostRow,
    Origin,
    Place,
    Site,
)
from staking.control.adjustment import Adjustment
from staking.marks.pins import usable_pins

PLACES = {
    "P1": (0.0, 0.0, 30.0),
    "P2": (10.0, 0.0, 30.0),
    "PIN3": (4.0, 9.0, 30.0),
    "BM1": (None, None, 30.5),
    "BM2": (20.0, 9.0, 30.5),
    "G1": (30.0, 3.0, 30.0),
    "C1": (-7.0, 2.0, 30.0),
    "L1": (1.0, 1.0, 30.0),
    "L2": (2.0, 1.0, 30.0),
    "TREE": (3.0, 50.0, None),
}
KINDS = {
    "P1": "ground",
    "P2": "ground",
    "PIN3": "pin",
    "BM1": "benchmark",
    "BM2": "benchmark",
    "G1": "ground",
    "C1": "ground",
    "L1": "ground",
    "L2": "ground",
    "TREE": "tree",
}
CONTROL = Control(
    origin=Origin(point="p1", east_m=0.0, north_m=0.0),
    azimuth=Azimuth(start="P1", to="P2", azimuth_rad=math.radians(90), north="true"),
    benchmark=Benchmark(point="BM1", elevation_m=30.5),
)


def array(place, name=""):
    return ArrayJob(
        name=name,
        array=ArrayDesign(
            azimuth_rad=math.pi, tilt_rad=0.4, modules_along=2, modules_up=1, module_along_m=1, module_up_m=2
        ),
        frame=FrameDesign(beams_at_m=(0.5, 1.5), stack_m=0.1, takeout_m=0.05),
        place=place,
        fit=Limits(above_grade_min_m=0.5, above_grade_max_m=2.5, clearance_m=0.5),
    )


def survey(*, control=CONTROL, arrays=(), lost=(), control_points=(), places=PLACES):
    book = FieldBook(
        job=Job(site=Site(), control=control, arrays=arrays),
        lost=tuple(LostRow(table="lost.csv", row=2 + i, point=point) for i, point in enumerate(lost)),
        control_points=tuple(
            ControlRow(table="control.csv", row=2 + i, point=point) for i, point in enumerate(control_points)
        ),
    )
    adjustment = Adjustment(
        points=points_at(places, kinds=KINDS),
        readings=(),
        redundancy=0,
        variance_factor=None,
        passes=None,
        level_sums=None,
        misclosures=(),
        sighted_once=0,
        sighted_once_points=(),
        suspects=(),
        warnings=(),
    )
    return book, adjustment


def test_pins_benchmarks_with_a_place_and_control_points_serve():
    pins, baseline = usable_pins(*survey())
    assert pins == ("P1", "P2", "PIN3", "BM2")
    assert baseline == ("P1", "P2")


def test_points_of_control_csv_and_of_the_placing_line_serve():
    pins, baseline = usable_pins(*survey(control_points=("c1",), arrays=(array(Place(line=("L1", "L2"))),)))
    assert pins == ("P1", "P2", "PIN3", "BM2", "C1", "L1", "L2")
    assert baseline == ("L1", "L2")


def test_each_array_has_its_own_line_for_baseline():
    arrays = (array(Place(east_m=0, north_m=0), "n"), array(Place(line=("L1", "L2")), "s"))
    book, adjustment = survey(arrays=arrays)
    assert usable_pins(book, adjustment)[1] == ("L1", "L2")
    assert usable_pins(book, adjustment, place=arrays[0].place)[1] == ("P1", "P2")
    assert usable_pins(book, adjustment, place=arrays[1].place)[1] == ("L1", "L2")


def test_lost_points_are_left_out_and_the_baseline_goes_over_to_one_that_stands():
    arrays = (array(Place(line=("L1", "L2"))),)
    pins, baseline = usable_pins(*survey(arrays=arrays, lost=(" l2", "pin3")))
    assert pins == ("P1", "P2", "BM2", "L1")
    assert baseline == ("P1", "P2")
    pins, baseline = usable_pins(*survey(arrays=arrays, lost=("L2", "P1")))
    assert baseline == ("BM2", "L1")


def test_without_control_the_pins_farthest_apart_are_the_baseline():
    pins, baseline = usable_pins(*survey(control=Control(), control_points=("P1", "C1")))
    assert pins == ("P1", "PIN3", "BM2", "C1")
    assert baseline == ("BM2", "C1")


def test_with_every_pin_lost_any_standing_points_give_a_line():
    pins, baseline = usable_pins(*survey(control=Control(), lost=("PIN3", "BM2")))
    assert pins == ()
    # TREE is 54.2 m from G1, 50.5 m from P2, 49.0 m from C1, 50.0 m from P1.
    assert baseline == ("G1", "TREE")


def test_a_line_of_lost_points_is_better_than_none():
    places = {name: PLACES[name] for name in ("P1", "P2", "BM1")}
    pins, baseline = usable_pins(*survey(places=places, lost=("P2",)))
    assert pins == ("P1",)
    assert baseline == ("P1", "P2")


def test_no_two_places_at_all_is_wrong_input():
    places = {"P1": PLACES["P1"], "BM1": PLACES["BM1"]}
    with pytest.raises(WrongInput, match="no two points"):
        usable_pins(*survey(places=places))


def test_two_points_at_one_place_are_no_line():
    places = {"P1": PLACES["P1"], "P2": PLACES["P1"], "PIN3": PLACES["PIN3"]}
    _, baseline = usable_pins(*survey(places=places))
    assert baseline == ("P1", "PIN3")
