"""The kriging system against routes of its own: dense matrices, refitting, and limit cases."""

import numpy as np
import pytest
from grounds import plane
from hypothesis import given
from hypothesis import strategies as st

from staking.ground.breaks import broken_covariance, placed_breaks
from staking.ground.covariance import (
    MATERN_12,
    MATERN_32,
    MATERN_52,
    Covariance,
    Term,
    distances_m,
    roughened,
)
from staking.ground.kriging import TRIANGLE, PlaneDrift, inverse_of_lower, solved

ROUNDING = 1e-9

COVARIANCE = Covariance(
    terms=(
        Term(smoothness=MATERN_32, variance_m2=0.02, range_m=6.0),
        Term(smoothness=MATERN_12, variance_m2=0.001, range_m=2.0),
    )
)
DRIFT = PlaneDrift(centre_m=(8.0, 7.0), scale_m=9.0)


def joint(rng, n, sd):
    """Return a joint covariance with shared parts, as levels from few setups have."""
    mixing = rng.normal(size=(n, n)) * sd / np.sqrt(n)
    return mixing @ mixing.T + np.eye(n) * sd**2


@pytest.fixture(scope="module")
def shots():
    rng = np.random.default_rng(7)
    en = rng.uniform(0, 16, (25, 2))
    return en, plane(en) + 0.1 * rng.normal(size=25), joint(rng, 25, 0.02)


def dense(en, z, noise, places):
    """Universal kriging as one bordered system, solved whole: weights, estimate, joint covariance."""
    n, m = len(en), len(places)

    def k(a, b):
        h = np.sqrt(((a[:, None] - b[None]) ** 2).sum(-1))
        r = np.sqrt(3.0) * h / 6.0
        return 0.02 * (1 + r) * np.exp(-r) + 0.001 * np.exp(-h / 2.0)

    f = np.column_stack([np.ones(n), en])
    f0 = np.column_stack([np.ones(m), places])
    bordered = np.block([[k(en, en) + noise, f], [f.T, np.zeros((3, 3))]])
    solution = np.linalg.solve(bordered, np.vstack([k(en, places), f0.T]))
    weights = solution[:n].T
    # Error = Σ w (ground + shot's error) − ground at the place, carried out term by term.
    cov = (
        weights @ (k(en, en) + noise) @ weights.T
        - weights @ k(en, places)
        - (weights @ k(en, places)).T
        + k(places, places)
    )
    return weights, weights @ z, cov


def test_agrees_with_the_bordered_system(shots):
    en, z, noise = shots
    places = np.array([(3.0, 4.0), (8.0, 8.0), (15.0, 2.0), (30.0, -5.0)])
    kriged = solved(en, z, noise, covariance=COVARIANCE, drift=DRIFT)
    weights, estimate, cov = dense(en, z, noise, places)
    np.testing.assert_allclose(kriged.weights(places), weights, atol=1e-6)
    np.testing.assert_allclose(kriged.z(places), estimate, atol=1e-6)
    np.testing.assert_allclose(kriged.at(places).cov_m2, cov, atol=1e-8)


def test_agrees_with_a_gaussian_process_with_a_vague_plane(shots):
    # C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (MIT Press, 2006), eq.
    # 2.23-2.24, with the plane's coefficients given a wide normal prior; from memory.
    en, z, noise = shots
    places = np.array([(3.0, 4.0), (12.0, 13.0)])
    vague = 1e4
    mean = z.mean()

    def k(a, b):
        columns_a, columns_b = DRIFT(a), DRIFT(b)
        return COVARIANCE.at(distances_m(a, b)) + vague * columns_a @ columns_b.T

    gain = np.linalg.solve(k(en, en) + noise, k(en, places)).T
    kriged = solved(en, z, noise, covariance=COVARIANCE, drift=DRIFT)
    np.testing.assert_allclose(kriged.z(places), mean + gain @ (z - mean), atol=2e-6)
    np.testing.assert_allclose(kriged.at(places).cov_m2, k(places, places) - gain @ k(en, places), atol=2e-6)


def test_left_out_agrees_with_refitting(shots):
    en, z, noise = shots
    left_out = solved(en, z, noise, covariance=COVARIANCE, drift=DRIFT).left_out()
    for one in range(len(z)):
        others = np.arange(len(z)) != one
        # The shots' errors are joint: the one left out shares part of its error with the others.
        shared = noise[others, one]
        total = COVARIANCE.at(distances_m(en[others], en[others])) + noise[np.ix_(others, others)]
        f, f0 = np.column_stack([np.ones(len(z) - 1), en[others]]), np.array([1.0, *en[one]])
        bordered = np.block([[total, f], [f.T, np.zeros((3, 3))]])
        k = COVARIANCE.at(distances_m(en[others], en[[one]]))[:, 0] + shared
        w = np.linalg.solve(bordered, np.concatenate([k, f0]))[:-3]
        variance = w @ total @ w - 2 * w @ k + COVARIANCE.variance_m2 + noise[one, one]
        assert left_out.above_m[one] == pytest.approx(z[one] - w @ z[others], abs=1e-6)
        assert left_out.sd_m[one] == pytest.approx(np.sqrt(variance), rel=1e-5)


def test_a_shot_that_alone_fixes_the_plane_has_no_prediction():
    en = np.array([(0.0, 0.0), (5.0, 0.0), (10.0, 0.0), (4.0, 6.0)])
    kriged = solved(en, plane(en), np.eye(4) * 1e-6, covariance=COVARIANCE, drift=DRIFT)
    np.testing.assert_array_equal(np.isnan(kriged.left_out().above_m), [False, False, False, True])


def test_meets_the_shots_as_their_errors_vanish(shots):
    en, z, _ = shots
    kriged = solved(en, z, np.zeros((25, 25)), covariance=COVARIANCE, drift=DRIFT)
    np.testing.assert_allclose(kriged.z(en), z, atol=1e-7)
    assert kriged.at(en).sd_m.max() < 2e-5


def test_more_shots_never_raise_the_uncertainty():
    rng = np.random.default_rng(3)
    en = rng.uniform(0, 16, (40, 2))
    places = rng.uniform(-2, 18, (30, 2))
    z = plane(en)
    before = np.full(30, np.inf)
    for n in (4, 6, 10, 20, 40):
        sd = solved(en[:n], z[:n], np.eye(n) * 0.003**2, covariance=COVARIANCE, drift=DRIFT).at(places).sd_m
        assert (sd <= before + ROUNDING).all()
        before = sd


@given(seed=st.integers(0, 10**6), count=st.integers(3, 25), more=st.integers(1, 8), broken=st.booleans())
def test_no_shot_more_raises_the_uncertainty_anywhere(seed, count, more, broken):
    # Shots anywhere, two at one place, with errors that they share, with and without a break; the
    # covariance of the ground held. What is stated shrinks in every direction, not place by place alone.
    rng = np.random.default_rng(seed)
    en = np.vstack([[(0.0, 0.0), (16.0, 0.0), (5.0, 16.0)], rng.uniform(0, 16, (count + more - 3, 2))])
    en[-1] = en[rng.integers(0, len(en) - 1)]
    n = len(en)
    factor = rng.normal(0, 0.002, (n, n)) + np.diag(rng.uniform(0.001, 0.01, n))
    noise = factor @ factor.T
    covariance = COVARIANCE
    if broken:
        line = placed_breaks([np.array([(-1.0, 5.0), (8.0, 9.0), (17.0, 6.0)])], en[:count])
        covariance = broken_covariance(COVARIANCE, line)
    places = rng.uniform(-2, 18, (6, 2))

    def cov_of(k):
        return (
            solved(en[:k], plane(en[:k]), noise[:k, :k], covariance=covariance, drift=DRIFT).at(places).cov_m2
        )

    fewer, all_of_them = cov_of(count), cov_of(n)
    assert np.linalg.eigvalsh(fewer - all_of_them).min() > -1e-6 * np.linalg.norm(fewer)


def test_is_scipys_radial_interpolation_where_that_is_kriging():
    # Oracle: scipy.interpolate.RBFInterpolator with the kernel -r, a plane and smoothing is universal kriging
    # with a linear variogram of slope one and shots with that variance of their own.
    from scipy.interpolate import RBFInterpolator

    class Linear:
        def between(self, from_m, to_m):
            # Any constant makes it positive definite beside the drift, and none changes the estimate.
            return 100.0 - np.hypot(*(from_m[:, None, :] - to_m[None, :, :]).transpose(2, 0, 1))

    rng = np.random.default_rng(8)
    en, places = rng.uniform(0, 16, (30, 2)), rng.uniform(-2, 18, (200, 2))
    z = plane(en) + rng.normal(0, 0.3, 30)
    noise = 0.5
    theirs = RBFInterpolator(en, z, kernel="linear", degree=1, smoothing=noise)(places)
    ours = solved(en, z, np.eye(30) * noise, covariance=Linear(), drift=DRIFT).z(places)
    np.testing.assert_allclose(ours, theirs, atol=1e-7)


def test_the_order_of_shots_does_not_matter(shots):
    en, z, noise = shots
    order = np.random.default_rng(1).permutation(25)
    places = np.array([(3.0, 4.0), (12.0, 13.0)])
    one = solved(en, z, noise, covariance=COVARIANCE, drift=DRIFT)
    other = solved(en[order], z[order], noise[np.ix_(order, order)], covariance=COVARIANCE, drift=DRIFT)
    np.testing.assert_allclose(one.z(places), other.z(places), atol=ROUNDING)
    np.testing.assert_allclose(one.at(places).cov_m2, other.at(places).cov_m2, atol=ROUNDING)
    np.testing.assert_allclose(one.weights(places)[:, order], other.weights(places), atol=ROUNDING)


def test_many_places_at_once_are_the_same_as_one_by_one(shots):
    en, z, noise = shots
    kriged = solved(en, z, noise, covariance=COVARIANCE, drift=DRIFT)
    places = np.random.default_rng(0).uniform(0, 16, (1500, 2))
    one_by_one = np.array([kriged.z(place[None])[0] for place in places[::50]])
    np.testing.assert_allclose(kriged.z(places)[::50], one_by_one, atol=1e-12)


def test_joint_covariance_is_that_of_simulated_errors(shots):
    en, _, noise = shots
    rng = np.random.default_rng(11)
    places = np.array([(3.0, 4.0), (4.0, 5.0), (12.0, 13.0)])
    everywhere = np.vstack([en, places])
    ground_factor = np.linalg.cholesky(COVARIANCE.at(distances_m(everywhere, everywhere)))
    error_factor = np.linalg.cholesky(noise)
    draws = 4000
    ground = ground_factor @ rng.standard_normal((28, draws))
    shots_z = ground[:25] + error_factor @ rng.standard_normal((25, draws))
    kriged = solved(en, np.zeros(25), noise, covariance=COVARIANCE, drift=DRIFT)
    errors = kriged.weights(places) @ shots_z - ground[25:]
    stated = kriged.at(places).cov_m2
    # Four standard errors of a simulated covariance.
    scale = np.sqrt(np.outer(np.diag(stated), np.diag(stated)))
    assert (np.abs(np.cov(errors) - stated) < 4.0 * np.sqrt(2.0 / draws) * scale).all()


@pytest.mark.parametrize("n", [1, TRIANGLE, TRIANGLE + 1, 3 * TRIANGLE + 5])
def test_inverse_by_halves(n):
    rng = np.random.default_rng(n)
    lower = np.tril(rng.uniform(-1, 1, (n, n)) / n) + np.eye(n)
    inverse = inverse_of_lower(lower)
    np.testing.assert_allclose(inverse @ lower, np.eye(n), atol=1e-12)
    assert (np.triu(inverse, 1) == 0).all()


@pytest.mark.parametrize(("shape", "nu"), [(MATERN_12, 0.5), (MATERN_32, 1.5), (MATERN_52, 2.5)])
def test_closed_forms_are_materns(shape, nu):
    from scipy.special import gamma, kv

    h = np.linspace(0.05, 30.0, 50)
    x = np.sqrt(2.0 * nu) * h / 4.0
    general = 2.0 ** (1.0 - nu) / gamma(nu) * x**nu * kv(nu, x)
    closed = Covariance(terms=(Term(smoothness=shape, variance_m2=1.0, range_m=4.0),)).at(h)
    np.testing.assert_allclose(closed, general, rtol=1e-10)


def test_roughened_is_the_sum_of_its_parts():
    h = np.linspace(0.0, 20.0, 40)
    mixed = Covariance(terms=(Term(smoothness=roughened(MATERN_32, 0.1), variance_m2=2.0, range_m=5.0),)).at(
        h
    )
    smooth = Covariance(terms=(Term(smoothness=MATERN_32, variance_m2=1.8, range_m=5.0),)).at(h)
    rough = Covariance(terms=(Term(smoothness=MATERN_12, variance_m2=0.2, range_m=5.0 / np.sqrt(3.0)),)).at(h)
    np.testing.assert_allclose(mixed, smooth + rough, rtol=1e-12)
