"""Arrays of thousands of piers: vectorised, and refused in words where memory would run out."""

import math
from dataclasses import replace

import pytest
from yards import FormulaGround, check_job, sloping_ground, with_frame

from staking.base.errors import WrongInput
from staking.book.records import Accuracy
from staking.layout.beams import CLEAR_M, clear_cross_slopes
from staking.layout.fitting import MOST_PIERS, fitted
from staking.layout.shape import shape_of


def long_job(piers, **frame):
    job = with_frame(check_job(max_cross_slope_deg=3), piers_per_beam=piers, rail_clear_m=0.0, **frame)
    along = int(piers * job.frame.bay_m / job.array.module_along_m)
    return replace(job, array=replace(job.array, modules_along=along))


def test_too_many_piers_are_refused_in_words():
    # 2026-11-28: an array of 200,000 piers ended in "the program failed (MemoryError)".
    job = long_job(1 + MOST_PIERS // 2)
    with pytest.raises(WrongInput) as told:
        fitted(job, placed_en_m=(0.0, 0.0), ground=FormulaGround(sloping_ground), accuracy=Accuracy())
    (mistake,) = told.value.mistakes
    assert f"{2 * (1 + MOST_PIERS // 2):,} piers" in mistake.problem
    assert "[[arrays]]" in mistake.remedy


def test_no_clearance_wanted_rules_out_no_cross_slope():
    # 2026-11-28: each pair of a post and a rail ruled out a sliver of two millionths, and each of thousands
    # of ranges between them was searched.
    (whole,) = clear_cross_slopes(shape_of(long_job(60), style="metric"), math.radians(3), style="metric")
    assert whole == pytest.approx((-math.radians(3), math.radians(3)))


@pytest.mark.parametrize("clear_m", [0.03, 0.09, 0.15])
def test_open_cross_slopes_are_those_where_every_pair_keeps_clear(clear_m):
    # By brute force over the cross-slopes, each rail against each post of each beam.
    job = with_frame(check_job(max_cross_slope_deg=4), rail_clear_m=clear_m)
    shape = shape_of(job, style="metric")
    ranges = clear_cross_slopes(shape, math.radians(4), style="metric")
    middle = (shape.beams_at_m[0] + shape.beams_at_m[-1]) / 2
    for k in range(-400, 401):
        cross = math.radians(k / 100)
        least = min(
            abs(
                rail
                - (post * shape.bay_m - shape.half_line_m)
                + (middle - at) * math.sin(shape.tilt_rad) * math.tan(cross)
            )
            for rail in shape.rails_m
            for post in range(shape.piers_per_beam)
            for at in shape.beams_at_m
        )
        # Too near a limit to say, a hundredth of a millimetre, nothing is asked.
        if abs(least - clear_m) > 10 * CLEAR_M:
            assert any(low <= cross <= high for low, high in ranges) == (least > clear_m)
