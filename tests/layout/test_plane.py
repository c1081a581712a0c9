"""The plane's maths against plain 3-D vectors and limit cases."""

import math

import numpy as np
import pytest

from staking.base.axes import facing_axes, plane_axes
from staking.layout.frame import ArrayPlane
from staking.layout.plane import (
    beam_height,
    in_plan,
    in_space,
    level_offsets,
    rail_slope,
    skew,
    true_azimuth,
    true_tilt,
    under,
)

CASES = [
    (azimuth, tilt, cross)
    for azimuth in (0.0, 95.0, 172.0, 300.0)
    for tilt in (0.0, 28.0, 70.0)
    for cross in (-7.0, 0.0, 3.0)
]


def plane_of(azimuth, tilt, cross):
    return ArrayPlane(
        azimuth_rad=math.radians(azimuth),
        tilt_rad=math.radians(tilt),
        cross_slope_rad=math.radians(cross),
        a1_en_m=(3.0, -2.0),
        z_a1_m=31.0,
    )


@pytest.mark.parametrize(("azimuth", "tilt", "cross"), CASES)
def test_a_place_is_a_sum_of_the_three_axes(azimuth, tilt, cross):
    plane = plane_of(azimuth, tilt, cross)
    u, v, n = plane_axes(plane.azimuth_rad, plane.tilt_rad, plane.cross_slope_rad)
    expected = np.array([3.0, -2.0, 31.0]) + 2.5 * u + 1.7 * v + 0.4 * n
    np.testing.assert_allclose(in_space(plane, 2.5, 1.7, 0.4), expected, atol=1e-12)


@pytest.mark.parametrize(("azimuth", "tilt", "cross"), CASES)
def test_beam_height_is_the_plane_over_a_plan_place(azimuth, tilt, cross):
    plane = plane_of(azimuth, tilt, cross)
    s, t, z = level_offsets(plane.tilt_rad, plane.cross_slope_rad, [1.0, -4.0, 0.5], [0.3, 2.0, -1.0])
    np.testing.assert_allclose(beam_height(plane.tilt_rad, plane.cross_slope_rad, s, t), z, atol=1e-12)


@pytest.mark.parametrize(("azimuth", "tilt", "cross"), CASES)
def test_under_finds_back_what_lies_plumb(azimuth, tilt, cross):
    plane = plane_of(azimuth, tilt, cross)
    places = in_space(plane, [2.5, -1.0], [1.7, 0.2], 0.13)
    along, up = under(
        plane.azimuth_rad, plane.tilt_rad, plane.cross_slope_rad, plane.a1_en_m, places[:, :2], 0.13
    )
    np.testing.assert_allclose(along, [2.5, -1.0], atol=1e-12)
    np.testing.assert_allclose(up, [1.7, 0.2], atol=1e-12)


@pytest.mark.parametrize(("azimuth", "tilt", "cross"), CASES)
def test_what_the_plane_really_is(azimuth, tilt, cross):
    plane = plane_of(azimuth, tilt, cross)
    _, v, n = plane_axes(plane.azimuth_rad, plane.tilt_rad, plane.cross_slope_rad)
    cos_b, cos_g = math.cos(plane.tilt_rad), math.cos(plane.cross_slope_rad)
    assert math.cos(true_tilt(plane)) == pytest.approx(cos_b * cos_g, abs=1e-12)
    assert math.sin(rail_slope(plane)) == pytest.approx(v[2], abs=1e-12)
    if math.hypot(n[0], n[1]) > 1e-9:
        east, north = n[:2] / math.hypot(n[0], n[1])
        facing = true_azimuth(plane)
        assert (math.sin(facing), math.cos(facing)) == pytest.approx((east, north), abs=1e-9)


def test_a_flat_array_keeps_the_azimuth_it_is_given():
    assert true_azimuth(plane_of(172.0, 0.0, 0.0)) == math.radians(172.0)
    assert true_tilt(plane_of(172.0, 0.0, 0.0)) == 0


def test_an_array_on_level_beams_faces_where_it_is_told_to():
    plane = plane_of(172.0, 28.0, 0.0)
    assert true_azimuth(plane) == pytest.approx(math.radians(172.0), abs=1e-12)
    assert true_tilt(plane) == pytest.approx(math.radians(28.0), abs=1e-12)


def test_a_degree_of_cross_slope_turns_the_facing_by_two_at_25_degrees_of_tilt():
    turned = true_azimuth(plane_of(180.0, 25.0, 1.0)) - math.radians(180.0)
    assert math.degrees(turned) == pytest.approx(2.1, abs=0.05)


def test_skew_is_where_the_rails_meet_the_high_beam_in_plan():
    for cross in (-4.0, 4.0):
        plane = plane_of(172.0, 28.0, cross)
        e, _ = facing_axes(plane.azimuth_rad)
        low, high = in_space(plane, 1.0, [0.0, 2.286])
        left = -float((high - low) @ e)
        assert skew(plane, 2.286) == pytest.approx(left, abs=1e-12)
        assert skew(plane, 2.286) * cross > 0  # toward the low end, on whichever side that lies


def test_plan_offsets_run_right_and_up_the_slope():
    # Facing south: right is east and up the slope is north.
    np.testing.assert_allclose(in_plan(math.pi, (10.0, 20.0), 1.0, 2.0), [11.0, 22.0], atol=1e-12)
    # Facing east: right, seen from the low side looking west, is north.
    np.testing.assert_allclose(in_plan(math.pi / 2, (10.0, 20.0), 1.0, 2.0), [8.0, 21.0], atol=1e-12)
