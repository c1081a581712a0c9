"""Breaks of the ground: folds jump by what they say, banks come out sharp, intervals stay honest."""

import itertools
import math

import numpy as np
import pytest
from banks import BANK, TOE, bank, banked_patch, ends_in_the_yard, places, readings, shot
from designs import DESIGNS, EN, ROD_SD_M, Z
from grounds import plane

from staking.ground.breaks import NEAR_EDGE, placed_breaks, segment_fold
from staking.ground.contours import contours
from staking.ground.kriging import solved
from staking.ground.surface import fitted_surface

NEAR_M = 1e-5
"""Step of finite differences beside a break: far above rounding, far below any curve of a fold."""


def rms(values):
    return math.sqrt(np.mean(np.square(values)))


class TestFolds:
    start, end = np.array([2.0, 1.0]), np.array([7.0, 5.0])

    def square_to(self):
        u = (self.end - self.start) / np.hypot(*(self.end - self.start))
        return np.array([-u[1], u[0]])

    @pytest.mark.parametrize("share", [0.2, 0.5, 0.9])
    def test_slope_jumps_by_one_shared_between_the_ends(self, share):
        on = self.start + share * (self.end - self.start)
        beside = on + np.outer([-2, -1, 0, 1, 2], NEAR_M * self.square_to())
        for fold, jump in zip(segment_fold(beside, self.start, self.end), (1.0 - share, share), strict=True):
            slope = np.diff(fold) / NEAR_M
            assert slope[2] - slope[1] == pytest.approx(jump, abs=1e-4)

    def test_is_the_integral_it_stands_for(self):
        from scipy.integrate import quad

        place = np.array([3.0, 6.0])
        length = np.hypot(*(self.end - self.start))

        def layer(s, share):
            r = np.hypot(*(place - self.start - s / length * (self.end - self.start)))
            return share(s / length) * math.log(r) / (2.0 * math.pi)

        got = segment_fold(place[None, :], self.start, self.end)
        for fold, share in zip(got, (lambda t: 1.0 - t, lambda t: t), strict=True):
            assert fold[0] == pytest.approx(quad(layer, 0.0, length, args=(share,))[0], abs=1e-9)

    def test_the_ends_are_finite(self):
        for fold in segment_fold(np.array([self.start, self.end]), self.start, self.end):
            assert np.isfinite(fold).all()

    def test_runs_on_only_where_nobody_shot_past_its_end(self):
        en = np.array([(e, n) for e in range(0, 21, 4) for n in range(0, 21, 4)], dtype=float)
        spacing = math.sqrt(400.0 / 36.0)
        short = 20.0 - 1.1 * NEAR_EDGE * spacing
        found = placed_breaks([np.array([(0.0, 9.0), (short, 9.0)]), np.array([(1.0, 9.0), (19.0, 9.0)])], en)
        assert found.runs_on == ((True, False), (True, True))
        ring = np.array([(0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 0.0)])
        assert placed_breaks([ring], en).runs_on == ((False, False),)

    def test_a_line_without_length_is_none(self):
        assert placed_breaks([np.array([(1.0, 1.0), (1.0, 1.0)]), np.empty((0, 2))], places(9)) is None


@pytest.fixture(scope="module")
def shots():
    return shot(bank, BANK, 30, 0)


@pytest.fixture(scope="module")
def sharp(shots):
    return fitted_surface(*shots, readings(34), breaks_en_m=BANK)


class TestBank:
    def test_is_recovered_twenty_times_better_than_without_its_breaks(self, shots, sharp):
        there = places(800, 5)
        blunt = fitted_surface(*shots, readings(34))
        assert rms(sharp.z(there) - bank(there)) < rms(blunt.z(there) - bank(there)) / 20.0
        assert sharp.rms_left_out_m < blunt.rms_left_out_m / 20.0
        assert rms(sharp.z(there) - bank(there)) < 2.0 * ROD_SD_M
        assert rms(sharp.at(there).sd_m) < 2.0 * ROD_SD_M

    def test_says_so(self, sharp):
        assert "breaks kept sharp" in sharp.model

    def test_is_straight_along_its_breaks(self, sharp):
        share = np.linspace(0.0, 1.0, 41)[:, None]
        for line in BANK:
            z = sharp.z(line[0] + share * (line[1] - line[0]))
            np.testing.assert_allclose(z, z[0] + share[:, 0] * (z[-1] - z[0]), atol=5e-4)

    def test_slope_jumps_at_the_toe(self, sharp):
        below, above = sharp.gradient(np.array([(9.0, 7.8), (9.0, 8.2)]))
        np.testing.assert_allclose(below, (0.03, 0.02), atol=0.01)
        np.testing.assert_allclose(above, (0.03, 0.5), atol=0.01)

    def test_contours_kink_at_the_toe(self, sharp):
        z0 = float(sharp.z(np.array([(10.0, 8.0)]))[0])
        (line,) = contours(sharp.z, [z0], low_en_m=(5.0, 6.0), high_en_m=(15.0, 10.0), step_m=0.05)
        en = line.en_m[np.argsort(line.en_m[:, 0])]
        on_bank = en[(en[:, 0] > 7.5) & (en[:, 0] < 9.5)]
        below = en[(en[:, 0] > 10.3) & (en[:, 0] < 11.0)]
        # North per metre east along a contour: less the slope east over the slope north.
        assert np.polyfit(*on_bank.T, 1)[0] == pytest.approx(-0.03 / 0.5, abs=0.01)
        assert np.polyfit(*below.T, 1)[0] == pytest.approx(-0.03 / 0.02, rel=0.15)

    def test_plane_shots_give_the_plane_back(self):
        en = places(20, 3)
        surface = fitted_surface(en, plane(en), breaks_en_m=BANK)
        np.testing.assert_allclose(surface.z(places(50, 4)), plane(places(50, 4)), atol=1e-7)

    @pytest.mark.parametrize(
        "matrix",
        [
            np.diag([-1.0, 1.0]),
            np.diag([1.0, -1.0]),
            np.array([(math.cos(1.1), math.sin(1.1)), (-math.sin(1.1), math.cos(1.1))]),
        ],
    )
    def test_mirrored_or_turned_yard_mirrored_or_turned_surface(self, shots, sharp, matrix):
        en, z = shots
        there = places(30, 6)
        other = fitted_surface(en @ matrix, z, readings(34), breaks_en_m=[line @ matrix for line in BANK])
        one, two = sharp.at(there), other.at(there @ matrix)
        np.testing.assert_allclose(two.z_m, one.z_m, atol=1e-5)
        np.testing.assert_allclose(two.sd_m, one.sd_m, rtol=2e-3)

    def test_shuffled_reversed_and_on_map_coordinates(self, shots, sharp):
        en, z = shots
        order = np.random.default_rng(1).permutation(34)
        shift = np.array([429262.81, 5150544.92])
        other = fitted_surface(
            en[order] + shift, z[order], readings(34), breaks_en_m=[line[::-1] + shift for line in BANK[::-1]]
        )
        there = places(30, 6)
        one, two = sharp.at(there), other.at(there + shift)
        np.testing.assert_allclose(two.z_m, one.z_m, atol=1e-5)
        np.testing.assert_allclose(two.sd_m, one.sd_m, rtol=2e-3)

    def test_left_out_is_what_refitting_leaves(self, shots, sharp):
        en, z = shots
        others = np.arange(34) != 7
        again = solved(
            en[others],
            z[others],
            readings(33),
            covariance=sharp.kriging.covariance,
            drift=sharp.kriging.drift,
        )
        at = again.at(en[7:8])
        assert sharp.left_out.above_m[7] == pytest.approx(z[7] - at.z_m[0], abs=1e-6)
        assert sharp.left_out.sd_m[7] == pytest.approx(math.hypot(at.sd_m[0], ROD_SD_M), rel=1e-3)


def test_a_break_that_ends_in_the_yard_leaves_no_seam_beyond_its_end():
    line = np.array([(0.0, 10.0), (10.0, 10.0)])
    en, z = shot(ends_in_the_yard, (line,), 40, 2)
    surface = fitted_surface(en, z, readings(len(z)), breaks_en_m=(line,))
    steps = np.array([(0.0, -0.02), (0.0, -0.01), (0.0, 0.01), (0.0, 0.02)])

    def jump(east):
        z = surface.z(np.array([east, 10.0]) + steps)
        return ((z[3] - z[2]) - (z[1] - z[0])) / 0.01

    # The crease's slope changes from -1/4 to 1/4 at the west and by nothing from the middle on.
    assert jump(2.0) == pytest.approx(0.4, abs=0.1)
    assert abs(jump(14.0)) < 0.02


@pytest.mark.parametrize("lines", [(), BANK])
def test_more_shots_never_raise_the_uncertainty(lines):
    # The ground's covariance and drift kept: only what is known of it grows.
    en, z = shot(bank, BANK, 30, 4)
    surface = fitted_surface(en, z, readings(34), breaks_en_m=lines)
    there = places(60, 7)
    sds = []
    for count in (8, 16, 33, 34):
        some = solved(
            en[:count],
            z[:count],
            readings(count),
            covariance=surface.kriging.covariance,
            drift=surface.kriging.drift,
        )
        sds.append(some.at(there).sd_m)
    for fewer, more in itertools.pairwise(sds):
        assert (more <= fewer + 1e-6).all()


def test_intervals_hold_beside_a_break_of_real_ground():
    parts = [banked_patch(40, seed, told=True) for seed in range(8)]
    error, sd = (np.concatenate(part) for part in zip(*parts, strict=True))
    assert 0.92 <= np.mean(np.abs(error) < 1.96 * sd) <= 0.98
    assert 0.8 < rms(sd) / rms(error) < 1.25
    blunt = np.concatenate([banked_patch(40, seed, told=False)[0] for seed in range(8)])
    assert rms(error) < 0.95 * rms(blunt)


def test_intervals_of_left_out_shots_hold_on_real_ground():
    held, told = 0, 0
    for name in ("40 scattered", "80 scattered", "5 m grid", "20 m square, 20 scattered"):
        for draw in range(4):
            rng = np.random.default_rng(300 + draw)
            used, _ = DESIGNS[name](rng)
            z = Z[used] + rng.normal(0.0, ROD_SD_M, len(used))
            left_out = fitted_surface(EN[used], z, readings(len(used))).left_out
            w = np.abs(left_out.above_m / left_out.sd_m)
            held, told = held + int((w < 1.96).sum()), told + int(np.isfinite(w).sum())
    assert 0.93 <= held / told <= 0.97


def test_a_break_of_three_shots_on_one_side():
    # Nothing says how the other side slopes: its uncertainty is that of a fold.
    en = np.vstack([[(2.0, 2.0), (18.0, 3.0), (9.0, 6.0)], TOE])
    surface = fitted_surface(en, bank(en), readings(5), breaks_en_m=(TOE,))
    known, unknown = surface.at(np.array([(10.0, 5.0), (10.0, 11.0)])).sd_m
    assert unknown > 0.2 * 3.0
    assert unknown > 5.0 * known
