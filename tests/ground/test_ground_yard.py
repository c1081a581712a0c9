"""Shots from adjusted points, and piers at their stakes."""

import math
from dataclasses import replace

import numpy as np
import pytest
from grounds import waves

from staking.base.covariance import carried
from staking.base.errors import WrongInput
from staking.control.adjustment import Points
from staking.ground.covariance import distances_m
from staking.ground.elevations import Ground
from staking.ground.shots import STAKE_SET_SD_M, functions_of_points, ground_shots
from staking.ground.surface import best_plane
from staking.ground.yard import STAKE_MOVED_M, fitted_ground

NAMES = (*(f"G{i}" for i in range(1, 21)), "a1 ", "A2", "A3", "BM1")
STAKES = {"A1": (3.0, 4.0), "A2": (6.0, 4.0), "A3": (9.0, 4.0)}


def yard_points(seed=0, plan_sd=0.01):
    """Twenty shots placed by tapes, three piers' stakes without a place, a benchmark; joint covariance."""
    rng = np.random.default_rng(seed)
    n = len(NAMES)
    enz = np.full((n, 3), np.nan)
    enz[:20, :2] = rng.uniform(0, 12, (20, 2))
    enz[20:23, :2] = list(STAKES.values())
    enz[23, :2] = (20.0, 20.0)
    enz[:, 2] = waves(enz[:, :2])
    enz[20:23, :2] = np.nan
    mixing = rng.normal(size=(3 * n, 3 * n)) * 0.3
    scale = np.tile((plan_sd, plan_sd, 0.002), n)
    cov = (np.eye(3 * n) + mixing @ mixing.T / (3 * n)) * np.outer(scale, scale)
    unplaced = (3 * np.arange(20, 23)[:, None] + (0, 1)).ravel()
    cov[unplaced, :] = np.nan
    cov[:, unplaced] = np.nan
    return Points(
        names=NAMES,
        kinds=("ground",) * 23 + ("benchmark",),
        shapes_ground=(True,) * 23 + (False,),
        enz_m=enz,
        cov_m2=cov,
    )


def pier_places(*moved):
    places = np.array([*STAKES.values(), (4.5, 9.0), (8.0, 8.0)])
    for i, east, north in moved:
        places[i] += (east, north)
    return places


PIERS = ("A1", "A2", "A3", "B1", "B2")


class TestShots:
    def test_takes_what_may_shape_the_ground_and_has_a_place(self):
        points = yard_points()
        assert ground_shots(points).names == NAMES[:20]
        assert ground_shots(points, STAKES).names == NAMES[:23]
        refused = replace(points, shapes_ground=(False, *points.shapes_ground[1:]))
        assert ground_shots(refused, STAKES).names == NAMES[1:23]

    def test_a_stake_stands_where_it_is_said_to(self):
        shots = ground_shots(yard_points(), STAKES)
        assert shots.stakes == {"a1": 20, "a2": 21, "a3": 22}
        np.testing.assert_array_equal(shots.en_m[20:], list(STAKES.values()))

    def test_a_shot_without_an_elevation_is_left_out(self):
        points = yard_points()
        enz = points.enz_m.copy()
        enz[5, 2] = np.nan
        assert "G6" not in ground_shots(replace(points, enz_m=enz)).names

    def test_places_add_to_the_uncertainty_through_the_slope(self):
        points = yard_points()
        shots = ground_shots(points, STAKES)
        east, north = best_plane(shots.en_m, shots.z_m)
        # Error propagation by hand for one pair of shots.
        i, j = 3, 11
        at = [9, 10, 11, 33, 34, 35]
        block = points.cov_m2[np.ix_(at, at)]
        row_i = np.array([-east, -north, 1.0, 0, 0, 0])
        row_j = np.array([0, 0, 0, -east, -north, 1.0])
        assert shots.cov_m2[i, j] == pytest.approx(row_i @ block @ row_j, rel=1e-12)
        # The second stake's elevation, with that shot and with the first stake's.
        assert shots.staked.tolist() == [20, 21, 22]
        with_shot = points.cov_m2[3 * 21 + 2, at]
        assert shots.level_shot_cov_m2[1, j] == pytest.approx(with_shot @ row_j, rel=1e-12)
        assert shots.level_cov_m2[1, 0] == points.cov_m2[3 * 21 + 2, 3 * 20 + 2]
        stake = shots.cov_m2[20, 20] - shots.level_cov_m2[0, 0]
        assert stake == pytest.approx(STAKE_SET_SD_M**2 * (east**2 + north**2), rel=1e-9)

    def test_carried_covariance_is_that_of_simulated_shots(self):
        rng = np.random.default_rng(1)
        mixing = rng.normal(size=(6, 6)) * 0.01
        errors = mixing @ rng.standard_normal((6, 20_000))
        # Ground z = 0.3 e - 0.2 n. The point is believed at its true place plus its plan error, and its
        # elevation is true there plus its own error: against the ground where it is believed to be it is off.
        off = errors[2::3] - (0.3 * errors[0::3] - 0.2 * errors[1::3])
        at, there = np.arange(2), np.zeros(2, dtype=bool)
        by, _ = functions_of_points(at, there, np.array([0.3, -0.2]), 2)
        np.testing.assert_allclose(np.cov(off), carried(mixing @ mixing.T, by), rtol=0.05)

    def test_too_few(self):
        points = yard_points()
        with pytest.raises(WrongInput, match="only two ground shots"):
            ground_shots(replace(points, shapes_ground=(True, True) + (False,) * 22), STAKES)


class TestPiers:
    ground = fitted_ground(yard_points(), STAKES)

    def test_meets_the_protocol(self):
        ground: Ground = self.ground
        assert ground.shots_en_m().shape == (23, 2)
        assert ground.outside(np.array([(6.0, 6.0), (30.0, 6.0)])).tolist() == [False, True]
        assert ground.gradient(pier_places()).shape == (5, 2)

    def test_the_shot_at_the_stake_comes_first(self):
        z = self.ground.z_at_piers(PIERS, pier_places())
        np.testing.assert_array_equal(z[:3], self.ground.shots.z_m[20:])
        np.testing.assert_allclose(z[3:], self.ground.z(pier_places()[3:]), rtol=1e-14)
        np.testing.assert_array_equal(z, self.ground.at_piers(PIERS, pier_places()).z_m)

    def test_names_are_compared_without_case(self):
        assert self.ground.z_at_piers((" a2",), pier_places()[1:2])[0] == self.ground.shots.z_m[21]

    def test_a_shot_at_a_stake_is_as_good_as_its_levelling(self):
        stated = self.ground.at_piers(PIERS, pier_places())
        np.testing.assert_array_equal(stated.cov_m2[:3, :3], self.ground.shots.level_cov_m2)

    def test_what_a_stake_stands_off_is_added(self):
        off = 0.02
        stated = self.ground.at_piers(PIERS, pier_places((0, 0.0, off))).cov_m2[0, 0]
        rise = self.ground.gradient(pier_places((0, 0.0, off)))[0, 1] * off
        assert stated == pytest.approx(self.ground.shots.level_cov_m2[0, 0] + rise**2, rel=1e-9)

    @pytest.mark.parametrize(("by", "moved"), [(0.999, False), (1.001, True)])
    def test_a_stake_that_stands_too_far_off_is_an_ordinary_shot(self, by, moved):
        places = pier_places((1, 0.6 * by * STAKE_MOVED_M, 0.8 * by * STAKE_MOVED_M))
        z = self.ground.z_at_piers(PIERS, places)
        named = self.ground.moved_stakes(PIERS, places)
        if moved:
            assert z[1] == pytest.approx(self.ground.z(places)[1], rel=1e-14)
            assert [(m.pier, m.moved_m) for m in named] == [("A2", pytest.approx(by * STAKE_MOVED_M))]
        else:
            assert z[1] == self.ground.shots.z_m[21]
            assert named == ()

    def test_the_stake_of_a_pier_that_the_design_no_longer_has_is_an_ordinary_shot(self):
        names, places = ("A1", "A2", "B1"), pier_places()[[0, 1, 3]]
        without_a3 = {"A1": STAKES["A1"], "A2": STAKES["A2"]}
        bare = fitted_ground(yard_points(), without_a3)
        assert "A3" not in bare.shots.names
        # Its stake told, the shot shapes the ground where the stake stands, and no pier takes it.
        told = self.ground.at_piers(names, places)
        assert self.ground.shots.en_m[self.ground.shots.names.index("A3")].tolist() == [9.0, 4.0]
        assert self.ground.moved_stakes(names, places) == ()
        np.testing.assert_array_equal(told.z_m[:2], self.ground.shots.z_m[20:22])
        at_the_stake = np.array([STAKES["A3"]])
        assert self.ground.at(at_the_stake).sd_m[0] < 0.8 * bare.at(at_the_stake).sd_m[0]
        new_pier = self.ground.at_piers(("C7",), at_the_stake)
        assert new_pier.cov_m2[0, 0] == pytest.approx(self.ground.at(at_the_stake).cov_m2[0, 0])
        assert new_pier.z_m[0] == pytest.approx(self.ground.z(at_the_stake)[0], rel=1e-14)

    def test_one_of_several_arrays(self):
        points = yard_points()
        points = replace(points, names=(*NAMES[:20], "south-A1", "South-A2", "north-A1", "BM1"))
        staked = {"South-A1": (3.0, 4.0), "south-a2": (6.0, 4.0), "North-A1": (9.0, 4.0)}
        ground = fitted_ground(points, staked)
        z = ground.shots.z_m
        assert ground.for_array("north").z_at_piers(("A1",), np.array([(9.0, 4.0)]))[0] == z[22]
        assert ground.for_array("south").z_at_piers(("A1",), np.array([(3.0, 4.0)]))[0] == z[20]
        assert [m.pier for m in ground.for_array("South").moved_stakes(("A1",), np.array([(9.0, 4.0)]))] == [
            "A1"
        ]

    def test_joint_covariance_is_that_of_simulated_errors(self):
        """Draw ground and readings from the model; piers' errors must have the covariance stated."""
        ground = self.ground
        shots, kriging = ground.shots, ground.statistical.kriging
        places = pier_places()
        rng = np.random.default_rng(2)
        draws = 6000
        everywhere = np.vstack([shots.en_m, places[3:]])
        truth = np.linalg.cholesky(
            kriging.covariance.at(distances_m(everywhere, everywhere)) + 1e-10 * np.eye(25)
        ) @ rng.standard_normal((25, draws))
        # Levelled errors and shots' errors together, from their joint covariance.
        both = np.block(
            [[shots.level_cov_m2, shots.level_shot_cov_m2], [shots.level_shot_cov_m2.T, shots.cov_m2]]
        )
        errors = np.linalg.cholesky(both + 1e-12 * np.eye(26)) @ rng.standard_normal((26, draws))
        at_stakes = errors[:3]
        elsewhere = kriging.weights(places[3:]) @ (truth[:23] + errors[3:]) - truth[23:]
        stated = ground.at_piers(PIERS, places).cov_m2
        scale = np.sqrt(np.outer(np.diag(stated), np.diag(stated)))
        simulated = np.cov(np.vstack([at_stakes, elsewhere]))
        # Four standard errors of a simulated covariance.
        assert (np.abs(simulated - stated) < 4.0 * math.sqrt(2.0 / draws) * scale).all()
        assert (np.linalg.eigvalsh(stated) > 0).all()

    def test_neighbours_share_error(self):
        # One setup's error lifts every shot alike: it lifts stake and surface alike.
        points = yard_points(plan_sd=0.001)
        cov = points.cov_m2.copy()
        heights = 3 * np.arange(24) + 2
        cov[np.ix_(heights, heights)] += 0.05**2
        stated = fitted_ground(replace(points, cov_m2=cov), STAKES).at_piers(PIERS, pier_places()).cov_m2
        assert stated[0, 3] == pytest.approx(0.05**2, rel=0.05)


def test_stakes_shape_the_surface_where_they_stand():
    points = yard_points()
    with_stakes, without = fitted_ground(points, STAKES), fitted_ground(points)
    places = np.array(list(STAKES.values()))
    assert (with_stakes.at(places).sd_m < 0.8 * without.at(places).sd_m).all()
