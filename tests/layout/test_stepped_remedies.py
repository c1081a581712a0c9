"""Turning, shaving and moving a stepped array as what would do: done it fits, a little less does not."""

import math
import re
from functools import cache

import numpy as np
import pytest
from test_stepping import stepped_job
from test_stepping_remedies import TWO_MM, fits, stepped_refusals
from yards import FT, FormulaGround, Vectors, with_array, with_fit, with_frame

from staking.base.units import parse_length
from staking.book.records import Accuracy
from staking.layout.around import Around, Needs
from staking.layout.room import not_kept, print_of
from staking.layout.shaving import PAD_M
from staking.layout.stepped import laid_out, sections_of
from staking.layout.stepped_remedies import Parted, nearest_parted
from staking.lines.obstacles import Obstacle


@cache
def told(which):
    job, z_of = stepped_refusals()[which]
    asked = {"placed_en_m": (0.0, 0.0), "ground": FormulaGround(z_of), "style": "metric"}
    asker = Parted(job, nearest_parted(job, **asked), *asked.values())
    return [*asker.turned(), *asker.shaved()]


def offered(sentences, pattern):
    return [match for one in sentences if (match := re.match(pattern, one))]


@pytest.mark.parametrize("which", [1, 3])
def test_tilt_and_cross_slope_do_and_a_tenth_of_a_degree_less_does_not(which):
    job, z_of = stepped_refusals()[which]
    [tilt] = offered(told(which), r"tilt = (\S+) would do")
    assert fits(with_array(job, tilt_rad=math.radians(float(tilt[1]))), z_of)
    assert not fits(with_array(job, tilt_rad=math.radians(float(tilt[1]) + 0.1)), z_of)
    [cross] = offered(told(which), r'max_cross_slope = (\S+) with beams = "sloping" would do')
    sloping = {"beams": "sloping", "max_cross_slope_rad": math.radians(float(cross[1]))}
    assert fits(with_fit(job, **sloping), z_of)
    sloping["max_cross_slope_rad"] -= math.radians(0.1)
    assert not fits(with_fit(job, **sloping), z_of)


def shaved_ground(job, z_of, spare_m, depths):
    """The ground by plain vectors: under each section as high as its tallest post lets it, and pads."""
    sections = laid_out(
        with_fit(job, above_grade_max_m=30 * FT),
        placed_en_m=(0.0, 0.0),
        ground=FormulaGround(z_of),
        accuracy=Accuracy(),
    )
    parts = []
    for one in sections:
        frame = one.job.frame
        own = with_frame(
            with_array(job, modules_along=one.job.array.modules_along),
            piers_per_beam=frame.piers_per_beam,
            bay_m=frame.bay_m,
        )
        vectors = Vectors(own, 0.0, placed_en=one.placed_en_m)
        above = vectors.beam_z - frame.takeout_m - z_of(vectors.stakes[:, 0], vectors.stakes[:, 1])
        parts.append((one, vectors, job.fit.above_grade_max_m - above.max()))

    def ground(x, y):
        z = np.asarray(z_of(x, y), dtype=float)
        for one, vectors, top in parts:
            d = np.stack([x - vectors.a1[0], y - vectors.a1[1]], axis=-1)
            plane = top - d @ vectors.n[:2] / vectors.n[2] + job.frame.stack_m / vectors.n[2]
            low = plane - job.fit.clearance_m + spare_m
            edge = one.fit.modules_outline_en_m
            e = (edge[1] - edge[0]) / np.linalg.norm(edge[1] - edge[0])
            along = np.stack([x, y], axis=-1) @ e
            mine = (along >= edge[0] @ e - 0.04) & (along <= edge[1] @ e + 0.04)
            z = np.where(mine, np.minimum(z, low), z)
            for name, at in zip(one.fit.piers.names, one.fit.piers.en_m, strict=True):
                if name in depths:
                    pad = z_of(*at) - depths[name] + spare_m
                    z = np.where(np.hypot(x - at[0], y - at[1]) <= PAD_M, np.minimum(z, pad), z)
        return z

    return ground


def test_on_shaved_ground_a_stepped_array_fits_and_on_a_little_less_it_does_not():
    job, z_of = stepped_refusals()[3]
    [cut] = offered(told(3), r"ground shaved, .*")
    depths = {name: int(mm) / 1000 for name, mm in re.findall(r"(?:: |, )([AB]\d) (\d+) mm", cut[0])}
    assert depths
    assert fits(job, shaved_ground(job, z_of, -TWO_MM, depths))  # depths are told to a millimetre
    assert not fits(job, shaved_ground(job, z_of, 2 * TWO_MM, depths))


def mound(x, y):
    """Level ground with a narrow mound under the high corner's post."""
    return 30 + 0.8 * np.exp(-((x - 1.0) ** 2 + (y - 0.5) ** 2) / 0.8)


def line(kind, en, setback):
    return Obstacle(
        name="it", kind=kind, en_m=np.array(en), closed=False, setback_m=setback, setback_given=True
    )


JOB = stepped_job(7, above_grade_max_m=6.7 * FT, break_after=(4,))


@cache
def moved(*fence):
    """The two values offered, east and north, metres, and what lies round the array."""
    lines = tuple(line("boundary", [a, b], 0.5) for a, b in fence)
    around = Around(obstacles=lines, needs=Needs(hole_m=0.15, hub_m=0.9))
    asker = Parted(JOB, JOB, (0.0, 0.0), FormulaGround(mound), "metric")
    [found] = offered(asker.moved(around), r'east = "([^"]+)" with north = "([^"]+)" in \[place\], A1 moved')
    return tuple(parse_length(text, unit="m") for text in found.groups()), around


def test_a_stepped_array_is_moved_by_the_least_that_does():
    at, _ = moved()
    assert fits(JOB, mound, at)
    length = math.hypot(*at)
    for angle in np.linspace(0, math.tau, 13):
        for share in (0.6, 1 - 2 * TWO_MM / length):
            there = (share * length * math.cos(angle), share * length * math.sin(angle))
            assert not fits(JOB, mound, there), (there, length)


def test_a_stepped_array_is_not_moved_to_a_line():
    free, _ = moved()
    there = sections_of(JOB, placed_en_m=free, ground=FormulaGround(mound))
    outlines = [print_of(y.shape, y.placed, Needs(), 0.0, y.placed_en_m).outlines_en_m[0] for y, _ in there]
    ys = np.vstack(outlines)[:, 1]
    # A fence a little nearer than its setback to where the free shift would carry the modules.
    y = float(ys.max() + 0.47 if free[1] > 0 else ys.min() - 0.47)
    at, around = moved(((-30.0, y), (40.0, y)))
    laid = sections_of(JOB, placed_en_m=at, ground=FormulaGround(mound))
    assert not not_kept(laid, around)
    assert not_kept(there, around)
    assert math.hypot(*at) > math.hypot(*free)
