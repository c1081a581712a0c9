"""An array fitted again to draws of its ground, against the whole fitting done on each drawn ground."""

import math
from dataclasses import replace

import numpy as np
import pytest

from staking.book.records import Accuracy, ArrayDesign, ArrayJob, FrameDesign, Limits, Place
from staking.ground.elevations import Elevations
from staking.layout.fitting import fitted
from staking.layout.redrawn import redrawing_of, redrawn


class Bent:
    """A slope with a hump; `change` is added: a rise, two tilts and a bend."""

    def __init__(self, change=(0.0, 0.0, 0.0, 0.0)):
        self.change = np.array(change)

    @staticmethod
    def shapes(en_m):
        e, n = np.asarray(en_m).reshape(-1, 2).T
        return np.column_stack([np.ones_like(e), e / 10, n / 10, (e / 10) ** 2])

    def z(self, en_m):
        en = np.asarray(en_m).reshape(-1, 2)
        hump = 0.2 * np.exp(-((en[:, 0] - 5) ** 2 + (en[:, 1] - 1) ** 2) / 6)
        return 20 + 0.03 * en[:, 0] + 0.06 * en[:, 1] + hump + self.shapes(en) @ self.change

    def at(self, en_m):
        return Elevations(z_m=self.z(en_m), cov_m2=np.zeros((len(en_m),) * 2))

    def z_at_piers(self, names, en_m):
        return self.z(en_m)

    def at_piers(self, names, en_m):
        return self.at(en_m)

    def gradient(self, en_m):
        return np.tile((0.03, 0.06), (len(en_m), 1))

    def outside(self, en_m):
        return np.zeros(len(en_m), dtype=bool)

    def shots_en_m(self):
        return np.zeros((0, 2))


JOB = ArrayJob(
    array=ArrayDesign(
        azimuth_rad=math.radians(175),
        tilt_rad=math.radians(25),
        modules_along=8,
        modules_up=2,
        module_along_m=1.1,
        module_up_m=1.8,
        module_thick_m=0.03,
    ),
    frame=FrameDesign(
        piers_per_beam=4, bay_m=2.4, beams_at_m=(0.6, 3.0), stack_m=0.12, takeout_m=0.05, rail_clear_m=0.0
    ),
    place=Place(east_m=0.0, north_m=0.0),
    fit=Limits(above_grade_min_m=0.5, above_grade_max_m=3.0, clearance_m=0.6),
)
SLOPING = replace(JOB, fit=replace(JOB.fit, beams="sloping", max_cross_slope_rad=math.radians(4)))
NEAR_M = 0.004
"""A crest of the hump between two spots a metre apart is higher than both by up to ½ · 0.067/m · (0.5 m)²,
8 mm; as a rule half of that. Slopes 0.1° apart, and draws that do not move with the piers, add less."""


def whole(job, change):
    return fitted(job, placed_en_m=(0.0, 0.0), ground=Bent(change), accuracy=Accuracy())


def asked_of(job):
    return redrawing_of(job, whole(job, (0, 0, 0, 0)), Bent(), placed_en_m=(0.0, 0.0))


def ups(asked, changes):
    return tuple(changes @ Bent.shapes(en).T for en in (asked.pier_en_m, asked.spot_en_m))


@pytest.mark.parametrize(
    "job",
    [
        JOB,
        SLOPING,
        replace(JOB, fit=replace(JOB.fit, clearance_m=1.1)),
        replace(SLOPING, fit=replace(SLOPING.fit, least="tallest")),
    ],
)
def test_each_draw_is_what_the_whole_fitting_makes_of_that_ground(job):
    chance = np.random.default_rng(3)
    changes = chance.standard_normal((25, 4)) * np.array([0.03, 0.03, 0.02, 0.02])
    asked = asked_of(job)
    again = redrawn(asked, *ups(asked, changes))
    for row, change, fits in zip(again.above_grade_m, changes, again.within, strict=True):
        other = whole(job, change).lengths.above_grade_m
        if job.fit.beams == "level":
            assert row == pytest.approx(other, abs=NEAR_M)
        else:
            # The optimum is flat along the cross-slope: what is made least is sharp, single posts less so.
            posts = len(row) if job.fit.least == "steel" else 1
            total = float(row.sum()) if job.fit.least == "steel" else float(row.max())
            wanted = float(other.sum()) if job.fit.least == "steel" else float(other.max())
            assert total == pytest.approx(wanted, abs=posts * NEAR_M)
        assert fits


@pytest.mark.parametrize("job", [JOB, SLOPING])
def test_the_ground_as_it_is_gives_the_posts_as_they_are(job):
    asked = asked_of(job)
    again = redrawn(asked, *ups(asked, np.zeros((1, 4))))
    assert again.above_grade_m[0] == pytest.approx(whole(job, (0, 0, 0, 0)).lengths.above_grade_m, abs=1e-6)


def test_ground_that_comes_out_higher_as_a_whole_changes_no_post():
    asked = asked_of(JOB)
    again = redrawn(asked, *ups(asked, np.array([[0.5, 0, 0, 0], [-0.2, 0, 0, 0]])))
    now = whole(JOB, (0, 0, 0, 0)).lengths.above_grade_m
    assert again.above_grade_m == pytest.approx(np.vstack([now, now]), abs=1e-6)


def test_a_draw_that_no_plane_fits_keeps_the_lower_limits_and_says_so():
    tight = replace(
        JOB,
        fit=replace(
            JOB.fit, above_grade_max_m=float(np.max(whole(JOB, (0,) * 4).lengths.above_grade_m)) + 0.01
        ),
    )
    asked = asked_of(tight)
    again = redrawn(asked, *ups(asked, np.array([[0.0, 0.3, 0, 0], [0.0, 0.0, 0.0, 0.0]])))
    assert again.within.tolist() == [False, True]
    assert again.above_grade_m[0].min() >= 0.5 - 1e-9
