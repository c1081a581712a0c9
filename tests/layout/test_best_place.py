"""The best place in an area against a grid of places, each fitted and measured from everything."""

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely import Point, Polygon
from yards import FT, FormulaGround, check_job, with_fit

from staking.base.units import parse_length
from staking.layout.around import Around, Needs
from staking.layout.best_place import NoRoom, NothingFits, best_place, least_setback, wider_area_m
from staking.layout.fitting import AIMS, posed_of
from staking.layout.room import not_kept, print_of
from staking.layout.search import bounds_of, searched
from staking.lines.obstacles import Obstacle

AREA = np.array([(-4.0, -3.0), (16.0, -4.0), (17.5, 5.0), (6.0, 8.0), (-3.0, 6.0)])
NEEDS = Needs(hole_m=0.15, hub_m=0.9, stick_m=6.4)


def obstacle(kind, en, setback=0.0, closed=False, **more):
    return Obstacle(
        name=kind,
        kind=kind,
        en_m=np.array(en),
        closed=closed,
        setback_m=setback,
        setback_given=True,
        **more,
    )


def invented(seed):
    """A yard of its own: swells and a slope, a pipe and a tree in the way."""
    rng = np.random.default_rng(seed)
    slope, waves = rng.uniform(-0.08, 0.08, 2), rng.uniform(0.3, 1.2, (3, 3))
    size = rng.uniform(0.05, 0.25, 3)

    def z_of(x, y):
        z = 30 + slope[0] * x + slope[1] * y
        for (a, b, c), d in zip(waves, size, strict=True):
            z = z + d * np.sin(a * x + b * y + 6 * c)
        return z

    around = (
        obstacle("buried", [(-6.0, rng.uniform(-3.5, -2.0)), (20.0, rng.uniform(-4.0, -2.5))], 0.3),
        obstacle("tree", [(rng.uniform(0, 10), 7.5)], radius_m=rng.uniform(0.5, 1.5), sd_m=0.02),
    )
    return z_of, Around(obstacles=around, needs=NEEDS)


def brute(job, z_of, around, spacing):
    """Least total over a grid of places, by asking each for its plane and every distance."""
    best, fits_at = math.inf, None
    area = Polygon(AREA)
    for x in np.arange(-4.0, 8.0, spacing):
        for y in np.arange(-4.0, 8.0, spacing):
            yard = posed_of(job, placed_en_m=(x, y), ground=FormulaGround(z_of))
            own = print_of(yard.yard.shape, 0, NEEDS, 0.0, (x, y))
            if not all(area.covers(Polygon(one)) for one in own.outlines_en_m):
                continue
            if not all(area.covers(Point(at).buffer(0.15)) for at in own.holes_en_m):
                continue
            found = searched(yard.yard, bounds_of(job.fit), AIMS[job.fit.least], yard.ranges)
            if not found.fits or not_kept([(yard.yard, found)], around):
                continue
            value = float(AIMS[job.fit.least](found.heights, np.array([found.low_m]), np.array([0.0]))[0])
            if value < best:
                best, fits_at = value, (x, y)
    return best, fits_at


def found(job, z_of, around, style="metric"):
    return best_place(
        job, AREA, ground=FormulaGround(z_of), around=around, start_en_m=(0.0, 0.0), style=style
    )


@pytest.mark.parametrize("seed", range(3))
def test_no_place_of_a_grid_needs_less(seed):
    job = with_fit(check_job(), least="tallest" if seed == 2 else "steel")
    z_of, around = invented(seed)
    place = found(job, z_of, around)
    best, _ = brute(job, z_of, around, 0.6)
    assert place.value_m <= best + 1e-6
    assert best - place.value_m < 0.5  # the grid is as fine as the ground's swells
    # It is a true place: what was told is what a fit there says, and everything is kept.
    at = [parse_length(text, unit="m") for text in place.keys.split('"')[1::2]]
    assert at == pytest.approx(place.placed_en_m, abs=1e-9)
    posed = posed_of(job, placed_en_m=tuple(at), ground=FormulaGround(z_of))
    laid = searched(posed.yard, bounds_of(job.fit), AIMS[job.fit.least], posed.ranges)
    value = float(AIMS[job.fit.least](laid.heights, np.array([laid.low_m]), np.array([0.0]))[0])
    assert value == pytest.approx(place.value_m, abs=1e-9)
    assert not not_kept([(posed.yard, laid)], around)


def test_sloping_beams_keep_within_the_area_too():
    job = check_job(max_cross_slope_deg=3)
    z_of, around = invented(3)
    small = np.array([(-2.0, -2.0), (12.5, -3.6), (13.6, 2.6), (-1.0, 5.0)])
    place = best_place(
        job, small, ground=FormulaGround(z_of), around=around, start_en_m=(0.0, 0.0), style="feet-inches"
    )
    posed = posed_of(job, placed_en_m=place.placed_en_m, ground=FormulaGround(z_of))
    laid = searched(posed.yard, bounds_of(job.fit), AIMS["steel"], posed.ranges)
    own = print_of(posed.yard.shape, 0, NEEDS, laid.cross_rad, place.placed_en_m)
    assert abs(laid.cross_rad) > math.radians(0.5)
    area = Polygon(small)
    assert all(area.covers(Polygon(one)) for one in own.outlines_en_m)
    assert all(area.covers(Point(at).buffer(0.15)) for at in own.holes_en_m)


def test_without_room_what_is_in_the_way_is_named_and_how_much_is_lacking():
    fence = obstacle("boundary", [(-4.0, -3.0), (-3.0, 6.0)], 6.0)
    pipe = obstacle("buried", [(17.0, -6.0), (18.0, 8.0)], 5.0)
    around = Around(obstacles=(fence, pipe), needs=NEEDS)
    job = check_job()
    with pytest.raises(NoRoom) as caught:
        found(job, level, around)
    assert set(caught.value.lacking) == {"boundary", "buried"}
    setback = least_setback(job, AREA, around, "boundary", style="metric")
    assert 0 < setback < 6.0
    for more, room in ((0.0, True), (0.002, False)):
        changed = (replace(fence, setback_m=setback + more), pipe)
        if room:
            assert found(job, level, replace(around, obstacles=changed)).room_m2 > 0
        else:
            with pytest.raises(NoRoom):
                found(job, level, replace(around, obstacles=changed))
    lacking = wider_area_m(
        job, np.array([(0.0, 0.0), (11.0, 0.0), (11.0, 3.5), (0.0, 3.5)]), Around(), style="metric"
    )
    outline = print_of(
        posed_of(job, placed_en_m=(0.0, 0.0), ground=FormulaGround(level)).yard.shape, 0, Needs()
    )
    width, depth = np.ptp(outline.outlines_en_m[0], axis=0)
    assert lacking == pytest.approx(max(width - 11.0, depth - 3.5) / 2, abs=0.002)


def level(x, y):
    return 30 + 0 * x


def test_room_without_a_plane_is_told_with_the_nearest_place():
    def hill(x, y):
        return 30 + 0.06 * x

    job = check_job(above_grade_max_m=5.5 * FT)
    with pytest.raises(NothingFits):
        found(job, hill, Around(needs=NEEDS))
