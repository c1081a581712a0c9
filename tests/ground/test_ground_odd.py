"""Shots that disagree with their neighbours are named, sound ones are not."""

from dataclasses import replace

import numpy as np
import pytest
from grounds import lidar_patch, waves

from staking.ground.odd import LEAST_SHOTS, odd_shots
from staking.ground.shots import Shots
from staking.ground.surface import fitted_surface

ROD_SD_M = 0.0015


def shots_of(en, z):
    cov = np.eye(len(z)) * ROD_SD_M**2
    names = tuple(f"G{i}" for i in range(len(z)))
    return Shots(
        names=names,
        en_m=en,
        z_m=z,
        cov_m2=cov,
        stakes={},
        staked=np.zeros(0, dtype=np.int64),
        level_cov_m2=cov[:0, :0],
        level_shot_cov_m2=cov[:0],
    )


def odd_of(en, z):
    shots = shots_of(en, z)
    return odd_shots(shots, fitted_surface(shots.en_m, shots.z_m, shots.cov_m2))


def yard(seed, count):
    rng = np.random.default_rng(seed)
    en = rng.uniform(0, 15, (count, 2))
    return en, waves(en) + rng.normal(0, ROD_SD_M, count)


@pytest.mark.parametrize("spoil", [0.10, -0.3048])
def test_names_spoil_and_a_misread_foot_with_the_amount(spoil):
    en, z = yard(3, 40)
    z[7] += spoil
    (found,) = odd_of(en, z)
    assert found.name == "G7"
    assert found.above_m == pytest.approx(spoil, abs=4.0 * found.sd_m)
    assert found.above_m == pytest.approx(spoil, abs=0.03)
    assert found.w == pytest.approx(found.above_m / found.sd_m)


def test_the_bound_is_one_in_a_hundred_for_the_whole_survey():
    # At 40 shots the normal quantile of 1 - 0.01/80 is 3.66. Judged without the shot, w grows with its error.
    en, z = yard(3, 40)
    z[7] += 0.3
    (found,) = odd_of(en, z)
    for w, odd in ((3.66 + 0.1, True), (3.66 - 0.1, False)):
        nudged = z.copy()
        nudged[7] += w * found.sd_m - found.above_m
        assert bool(odd_of(en, nudged)) == odd


def test_an_error_that_all_shots_share_does_not_excuse_one():
    en, z = yard(3, 40)
    z[7] += 0.1
    (alone,) = odd_of(en, z)
    shots = shots_of(en, z)
    shared = replace(shots, cov_m2=shots.cov_m2 + 0.05**2)
    (found,) = odd_shots(shared, fitted_surface(en, z, shared.cov_m2))
    assert found.sd_m == pytest.approx(alone.sd_m, rel=1e-3)


def test_two_do_not_hide_each_other():
    en, z = yard(4, 50)
    z[7] += 0.15
    z[21] -= 0.20
    assert {shot.name for shot in odd_of(en, z)} == {"G7", "G21"}


def test_sound_shots_of_invented_ground_are_not_named():
    assert [odd_of(*yard(seed, 25)) for seed in range(8)] == [()] * 8


def test_sound_shots_of_real_ground_are_hardly_ever_named():
    en, z = lidar_patch()
    named = 0
    for seed in range(12):
        used = np.random.default_rng(seed).choice(1681, 30, replace=False)
        named += bool(odd_of(en[used], z[used]))
    # The ground is not Gaussian: more than the 1 % meant, but rare.
    assert named <= 1


def test_too_few_shots_cannot_tell():
    en, z = yard(5, LEAST_SHOTS - 1)
    z[2] += 0.5
    assert odd_of(en, z) == ()
