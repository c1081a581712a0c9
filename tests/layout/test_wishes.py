"""Height from a wished low edge or from the upper limits, tilt from all limits: by plain vectors."""

import math

import numpy as np
import pytest
from test_remedies import TWO_MM, offered, refused, still_refused
from yards import (
    FT,
    FormulaGround,
    Vectors,
    asked_of,
    check_job,
    laid_out,
    sloping_ground,
    wavy_ground,
    with_array,
    with_fit,
)

from staking.base.units import parse_length
from staking.layout.redrawn import redrawing_of, redrawn
from staking.layout.stepped import sections_of
from staking.tilting import steepest

WAVES = [(sloping_ground, None), (wavy_ground, None), (wavy_ground, 4)]


def job_of(slope_deg, **fit):
    return check_job(**fit) if slope_deg is None else check_job(max_cross_slope_deg=slope_deg, **fit)


def low_edge_of(fit, job, z_of):
    """Least height of the low edge by vectors, a place each centimetre."""
    vectors = Vectors(job, fit.plane.cross_slope_rad, placed_en=fit.plane.a1_en_m)
    wide = job.array.width_m
    x = np.linspace(-wide / 2, wide / 2, 1 + math.ceil(wide / 0.01))
    edge = vectors.low_middle + x[:, None] * vectors.u + job.frame.stack_m * vectors.n
    return float((edge[:, 2] + fit.plane.z_a1_m - z_of(edge[:, 0], edge[:, 1])).min())


@pytest.mark.parametrize(("z_of", "slope"), WAVES)
@pytest.mark.parametrize("wished", [0.8, 1.1])
def test_the_low_edge_stands_as_wished(z_of, slope, wished):
    job = job_of(slope, low_edge_m=wished)
    fit = laid_out(job, z_of)
    assert low_edge_of(fit, job, z_of) == pytest.approx(wished, abs=2e-5)
    assert fit.clearance_m >= job.fit.clearance_m - 1e-6
    assert fit.lengths.above_grade_m.min() >= job.fit.above_grade_min_m - 1e-6


def test_of_all_cross_slopes_with_that_low_edge_the_least_steel_is_taken():
    job = job_of(4, low_edge_m=0.9)
    fit = laid_out(job, wavy_ground)
    for cross in np.radians(np.linspace(-4, 4, 81)):
        vectors = Vectors(job, cross)
        above, clear, _ = asked_of(job, vectors, wavy_ground, 0.05)
        x = np.linspace(-job.array.width_m / 2, job.array.width_m / 2, 800)
        edge = vectors.low_middle + x[:, None] * vectors.u + job.frame.stack_m * vectors.n
        height = 0.9 - (edge[:, 2] - wavy_ground(edge[:, 0], edge[:, 1])).min()
        low = max(job.fit.above_grade_min_m - above.min(), job.fit.clearance_m - clear)
        if height >= low:
            assert fit.total_above_grade_m <= (above + height).sum() + 1e-3


@pytest.mark.parametrize(("wished", "way"), [(0.3, 1), (3.0, -1)])
def test_a_low_edge_that_cannot_be_is_told_with_the_nearest_that_can(wished, way):
    job = check_job(above_grade_max_m=9 * FT, low_edge_m=wished)
    error = refused(job, sloping_ground, "metric")
    assert any(one.limit == "fit.low_edge" for one in error.conflicts)
    nearest = parse_length(offered(error, "low_edge"), unit="m")
    assert (nearest - wished) * way > 0
    laid_out(with_fit(job, low_edge_m=nearest), sloping_ground)
    still_refused(with_fit(job, low_edge_m=nearest - way * TWO_MM), sloping_ground)


@pytest.mark.parametrize(("z_of", "slope"), WAVES)
@pytest.mark.parametrize("highest", [None, 2.75])
def test_a_high_plane_stands_at_its_upper_limits(z_of, slope, highest):
    job = job_of(slope, above_grade_max_m=8 * FT, highest_m=highest, stand="high")
    fit = laid_out(job, z_of)
    tallest = job.fit.above_grade_max_m - fit.lengths.above_grade_m.max()
    over = math.inf if highest is None else highest - fit.highest_m
    assert min(tallest, over) == pytest.approx(0.0, abs=1e-6)
    low = laid_out(with_fit(job, stand="low"), z_of)
    assert fit.plane.z_a1_m > low.plane.z_a1_m + 0.05


@pytest.mark.parametrize("key", [{"low_edge_m": 0.9}, {"stand": "high", "above_grade_max_m": 8 * FT}])
def test_a_draw_of_nothing_leaves_the_posts_as_they_are(key):
    job = check_job(**key)
    ground = FormulaGround(wavy_ground)
    fit = laid_out(job, wavy_ground)
    asked = redrawing_of(job, fit, ground, placed_en_m=(0.0, 0.0))
    again = redrawn(asked, np.zeros((1, 10)), np.zeros((1, len(asked.spot_en_m))))
    assert again.above_grade_m[0] == pytest.approx(fit.lengths.above_grade_m, abs=2e-3)
    raised = redrawn(asked, np.full((1, 10), 0.1), np.full((1, len(asked.spot_en_m)), 0.1))
    assert raised.above_grade_m[0] == pytest.approx(again.above_grade_m[0], abs=1e-9)


@pytest.mark.parametrize(
    ("slope", "limit"), [(None, {"highest_m": 2.9}), (2, {"above_grade_max_m": 5.9 * FT})]
)
def test_the_steepest_tilt_is_that_of_trying_every_tenth_of_a_degree(slope, limit):
    job = with_array(job_of(slope, **limit), tilt_rad=math.radians(15), max_tilt_rad=math.radians(45))
    ground = FormulaGround(wavy_ground)
    found = steepest(job, placed_en_m=(0.0, 0.0), ground=ground, style="metric")

    def fits(tenths):
        there = with_array(job, tilt_rad=math.radians(tenths / 10))
        return sections_of(there, placed_en_m=(0.0, 0.0), ground=ground) is not None

    step = 1 if slope is None else 5
    tenths = round(math.degrees(found.tilt_rad) * 10)
    assert 150 < tenths < 450
    assert fits(tenths)
    assert not any(fits(n) for n in range(tenths + 1, 450, step))
    assert found.limit.startswith("highest" if slope is None else ("above_grade_max", "clearance"))
