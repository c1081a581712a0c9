"""The room that an array has: place by place what the distances of each thing say."""

import math
from functools import cache

import numpy as np
import pytest
from shapely import MultiPoint, Point, Polygon
from yards import FormulaGround, check_job, level_ground, with_array, with_frame

from staking.book.records import Accuracy
from staking.layout.around import Around, Needs
from staking.layout.fitting import AIMS, fit_of, plane_of, posed_of
from staking.layout.room import not_kept, print_of, room_of, sticks_keep, swing_of, things_of, within_area
from staking.layout.search import bounds_of, searched
from staking.layout.shifting import may_stand
from staking.lines.keeping import distances
from staking.lines.obstacles import Obstacle
from staking.same_ground import overlap_m

NEEDS = Needs(hole_m=0.15, hub_m=0.9, stick_m=6.4)
RING = [(-9.0, -7.0), (26.0, -9.0), (24.0, 14.0), (6.0, 9.0), (-8.0, 12.0)]
THINGS = {
    "boundary line": ("boundary", [(-20.0, -6.0), (8.0, -4.0), (30.0, -7.0)], False, 1.0),
    "boundary ring": ("boundary", [*RING, RING[0]], True, 0.6),
    "no build": ("no_build", [(3.0, 4.5), (7.0, 4.0), (6.0, 8.0)], True, 0.5),
    "no build, small": ("no_build", [(5.0, 1.0), (5.3, 1.0), (5.1, 1.2)], True, 0.0),
    "buried": ("buried", [(-4.0, 9.0), (20.0, 4.0)], False, 0.3),
    "tree": ("tree", [(4.0, 7.0)], False, 0.0),
}


def obstacle(name):
    kind, en, closed, setback = THINGS[name]
    return Obstacle(
        name=name,
        kind=kind,
        en_m=np.array(en),
        closed=closed,
        setback_m=setback,
        setback_given=True,
        radius_m=1.2 if kind == "tree" else 0.0,
    )


def posed(at=(0.0, 0.0), **fit):
    job = check_job(**fit)
    return posed_of(job, placed_en_m=at, ground=FormulaGround(level_ground)).yard, job


@cache
def lowest():
    yard, job = posed()
    return searched(yard, bounds_of(job.fit), AIMS["steel"], ((0.0, 0.0),))


def things(at):
    """On level ground the plane is the same everywhere."""
    yard, found = posed(at)[0], lowest()
    return things_of(
        yard.shape, plane_of(yard, found), names=yard.names, grade_m=np.full(10, 30.0), needs=NEEDS
    )


@pytest.mark.parametrize("name", THINGS)
def test_the_room_is_where_every_distance_is_kept(name):
    yard, _ = posed()
    own = print_of(yard.shape, yard.placed, NEEDS)
    room = room_of(Point(0.0, 0.0).buffer(9.0), [obstacle(name)], own)
    rng = np.random.default_rng(4)
    inside = 0
    for at in rng.uniform(-6.0, 6.0, (100, 2)):
        if room.boundary.distance(Point(at)) < 0.001:
            continue  # polygons stand for circles
        kept = not any(d.fails for d in distances([obstacle(name)], things(tuple(at)), level))
        assert room.covers(Point(at)) == kept, at
        inside += kept
    assert 5 < inside < 98


def level(en_m):
    return np.full(len(en_m), 30.0)


def test_an_area_holds_modules_and_holes():
    yard, _ = posed()
    own = print_of(yard.shape, yard.placed, NEEDS)
    area = Polygon(RING)
    room = within_area(area, own)
    for at in np.random.default_rng(5).uniform((-12.0, -10.0), (12.0, 10.0), (150, 2)):
        if room.boundary.distance(Point(at)) < 0.001:
            continue
        there = [thing for thing in things(tuple(at)) if thing.kind in ("modules", "hole")]
        shapes = [
            MultiPoint(t.enz_m[:, :2]).convex_hull
            if t.kind == "modules"
            else Point(t.enz_m[0, :2]).buffer(0.15, quad_segs=64)
            for t in there
        ]
        assert room.covers(Point(at)) == all(area.covers(shape) for shape in shapes), at


def test_the_underside_reaches_out_at_the_high_edge():
    """2026-11-28: only the upper face was held against lines; a boundary over the underside's edge was kept.

    By hand: facing 180 deg, tilt 40 deg, 3 modules of 44.1 in with gaps of 3/8 in up the rail, beam A at
    1.9 ft, stack 130 mm, thick 35 mm. North of A1 the high edge of the underside lies
    (3.37947 - 0.57912) cos 40 - 0.130 sin 40 = 2.06162, the upper face's 0.035 sin 40 = 0.02250 less; the
    upper face's low edge at -0.57912 cos 40 - 0.165 sin 40 = -0.54969.
    """
    high, low, thick = 2.06162, -0.54969, 0.02250
    job = with_array(check_job(), azimuth_rad=math.pi, tilt_rad=math.radians(40), module_thick_m=0.035)
    yard = posed_of(job, placed_en_m=(0.0, 0.0), ground=FormulaGround(level_ground)).yard
    laid = searched(yard, bounds_of(job.fit), AIMS["steel"], ((0.0, 0.0),))
    fit = fit_of(yard, laid, Accuracy())
    own = print_of(yard.shape, yard.placed, NEEDS)
    for outline in (fit.plan_outline_en_m, own.outlines_en_m[0]):
        assert outline.shape == (4, 2)
        assert [outline[:, 1].min(), outline[:, 1].max()] == pytest.approx([low, high], abs=2e-5)
    for off, kept in ((-thick + 0.010, False), (0.001, True)):
        north = high + off
        fence = Obstacle(
            name="fence",
            kind="boundary",
            en_m=np.array([(-20.0, north), (40.0, north)]),
            closed=False,
            setback_m=0.0,
            setback_given=True,
        )
        failing = [d for d in not_kept([(yard, laid)], Around(obstacles=(fence,))) if d.fails]
        assert [d.distance_m for d in failing] == ([] if kept else [pytest.approx(-0.01250, abs=2e-5)])
        assert room_of(Point(0.0, 0.0).buffer(1e-4), [fence], own).is_empty != kept
        strip = Polygon([(-20.0, -3.0), (40.0, -3.0), (40.0, north), (-20.0, north)])
        assert within_area(strip, own).covers(Point(0.0, 0.0)) == kept
        behind = np.array([(-20.0, north), (40.0, north), (40.0, north + 3.0), (-20.0, north + 3.0)])
        assert (overlap_m(fit.plan_outline_en_m, behind) <= 0) == kept


def test_rails_and_beams_that_reach_out_are_held_too():
    """By hand, as above: rail ends 0.15 m past the modules lie 0.15 cos 40 = 0.11491 further north.

    7 modules of 66.9 in and 6 gaps of 3/8 in are 11.95197 m wide, four bays of 8.75 ft 10.668 m: a beam
    0.75 m past its end posts reaches 0.75 west of A1, the modules only 0.64198.
    """
    job = with_array(check_job(), azimuth_rad=math.pi, tilt_rad=math.radians(40), module_thick_m=0.035)
    job = with_frame(job, rail_end_m=0.15, beam_past_post_m=0.75)
    yard = posed_of(job, placed_en_m=(0.0, 0.0), ground=FormulaGround(level_ground)).yard
    laid = searched(yard, bounds_of(job.fit), AIMS["steel"], ((0.0, 0.0),))
    outline = print_of(yard.shape, yard.placed, NEEDS).outlines_en_m[0]
    assert outline[:, 1].max() == pytest.approx(2.06162 + 0.11491, abs=2e-5)
    assert outline[:, 0].min() == pytest.approx(-0.75, abs=1e-9)
    assert fit_of(yard, laid, Accuracy()).plan_outline_en_m[:, 0].min() == pytest.approx(-0.64198, abs=2e-5)
    fence = Obstacle(
        name="fence",
        kind="boundary",
        en_m=np.array([(-20.0, 2.1), (40.0, 2.1)]),
        closed=False,
        setback_m=0.0,
        setback_given=True,
    )
    [edge] = [d for d in not_kept([(yard, laid)], Around(obstacles=(fence,))) if d.thing_kind == "modules"]
    assert edge.thing == "edge of modules, rails and beams"
    assert edge.distance_m == pytest.approx(2.1 - 2.06162 - 0.11491, abs=2e-5)


def test_the_swing_is_what_a_cross_slope_moves():
    yard, _ = posed(max_cross_slope_deg=5)
    most = math.radians(5)
    swing = swing_of(yard.shape, yard.placed, NEEDS, most)
    level_print = print_of(yard.shape, yard.placed, NEEDS)
    for cross in np.linspace(-most, most, 21):
        other = print_of(yard.shape, yard.placed, NEEDS, cross)
        for a, b in (
            (level_print.holes_en_m, other.holes_en_m),
            (level_print.faces_en_m[0], other.faces_en_m[0]),
        ):
            assert np.hypot(*(a - b).T).max() <= swing + 1e-9
    assert swing < 0.3


def test_a_middle_is_not_carried_across_a_boundary():
    """An array of one module is soon past a line; the far side keeps as clear and is not one's own."""
    job = with_array(check_job(), modules_along=2, modules_up=2)
    small = with_frame(job, piers_per_beam=2, bay_m=1.5, beams_at_m=(0.4, 1.8))
    yard = posed_of(small, placed_en_m=(0.0, 0.0), ground=FormulaGround(level_ground)).yard
    own = print_of(yard.shape, yard.placed, Needs(hole_m=0.15))
    fence = Obstacle(
        name="fence",
        kind="boundary",
        en_m=np.array([(-30.0, 3.2), (30.0, 3.2)]),
        closed=False,
        setback_m=0.0,
        setback_given=True,
    )
    may = may_stand(own, (0.0, 0.0), Around(obstacles=(fence,)))
    assert may((0.0, 0.0))
    assert not may((0.0, 5.0))  # beyond the line, clear of it
    pipe = Obstacle(
        name="pipe", kind="buried", en_m=fence.en_m, closed=False, setback_m=0.0, setback_given=True
    )
    assert may_stand(own, (0.0, 0.0), Around(obstacles=(pipe,)))((0.0, 5.0))


def test_sticks_keep_from_a_wire_through_the_air():
    """6.4 m of pipe under a wire 9.6 m up: 3.2 m are left, and 3.048 wanted."""
    yard, job = posed()
    for height, kept in ((9.6, True), (9.4, False)):
        wire = Obstacle(
            name="wire",
            kind="overhead",
            en_m=np.array([(-10.0, 0.0), (20.0, 0.0)]),
            closed=False,
            setback_m=3.048,
            setback_given=False,
            z_m=np.array([30.0 + height] * 2),
            height_m=height,
        )
        around = Around(obstacles=(wire,), needs=NEEDS)
        assert sticks_keep(yard, (0.0, 0.0), around) is kept
        found = searched(yard, bounds_of(job.fit), AIMS["steel"], ((0.0, 0.0),))
        assert any(d.thing_kind == "stick" for d in not_kept([(yard, found)], around)) is not kept
