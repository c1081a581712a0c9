"""Stepping as what would do: pasted it fits, 2 mm less or a section less does not; so for stepped arrays."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from test_stepping import level, random_ground, stepped_job
from yards import FT, FormulaGround, with_fit

from staking.base.errors import WrongInput
from staking.base.units import parse_length
from staking.book.records import Accuracy, Place
from staking.layout.asking import CountedGround
from staking.layout.fitting import fitted
from staking.layout.frame import NoPlaneFits
from staking.layout.remedies import NOT_ALL_TRIED, _all_of, would_do
from staking.layout.stepped import laid_out, sections_of
from staking.layout.stepping_remedies import stepped_would_do, stepping_would_do

TWO_MM = 0.002
STYLES = ("decimal feet", "feet-inches", "metric")


def bank(x, y):
    return 30 + 0.04 * x + 0.10 * y + 0.5 / (1 + np.exp(-2 * (x - 6)))


def terrace(x, y):
    return 30 + 1.1 * (x > 6.0) + 0.05 * y


def told(job, z_of, style="decimal feet", at=(0.0, 0.0)):
    """What would do: of an array of one plane stepping, of a stepped one breaks, number, step and limits."""
    if not job.fit.stepped:
        assert not fits(job, z_of, at)
        asked = {"placed_en_m": at, "ground": FormulaGround(z_of), "style": style, "ahead": None}
        return _all_of(stepping_would_do(job, **asked))
    return _all_of(stepped_would_do(job, placed_en_m=at, ground=FormulaGround(z_of), style=style))


def fits(job, z_of, at=(0.0, 0.0)):
    return sections_of(job, placed_en_m=at, ground=FormulaGround(z_of))


def offered(would_do, pattern):
    for sentence in would_do:
        if match := re.fullmatch(pattern, sentence):
            return match.groups()
    return None


STEPPING = r'sections = (\d+) with step_max = "([^"]+)" would do'


@pytest.mark.parametrize(
    ("job", "z_of"),
    [
        (stepped_job(7, above_grade_max_m=6.7 * FT), bank),
        (stepped_job(7, above_grade_max_m=6.2 * FT), bank),
        (stepped_job(7), terrace),
        (stepped_job(7, above_grade_max_m=6.2 * FT, max_cross_slope_deg=0.5), bank),
        (stepped_job(7, above_grade_max_m=6.7 * FT, least="tallest"), bank),
    ],
)
@pytest.mark.parametrize("style", STYLES)
def test_stepping_is_offered_with_the_fewest_sections_and_the_least_step(job, z_of, style):
    sections, step = offered(told(job, z_of, style), STEPPING)
    sections, step_m = int(sections), parse_length(step, unit="m")
    pasted = with_fit(job, sections=sections, step_max_m=step_m)
    found = laid_out(pasted, placed_en_m=(0.0, 0.0), ground=FormulaGround(z_of), accuracy=Accuracy())
    assert len(found) == sections
    assert max(abs(one.step_m) for one in found[1:]) <= step_m + 1e-5
    assert not fits(with_fit(pasted, step_max_m=step_m - TWO_MM), z_of)
    assert not any(fits(with_fit(job, sections=fewer), z_of) for fewer in range(1, sections))


def test_where_no_parting_does_none_is_offered():
    job = stepped_job(7, above_grade_max_m=3.0 * FT)
    assert offered(told(job, bank), STEPPING) is None


def test_an_array_placed_by_another_pier_is_placed_by_a1_where_that_stands():
    job = replace(stepped_job(7, above_grade_max_m=6.7 * FT), place=Place(pier="B3", east_m=2.0, north_m=3.0))
    run = (job.frame.beams_at_m[1] - job.frame.beams_at_m[0]) * math.cos(job.array.tilt_rad)
    a = job.array.azimuth_rad
    plan = fitted(
        with_fit(job, above_grade_max_m=20 * FT),
        placed_en_m=(2.0, 3.0),
        ground=FormulaGround(bank),
        accuracy=Accuracy(),
    )
    e, w = np.array([-math.cos(a), math.sin(a)]), np.array([-math.sin(a), -math.cos(a)])
    a1 = np.array([2.0, 3.0]) - 2 * plan.bay_m * e - run * w
    pattern = (
        r'sections = (\d+) with step_max = "([^"]+)", and in \[place\] pier = "A1" with east = "([^"]+)" '
        r'with north = "([^"]+)" would do'
    )
    sections, step, east, north = offered(told(job, bank, at=(2.0, 3.0)), pattern)
    at = (parse_length(east, unit="m"), parse_length(north, unit="m"))
    assert math.dist(at, a1) < 0.005
    pasted = replace(
        with_fit(job, sections=int(sections), step_max_m=parse_length(step, unit="m")),
        place=Place(pier="A1", east_m=at[0], north_m=at[1]),
    )
    assert fits(pasted, bank, at)


def stepped_refusals():
    return [
        (stepped_job(7, above_grade_max_m=6.2 * FT, sections=2), bank),
        (stepped_job(7, above_grade_max_m=6.2 * FT, sections=3, step_max_m=0.3), bank),
        (stepped_job(7, sections=2, step_max_m=0.3), terrace),
        (stepped_job(7, above_grade_max_m=6.7 * FT, break_after=(2,)), bank),
        (stepped_job(7, above_grade_max_m=5.5 * FT, sections="auto"), bank),
        (stepped_job(7, above_grade_max_m=6.7 * FT, sections="auto", step_max_m=0.1), bank),
        (stepped_job(7, above_grade_max_m=6.7 * FT, clearance_m=0.8, sections=2), bank),
        (stepped_job(7, above_grade_max_m=9 * FT, highest_m=2.0, sections=2), bank),
        (stepped_job(7, above_grade_min_m=1.2, clearance_m=0.1, above_grade_max_m=2.2, sections=2), bank),
    ]


@pytest.mark.parametrize("which", range(9))
@pytest.mark.parametrize("style", STYLES[:2])
def test_what_would_do_for_a_stepped_array_does_and_two_millimetres_less_does_not(which, style):
    job, z_of = stepped_refusals()[which]
    would_do = told(job, z_of, style)
    assert would_do
    for key, inward in (
        ("above_grade_max", -1),
        ("highest", -1),
        ("above_grade_min", 1),
        ("clearance", 1),
        ("step_max", -1),
    ):
        if (got := offered(would_do, rf'{key} = "([^"]+)" would do')) is not None:
            value = parse_length(got[0], unit="m")
            assert fits(with_fit(job, **{f"{key}_m": value}), z_of), key
            assert not fits(with_fit(job, **{f"{key}_m": value + inward * TWO_MM}), z_of), key
    if (got := offered(would_do, r"sections = (\d+) would do")) is not None:
        assert fits(with_fit(job, sections=int(got[0])), z_of)
        assert not any(
            fits(with_fit(job, sections=n), z_of) for n in range(1, int(got[0])) if n != job.fit.sections
        )
    if (got := offered(would_do, r"break_after = \[([\d, ]+)\] would do")) is not None:
        assert fits(with_fit(job, break_after=tuple(map(int, got[0].split(", ")))), z_of)
    assert all(
        re.match(r"(above_grade_max|highest|above_grade_min|clearance|step_max|sections|break_after) = ", one)
        for one in would_do
    )


def test_every_kind_is_offered_somewhere():
    every = [one for job, z_of in stepped_refusals() for one in told(job, z_of)]
    for key in (
        "above_grade_max",
        "highest",
        "above_grade_min",
        "clearance",
        "step_max",
        "sections",
        "break_after",
    ):
        assert any(one.startswith(f"{key} = ") for one in every), key


def test_on_kriged_like_random_grounds_what_is_offered_holds():
    offers = 0
    for seed in range(20, 32):
        z_of = random_ground(np.random.default_rng(seed))
        job = stepped_job(7, above_grade_max_m=1.9)
        if fits(job, z_of):
            continue
        got = offered(told(job, z_of), STEPPING)
        if got is None:
            assert not any(fits(with_fit(job, sections=n), z_of) for n in (2, 3))
            continue
        offers += 1
        pasted = with_fit(job, sections=int(got[0]), step_max_m=parse_length(got[1], unit="m"))
        assert fits(pasted, z_of)
        assert not fits(with_fit(pasted, step_max_m=pasted.fit.step_max_m - TWO_MM), z_of)
    assert offers


def test_what_cannot_be_parted_for_its_gap_is_not_offered():
    job = replace(stepped_job(7), frame=replace(stepped_job(7).frame, beam_end_m=0.5))
    with pytest.raises(WrongInput):
        laid_out(
            with_fit(job, sections=2),
            placed_en_m=(0.0, 0.0),
            ground=FormulaGround(level),
            accuracy=Accuracy(),
        )
    assert not any("sections" in one for one in told(job, terrace))


def test_stepping_stands_among_what_else_would_do():
    job = stepped_job(7, above_grade_max_m=6.7 * FT)
    every = would_do(job, placed_en_m=(0.0, 0.0), ground=FormulaGround(bank), style="decimal feet")
    assert offered(every, STEPPING) is not None
    assert any(one.startswith("above_grade_max = ") for one in every)
    with pytest.raises(NoPlaneFits) as caught:
        laid_out(job, placed_en_m=(0.0, 0.0), ground=FormulaGround(bank), accuracy=Accuracy())
    assert any(one.startswith("sections = ") for one in caught.value.would_do)


def test_work_without_end_is_given_up_and_told():
    job = stepped_job(14, above_grade_max_m=4.0 * FT)
    counted = CountedGround(FormulaGround(lambda x, y: 30 + 0.3 * np.sin(x) + 0.04 * x), 20_000)
    asked = {"placed_en_m": (0.0, 0.0), "ground": counted, "style": "metric", "ahead": None}
    assert _all_of(stepping_would_do(job, **asked)) == (NOT_ALL_TRIED,)
