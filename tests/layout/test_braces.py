"""Braces of tall posts, against the check values' frame by hand and plain 3-D vectors."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import numpy as np
import pytest
from yards import FT, IN, check_job, laid_out, level_ground, sloping_ground

from staking.base.errors import WrongInput
from staking.book.folder import read_book
from staking.book.records import Braces
from staking.layout.braces import braced
from staking.plan import planned
from staking.remarks import brace_remarks
from staking.results import results
from staking.sheets.beam_table import beam_sheet
from staking.sheets.notation import Notation
from staking.sheets.table import Table

SAMPLE = Path(__file__).parents[2] / "sample_surveys" / "hand_check"


def wanted(**changed):
    values = {"over_m": 4 * FT, "from_top_m": 8 * IN, "above_grade_m": 12 * IN, "to": ("low",)}
    return Braces(**{**values, **changed})


def test_on_level_ground_by_hand():
    # Check values of docs/layout.md: high posts 5.689 ft over grade, the run between beams
    # (9.4 - 1.9) cos 28 = 6.6221 ft; the brace climbs 5.689 - 8/12 - 1 = 4.0223 ft: 7.7480 ft, 31.27 degrees.
    found = braced(laid_out(check_job(), level_ground), wanted())
    assert [(one.post, one.to) for one in found.braces] == [(f"B{k}", f"A{k}") for k in range(1, 6)]
    for one in found.braces:
        assert one.length_m / FT == pytest.approx(7.748, abs=0.001)
        assert math.degrees(one.above_level_rad) == pytest.approx(31.27, abs=0.01)
    assert found.without == ()


def test_on_a_slope_between_points_in_space():
    fit = laid_out(check_job(max_cross_slope_deg=5), sloping_ground)
    found = braced(fit, wanted(to=("low", "left", "right")))
    at = {name: k for k, name in enumerate(fit.piers.names)}
    assert len(found.braces) == 5 + 4 + 4
    for one in found.braces:
        k, other = at[one.post], at[one.to]
        high = np.array([*fit.piers.en_m[k], fit.lengths.top_m[k] - 8 * IN])
        foot = np.array([*fit.piers.en_m[other], fit.lengths.ground_m[other] + 12 * IN])
        assert one.length_m == pytest.approx(float(np.linalg.norm(high - foot)), abs=1e-12)


def test_its_error_is_that_of_a_thousand_draws():
    fit = laid_out(check_job(), level_ground, sd_m=0.02)
    (one, *_) = braced(fit, wanted()).braces
    rng = np.random.default_rng(3)
    run = one.length_m * math.cos(one.above_level_rad)
    rise = one.length_m * math.sin(one.above_level_rad)
    drawn = np.hypot(run, rise + rng.normal(0, fit.lengths.sd_top_m, 9000) - rng.normal(0, 0.02, 9000))
    assert one.sd_m == pytest.approx(float(drawn.std()), rel=0.03)


@pytest.mark.parametrize(
    ("changed", "braces", "without"),
    [
        ({"over_m": 6 * FT}, 0, ()),  # no post is so tall
        ({"to": ("high",)}, 0, tuple(f"B{k}" for k in range(1, 6))),  # nothing above the high beam
        ({"to": ("left",)}, 4, ("B1",)),
        ({"above_grade_m": 3 * FT}, 0, tuple(f"B{k}" for k in range(1, 6))),  # over the low posts' tops
        ({"from_top_m": 5 * FT}, 0, tuple(f"B{k}" for k in range(1, 6))),  # would not climb
        ({"over_m": 2 * FT, "to": ("high",)}, 0, None),
    ],
)
def test_posts_without_a_brace_are_told(changed, braces, without):
    found = braced(laid_out(check_job(), level_ground), wanted(**changed))
    if without is None:  # low posts to the high ones' feet: their own tops are 2.168 ft up, 8 in down
        assert {one.post[0] for one in found.braces} == {"A"}
        return
    assert (len(found.braces), found.without) == (braces, without)
    assert bool(brace_remarks(found)) is bool(without)


def test_a_fixing_that_is_not_given_is_asked_for(tmp_path):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLE, folder)
    job = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(f'{job}\n[braces]\nover = 1.2\nto = "low"\n', encoding="utf-8")
    with pytest.raises(WrongInput) as caught:
        read_book(folder)
    assert [one.column for one in caught.value.mistakes] == ["braces.from_top", "braces.above_grade"]


def test_the_beam_sheet_and_the_results_tell_them(tmp_path):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLE, folder)
    job = (folder / "job.toml").read_text(encoding="utf-8")
    keys = 'over = 1.2\nfrom_top = 0.2\nabove_grade = 0.3\nto = ["low", "left"]'
    (folder / "job.toml").write_text(f"{job}\n[braces]\n{keys}\n", encoding="utf-8")
    plan = planned(read_book(folder))
    sheet = beam_sheet(plan, plan.arrays[0], notation=Notation(style="metric"))
    table = next(one for one in sheet.blocks if isinstance(one, Table) and "Braces" in one.title)
    told = results(plan)["braces"]
    assert len(told) == 5
    assert [(row[0], row[1], row[2]) for row in table.rows] == [
        (one["post"], one["to"], f"{1000 * one['length']:.0f}") for one in told
    ]


def test_without_the_table_there_are_none():
    assert braced(laid_out(check_job(), level_ground), Braces()).braces == ()
