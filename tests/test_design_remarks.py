"""Values that are allowed but odd are asked about; ordinary ones are not."""

import math
from dataclasses import replace
from pathlib import Path

from staking.book.folder import read_book
from staking.remarks import design_remarks

JOB = read_book(Path(__file__).parent.parent / "sample_surveys" / "real_hillside").job


def asked(pipe=None, **fit):
    [array] = JOB.arrays
    job = replace(JOB, arrays=(replace(array, fit=replace(array.fit, **fit)),))
    return design_remarks(replace(job, pipe=replace(JOB.pipe, **(pipe or {}))))


def test_an_ordinary_design_raises_no_question():
    assert asked() == ()


def test_each_odd_value_raises_one_question_that_names_it():
    for key, remarks in (
        ("fit.clearance is -50 mm", asked(clearance_m=-0.05)),
        ("fit.above_grade_min is -100 mm", asked(above_grade_min_m=-0.1)),
        ("fit.max_cross_slope is 89.0", asked(max_cross_slope_rad=math.radians(89))),
        ("pipe.kerf is 914 mm", asked(pipe={"kerf_m": 0.9144})),
    ):
        [remark] = remarks
        assert key in remark
    assert asked(beams="level", max_cross_slope_rad=math.radians(89)) == ()
