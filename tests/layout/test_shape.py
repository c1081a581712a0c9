"""Frames that cannot be built are wrong input, named part by part."""

import math
from dataclasses import replace

import pytest
from yards import FT, IN, check_job, laid_out, level_ground, with_array, with_fit, with_frame

from staking.base.errors import WrongInput
from staking.layout.shape import shape_of


@pytest.mark.parametrize(
    ("job", "says"),
    [
        (
            with_frame(check_job(), beams_at_m=(1.9 * FT, 12.0 * FT)),
            "beam 2 from below lies 0.91 ft beyond the high",
        ),
        (
            with_frame(check_job(), beams_at_m=(-0.5 * FT, 9.4 * FT)),
            "beam 1 from below lies 0.50 ft beyond the low",
        ),
        (with_frame(check_job(), beams_at_m=(9.4 * FT, 1.9 * FT)), "does not lie above"),
        (with_frame(check_job(), beams_at_m=(9.4 * FT,)), "fewer than two beams"),
        (with_frame(check_job(), rail_inset_m=34 * IN), "meet or cross, 0.05 ft past"),
        (with_frame(check_job(), rails_per_line=0), "no rails"),
        (with_frame(check_job(), bay_m=10 * FT), "stand 0.39 ft outside the modules"),
        (with_array(check_job(), tilt_rad=math.radians(90)), "array.tilt: not between level and plumb"),
        (with_array(check_job(), modules_up=0), "modules_up: no modules"),
        (with_fit(check_job(), beams="sloping"), "max_cross_slope: missing"),
    ],
)
def test_a_frame_that_cannot_be_built(job, says):
    with pytest.raises(WrongInput, match=says):
        shape_of(job, style="decimal feet")


def test_every_mistake_is_told_at_once():
    job = with_frame(check_job(), beams_at_m=(-1.0, 9.4 * FT), rails_per_line=0)
    with pytest.raises(WrongInput) as caught:
        shape_of(job, style="metric")
    assert len(caught.value.mistakes) == 2


def test_rail_ends_carry_a_beam_below_the_modules():
    job = with_frame(check_job(), beams_at_m=(-0.5 * FT, 9.4 * FT), rail_end_m=0.5 * FT)
    assert shape_of(job, style="metric").rail_run_m == pytest.approx(9.9 * FT)


def test_an_array_with_a_name_is_named():
    job = replace(with_frame(check_job(), rails_per_line=0), name="South")
    with pytest.raises(WrongInput, match="rails_per_line of array South"):
        shape_of(job, style="metric")


def test_a_pier_that_the_frame_has_not():
    job = replace(check_job(), place=replace(check_job().place, pier="C1"))
    with pytest.raises(WrongInput, match="expected A1 to B5"):
        laid_out(job, level_ground)
