"""How many piers and how far apart."""

from dataclasses import replace

import numpy as np
import pytest
from yards import FT, IN, check_job, laid_out, sloping_ground, with_frame

from staking.base.errors import WrongInput
from staking.layout.bays import CLEAR_M, clear_bays
from staking.layout.shape import shape_of


def chosen(job):
    shape = shape_of(job, style="decimal feet")
    return shape.piers_per_beam, shape.bay_m


def by_limits(bay_ft, overhang_ft, **fit):
    return with_frame(
        check_job(**fit),
        piers_per_beam=None,
        bay_m=None,
        max_bay_m=bay_ft * FT,
        max_overhang_m=overhang_ft * FT,
    )


@pytest.mark.parametrize("bay_ft", [4.0, 6.0, 8.75, 12.0, 20.0])
@pytest.mark.parametrize("overhang_ft", [0.5, 1.5, 3.0])
def test_the_fewest_piers_that_keep_to_bay_and_overhang(bay_ft, overhang_ft):
    piers, bay = chosen(with_frame(by_limits(bay_ft, overhang_ft), rail_clear_m=0.0))
    fit = laid_out(with_frame(by_limits(bay_ft, overhang_ft), rail_clear_m=0.0), sloping_ground)
    assert bay <= bay_ft * FT + 1e-9
    for beam in fit.beams:
        past = max(beam.first_post_m, beam.length_m - beam.posts_m[-1])
        assert past <= max(overhang_ft * FT, 4 * IN) + 1e-9
        needed = beam.length_m
    # One pier fewer could not keep to both.
    assert piers == 2 or (piers - 2) * bay_ft * FT + 2 * overhang_ft * FT < needed - 1e-9


def test_with_sloping_beams_the_overhang_holds_at_every_cross_slope():
    job = with_frame(by_limits(9.0, 2.0, max_cross_slope_deg=5), rail_clear_m=0.0)
    for rise in (-0.2, 0.04, 0.2):
        fit = laid_out(job, lambda x, y, rise=rise: 30 + rise * x + 0.1 * y)
        for beam in fit.beams:
            assert max(beam.first_post_m, beam.length_m - beam.posts_m[-1]) <= 2.0 * FT + 1e-9


def test_a_bay_that_just_fits_takes_no_further_pier():
    job = check_job()
    beam = laid_out(job, sloping_ground).beams[0].length_m
    frame = replace(
        job.frame,
        piers_per_beam=None,
        bay_m=None,
        max_bay_m=(beam - 2 * 0.3) / 4,
        max_overhang_m=0.3,
        rail_clear_m=0.0,
    )
    assert chosen(replace(job, frame=frame)) == (5, pytest.approx((beam - 0.6) / 4))


def test_a_given_bay_with_an_overhang():
    piers, bay = chosen(with_frame(check_job(), piers_per_beam=None, max_overhang_m=1.5 * FT))
    assert (piers, bay) == (5, 8.75 * FT)


def test_given_piers_with_a_greatest_bay():
    job = by_limits(12.0, 2.0)
    assert chosen(with_frame(job, piers_per_beam=6, rail_clear_m=0.0))[0] == 6


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"piers_per_beam": 1}, "fewer than two posts"),
        ({"bay_m": None}, "frame.bay: missing"),
        ({"piers_per_beam": None}, "frame.piers_per_beam: missing"),
        ({"bay_m": None, "max_bay_m": 2.0}, "frame.bay: missing"),
        ({"bay_m": 0.0}, "not more than zero"),
        ({"max_bay_m": 8.0 * FT}, "0.75 ft over max_bay"),
        ({"max_overhang_m": 1.0 * FT}, "over max_overhang"),
        ({"bay_m": None, "piers_per_beam": 3, "max_bay_m": 8 * FT, "max_overhang_m": 2 * FT}, "6 or more"),
    ],
)
def test_what_is_wrong_is_told(changed, says):
    with pytest.raises(WrongInput, match=says):
        chosen(with_frame(check_job(), **changed))


def test_an_overhang_smaller_than_the_shift_is_told():
    with pytest.raises(WrongInput, match="may shift a beam"):
        chosen(by_limits(9.0, 0.1, max_cross_slope_deg=10))


def test_given_bay_and_greatest_overhang_with_sloping_beams():
    """Level, the beams stand 14.55 in past their posts; 5° of cross-slope shifts them by 1.85 in."""
    job = with_frame(check_job(), max_overhang_m=15 * IN)
    assert chosen(job) == (5, 8.75 * FT)
    sloping = with_frame(check_job(max_cross_slope_deg=5), max_overhang_m=15 * IN)
    with pytest.raises(WrongInput, match="over max_overhang"):
        chosen(sloping)
    assert chosen(with_frame(sloping, max_overhang_m=16.5 * IN)) == (5, 8.75 * FT)


def nearest_to_a_post(bays, piers, rails):
    posts = np.arange(piers) - (piers - 1) / 2
    return np.abs(np.multiply.outer(bays, posts)[:, :, None] - np.asarray(rails)).min(axis=(1, 2))


@pytest.mark.parametrize("seed", range(60))
def test_the_nearest_clear_bay_is_the_nearest_of_a_fine_grid(seed):
    rng = np.random.default_rng(seed)
    piers, clear, wanted = int(rng.integers(2, 10)), 0.0508, float(rng.uniform(0.8, 3.0))
    half = rng.uniform(0.05, 6.0, size=int(rng.integers(1, 12)))
    rails = [*-half, *half]
    grid = np.linspace(wanted / 2, wanted * 3 / 2, 4001)
    free = nearest_to_a_post(grid, piers, rails) >= clear
    found = clear_bays(rails, clear, piers, wanted_m=wanted)
    assert bool(found) or not free.any()
    if found:
        assert nearest_to_a_post(np.array(found), piers, rails).min() >= clear - 1.01 * CLEAR_M
    if free.any():
        least = np.abs(grid[free] - wanted).min()
        assert least - 1.01 * wanted / 4000 <= abs(found[0] - wanted) <= least + 1e-9


def test_a_chosen_bay_keeps_rails_off_the_posts():
    """Found 2026-11-28: the program chose a bay with rails on posts, and refused its own choice."""
    moved = 0
    for bay_ft in np.arange(6.0, 12.0, 0.25):
        job = with_frame(by_limits(float(bay_ft), 2.0), rail_clear_m=5 * IN)
        without = chosen(with_frame(job, rail_clear_m=0.0))
        fit = laid_out(job, sloping_ground)
        for beam in fit.beams:
            apart = np.abs(np.subtract.outer(beam.posts_m, beam.rails_m)).min()
            assert apart >= job.frame.rail_clear_m - 1e-5
            assert max(beam.first_post_m, beam.length_m - beam.posts_m[-1]) <= 2.0 * FT + 1e-6
        assert fit.bay_m <= bay_ft * FT + 1e-9
        moved += chosen(job) != without
    assert moved > 3
