"""Roughness of the ground from shots: the likelihood by another route, recovery, the assumptions."""

import numpy as np
import pytest
from grounds import field, plane

from staking.ground import roughness
from staking.ground.covariance import MATERN_12, MATERN_32, MATERN_52, Covariance, Term, distances_m
from staking.ground.kriging import PlaneDrift
from staking.ground.roughness import DEPARTURE, estimated_roughness

DRIFT = PlaneDrift(centre_m=(10.0, 10.0), scale_m=10.0)


def covariance(shape, sd_m, range_m):
    return Covariance(terms=(Term(smoothness=shape, variance_m2=sd_m**2, range_m=range_m),))


def test_average_agrees_with_a_likelihood_of_dense_determinants(monkeypatch):
    """Σ over the same grid, each restricted likelihood from determinants and a quadratic form.

    Harville's form: −½ (log|Σ| + log|Fᵀ Σ⁻¹ F| + zᵀ P z).
    """
    monkeypatch.setattr(roughness, "SD_STEP", 0.6)
    rng = np.random.default_rng(5)
    n = 14
    en = rng.uniform(0, 20, (n, 2))
    noise = np.eye(n) * 0.01**2 + 0.003**2
    z = plane(en) + field(rng, covariance(MATERN_32, 0.15, 6.0), en)
    found = estimated_roughness(en, z, noise, drift=DRIFT)

    h = distances_m(en, en)
    diagonal, ranges = roughness._ranges(h)
    log_sd = np.arange(*roughness.SD_LIMITS, roughness.SD_STEP) + np.log(DEPARTURE * diagonal)
    f = DRIFT(en)
    chances = np.empty((len(roughness.SHAPES), len(ranges), len(log_sd)))
    for i, shape in enumerate(roughness.SHAPES):
        for j, range_m in enumerate(ranges):
            for k, log in enumerate(log_sd):
                sigma = np.exp(2 * log) * shape.at(h * shape.k / range_m) + noise + np.eye(n) * 1e-10
                inverse = np.linalg.inv(sigma)
                information = f.T @ inverse @ f
                p = inverse - inverse @ f @ np.linalg.solve(information, f.T @ inverse)
                likelihood = -0.5 * (
                    np.linalg.slogdet(sigma)[1] + np.linalg.slogdet(information)[1] + z @ p @ z
                )
                unit = roughness.expected_departure(shape, range_m / diagonal)
                departure = (log + np.log(unit) - np.log(DEPARTURE * diagonal)) / roughness.DEPARTURE_LOG_SD
                long = np.log(range_m / (roughness.RANGE * diagonal)) / roughness.RANGE_LOG_SD
                # Below two standard deviations the normal prior goes on as its tangent.
                unlikely = 0.5 * departure**2 if departure > -2.0 else -2.0 * departure - 2.0
                chances[i, j, k] = likelihood - unlikely - 0.5 * long**2
    chances = np.exp(chances - chances.max())
    chances /= chances.sum()
    by_name = {}
    for shape, chance in zip(roughness.SHAPES, chances.sum(axis=(1, 2)), strict=True):
        by_name[shape.name] = by_name.get(shape.name, 0.0) + chance
    assert found.chances == pytest.approx(by_name, abs=1e-4)
    weight = chances.sum(axis=2)
    kept = weight >= roughness.NEGLIGIBLE * weight.max()
    variance = (chances @ np.exp(2 * log_sd))[kept].sum() / weight[kept].sum()
    assert found.covariance.variance_m2 == pytest.approx(variance, rel=1e-3)


def test_departure_is_that_of_simulated_squares():
    rng = np.random.default_rng(0)
    line = np.linspace(0, 1, 5) * 10.0 / np.sqrt(2.0)
    en = np.array([(e, n) for e in line for n in line])
    f = np.column_stack([np.ones(25), en])
    left = np.eye(25) - f @ np.linalg.pinv(f)
    factor = np.linalg.cholesky(covariance(MATERN_32, 1.0, 4.0).at(distances_m(en, en)) + 1e-12 * np.eye(25))
    departures = left @ factor @ rng.standard_normal((25, 4000))
    simulated = np.sqrt((departures**2).mean())
    assert roughness.expected_departure(MATERN_32, 0.4) == pytest.approx(simulated, rel=0.03)


@pytest.mark.parametrize("shape", [MATERN_12, MATERN_32, MATERN_52])
def test_recovers_the_smoothness_and_the_departure(shape):
    rng = np.random.default_rng(12)
    en = rng.uniform(0, 20, (120, 2))
    truth = covariance(shape, 0.2, 5.0)
    z = plane(en) + field(rng, truth, en) + rng.normal(0, 0.001, 120)
    found = estimated_roughness(en, z, np.eye(120) * 0.001**2, drift=DRIFT)
    assert found.smoothness == shape.name
    # What kriging between shots uses: the variogram over the shots' spacing, here as a standard deviation.
    for h in np.array([[1.0], [2.0]]):
        stated, true = (np.sqrt(c.variance_m2 - c.at(h)[0]) for c in (found.covariance, truth))
        assert stated == pytest.approx(true, rel=0.3)


def test_with_three_shots_the_assumption_is_all_there_is():
    en = np.array([(0.0, 0.0), (12.0, 0.0), (0.0, 9.0)])
    found = estimated_roughness(en, plane(en), np.eye(3) * 1e-6, drift=DRIFT)
    steeper = estimated_roughness(en, 7.0 * plane(en), np.eye(3) * 1e-6, drift=DRIFT)
    assert found.covariance == steeper.covariance


def test_some_of_many_shots_tell_what_all_would(monkeypatch):
    rng = np.random.default_rng(9)
    en = rng.uniform(0, 20, (160, 2))
    z = plane(en) + field(rng, covariance(MATERN_32, 0.2, 5.0), en) + rng.normal(0, 0.002, 160)
    every = estimated_roughness(en, z, np.eye(160) * 0.002**2, drift=DRIFT)
    monkeypatch.setattr(roughness, "LIKELIHOOD_SHOTS", 80)
    some = estimated_roughness(en, z, np.eye(160) * 0.002**2, drift=DRIFT)
    assert some.covariance != every.covariance
    h = np.array([2.0])
    stated, all_told = (np.sqrt(r.covariance.variance_m2 - r.covariance.at(h)[0]) for r in (some, every))
    assert stated == pytest.approx(all_told, rel=0.2)


def test_thinning_does_not_depend_on_the_order_of_shots():
    rng = np.random.default_rng(9)
    en = rng.uniform(0, 20, (500, 2))
    order = rng.permutation(500)
    one = {tuple(p) for p in en[roughness._thinned(en)]}
    other = {tuple(p) for p in en[order][roughness._thinned(en[order])]}
    assert len(one) == roughness.LIKELIHOOD_SHOTS
    assert one == other


def test_thinning_keeps_the_middle_dense_and_reaches_the_edge():
    en = np.random.default_rng(9).uniform(0, 20, (500, 2))
    from_middle = np.hypot(*(en - en.mean(axis=0)).T)
    used = roughness._thinned(en)
    order = np.argsort(from_middle)
    assert set(order[: roughness.LIKELIHOOD_SHOTS // 2]) <= set(used)
    assert order[-1] in used
    assert len(set(used)) == roughness.LIKELIHOOD_SHOTS


def test_prior_goes_on_as_the_tangent_toward_flat_ground():
    # Half the square at 1, 0, -1, -2; from there the slope stays -2.
    found = roughness._half_square(np.array([1.0, 0.0, -1.0, -2.0, -3.0, -4.0]))
    np.testing.assert_allclose(found, [0.5, 0.0, 0.5, 2.0, 4.0, 6.0])
