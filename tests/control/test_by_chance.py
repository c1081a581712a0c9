"""How often a clean survey holds evidence as strong by chance: against draws of clean surveys.

The draws are independent of the code under test: residuals are noise less its projection, and the evidence
is the ratio of two normal densities of them, written out.
"""

import numpy as np
import pytest
from scipy.stats import norm

from staking.control.by_chance import STATED, by_chance, strongest
from staking.control.hypotheses import Field
from staking.control.weighing import largest_passed

DRAWS = 20_000
PRIORS = {"slip": (12.0, 0.0, 0.002), "small slip": (-4.0, 0.0, 0.001), "any": (0.0, 20.0**2, 0.003)}
"""Mean and variance of the amount in standard deviations, and prior, of the causes of each reading."""


def field(redundancy, misfit):
    """Return every reading with the same causes along its own direction."""
    n = len(misfit)
    mean, variance, prior = (np.tile([one[k] for one in PRIORS.values()], n) for k in range(3))
    return Field(
        causes=(),
        cause_of=np.zeros(n * len(PRIORS), dtype=np.int64),
        direction=np.repeat(np.arange(n), len(PRIORS)),
        mean=mean,
        variance=variance,
        log_prior=np.log(prior),
        along=misfit,
        between=redundancy,
        length2=np.ones(n),
        total=float(misfit @ misfit),
        redundancy=round(float(np.trace(redundancy))),
    )


def drawn(redundancy, rng):
    """Return (draws,) strongest evidence of clean surveys, by the densities of w."""
    g = np.diag(redundancy)
    w = rng.normal(size=(DRAWS, len(g))) @ redundancy / np.sqrt(g)
    found = np.zeros_like(w)
    for mean, variance, prior in PRIORS.values():
        # An amount a to add to the reading makes the mean of w -a·√g.
        there = norm.pdf(w, -mean * np.sqrt(g), np.sqrt(1 + variance * g))
        found += prior * there / norm.pdf(w)
    return found.max(axis=1)


def random_redundancy(rng, readings, unknowns):
    design = rng.normal(size=(readings, unknowns))
    q, _ = np.linalg.qr(design)
    return np.eye(readings) - q @ q.T


@pytest.mark.parametrize(("readings", "unknowns"), [(12, 4), (60, 25)])
def test_it_bounds_how_often_clean_surveys_show_as_much(readings, unknowns):
    rng = np.random.default_rng(readings)
    redundancy = random_redundancy(rng, readings, unknowns)
    evidence = np.sort(drawn(redundancy, rng))
    clean = field(redundancy, np.zeros(readings))
    for share in (0.05, STATED):
        limit = evidence[round((1 - share) * DRAWS)]
        error = np.sqrt(share / DRAWS)
        bound = by_chance(clean, float(np.log(limit)))
        # At most, and not far from it: residuals hang together a little.
        assert share - 3 * error < bound < 1.5 * share + 3 * error


def test_strongest_is_the_ratio_of_densities():
    rng = np.random.default_rng(3)
    redundancy = random_redundancy(rng, 9, 3)
    misfit = redundancy @ rng.normal(0, 3, 9)
    w = misfit / np.sqrt(np.diag(redundancy))
    g = np.diag(redundancy)
    ratio = sum(
        prior * norm.pdf(w, -mean * np.sqrt(g), np.sqrt(1 + variance * g)) / norm.pdf(w)
        for mean, variance, prior in PRIORS.values()
    )
    assert strongest(field(redundancy, misfit)) == pytest.approx(np.log(ratio.max()))


def test_readings_of_one_equation_are_struck_by_chance_at_once():
    """One closed loop is one number, however many readings it has: the chance is that of one of them."""
    one = field(np.array([[0.5]]), np.zeros(1))
    for signs in ([1, 1, 1, 1], [1, -1, 1, -1]):
        same = field(0.5 * np.outer(signs, signs).astype(float), np.zeros(4))
        limit = np.log(5.0)
        alone, together = by_chance(one, limit), by_chance(same, limit)
        # Each has slips of either sign or none: along both signs at most twice as much chance.
        assert alone <= together <= 2 * alone
    same = field(0.5 * np.ones((4, 4)), np.zeros(4))
    assert by_chance(same, np.log(5.0)) == pytest.approx(by_chance(one, np.log(5.0)))


def test_more_readings_want_more_evidence_without_a_jump():
    """The readings looked at are the worst 240 of a larger survey: nothing happens there."""
    rng = np.random.default_rng(8)
    clean = field(random_redundancy(rng, 40, 10), np.zeros(40))
    shares = [by_chance(clean, np.log(30.0), more) for more in (1.0, 239 / 240, 241 / 240, 10.0)]
    assert shares[1] < shares[0] < shares[2] < shares[3]
    assert shares[3] == pytest.approx(10 * shares[0])
    assert by_chance(clean, -np.inf) == 1.0


def test_the_largest_of_many_by_scipy():
    for many, share in ((1, 0.01), (6, 0.01), (5_000, 0.05)):
        assert 1 - norm.cdf(largest_passed(many, share)) == pytest.approx(
            (1 - (1 - share) ** (1 / many)) / 2, rel=1e-6
        )
