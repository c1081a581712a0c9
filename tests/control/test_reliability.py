"""What a survey would notice: against a statistics library, by leaving out, and by planted blunders."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm
from statsmodels.regression.linear_model import OLS

from staking.control.nets import NetReading, adjusted_net
from staking.control.reliability import SHOWS, carried_sds, detectable

SAME = 1e-9
LARGE_W = 3.29


def level_net(seed=3):
    """Twelve rises of different accuracy between six points, the first held."""
    rng = np.random.default_rng(seed)
    z = dict(zip("ABCDEF", rng.uniform(98, 102, 6), strict=True))
    joined = ["AB", "BC", "CD", "DE", "EF", "FA", "AC", "BD", "CE", "DF", "AD", "BE"]
    readings = []
    for a, b in joined:
        sd = float(rng.uniform(0.001, 0.005))
        value = float(z[b] - z[a] + rng.normal(0, sd))
        readings.append(NetReading(kind="rise", points=(a, b), value=value, sd=sd))
    return readings, {"A": (None, None, float(z["A"]))}


def test_redundancy_numbers_and_w_are_those_of_a_statistics_library():
    """statsmodels' influence of ordinary least squares on rows in standard deviations, sigma being 1."""
    readings, fixed = level_net()
    net = adjusted_net(readings, fixed=fixed)
    names = "BCDEF"
    design, target = np.zeros((12, 5)), np.zeros(12)
    for row, r in enumerate(readings):
        target[row] = r.value
        for name, sign in zip(r.points, (-1, 1), strict=True):
            if name in names:
                design[row, names.index(name)] = sign
            else:
                target[row] -= sign * fixed[name][2]
    sd = np.array([r.sd for r in readings])
    influence = OLS(target / sd, design / sd[:, None]).fit().get_influence()
    assert net.redundancy_numbers == pytest.approx(1 - influence.hat_matrix_diag, abs=SAME)
    # Their residual is observed less fitted, and scaled by the estimated sigma.
    sigma = math.sqrt(net.vtpv / net.redundancy)
    assert net.w == pytest.approx(-influence.resid_studentized_internal * sigma, abs=1e-7)


def test_redundancy_numbers_and_w_by_leaving_each_reading_out():
    """The residual against a fit without the reading is v/r; it falls short of the sum of squares by w²."""
    readings, fixed = level_net(7)
    net = adjusted_net(readings, fixed=fixed)
    for k, reading in enumerate(readings):
        rest = adjusted_net([r for r in readings if r is not reading], fixed=fixed)
        a, b = (rest.place(name)[2] for name in reading.points)
        assert b - a - reading.value == pytest.approx(net.residuals[k] / net.redundancy_numbers[k], abs=SAME)
        assert net.vtpv - rest.vtpv == pytest.approx(net.w[k] ** 2, abs=1e-7)


def test_shows_is_passed_four_times_in_five():
    assert 2 * norm.sf(LARGE_W) == pytest.approx(0.001, abs=2e-6)
    assert norm.sf(LARGE_W - SHOWS) + norm.cdf(-LARGE_W - SHOWS) == pytest.approx(0.80, abs=1e-3)


def test_a_blunder_of_the_detectable_size_moves_w_by_what_shows():
    readings, fixed = level_net()
    net = adjusted_net(readings, fixed=fixed)
    sd = np.array([r.sd for r in readings])
    least = detectable(sd, net.redundancy_numbers)
    for k, reading in enumerate(readings):
        with_blunder = [*readings]
        with_blunder[k] = replace(reading, value=reading.value + float(least[k]))
        moved = adjusted_net(with_blunder, fixed=fixed)
        assert moved.w[k] - net.w[k] == pytest.approx(-SHOWS, abs=1e-6)


def test_an_unseen_blunder_carries_nothing_further_than_said():
    """Some combination of the heights goes as far as said, none goes further."""
    readings, fixed = level_net()
    net = adjusted_net(readings, fixed=fixed)
    sd = np.array([r.sd for r in readings])
    least, most = detectable(sd, net.redundancy_numbers), carried_sds(net.redundancy_numbers)
    at = [3 * net.names.index(name) + 2 for name in "BCDEF"]
    cov = net.cov_m2[np.ix_(at, at)]
    for k, reading in enumerate(readings):
        with_blunder = [*readings]
        with_blunder[k] = replace(reading, value=reading.value + float(least[k]))
        moved = adjusted_net(with_blunder, fixed=fixed)
        shift = (moved.enz_m - net.enz_m).ravel()[at]
        assert (np.abs(shift) <= most[k] * np.sqrt(np.diag(cov)) + SAME).all()
        # The furthest of all functions f: max (f·shift)² / (f·cov f) = shift·cov⁻¹ shift.
        assert shift @ np.linalg.solve(cov, shift) == pytest.approx(most[k] ** 2, rel=1e-6)


def test_nothing_is_detectable_where_nothing_checks():
    r = np.array([0.0, 5e-4, 0.25, 1.0])
    least = detectable(np.array([1.0, 1.0, 2.0, 3.0]), r)
    assert np.isnan(least[:2]).all()
    assert least[2:] == pytest.approx([2 * 4.13 / 0.5, 3 * 4.13])
    assert np.isnan(carried_sds(r)[:2]).all()
    assert carried_sds(r)[2:] == pytest.approx([4.13 * math.sqrt(3), 0.0])
