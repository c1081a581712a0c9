"""Dense weighted least squares against certified values, an independent solver and its own limits."""

import numpy as np
import pytest

from staking.base.lsq import RankDeficient, null_columns, solved, stepped

# NIST/ITL Statistical Reference Datasets, Norris, straight line, lower difficulty:
# https://www.itl.nist.gov/div898/strd/lls/data/Norris.shtml
NORRIS_X = (
    "0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6 "
    "556.0 228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5"
)
NORRIS_Y = (
    "0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 "
    "557.7 228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2"
)
NORRIS_B = (-0.262323073774029, 1.00211681802045)
NORRIS_SE = (0.232818234301152, 0.000429796848199937)
NORRIS_RESIDUAL_SD = 0.884796396144373
NORRIS_SSR = 26.6173985294224
TEN_DIGITS = 1e-10
SIX_DIGITS = 1e-6


def test_norris_to_ten_digits():
    x, y = np.array(NORRIS_X.split(), float), np.array(NORRIS_Y.split(), float)
    got = solved(np.stack([np.ones_like(x), x], axis=1), y)
    assert got.x == pytest.approx(NORRIS_B, rel=TEN_DIGITS)
    assert got.vtpv == pytest.approx(NORRIS_SSR, rel=TEN_DIGITS)
    residual_sd = np.sqrt(got.vtpv / (len(x) - 2))
    assert residual_sd == pytest.approx(NORRIS_RESIDUAL_SD, rel=TEN_DIGITS)
    assert residual_sd * np.sqrt(np.diag(got.cov)) == pytest.approx(NORRIS_SE, rel=TEN_DIGITS)


@pytest.mark.parametrize("step", [1.0, 0.1], ids=["Wampler1", "Wampler2"])
def test_wampler_to_six_digits(step):
    """NIST/ITL StRD Wampler1 and Wampler2 (exact polynomials, from memory): ill-conditioned, exact data."""
    x = np.arange(21.0)
    truth = step ** np.arange(6)
    design = np.vander(x, 6, increasing=True)
    y = sum(truth[k] * x**k for k in range(6))
    got = solved(design, y)
    assert got.x == pytest.approx(truth, rel=SIX_DIGITS)
    assert np.sqrt(got.vtpv / 15) < 1e-6 * y.max()


def test_weights_against_an_independent_solution():
    rng = np.random.default_rng(3)
    design, observed = rng.normal(size=(30, 7)), rng.normal(size=30)
    sd = rng.uniform(0.1, 3, size=30)
    got = solved(design, observed, sd)
    want, ssr, *_ = np.linalg.lstsq(design / sd[:, None], observed / sd)
    assert got.x == pytest.approx(want, rel=1e-12)
    assert got.vtpv == pytest.approx(float(ssr[0]), rel=1e-12)
    normal = (design / sd[:, None] ** 2).T @ design
    assert got.cov == pytest.approx(np.linalg.inv(normal), rel=1e-10)
    assert got.residuals == pytest.approx(design @ want - observed, rel=1e-10)
    hat = design @ np.linalg.inv(normal) @ (design / sd[:, None] ** 2).T
    assert got.leverage == pytest.approx(np.diag(hat), rel=1e-10)
    assert got.leverage.sum() == pytest.approx(7)
    assert stepped(design, observed, sd) == pytest.approx(want, rel=1e-10)


def test_undetermined_unknowns_are_named():
    design = np.array([[1.0, -1.0, 0.0], [2.0, -2.0, 0.0], [0.0, 0.0, 1.0]])
    with pytest.raises(RankDeficient) as caught:
        solved(design, np.ones(3))
    assert caught.value.columns == (0, 1)
    assert stepped(design, np.ones(3), np.ones(3)) is None
    with pytest.raises(RankDeficient):
        solved(design[:2], np.ones(2))
    assert null_columns(np.array([[1.0, 0.0]])) == (1,)


def test_an_unread_unknown_is_named():
    design = np.array([[1.0, 0.0], [1.0, 0.0]])
    with pytest.raises(RankDeficient) as caught:
        solved(design, np.ones(2))
    assert caught.value.columns == (1,)
    assert stepped(design, np.ones(2), np.ones(2)) is None
