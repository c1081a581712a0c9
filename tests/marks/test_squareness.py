"""Sides, diagonals and running distances."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from marks_yard import LEVEL, SLOPING, FunctionGround, array_on

from staking.marks.squareness import running_m, sides_and_diagonals, top_to_top
from staking.marks.swing import where_tapes_cross

FOOT = 0.3048
INCH = 0.0254


def by_name(parts):
    return {part.name: part for part in parts}


def test_names_go_round_the_array():
    sides, diagonals = sides_and_diagonals(array_on(LEVEL, per_beam=5))
    assert [side.name for side in sides] == ["A1 to A5", "A5 to B5", "B5 to B1", "B1 to A1"]
    assert [diagonal.name for diagonal in diagonals] == ["A1 to B5", "A5 to B1"]


def test_the_outer_beams_of_three_make_the_rectangle():
    sides, diagonals = sides_and_diagonals(array_on(LEVEL, per_beam=4, beams_at_m=(0.5, 1.8, 3.1)))
    assert [side.name for side in sides] == ["A1 to A4", "A4 to C4", "C4 to C1", "C1 to A1"]
    assert [diagonal.name for diagonal in diagonals] == ["A1 to C4", "A4 to C1"]


def test_three_four_five():
    # Flat array: two piers 4 m apart, beams 3 m apart.
    sides, diagonals = sides_and_diagonals(
        array_on(LEVEL, tilt_deg=0.0, per_beam=2, bay_m=4.0, beams_at_m=(1.0, 4.0))
    )
    assert [side.level_m for side in sides] == pytest.approx([4.0, 3.0, 4.0, 3.0])
    assert [diagonal.level_m for diagonal in diagonals] == pytest.approx([5.0, 5.0])


def test_five_twelve_thirteen_on_the_slope():
    # The ground climbs 12 over the one diagonal of 5 and stays level over the other.
    def height(east, north):
        return 12.0 * (east / 4.0 + north / 3.0) / 2.0

    sides, diagonals = sides_and_diagonals(
        array_on(FunctionGround(height), tilt_deg=0.0, per_beam=2, bay_m=4.0, beams_at_m=(1.0, 4.0))
    )
    assert [diagonal.level_m for diagonal in diagonals] == pytest.approx([5.0, 5.0])
    assert [diagonal.slope_m for diagonal in diagonals] == pytest.approx([13.0, 5.0])
    assert by_name(sides)["A1 to A2"].slope_m == pytest.approx(math.hypot(4.0, 6.0))


@pytest.mark.parametrize("cross_deg", [-4.0, 0.0, 3.0])
def test_tops_lie_apart_as_the_bays_and_the_rails_say(cross_deg):
    # Facing 180 degrees the row runs east, so over the offsets (s, t) from A1 a top is at
    # tan(cross)*s + tan(tilt)/cos(cross)*t: the bays lie along the beam in full.
    fit = array_on(SLOPING, cross_deg=cross_deg, per_beam=5)
    s, t = (fit.piers.en_m - fit.piers.en_m[0]).T
    cross, tilt = math.radians(cross_deg), math.radians(28.0)
    top = 30.0 + math.tan(cross) * s + math.tan(tilt) / math.cos(cross) * t
    fit = replace(fit, lengths=replace(fit.lengths, top_m=top))
    apart = {side.name: side.slope_m for side in top_to_top(fit)}
    assert set(apart) == {"A1 to A5", "A5 to B5", "B5 to B1", "B1 to A1", "A1 to B5", "A5 to B1"}
    assert apart["A1 to A5"] == pytest.approx(4.0 * fit.bay_m, abs=1e-9)
    assert apart["B5 to B1"] == pytest.approx(4.0 * fit.bay_m, abs=1e-9)
    assert apart["A5 to B5"] == pytest.approx(apart["B1 to A1"], abs=1e-9)
    # The parallelogram law, and equal diagonals only where the beams are level.
    both = apart["A1 to B5"] ** 2 + apart["A5 to B1"] ** 2
    assert both == pytest.approx(2.0 * (apart["A1 to A5"] ** 2 + apart["A5 to B5"] ** 2), rel=1e-12)
    assert (abs(apart["A1 to B5"] - apart["A5 to B1"]) < 1e-9) == (cross_deg == 0.0)


@pytest.mark.parametrize("azimuth_deg", [0.0, 90.0, 172.0, 233.3])
@pytest.mark.parametrize("cross_deg", [-4.0, 0.0, 3.0])
def test_level_diagonals_are_equal_always(azimuth_deg, cross_deg):
    fit = array_on(SLOPING, azimuth_deg=azimuth_deg, cross_deg=cross_deg)
    sides, (one, other) = sides_and_diagonals(fit)
    assert one.level_m == pytest.approx(other.level_m, rel=1e-12)
    # Bays shrink by the cosine of the cross-slope, rail runs by the cosine of the tilt.
    assert by_name(sides)["A1 to A5"].level_m == pytest.approx(4 * 2.667 * math.cos(math.radians(cross_deg)))
    assert by_name(sides)["A5 to B5"].level_m == pytest.approx((2.87 - 0.58) * math.cos(math.radians(28.0)))
    if azimuth_deg == 172.0:
        assert abs(one.slope_m - other.slope_m) > 0.01


def test_a_lone_beam_has_one_side_and_no_diagonal():
    sides, diagonals = sides_and_diagonals(array_on(LEVEL, per_beam=4, beams_at_m=(0.6,)))
    assert [side.name for side in sides] == ["A1 to A4"]
    assert diagonals == ()
    assert sides_and_diagonals(array_on(LEVEL, per_beam=1, beams_at_m=(0.6,))) == ((), ())
    sides, diagonals = sides_and_diagonals(array_on(LEVEL, per_beam=1))
    assert ([side.name for side in sides], diagonals) == (["A1 to B1"], ())


def test_running_distances_start_anew_on_each_beam_and_grow_by_the_level_bay():
    fit = array_on(SLOPING, azimuth_deg=200.0, cross_deg=3.0)
    bay = 2.667 * math.cos(math.radians(3.0))
    assert running_m(fit) == pytest.approx(np.tile(np.arange(5) * bay, 2))


def test_a_small_triangle_taped_wrong_grows_to_two_inches():
    """A 3-4-5 in feet whose long tape is 1/8 in too long: 2 1/16 in off square at 40 ft (arithmetic).

    By the law of cosines the corner opens by c·δc/(a·b) = 5·(1/8 in)/(12 ft), 0.0521 in a foot.
    """
    corner, along = np.array([0.0, 0.0]), np.array([4 * FOOT, 0.0])
    at = where_tapes_cross(
        start_en_m=corner, end_en_m=along, from_start_m=3 * FOOT, from_end_m=5 * FOOT + INCH / 8, side="left"
    )
    off_at_40_ft = -at[0] / at[1] * 40 * FOOT
    assert off_at_40_ft == pytest.approx((2 + 1 / 16) * INCH, abs=INCH / 32)
