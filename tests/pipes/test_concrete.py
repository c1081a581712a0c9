"""Concrete and bags against volumes integrated numerically, and against cylinder arithmetic by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
from test_holes import FIT, GROUND, IN, OD, RISE, PlaneOfGround

from staking.book.records import Footing, Pipe, Stock
from staking.pipes.concrete import concrete_of
from staking.pipes.holes import holes

FOOT3 = 0.3048**3
FOOTING = Footing(hole_diameter_m=12 * IN, embedment_m=48 * IN, bottom_cover_m=3 * IN)
PIPE = Pipe(stock=(Stock(length_m=6.4),), cut_allowance_m=1 * IN)
BAG = 0.6 * FOOT3
"""An 80 lb bag makes about 0.6 cu ft (common practice, from memory)."""


def dug(ground=GROUND, **changed):
    return holes(FIT, replace(FOOTING, **changed), PIPE, ground, OD)


def integrated(radius_m, floor_m, rise, step=4e-4):
    """Return the volume over a circle between a level floor and a sloping plane through 0 at its centre."""
    x = np.arange(-radius_m + step / 2, radius_m, step)
    e, n = np.meshgrid(x, x)
    inside = e**2 + n**2 <= radius_m**2
    return float(((rise[0] * e + rise[1] * n - floor_m) * inside).sum() * step**2)


@pytest.mark.parametrize("rise", [RISE, (0.0, 0.35), (0.0, 0.0)])
@pytest.mark.parametrize("over_dig", [0.0, 0.1])
def test_concrete_is_the_hole_under_sloping_ground_less_the_post(rise, over_dig):
    """The hole and the post in it are added up column by column under the plane of the ground."""

    class Plane(PlaneOfGround):
        def gradient(self, en_m):
            return np.tile(rise, (len(en_m), 1))

    for hole in dug(Plane(), over_dig=over_dig, daylight_m=0.6):
        foot = -(hole.hole_depth_m - hole.bottom_cover_m)
        whole = integrated(6 * IN, -hole.hole_depth_m, rise)
        post = integrated(OD / 2, foot, rise, step=1e-4)
        assert hole.hole_m3 == pytest.approx(whole, rel=2e-4)
        assert hole.concrete_m3 == pytest.approx((1 + over_dig) * whole - post, rel=4e-4)


def test_bags_by_hand():
    """Twelve inches across, 51.3 deep, the post in 48.3 of them: π/4 (144 · 51.3 − 2.375² · 48.3) in³."""
    hole = dug(bag_yield_m3=BAG, over_dig=0.1)[0]
    inches3 = math.pi / 4 * (1.1 * 144 * 51.3 - 2.375**2 * 48.3)
    assert hole.bags == pytest.approx(inches3 / 1728 / 0.6)
    assert hole.bags == pytest.approx(5.95, abs=0.005)
    whole = concrete_of(dug(bag_yield_m3=BAG, over_dig=0.1))
    assert whole.bags == 36  # 6 × 5.95 = 35.7
    assert whole.bags_fresh == 36
    assert whole.concrete_m3 == pytest.approx(6 * inches3 * IN**3)


def test_left_over_bags_go_into_the_next_hole():
    bag = dug()[0].concrete_m3 / 5.2
    whole = concrete_of(dug(bag_yield_m3=bag))
    assert whole.bags == 32  # 6 × 5.2 = 31.2
    assert whole.bags_fresh == 36
    exact = concrete_of(dug(bag_yield_m3=dug()[0].concrete_m3 / 5))
    assert (exact.bags, exact.bags_fresh) == (30, 30)


def test_without_a_yield_there_are_no_bags():
    assert dug()[0].bags is None
    whole = concrete_of(dug())
    assert whole.bags is None
    assert whole.bags_fresh is None
    assert concrete_of(()).concrete_m3 == 0.0


def test_what_a_wider_auger_digs_is_a_share_of_the_hole_not_of_the_concrete():
    """An auger that digs a tenth wider than its name digs 21 % more, round the same post."""
    named, wider = dug()[0], dug(hole_diameter_m=1.1 * 12 * IN)[0]
    extra = dug(over_dig=0.21)[0]
    lip = wider.lip_m - named.lip_m
    more = math.pi / 4 * ((1.1 * 12 * IN) ** 2 - OD**2) * lip
    assert extra.concrete_m3 + more == pytest.approx(wider.concrete_m3)
