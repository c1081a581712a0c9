"""Rails, posts and the ends of the beams."""

import math

import numpy as np
import pytest
from yards import FT, IN, Vectors, check_job, laid_out, sloping_ground, with_array, with_frame

from staking.base.errors import WrongInput
from staking.layout.beams import clear_cross_slopes, middle_along, posts_along
from staking.layout.shape import shape_of

SLOPING = laid_out(check_job(max_cross_slope_deg=5), sloping_ground)
LEVEL = laid_out(check_job(), sloping_ground)


def point_on(beam, distance):
    left, right = np.array(beam.left_end_enz_m), np.array(beam.right_end_enz_m)
    return left + (right - left) * distance / beam.length_m


def test_level_beams_are_alike_and_centred():
    low, high = LEVEL.beams
    assert low.posts_m == pytest.approx(high.posts_m)
    assert low.first_post_m == pytest.approx(low.length_m - low.posts_m[-1])
    # Rails a quarter of the module in from the edges of 7 modules, the beam 6 in beyond the outer rails.
    width = 7 * 66.9 * IN + 6 * 0.375 * IN
    assert low.length_m == pytest.approx(width - 2 * 66.9 / 4 * IN + 12 * IN)
    assert low.rails_m[0] == pytest.approx(6 * IN)
    assert low.rails_m[1] - low.rails_m[0] == pytest.approx(66.9 / 2 * IN)
    assert low.rails_m[2] - low.rails_m[0] == pytest.approx((66.9 + 0.375) * IN)
    assert LEVEL.rails == 14
    assert LEVEL.rail_length_m == pytest.approx((3 * 44.1 + 2 * 0.375) * IN)


def test_beams_end_where_their_length_says_and_pass_over_their_posts():
    for fit in (LEVEL, SLOPING):
        for i, beam in enumerate(fit.beams):
            left, right = np.array(beam.left_end_enz_m), np.array(beam.right_end_enz_m)
            assert np.linalg.norm(right - left) == pytest.approx(beam.length_m)
            for j, post in enumerate(beam.posts_m):
                pier = i * 5 + j
                place = point_on(beam, post)
                np.testing.assert_allclose(place[:2], fit.piers.en_m[pier], atol=1e-9)
                assert place[2] - 0.055 == pytest.approx(fit.lengths.top_m[pier], abs=1e-9)


def test_rails_stay_square_to_the_beams_in_space():
    low, high = SLOPING.beams
    along = np.array(low.right_end_enz_m) - np.array(low.left_end_enz_m)
    along /= np.linalg.norm(along)
    for on_low, on_high in zip(low.rails_m, high.rails_m, strict=True):
        rail = point_on(high, on_high) - point_on(low, on_low)
        assert rail @ along == pytest.approx(0, abs=1e-9)
        assert np.linalg.norm(rail) == pytest.approx(7.5 * FT, abs=1e-9)


def test_with_a_cross_slope_each_beam_sits_shifted_along_itself():
    low, high = SLOPING.beams
    lean = 7.5 * FT * math.sin(math.radians(28)) * math.tan(SLOPING.plane.cross_slope_rad)
    # The rails meet the high beam further toward the low, left end: its posts sit further to the right.
    assert high.first_post_m - low.first_post_m == pytest.approx(lean)
    assert low.length_m == pytest.approx(high.length_m)
    ends = [beam.length_m - beam.posts_m[-1] for beam in (low, high)]
    assert ends[0] == pytest.approx(high.first_post_m)
    assert ends[1] == pytest.approx(low.first_post_m)


def test_modules_are_centred_on_the_piers_half_way_up_the_rail_run():
    vectors = Vectors(check_job(), SLOPING.plane.cross_slope_rad)
    outline = SLOPING.modules_outline_en_m
    corners = [
        vectors.low_middle + x * vectors.u + y * vectors.v + 0.13 * vectors.n
        for x, y in ((-1, 0), (1, 0), (1, 1), (-1, 1))
        for x, y in [(x * check_job().array.width_m / 2, y * check_job().array.height_m)]
    ]
    np.testing.assert_allclose(outline, np.array(corners)[:, :2], atol=1e-9)
    area = 0.5 * sum(
        a[0] * b[1] - b[0] * a[1] for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True)
    )
    assert area > 0  # counter-clockwise seen from above


def test_a_beam_reaches_past_its_end_posts():
    job = with_frame(check_job(), bay_m=9.5 * FT)  # posts 7 in outside the outer rails, under the modules
    beam = laid_out(job, sloping_ground).beams[0]
    assert beam.first_post_m == pytest.approx(4 * IN)
    assert beam.length_m == pytest.approx(4 * 9.5 * FT + 8 * IN)


def test_rails_per_line():
    three = shape_of(with_frame(check_job(), rails_per_line=3, rail_inset_m=10 * IN), style="metric")
    assert np.diff(three.rails_m[:3]) == pytest.approx([(66.9 - 20) / 2 * IN] * 2)
    assert len(three.rails_m) == 21
    one = shape_of(with_frame(check_job(), rails_per_line=1), style="metric")
    assert one.rails_m[3] == pytest.approx(0, abs=1e-12)


def test_rail_ends_lengthen_the_rails():
    fit = laid_out(with_frame(check_job(), rail_end_m=0.05), sloping_ground)
    assert fit.rail_length_m == pytest.approx((3 * 44.1 + 2 * 0.375) * IN + 0.10)


RAIL_ON_POST = with_frame(
    with_array(check_job(), modules_along=6, gap_along_m=0.0),
    piers_per_beam=3,
    bay_m=2 * 66.9 * IN,
    rail_inset_m=1 * IN,
)
"""Six modules without gaps: the posts stand under the modules' joints, rails an inch to each side."""


def test_a_rail_on_a_post_is_named_with_what_is_missing():
    with pytest.raises(WrongInput) as caught:
        laid_out(RAIL_ON_POST, sloping_ground)
    told = str(caught.value)
    assert "rail 6 from the left lies 0.08 ft from the posts of A2 and B2, 0.08 ft too near" in told
    assert len(caught.value.mistakes) == 6


def test_a_rail_just_clear_of_a_post_is_no_mistake():
    job = with_frame(RAIL_ON_POST, rail_inset_m=2 * IN, rail_clear_m=2 * IN)
    assert laid_out(job, sloping_ground).rails == 12
    with pytest.raises(WrongInput):
        laid_out(with_frame(job, rail_clear_m=2.01 * IN), sloping_ground)


def test_cross_slopes_keep_the_rails_clear_of_the_posts():
    """With sloping beams the lean moves rails past posts: only what keeps clear is open to the fit."""
    job = with_frame(RAIL_ON_POST, rail_inset_m=2.3 * IN)
    shape = shape_of(job, style="metric")
    ranges = clear_cross_slopes(shape, math.radians(12), style="metric")
    for cross in np.linspace(-math.radians(12), math.radians(12), 501):
        middle = middle_along(shape, cross)
        nearest = min(
            abs(middle + rail - post)
            for beam in range(2)
            for post in posts_along(shape, cross, beam)
            for rail in shape.rails_m
        )
        is_open = any(low <= cross <= high for low, high in ranges)
        assert is_open == (nearest >= 2 * IN - 1e-6)
    assert len(ranges) == 3  # level, and either way so steep that the rail has passed its post


def test_the_fit_steps_aside_for_a_rail_on_a_post():
    job = with_frame(check_job(max_cross_slope_deg=5), rail_clear_m=8.2 * IN)
    fit = laid_out(job, sloping_ground)
    free = laid_out(with_frame(job, rail_clear_m=1 * IN), sloping_ground)
    for beam in fit.beams:
        assert min(abs(r - p) for r in beam.rails_m for p in beam.posts_m) >= 8.2 * IN - 2e-6
    assert fit.total_above_grade_m > free.total_above_grade_m


def test_overhangs_and_rise_beam_by_beam():
    """The high beam's posts lean along it by Q·sin β·tan γ, so its left overhang is longer by that."""
    low, high = SLOPING.beams
    cross = SLOPING.plane.cross_slope_rad
    lean = 7.5 * FT * math.sin(math.radians(28)) * math.tan(cross)
    assert lean > 0.05
    assert high.overhang_left_m - low.overhang_left_m == pytest.approx(lean)
    assert high.overhang_right_m - low.overhang_right_m == pytest.approx(-lean)
    for beam in SLOPING.beams:
        assert beam.overhang_left_m + 4 * 8.75 * FT + beam.overhang_right_m == pytest.approx(beam.length_m)
        assert beam.rise_m == pytest.approx(beam.length_m * math.sin(cross))
    assert all(beam.rise_m == pytest.approx(0, abs=1e-12) for beam in LEVEL.beams)
