"""The choice between the surfaces: by left-out shots, or as asked; what it says."""

from dataclasses import replace

import numpy as np
import pytest
from banks import ROD_SD_M, places
from grounds import plane, waves

from staking.ground.choosing import CLEARLY, chosen
from staking.ground.kriging import LeftOut
from staking.ground.surface import fitted_surface
from staking.ground.triangle_surface import triangulated_surface


def both(ground, count, seed=0):
    rng = np.random.default_rng(seed)
    en = places(count, seed)
    z = ground(en) + rng.normal(0, ROD_SD_M, count)
    noise = np.eye(count) * ROD_SD_M**2
    one = fitted_surface(en, z, noise)
    return one, triangulated_surface(en, z, noise, covariance=one.roughness.covariance)


def test_figures_are_those_of_shots_really_left_out():
    one, other = both(waves, 30)
    choice = chosen(one, other)
    told = np.flatnonzero(np.isfinite(other.left_out.above_m))
    off = []
    for shot in told:
        others = np.delete(np.arange(30), shot)
        z = one.z_m[others]
        # The statistical surface keeps its covariance, as its left-out shots do.
        from staking.ground.kriging import solved

        noise = one.noise_m2[np.ix_(others, others)]
        anew = solved(one.en_m[others], z, noise, covariance=one.kriging.covariance, drift=one.kriging.drift)
        flat = triangulated_surface(one.en_m[others], z, noise, covariance=one.roughness.covariance)
        place = one.en_m[[shot]]
        off.append((one.z_m[shot] - anew.z(place)[0], one.z_m[shot] - flat.z(place)[0]))
    rms = np.sqrt(np.mean(np.square(off), axis=0))
    assert choice.shots == len(told)
    assert (choice.rms_statistical_m, choice.rms_triangulated_m) == pytest.approx(tuple(rms), rel=1e-6)


def test_on_swells_the_statistical_surface_is_chosen():
    choice = chosen(*both(waves, 60))
    assert choice.used == "statistical"
    assert not choice.asked
    assert choice.rms_used_m == choice.rms_statistical_m < choice.rms_triangulated_m


@pytest.mark.parametrize(
    ("share", "used"), [(CLEARLY * 0.99, "triangulated"), (CLEARLY * 1.01, "statistical")]
)
def test_triangles_are_chosen_where_they_are_clearly_better(share, used):
    one, other = both(waves, 60)
    worse = replace(one, left_out=LeftOut(above_m=other.left_out.above_m / share, sd_m=np.ones(len(one.z_m))))
    choice = chosen(worse, other)
    assert choice.used == used
    assert choice.rms_triangulated_m == pytest.approx(share * choice.rms_statistical_m)


def test_few_shots_choose_nothing():
    one, other = both(waves, 9)
    told = np.isfinite(other.left_out.above_m).sum()
    assert told < 8
    worse = replace(one, left_out=LeftOut(above_m=one.left_out.above_m * 100.0, sd_m=one.left_out.sd_m))
    assert chosen(worse, other).used == "statistical"


@pytest.mark.parametrize("asked", ["statistical", "triangulated"])
def test_what_is_asked_for_is_used(asked):
    choice = chosen(*both(plane, 30), asked)
    assert (choice.used, choice.asked) == (asked, True)


def test_three_shots_have_no_figures():
    en = np.array([(0.0, 0.0), (9.0, 0.0), (0.0, 12.0)])
    one = fitted_surface(en, plane(en))
    other = triangulated_surface(en, plane(en), np.zeros((3, 3)), covariance=one.roughness.covariance)
    choice = chosen(one, other)
    assert (choice.used, choice.shots) == ("statistical", 0)
    assert choice.rms_statistical_m is choice.rms_triangulated_m is None
