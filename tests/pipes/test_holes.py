"""Holes and the length of posts."""

import math
from dataclasses import replace

import numpy as np
import pytest

from staking.book.records import (
    Accuracy,
    ArrayDesign,
    ArrayJob,
    Footing,
    FrameDesign,
    Limits,
    Pipe,
    Place,
    Stock,
)
from staking.ground.elevations import Elevations
from staking.layout.fitting import fitted
from staking.pipes.holes import holes

IN = 0.0254
RISE = (0.03, -0.04)
"""Of the ground a metre east and north: steepest 0.05, falling to the north-west."""


class PlaneOfGround:
    def z(self, en_m):
        return 10 + en_m @ np.array(RISE)

    def at(self, en_m):
        return Elevations(z_m=self.z(en_m), cov_m2=np.zeros((len(en_m),) * 2))

    def z_at_piers(self, names, en_m):
        return self.z(en_m)

    def at_piers(self, names, en_m):
        return self.at(en_m)

    def gradient(self, en_m):
        return np.tile(RISE, (len(en_m), 1))

    def outside(self, en_m):
        return np.zeros(len(en_m), dtype=bool)

    def shots_en_m(self):
        return np.zeros((0, 2))


GROUND = PlaneOfGround()
JOB = ArrayJob(
    array=ArrayDesign(
        azimuth_rad=math.pi,
        tilt_rad=math.radians(25),
        modules_along=4,
        modules_up=2,
        module_along_m=1.1,
        module_up_m=1.8,
    ),
    frame=FrameDesign(piers_per_beam=3, bay_m=1.8, beams_at_m=(0.6, 3.0), stack_m=0.12, takeout_m=0.05),
    place=Place(east_m=0.0, north_m=0.0),
    fit=Limits(above_grade_min_m=0.5, above_grade_max_m=3.0, clearance_m=0.6),
)
FIT = fitted(JOB, placed_en_m=(0.0, 0.0), ground=GROUND, accuracy=Accuracy())
FOOTING = Footing(hole_diameter_m=12 * IN, embedment_m=48 * IN, bottom_cover_m=3 * IN, side_cover_m=3 * IN)
PIPE = Pipe(stock=(Stock(length_m=6.4),), cut_allowance_m=1 * IN)
OD = 2.375 * IN


def dug(**changed):
    return holes(FIT, replace(FOOTING, **changed), PIPE, GROUND, OD)


def test_lip_is_the_fall_from_the_centre_to_the_downhill_edge():
    lip = 6 * IN * 0.05
    for hole in dug():
        assert hole.lip_m == pytest.approx(lip)
        assert hole.embedment_m == 48 * IN
        assert hole.bottom_cover_m == pytest.approx(3 * IN)
        assert hole.hole_depth_m == pytest.approx(51 * IN + lip)


def test_the_lips_of_a_foot_wide_hole_on_one_in_five_differ_by_2_4_inches():
    """The two lips lie D·tan σ apart, twice the lip counted here."""

    class Steep(PlaneOfGround):
        def gradient(self, en_m):
            return np.tile((0.0, 0.2), (len(en_m), 1))

    for hole in holes(FIT, FOOTING, PIPE, Steep(), OD):
        assert 2 * hole.lip_m == pytest.approx(2.4 * IN)


def test_post_is_above_grade_embedment_lip_and_cut_allowance():
    for hole, above in zip(dug(), FIT.lengths.above_grade_m, strict=True):
        assert hole.post_length_m == pytest.approx(above + 48 * IN + 0.3 * IN + 1 * IN)
    assert [hole.pier for hole in dug()] == ["A1", "A2", "A3", "B1", "B2", "B3"]


def test_daylight_counts_where_it_reaches_further_than_the_hole():
    assert dug(daylight_m=5.0)[0].lip_m == pytest.approx(5.0 * 0.05)
    assert dug(daylight_m=1 * IN)[0].lip_m == pytest.approx(6 * IN * 0.05)
    assert dug(daylight_m=0.0)[0].lip_m == pytest.approx(6 * IN * 0.05)


def test_level_ground_has_no_lip():
    class Level(PlaneOfGround):
        def gradient(self, en_m):
            return np.zeros((len(en_m), 2))

    assert holes(FIT, FOOTING, PIPE, Level(), OD)[0].lip_m == 0


def test_frost_deepens_the_hole_and_its_bottom_cover_not_the_post():
    shallow, deep = dug(frost_depth_m=30 * IN), dug(frost_depth_m=60 * IN)
    assert shallow == dug()
    for plain, frosted in zip(dug(), deep, strict=True):
        assert frosted.hole_depth_m == pytest.approx(60 * IN + plain.lip_m)
        assert frosted.bottom_cover_m == pytest.approx(12 * IN)
        assert frosted.post_length_m == plain.post_length_m
        assert frosted.hole_depth_m == pytest.approx(
            frosted.embedment_m + frosted.lip_m + frosted.bottom_cover_m
        )


def test_concrete_is_the_hole_less_the_post_in_it():
    hole = dug()[0]
    whole = math.pi * (6 * IN) ** 2 * hole.hole_depth_m
    post = math.pi * (OD / 2) ** 2 * (48 * IN + hole.lip_m)
    assert hole.concrete_m3 == pytest.approx(whole - post)
    # What frost adds is concrete under the post, without the post in it.
    more = dug(frost_depth_m=60 * IN)[0].concrete_m3 - hole.concrete_m3
    assert more == pytest.approx(math.pi * (6 * IN) ** 2 * 9 * IN)


def test_room_for_error_in_the_hole():
    assert dug()[0].off_mark_m == pytest.approx((12 - 2.375) / 2 * IN - 3 * IN)
    assert dug(side_cover_m=0.0)[0].off_mark_m == pytest.approx((12 - 2.375) / 2 * IN)
    assert dug(side_cover_m=None)[0].off_mark_m is None
    narrow = dug(side_cover_m=5 * IN)[0].off_mark_m
    assert narrow is not None
    assert narrow < 0
