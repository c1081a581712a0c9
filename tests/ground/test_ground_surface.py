"""The fitted surface: exact on planes, the same however the site is turned, honest with few shots."""

import math
import subprocess
import sys

import numpy as np
import pytest
from grounds import lidar_patch, plane, waves

from staking.base.errors import WrongInput
from staking.ground.surface import IN_LINE_M, best_plane, fitted_surface

PLANE_SLOPE = math.atan(math.hypot(0.04, 0.10))
# Downhill is west and south: the ground rises 0.04 to the east and 0.10 to the north.
PLANE_ASPECT = math.radians(180.0) + math.atan2(0.04, 0.10)


def grid(step, count):
    return np.array([(step * i, step * j) for i in range(count) for j in range(count)], dtype=float)


def readings(sd, n):
    return np.eye(n) * sd**2


def test_a_plane_has_the_certified_slope_of_a_straight_line():
    """NIST/ITL StRD Norris, https://www.itl.nist.gov/div898/strd/lls/data/Norris.shtml: y = b0 + b1 x.

    As shots on two lines side by side, turned in plan: they rise by b1 along the lines and not at all across.
    """
    x = [0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9]
    x += [338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0]
    x += [11.1, 118.3, 229.2, 669.1, 448.9, 0.5]
    y = [0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8]
    y += [339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9]
    y += [10.2, 117.6, 228.9, 668.4, 449.2, 0.2]
    along, across = np.array([0.8, 0.6]), np.array([-0.6, 0.8])
    en = np.vstack([np.outer(x, along) + side * across for side in (-40.0, 40.0)])
    rise = best_plane(en, np.tile(y, 2))
    assert rise @ along == pytest.approx(1.00211681802045, rel=1e-10)
    assert rise @ across == pytest.approx(0.0, abs=1e-10)


class TestPlanes:
    @pytest.mark.parametrize("n", [3, 4, 7, 30])
    def test_plane_shots_give_the_plane_back(self, n):
        rng = np.random.default_rng(n)
        en = rng.uniform(0, 15, (n, 2))
        surface = fitted_surface(en, plane(en))
        places = rng.uniform(-5, 20, (50, 2))
        np.testing.assert_allclose(surface.z(places), plane(places), atol=1e-9)
        np.testing.assert_allclose(surface.gradient(places), np.tile((0.04, 0.10), (50, 1)), atol=1e-9)

    def test_slope_and_aspect(self):
        en = grid(4.0, 4)
        surface = fitted_surface(en, plane(en))
        assert surface.slope_rad == pytest.approx(PLANE_SLOPE, abs=1e-12)
        assert surface.aspect_rad == pytest.approx(PLANE_ASPECT, abs=1e-9)

    def test_level_ground_has_no_aspect(self):
        en = grid(4.0, 3)
        surface = fitted_surface(en, np.full(9, 100.0))
        assert surface.slope_rad == pytest.approx(0.0, abs=1e-12)
        assert surface.aspect_rad is None

    def test_sd_on_a_plane_comes_from_the_readings_alone(self):
        en = grid(4.0, 5)
        surface = fitted_surface(en, plane(en))
        places = np.array([(1.0, 2.0), (7.0, 9.0)])
        assert surface.at(places).sd_m.max() < 1e-4
        sd = 0.01
        noisy = fitted_surface(en, plane(en), readings(sd, 25)).at(places)
        f = np.column_stack([np.ones(25), en])
        f0 = np.column_stack([np.ones(2), places])
        least_squares = sd * np.sqrt(np.diag(f0 @ np.linalg.inv(f.T @ f) @ f0.T))
        # The readings cannot rule out a little unevenness below their own error.
        assert (noisy.sd_m > least_squares).all()
        assert (noisy.sd_m < least_squares + 0.4 * sd).all()


class TestInvariance:
    en = np.random.default_rng(4).uniform(0, 14, (30, 2))
    z = waves(en)
    places = np.random.default_rng(5).uniform(0, 14, (20, 2))
    # Rounding of the eigenvectors is all that may differ.
    ROUNDING_M = 1e-6

    def agree(self, one, other, one_places, other_places):
        a, b = one.at(one_places), other.at(other_places)
        np.testing.assert_allclose(a.z_m, b.z_m, atol=self.ROUNDING_M)
        np.testing.assert_allclose(a.sd_m, b.sd_m, rtol=1e-4)

    def test_shuffled(self):
        order = np.random.default_rng(6).permutation(30)
        noise = np.diag(np.linspace(0.001, 0.004, 30) ** 2)
        self.agree(
            fitted_surface(self.en, self.z, noise),
            fitted_surface(self.en[order], self.z[order], noise[np.ix_(order, order)]),
            self.places,
            self.places,
        )

    def test_turned(self):
        turn = np.array([(math.cos(1.1), math.sin(1.1)), (-math.sin(1.1), math.cos(1.1))])
        noise = readings(0.002, 30)
        one, other = fitted_surface(self.en, self.z, noise), fitted_surface(self.en @ turn, self.z, noise)
        self.agree(one, other, self.places, self.places @ turn)
        np.testing.assert_allclose(
            one.gradient(self.places) @ turn, other.gradient(self.places @ turn), atol=1e-3
        )

    def test_moved_to_map_coordinates_and_raised(self):
        shift = np.array([429262.81, 5150544.92])
        noise = readings(0.002, 30)
        one = fitted_surface(self.en, self.z, noise)
        other = fitted_surface(self.en + shift, self.z + 1500.0, noise)
        a, b = one.at(self.places), other.at(self.places + shift)
        np.testing.assert_allclose(a.z_m + 1500.0, b.z_m, atol=self.ROUNDING_M)
        np.testing.assert_allclose(a.sd_m, b.sd_m, rtol=1e-4)

    def test_in_other_units(self):
        noise = readings(0.002, 30)
        metres = fitted_surface(self.en, self.z, noise).at(self.places)
        feet = fitted_surface(self.en / 0.3048, self.z / 0.3048, noise / 0.3048**2).at(self.places / 0.3048)
        np.testing.assert_allclose(feet.z_m * 0.3048, metres.z_m, atol=self.ROUNDING_M)
        np.testing.assert_allclose(feet.sd_m * 0.3048, metres.sd_m, rtol=1e-4)


class TestFewShots:
    def test_three_shots_are_a_plane_of_assumed_roughness(self):
        en = np.array([(0.0, 0.0), (12.0, 0.0), (0.0, 9.0)])
        surface = fitted_surface(en, plane(en), readings(0.0015, 3))
        assert surface.rms_left_out_m is None
        assert "three shots" in surface.model
        middle = surface.at(np.array([(4.0, 3.0)])).sd_m[0]
        # Departure of 0.0055 of a 15 m diagonal, 82 mm, give or take a factor of two; from a plane through
        # three shots somewhat more than from the best plane.
        assert 0.08 < middle < 0.3

    @pytest.mark.parametrize("n", [4, 5, 6])
    def test_plane_shots_that_are_few_do_not_prove_a_plane(self, n):
        en = np.array([(0.0, 0.0), (12.0, 0.0), (0.0, 9.0), (12.0, 9.0), (6.0, 4.5), (6.0, 0.0)])[:n]
        surface = fitted_surface(en, plane(en), readings(0.0015, n))
        between = surface.at(np.array([(3.0, 2.0)])).sd_m[0]
        many = grid(1.5, 7)
        proven = fitted_surface(many, plane(many), readings(0.0015, 49)).at(np.array([(3.0, 2.0)])).sd_m[0]
        assert between > 5.0 * proven

    def test_assumed_roughness_grows_with_the_spacing(self):
        en = np.array([(0.0, 0.0), (12.0, 0.0), (0.0, 9.0)])
        near, far = (
            fitted_surface(en * k, plane(en * k)).at(np.array([(4.0, 3.0)]) * k).sd_m[0] for k in (1.0, 3.0)
        )
        assert far == pytest.approx(3.0 * near, rel=1e-3)


class TestUncertainty:
    en, z = lidar_patch()

    def test_grows_outside_the_shots(self):
        rng = np.random.default_rng(2)
        used = rng.choice(1681, 40, replace=False)
        surface = fitted_surface(self.en[used], self.z[used], readings(0.0015, 40))
        line = self.en[used].mean(axis=0) + np.outer([0.0, 25.0, 35.0, 50.0, 80.0], (1.0, 0.0))
        sd = surface.at(line).sd_m
        assert (np.diff(sd[1:]) > 0).all()
        assert sd[2] > 2.0 * sd[0]

    def test_shots_at_one_place_are_averaged_by_their_weights(self):
        en = np.vstack([grid(4.0, 4), [(4.0, 4.0), (4.0 + 1e-7, 4.0)]])
        z = plane(en)
        z[5] += 0.010
        noise = readings(0.001, 18)
        noise[5, 5] = 0.002**2
        surface = fitted_surface(en, z, noise)
        here = surface.at(np.array([(4.0, 4.0)]))
        # Weights 1/4, 1, 1 for the three shots there, and the neighbours pull a little toward the plane.
        assert 0.0 < here.z_m[0] - plane(en)[5] < 0.010 * 0.25 / 2.25
        assert here.sd_m[0] < 0.001 / math.sqrt(2.0)

    def test_shots_at_one_place_that_disagree_without_error_still_work(self):
        en = np.vstack([grid(4.0, 3), [(4.0, 4.0)]])
        z = plane(en)
        z[-1] += 0.02
        assert fitted_surface(en, z).z(np.array([(4.0, 4.0)]))[0] == pytest.approx(
            plane(en)[4] + 0.01, abs=1e-4
        )

    def test_rms_left_out_is_what_refitting_leaves(self):
        used = np.random.default_rng(8).choice(1681, 25, replace=False)
        en, z = self.en[used], self.z[used]
        surface = fitted_surface(en, z, readings(0.0015, 25))
        told = surface.left_out.above_m
        assert surface.rms_left_out_m == pytest.approx(np.sqrt(np.mean(told**2)))
        # Refitted with roughness estimated anew each time, hence only nearly the same.
        again = []
        for one in range(25):
            others = np.arange(25) != one
            fit = fitted_surface(en[others], z[others], readings(0.0015, 24))
            again.append(z[one] - fit.z(en[[one]])[0])
        assert surface.rms_left_out_m == pytest.approx(np.sqrt(np.mean(np.square(again))), rel=0.15)

    def test_gradient_is_that_of_the_ground(self):
        en = grid(1.5, 10)
        surface = fitted_surface(en, waves(en), readings(0.0005, 100))
        places = np.random.default_rng(1).uniform(2, 11, (40, 2))
        east = 0.04 + 0.025 * np.cos(places[:, 0] / 2.0)
        np.testing.assert_allclose(surface.gradient(places)[:, 0], east, atol=0.003)
        np.testing.assert_allclose(surface.gradient(places)[:, 1], 0.10, atol=0.003)


class TestRefused:
    @pytest.mark.parametrize(
        ("n", "said"), [(0, "no ground shot"), (1, "only one ground shot"), (2, "only two ground shots")]
    )
    def test_fewer_than_three(self, n, said):
        en = np.array([(0.0, 0.0), (5.0, 5.0)])[:n]
        with pytest.raises(WrongInput) as error:
            fitted_surface(en, plane(en) if n else np.zeros(0))
        assert said in str(error.value)
        assert "at least three ground shots" in str(error.value)
        assert "offset" in str(error.value)

    def test_in_one_line(self):
        en = np.outer(np.linspace(0, 10, 6), (0.6, 0.8))
        with pytest.raises(WrongInput, match="the 6 ground shots lie in one line"):
            fitted_surface(en, plane(en))

    def test_hardly_off_one_line(self):
        en = np.array([(0.0, -1.0), (5.0, 2.0), (10.0, -1.0)])
        # Offsets of -1, 2, -1 are √2 rms off their best line, which runs along the shots.
        en[:, 1] *= IN_LINE_M / math.sqrt(2.0)
        best_plane(en * (1.0, 1.01), np.zeros(3))
        with pytest.raises(WrongInput):
            best_plane(en * (1.0, 0.99), np.zeros(3))


def test_the_room_imports_nothing_but_numpy():
    heavy = "scipy shapely contourpy pyproj highspy typst matplotlib click"
    code = (
        "import sys, staking.ground.yard, staking.ground.odd, staking.ground.contours\n"
        f"print([m for m in {heavy.split()!r} if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
