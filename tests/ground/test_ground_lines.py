"""The outline of the shots, and contours."""

import math

import numpy as np
import pytest
from grounds import plane
from scipy.spatial import ConvexHull

from staking.ground.contours import contours
from staking.ground.outline import OUTSIDE_TOLERANCE_M, convex_outline, outside_outline


@pytest.mark.parametrize("seed", range(5))
def test_outline_is_the_convex_hull(seed):
    en = np.random.default_rng(seed).normal(size=(40, 2)) * 10.0
    outline = convex_outline(en)
    np.testing.assert_allclose(np.sort(outline, axis=0), np.sort(en[ConvexHull(en).vertices], axis=0))


def test_outline_leaves_out_shots_on_its_sides_and_at_one_place():
    en = np.array([(0, 0), (2, 0), (4, 0), (4, 4), (0, 4), (0, 4), (2, 2), (0, 2)], dtype=float)
    assert convex_outline(en).tolist() == [[0, 0], [4, 0], [4, 4], [0, 4]]


def test_outside():
    outline = convex_outline(np.array([(0, 0), (10, 0), (0, 8)], dtype=float))
    near, far = 0.99 * OUTSIDE_TOLERANCE_M, 1.01 * OUTSIDE_TOLERANCE_M
    places = np.array([(3, 3), (5, -near), (5, -far), (-near, 4), (-far, 4), (9, 7)], dtype=float)
    assert outside_outline(places, outline).tolist() == [False, False, True, False, True, True]


def test_outline_of_map_coordinates():
    shift = np.array([429262.81, 5150544.92])
    en = np.random.default_rng(0).uniform(0, 20, (30, 2))
    np.testing.assert_allclose(convex_outline(en + shift) - shift, convex_outline(en), atol=1e-8)


def test_contours_of_a_plane_are_straight_level_and_evenly_spaced():
    lines = contours(plane, [30.5, 31.0, 31.5], low_en_m=(0.0, 0.0), high_en_m=(10.0, 12.0), step_m=0.7)
    assert [line.level_m for line in lines] == [30.5, 31.0, 31.5]
    for line in lines:
        np.testing.assert_allclose(plane(line.en_m), line.level_m, atol=1e-9)
        assert line.en_m.min() >= 0.0
        assert (line.en_m.max(axis=0) <= (10.0, 12.0)).all()
    fall = np.array([0.04, 0.10]) / math.hypot(0.04, 0.10)
    along = [float((line.en_m @ fall).mean()) for line in lines]
    assert np.diff(along) == pytest.approx(0.5 / math.hypot(0.04, 0.10))


def test_contours_of_a_mound_close():
    (ring,) = contours(
        lambda en: 100.0 - 0.1 * (en**2).sum(axis=1), [99.6], low_en_m=(-5, -5), high_en_m=(5, 5), step_m=0.1
    )
    np.testing.assert_array_equal(ring.en_m[0], ring.en_m[-1])
    np.testing.assert_allclose(np.hypot(*ring.en_m.T), 2.0, atol=0.01)


def test_no_contour_where_the_ground_does_not_reach():
    assert contours(plane, [90.0], low_en_m=(0, 0), high_en_m=(5, 5), step_m=1.0) == ()
