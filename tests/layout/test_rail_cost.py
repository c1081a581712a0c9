"""What rail_clear costs, against fits over every cross-slope by plain vectors."""

import math

import numpy as np
import pytest
from yards import FormulaGround, Vectors, asked_of, check_job, sloping_ground, with_frame

from staking.layout.beams import clear_cross_slopes
from staking.layout.rail_cost import rail_cost
from staking.layout.shape import shape_of


def test_the_cost_is_the_difference_of_two_best_planes_by_vectors():
    clear_m = 0.2  # closes what is steeper than 1.83 degrees, so the check value's 3.06
    job = with_frame(check_job(max_cross_slope_deg=5), rail_clear_m=clear_m)
    shape = shape_of(job, style="metric")
    ranges = clear_cross_slopes(shape, math.radians(5), style="metric")
    cost = rail_cost(job, placed_en_m=(0.0, 0.0), ground=FormulaGround(sloping_ground))
    best = {True: math.inf, False: math.inf}
    for cross in np.radians(np.linspace(-5, 5, 2001)):
        above, clear, _ = asked_of(job, Vectors(job, cross), sloping_ground, 1.0)
        total = (above + max(job.fit.above_grade_min_m - above.min(), job.fit.clearance_m - clear)).sum()
        best[False] = min(best[False], total)
        if any(low <= cross <= high for low, high in ranges):
            best[True] = min(best[True], total)
    assert cost.steel_m == pytest.approx(best[True] - best[False], abs=0.01)
    assert cost.steel_m > 0.02
    assert math.degrees(cost.free_cross_rad) == pytest.approx(3.064, abs=0.002)
    assert any(low - 1e-9 <= cost.cross_rad <= high + 1e-9 for low, high in ranges)


def test_where_nothing_better_is_closed_nothing_is_told():
    ground = FormulaGround(sloping_ground)
    at = (0.0, 0.0)
    assert rail_cost(check_job(), placed_en_m=at, ground=ground) is None
    free = with_frame(check_job(max_cross_slope_deg=5), rail_clear_m=0.0)
    assert rail_cost(free, placed_en_m=at, ground=ground) is None
