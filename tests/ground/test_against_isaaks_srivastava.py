"""E. H. Isaaks and R. M. Srivastava, An Introduction to Applied Geostatistics (OUP, 1989).

Chapter 12, tables 12.1 and 12.2 and figure 12.3: ordinary kriging of seven samples. The numbers are from
memory; weights, estimate, variance and multiplier agree with one another to every printed digit.
"""

import numpy as np
import pytest

from staking.ground.covariance import MATERN_12, Covariance, Term
from staking.ground.kriging import constant_drift, solved

SAMPLES = np.array([(61, 139), (63, 140), (64, 129), (68, 128), (71, 140), (73, 141), (75, 128)], dtype=float)
VALUES = np.array([477, 696, 227, 646, 606, 791, 783], dtype=float)
TARGET = np.array([[65.0, 137.0]])
# C(h) = 10 exp(-0.3 h)
COVARIANCE = Covariance(terms=(Term(smoothness=MATERN_12, variance_m2=10.0, range_m=1.0 / 0.3),))


@pytest.fixture(scope="module")
def kriged():
    return solved(SAMPLES, VALUES, np.zeros((7, 7)), covariance=COVARIANCE, drift=constant_drift)


def test_weights(kriged):
    printed = [0.173, 0.318, 0.129, 0.086, 0.151, 0.057, 0.086]
    np.testing.assert_allclose(kriged.weights(TARGET)[0], printed, atol=0.0005 + 1e-9)


def test_estimate(kriged):
    assert kriged.z(TARGET)[0] == pytest.approx(592.7, abs=0.05)
    assert kriged.weights(TARGET)[0] @ VALUES == pytest.approx(592.7, abs=0.05)


def test_variance(kriged):
    assert kriged.at(TARGET).cov_m2[0, 0] == pytest.approx(8.96, abs=0.005)


def test_lagrange_multiplier(kriged):
    # The sign is that of the system C w + μ 1 = D; the variance is then 10 - w·D - μ, and gains 0.907 by it.
    multiplier = kriged.multipliers(TARGET)[0, 0]
    assert -multiplier == pytest.approx(0.907, abs=0.0005)
    to_target = 10.0 * np.exp(-0.3 * np.hypot(*(SAMPLES - TARGET).T))
    assert 10.0 - kriged.weights(TARGET)[0] @ to_target - multiplier == pytest.approx(8.96, abs=0.005)
