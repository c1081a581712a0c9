"""Error ellipses and relative precision: against scatter, turns of the site, and the largest variance."""

import math

import numpy as np
import pytest

from staking.control.ellipses import WITHIN_95, ellipse_of, pair_of
from staking.control.nets import NetReading, adjusted_net

SAME = 1e-9
COV = np.array([[9.0, -4.0], [-4.0, 5.0]]) * 1e-6


def turned(cov, angle):
    """The site turned clockwise by an angle."""
    c, s = math.cos(angle), math.sin(angle)
    turn = np.array([[c, s], [-s, c]])
    return turn @ cov @ turn.T


def test_the_ellipse_is_the_span_of_variances_over_all_directions():
    around = ellipse_of(COV)
    azimuths = np.radians(np.arange(0.0, 180.0, 0.01))
    toward = np.stack([np.sin(azimuths), np.cos(azimuths)])
    sd = np.sqrt(np.einsum("ak,ab,bk->k", toward, COV, toward))
    assert around.semi_major_m == pytest.approx(sd.max(), rel=1e-7)
    assert around.semi_minor_m == pytest.approx(sd.min(), rel=1e-7)
    assert around.azimuth_rad == pytest.approx(azimuths[sd.argmax()], abs=1e-3)


@pytest.mark.parametrize("angle_deg", range(-170, 180, 25))
def test_it_turns_with_the_site(angle_deg):
    angle = math.radians(angle_deg)
    before, after = ellipse_of(COV), ellipse_of(turned(COV, angle))
    assert after.semi_major_m == pytest.approx(before.semi_major_m, rel=1e-9)
    assert math.sin(after.azimuth_rad - before.azimuth_rad - angle) == pytest.approx(0.0, abs=1e-9)
    assert 0 <= after.azimuth_rad < math.pi


def test_azimuths_of_plain_ellipses():
    assert ellipse_of(np.diag([1.0, 4.0])).azimuth_rad == 0.0
    assert ellipse_of(np.diag([4.0, 1.0])).azimuth_rad == pytest.approx(math.pi / 2)
    assert ellipse_of(np.array([[2.0, 1.0], [1.0, 2.0]])).azimuth_rad == pytest.approx(math.pi / 4)
    assert ellipse_of(np.array([[2.0, -1.0], [-1.0, 2.0]])).azimuth_rad == pytest.approx(3 * math.pi / 4)
    assert ellipse_of(np.eye(2)).azimuth_rad == 0.0
    assert ellipse_of(np.full((2, 2), np.nan)) is None


def test_nineteen_places_in_twenty_lie_within():
    rng = np.random.default_rng(8)
    drawn = rng.multivariate_normal([0, 0], COV, size=40_000)
    within = np.einsum("ka,ab,kb->k", drawn, np.linalg.inv(COV), drawn) <= WITHIN_95**2
    # Standard error of the share: 0.0011.
    assert within.mean() == pytest.approx(0.95, abs=0.004)
    # The 95 % point of chi-square with two degrees of freedom is printed as 5.991 in every table.
    assert pytest.approx(5.991, abs=5e-4) == WITHIN_95**2


def test_two_points_that_err_alike_are_sure_against_each_other():
    run = np.array([[0.0, 0.0], [30.0, 40.0]])
    alike = np.kron(np.ones((2, 2)), COV)
    together = pair_of(run, alike)
    assert together.length_m == 50.0
    assert together.sd_m == pytest.approx(0.0, abs=1e-12)
    apart = pair_of(run, np.kron(np.eye(2), COV))
    toward = np.array([0.6, 0.8])
    assert apart.sd_m == pytest.approx(math.sqrt(2 * toward @ COV @ toward))
    assert apart.one_in == pytest.approx(50.0 / apart.sd_m)
    assert apart.ellipse.semi_major_m == pytest.approx(math.sqrt(2) * ellipse_of(COV).semi_major_m)
    assert apart.ellipse.azimuth_rad == pytest.approx(ellipse_of(COV).azimuth_rad)
    held = pair_of(run, np.zeros((4, 4)))
    assert held.one_in == math.inf
    assert pair_of(np.zeros((2, 2)), alike) is None
    assert pair_of(run, np.full((4, 4), np.nan)) is None


def test_a_distance_known_by_one_tape_alone_is_as_sure_as_the_tape():
    """Whatever the joint errors of its ends: three held points, and two new ones taped to them."""
    held = {"A": (0.0, 0.0, None), "B": (20.0, 0.0, None), "C": (5.0, 18.0, None)}
    places = {"P": (6.0, 7.0), "Q": (16.0, 9.0)}
    joined = [("A", "P"), ("B", "P"), ("C", "Q"), ("B", "Q"), ("P", "Q")]
    known = {name: place[:2] for name, place in held.items()} | places
    readings = [
        NetReading(kind="level distance", points=(a, b), value=math.dist(known[a], known[b]), sd=sd)
        for (a, b), sd in zip(joined, [5.0, 5.0, 5.0, 5.0, 0.002], strict=True)
    ]
    net = adjusted_net(readings, fixed=held, approximate=places)
    between = net.pair("P", "Q")
    assert between.length_m == pytest.approx(math.dist(*places.values()), abs=1e-6)
    assert between.sd_m == pytest.approx(0.002, rel=1e-3)
    assert net.ellipse("P").semi_major_m > 1.0
    assert net.ellipse("A") == ellipse_of(np.zeros((2, 2)))
