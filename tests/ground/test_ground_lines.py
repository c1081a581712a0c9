"""The outline of the shots, and contours."""

import math

import numpy as np
import pytest
import shapely
from grounds import plane, waves
from scipy.spatial import ConvexHull

from staking.ground.contours import contours
from staking.ground.outline import OUTSIDE_TOLERANCE_M, convex_outline, outside_outline
from staking.ground.surface import fitted_surface
from staking.ground.triangle_surface import triangulated_surface


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


def test_contours_of_triangles_are_matplotlibs():
    # Oracle: matplotlib's contours of a triangulation, which follow the triangles' planes; ours come from
    # a grid and may cut a corner of a triangle by half a step of it.
    from matplotlib.figure import Figure
    from matplotlib.tri import Triangulation

    en = np.random.default_rng(4).uniform(0, 20, (60, 2))
    z = waves(en) + 0.3 * np.sin(en[:, 1])
    noise = np.eye(60) * 0.0015**2
    surface = triangulated_surface(en, z, noise, covariance=fitted_surface(en, z, noise).roughness.covariance)
    mesh = surface.triangles.mesh
    inner = 0.05
    step_m = 0.05
    ours = contours(surface.z, [31.0, 31.5], low_en_m=(4, 4), high_en_m=(16, 16), step_m=step_m)
    corners = mesh.en_m + mesh.origin_m
    drawn = (
        Figure()
        .add_subplot()
        .tricontour(
            Triangulation(corners[:, 0], corners[:, 1], mesh.corners),
            surface.vertices_z_m,
            levels=[31.0, 31.5],
        )
    )
    window = shapely.box(4 + inner, 4 + inner, 16 - inner, 16 - inner)
    for level, path in zip([31.0, 31.5], drawn.get_paths(), strict=True):
        theirs = shapely.union_all([shapely.LineString(line) for line in path.to_polygons(closed_only=False)])
        mine = shapely.union_all([shapely.LineString(line.en_m) for line in ours if line.level_m == level])
        theirs, mine = shapely.intersection(theirs, window), shapely.intersection(mine, window)
        assert theirs.length > 10.0
        assert mine.length == pytest.approx(theirs.length, rel=0.02)
        assert shapely.hausdorff_distance(mine, theirs) < 2.0 * step_m
