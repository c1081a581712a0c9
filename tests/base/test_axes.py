"""Site axes against plain trigonometry, and their invariances."""

import math

import numpy as np
import pytest

from staking.base.axes import azimuth_of, facing_axes, plane_axes


def test_an_array_that_faces_south_has_east_to_the_right_and_north_up_the_slope():
    e, w = facing_axes(math.pi)
    np.testing.assert_allclose(e, [1, 0, 0], atol=1e-15)
    np.testing.assert_allclose(w, [0, 1, 0], atol=1e-15)


@pytest.mark.parametrize("azimuth", [0.0, 1.0, 2.5, 3.0, 4.4, 6.1])
def test_the_plane_axes_are_square_and_the_normal_points_up_and_toward_the_low_side(azimuth):
    u, v, n = plane_axes(azimuth, 0.5, 0.05)
    np.testing.assert_allclose(np.array([u, v, n]) @ np.array([u, v, n]).T, np.eye(3), atol=1e-15)
    _, w = facing_axes(azimuth)
    assert n[2] > 0
    assert n @ w < 0
    assert v[2] > 0
    assert u[2] > 0
    # The low side is the way the array faces (no cross-slope).
    _, _, n = plane_axes(azimuth, 0.5, 0.0)
    assert azimuth_of(n[0], n[1]) == pytest.approx(azimuth)


@pytest.mark.parametrize(("east", "north", "degrees"), [(0, 1, 0), (1, 0, 90), (0, -1, 180), (-1, 0, 270)])
def test_azimuths_run_clockwise_from_north(east, north, degrees):
    assert math.degrees(azimuth_of(east, north)) == pytest.approx(degrees)
