"""Distances from lines, areas and trees: small scenes reckoned by hand."""

import math

import numpy as np
import pytest

from staking.lines.keeping import Thing, distances
from staking.lines.obstacles import OVERHEAD_LEAST_M, Obstacle


def level(en_m):
    return np.zeros(len(en_m))


def obstacle(kind, en, *, setback=0.0, closed=False, **more):
    return Obstacle(
        name="it",
        kind=kind,
        en_m=np.array(en, float),
        closed=closed,
        setback_m=setback,
        setback_given=True,
        **more,
    )


def hole(east, north, radius=0.15):
    return Thing(kind="hole", name="hole of A1", enz_m=np.array([[east, north, 0.0]]), radius_m=radius)


def field(*corners):
    return Thing(kind="modules", name="edge of the modules", enz_m=np.array(corners, float))


def one(obstacle, thing):
    (found,) = distances([obstacle], [thing], level)
    return found


def test_a_hole_beside_an_open_line_counts_from_its_rim():
    found = one(obstacle("boundary", [(0, -10), (0, 10)], setback=1.5), hole(2.0, 3.0))
    assert found.distance_m == pytest.approx(1.85, abs=1e-9)
    assert not found.fails
    assert found.short_m == pytest.approx(-0.35, abs=1e-9)


def test_beyond_the_end_of_a_line_the_distance_runs_to_its_end():
    found = one(obstacle("buried", [(0, 0), (0, 1)]), hole(3.0, 5.0, radius=0.0))
    assert found.distance_m == pytest.approx(5.0)


def test_modules_over_an_open_line_reach_over_it_by_the_lesser_part():
    found = one(
        obstacle("boundary", [(0, -10), (0, 10)]), field((-1, 0, 1), (4, 0, 1), (4, 2, 1), (-1, 2, 1))
    )
    assert found.distance_m == pytest.approx(-1.0)
    assert found.fails


def test_a_hole_cut_by_a_line_reaches_over_it():
    found = one(obstacle("buried", [(0, -10), (0, 10)]), hole(0.1, 0.0))
    assert found.distance_m == pytest.approx(-0.05, abs=1e-4)


RING = [(0, 0), (20, 0), (20, 20), (0, 20), (0, 0)]


@pytest.mark.parametrize(
    ("kind", "place", "expected"),
    [
        ("boundary", (5.0, 10.0), 4.85),
        ("boundary", (0.05, 10.0), -0.10),
        ("boundary", (-3.0, 10.0), -3.15),
        ("no_build", (-3.0, 10.0), 2.85),
        ("no_build", (0.05, 10.0), -0.20),
        ("no_build", (5.0, 10.0), -5.15),
    ],
)
def test_the_wrong_side_of_a_ring_is_negative(kind, place, expected):
    found = one(obstacle(kind, RING, closed=True), hole(*place))
    assert found.distance_m == pytest.approx(expected, abs=2e-4)
    assert found.fails == (expected < 0)


def test_an_area_that_lies_wholly_within_the_modules_is_met():
    area = obstacle("no_build", [(1, 1), (2, 1), (2, 2), (1, 2)], closed=True)
    assert one(area, field((-5, -5, 1), (5, -5, 1), (5, 5, 1), (-5, 5, 1))).fails


def test_a_tree_keeps_its_radius():
    tree = obstacle("tree", [(0, 0)], radius_m=2.0)
    assert one(tree, hole(3.0, 4.0)).distance_m == pytest.approx(2.85)
    assert one(tree, hole(1.0, 0.0)).distance_m == pytest.approx(-1.15)


def stick(east, north, length, z=0.0):
    return Thing(kind="stick", name="stick", enz_m=np.array([[east, north, z]]), radius_m=length)


def test_a_stick_may_fall_toward_the_wire():
    wire = obstacle(
        "overhead", [(-50, 6), (50, 6)], setback=OVERHEAD_LEAST_M, z_m=np.array([8.0, 8.0]), height_m=8.0
    )
    found = one(wire, stick(0.0, 0.0, 6.4))
    # 6 m beside and 8 m up: 10 m from foot to wire, of which the stick takes 6.4.
    assert found.distance_m == pytest.approx(3.6)
    assert not found.fails
    assert one(wire, stick(0.0, 1.0, 6.4)).distance_m == pytest.approx(math.hypot(5, 8) - 6.4)
    assert one(wire, stick(0.0, 2.0, 6.4)).fails
    # A foot on ground one metre higher is nearer to the wire.
    assert one(wire, stick(0.0, 0.0, 6.4, z=1.0)).distance_m == pytest.approx(math.hypot(6, 7) - 6.4)


def test_a_wire_without_elevations_hangs_above_the_ground_there():
    nan = np.array([np.nan, np.nan])
    wire = obstacle("overhead", [(-5, 6), (5, 6)], z_m=nan, height_m=7.0)
    (found,) = distances([wire], [stick(0.0, 6.0, 3.0)], lambda en: np.full(len(en), 2.0))
    assert found.distance_m == pytest.approx(6.0)


def test_a_wire_over_the_middle_of_the_modules_is_met_there():
    wire = obstacle("overhead", [(5, -50), (5, 50)], z_m=np.array([7.0, 7.0]), height_m=7.0)
    modules = field((0, 0, 2), (10, 0, 2), (10, 4, 4), (0, 4, 4))
    assert one(wire, modules).distance_m == pytest.approx(3.0)


def test_what_is_held_against_what():
    hub = Thing(kind="hub", name="hub A1 left", enz_m=np.zeros((1, 3)))
    wire = obstacle("overhead", [(0, 6), (5, 6)], z_m=np.zeros(2), height_m=7.0)
    assert not distances([wire], [hub, hole(0, 0)], level)
    assert len(distances([obstacle("buried", [(9, 9), (8, 8)])], [hub, hole(0, 0)], level)) == 2


def test_a_distance_kept_by_less_than_the_place_is_known_is_close():
    line = obstacle("boundary", [(0, -10), (0, 10)], setback=1.0, sd_m=0.05)
    assert one(line, hole(1.20, 0.0)).close
    assert not one(line, hole(1.30, 0.0)).close
    assert not one(line, hole(1.10, 0.0)).close  # fails


@pytest.mark.parametrize("turn", [0.3, 1.1, 2.9])
def test_turning_the_site_changes_no_distance(turn):
    c, s = math.cos(turn), math.sin(turn)
    spin = np.array([[c, -s], [s, c]])

    def turned(places):
        places = np.array(places, float)
        return np.column_stack([places[:, :2] @ spin.T, places[:, 2:]])

    corners = [(1, 1, 2), (9, 1, 2), (9, 5, 4), (1, 5, 4)]
    for kind, ring, closed in (
        ("boundary", RING, True),
        ("no_build", RING, True),
        ("buried", [(3, -4), (4, 9)], False),
    ):
        still = one(obstacle(kind, ring, closed=closed), field(*corners))
        moved = one(obstacle(kind, turned(np.array(ring, float)), closed=closed), field(*turned(corners)))
        assert moved.distance_m == pytest.approx(still.distance_m, abs=1e-9)


def test_a_hub_is_on_one_side_of_a_ring_or_the_other():
    """A point has no area: until 2026-11-28 a hub beyond a boundary was told as inside by as much."""
    ring = [(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)]
    hub = Thing(kind="hub", name="hub A1 left", enz_m=np.array([[12.0, 5.0, 0.0]]))
    assert one(obstacle("boundary", ring, closed=True), hub).distance_m == pytest.approx(-2.0)
    assert one(obstacle("no_build", ring[:-1], closed=True), hub).distance_m == pytest.approx(2.0)
    inner = Thing(kind="hub", name="hub A1 right", enz_m=np.array([[9.0, 5.0, 0.0]]))
    assert one(obstacle("boundary", ring, closed=True), inner).distance_m == pytest.approx(1.0)
    assert one(obstacle("no_build", ring[:-1], closed=True), inner).distance_m == pytest.approx(-1.0)
    bare = hole(12.0, 5.0, radius=0.0)
    assert one(obstacle("boundary", ring, closed=True), bare).distance_m == pytest.approx(-2.0)
