"""The triangulated surface: scipy's where no break is, breaks as edges, places found wherever they are."""

import numpy as np
import pytest
from banks import BANK, bank, places
from grounds import plane

from staking.ground.triangulated import NODE_GRID_M, triangulated

ROUNDING_M = 1e-9
MAP = np.array([429262.81, 5150544.92])


def with_z(lines, ground):
    return [np.column_stack([line, ground(line)]) for line in lines]


@pytest.mark.parametrize("count", [3, 4, 20, 500])
def test_is_scipys_linear_interpolation(count):
    from scipy.interpolate import LinearNDInterpolator

    en = places(count, count)
    z = np.random.default_rng(count).normal(size=count)
    there = places(400, 99)
    theirs = LinearNDInterpolator(en, z)(there)
    ours = triangulated(en, z).z(there)
    np.testing.assert_array_equal(np.isnan(ours), np.isnan(theirs))
    np.testing.assert_allclose(ours, theirs, atol=ROUNDING_M)


def test_a_grid_of_shots_and_places_on_its_lines():
    # Squares have two Delaunay diagonals each: on a plane both give the plane.
    en = np.array([(e, n) for e in range(6) for n in range(6)], dtype=float)
    there = np.array([(e / 2, n / 2) for e in range(11) for n in range(11)])
    np.testing.assert_allclose(triangulated(en, plane(en)).z(there), plane(there), atol=ROUNDING_M)


def test_bank_is_exact_with_its_breaks_alone():
    # The bank is planes between its breaks and ends, so triangles that keep the breaks give it back,
    # but for the rounding of the breaks to the grid on ground of one in two.
    en = np.vstack([places(40, 1), [(0, 0), (20, 0), (20, 20), (0, 20)]])
    there = places(500, 2)
    sharp = triangulated(en, bank(en), breaks_enz_m=with_z(BANK, bank)).z(there)
    np.testing.assert_allclose(sharp, bank(there), atol=0.5 * NODE_GRID_M)
    blunt = triangulated(en, bank(en)).z(there)
    assert np.sqrt(np.mean((blunt - bank(there)) ** 2)) > 0.02


def test_breaks_that_cross_are_noded():
    lines = [np.array([(0.0, 5.0), (20.0, 6.0)]), np.array([(4.0, 0.0), (5.0, 20.0)])]
    en = places(30, 3)
    mesh = triangulated(en, plane(en), breaks_enz_m=with_z(lines, plane))
    assert len(mesh.z_m) == 30 + 4 + 1
    there = places(200, 4)
    z = mesh.z(there)
    # The crossing is rounded to the grid, and the ground rises 0.11 there.
    np.testing.assert_allclose(z[np.isfinite(z)], plane(there[np.isfinite(z)]), atol=0.2 * NODE_GRID_M)


def test_on_map_coordinates_and_with_a_shot_twice():
    en = places(60, 5)
    one = triangulated(en, bank(en), breaks_enz_m=with_z(BANK, bank))
    moved = with_z(BANK, bank)
    for line in moved:
        line[:, :2] += MAP
    again = np.vstack([en, en[:1]]) + MAP
    other = triangulated(again, np.append(bank(en), 99.0), breaks_enz_m=moved)
    there = places(100, 6)
    # Nodes lie on the grid of 0.1 mm, which is another one after moving; the bank rises one in two.
    np.testing.assert_allclose(other.z(there + MAP), one.z(there), atol=2.0 * NODE_GRID_M)


def test_weights_rebuild_the_place():
    en = places(50, 7)
    mesh = triangulated(en, plane(en))
    there = places(200, 8)
    triangles, weights = mesh.located(there)
    inside = triangles >= 0
    assert (weights[inside] >= -1e-8).all()
    np.testing.assert_allclose(weights[inside].sum(axis=1), 1.0)
    rebuilt = np.einsum("ij,ijk->ik", weights, mesh.en_m[mesh.corners[triangles]]) + mesh.origin_m
    np.testing.assert_allclose(rebuilt[inside], there[inside], atol=ROUNDING_M)
