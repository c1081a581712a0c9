"""Sections, as-built sheet, what must be true: against the plan, by hand, and measured on paper."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from level_texts import assert_apart, boxes_of

from staking.book.folder import read_book
from staking.plan import planned
from staking.sheets.drawing import Line, Text
from staking.sheets.notation import Notation
from staking.sheets.pack import pack
from staking.sheets.section_lines import line_sections, row_sections
from staking.sheets.section_sheet import section_sheets
from staking.sheets.true_table import along_m, off_mark_table, true_table

SAMPLES = Path(__file__).parents[2] / "sample_surveys"
YARDS = ("cross_fall", "hand_check", "planted_blunder", "real_hillside")


@cache
def plan_of(name):
    return planned(read_book(SAMPLES / name))


@pytest.mark.parametrize("name", YARDS)
def test_posts_stand_a_bay_apart_and_end_a_takeout_below_the_beam(name):
    # geometry.md, Piers: the bay in plan is P cos γ; the top stands a takeout, plumb, below the centreline.
    plan = plan_of(name)
    array = plan.arrays[0]
    fit, takeout = array.fit, array.job.frame.takeout_m
    for section in row_sections(plan, array):
        along = np.array([post.s_m for post in section.posts])
        assert np.diff(along) == pytest.approx(fit.bay_m * math.cos(fit.plane.cross_slope_rad), abs=1e-9)
        (a, z), (b, until) = section.heavy
        for post in section.posts:
            centre = z + (until - z) * (post.s_m - a) / (b - a)
            assert centre - post.top_m == pytest.approx(takeout, abs=1e-9)
            assert post.top_m - post.ground_m == pytest.approx(post.above_grade_m)


@pytest.mark.parametrize("name", YARDS)
def test_nothing_under_the_modules_is_nearer_than_the_least_clearance(name):
    plan = plan_of(name)
    array = plan.arrays[0]
    nearest = []
    for section in line_sections(plan, array):
        (a, z), (b, until) = section.heavy
        for piece in (*section.shot, *section.guessed):
            for s, ground in piece:
                if a <= s <= b:
                    nearest.append(z + (until - z) * (s - a) / (b - a) - ground)
    # Half a millimetre: the least clearance is searched for on a grid finer than the section's own steps.
    assert min(nearest) >= array.fit.clearance_m - 0.0005
    assert min(nearest) < array.fit.clearance_m + 0.5


def test_lips_on_an_even_slope_by_hand():
    # hand_check is an even plane: what it falls across the hole is its gradient times the diameter.
    plan = plan_of("hand_check")
    array = plan.arrays[0]
    fit = array.fit
    ground = np.linalg.lstsq(
        np.column_stack([fit.piers.en_m, np.ones(len(fit.piers.names))]), fit.lengths.ground_m, rcond=None
    )[0]
    facing = fit.plane.azimuth_rad
    right, back = (-math.cos(facing), math.sin(facing)), (-math.sin(facing), -math.cos(facing))
    wide = plan.book.job.footing.hole_diameter_m
    for sections, way in ((row_sections(plan, array), right), (line_sections(plan, array), back)):
        for section in sections:
            for post in section.posts:
                low, high = post.lips_m
                assert high - low == pytest.approx(wide * float(ground[:2] @ way), abs=0.0005)
                assert (low + high) / 2.0 == pytest.approx(post.ground_m)


@pytest.mark.parametrize("name", YARDS)
def test_every_pier_has_its_row_and_its_line_and_its_numbers(name):
    plan = plan_of(name)
    array, notation = plan.arrays[0], Notation(style=plan.book.job.site.show)
    sheets = [sheet for sheet in pack(plan).sheets if sheet.name == "sections"]
    said = [item.text for s in sheets for item in s.drawing.items if isinstance(item, Text)]
    for i, pier in enumerate(array.fit.piers.names):
        assert said.count(pier) == 2
        assert said.count(notation.place(float(array.fit.lengths.top_m[i]))) >= 2
        assert said.count(notation.length(float(array.fit.lengths.above_grade_m[i]))) >= 2


@pytest.mark.parametrize("name", YARDS)
def test_posts_are_as_far_apart_and_as_tall_on_paper_as_the_scale_says(name):
    plan = plan_of(name)
    fit = plan.arrays[0].fit
    rows = next(s for s in pack(plan).sheets if s.title == "Sections along the rows")
    posts = [item for item in rows.drawing.items if isinstance(item, Line) and item.layer == "posts"]
    first, second = posts[0].xy_mm[0], posts[1].xy_mm[0]
    apart_m = (second[0] - first[0]) * rows.drawing.scale / 1000.0
    # A tenth of a millimetre on paper.
    assert apart_m == pytest.approx(
        fit.bay_m * math.cos(fit.plane.cross_slope_rad), abs=1e-4 * rows.drawing.scale
    )
    assert any("heights alike" in i.text for i in rows.drawing.items if isinstance(i, Text))
    tall_mm = posts[0].xy_mm[1][1] - posts[0].xy_mm[0][1]
    hole = plan.arrays[0].holes[0]
    length_m = float(fit.lengths.above_grade_m[0]) + hole.hole_depth_m - hole.bottom_cover_m
    assert tall_mm == pytest.approx(1000.0 * length_m / rows.drawing.scale, abs=0.1)


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("name", YARDS)
def test_no_two_texts_of_a_section_meet(name, paper):
    plan = plan_of(name)
    made = pack(plan, paper=paper)
    sheets = section_sheets(
        plan,
        plan.arrays[0],
        paper=paper,
        block=made.title_block,
        notation=Notation(style=plan.book.job.site.show),
    )
    for sheet in sheets:
        assert_apart(boxes_of(item for item in sheet.drawing.items if isinstance(item, Text)))


def test_how_far_a_post_may_stand_off_its_mark_by_hand():
    # cross_fall: hole 12 in, post 2.375 in, side cover 3 in: (12 - 2.375) / 2 - 3 = 1.8125 in.
    plan = plan_of("cross_fall")
    notation = Notation(style="feet-inches")
    table = off_mark_table(plan, plan.arrays[0], notation=notation)
    assert {row[1] for row in table.rows} == {'1-13/16"'}
    assert [row[0] for row in table.rows] == list(plan.arrays[0].fit.piers.names)
    rows = {row[0]: row[1] for row in true_table(plan, plan.arrays[0], notation=notation).rows}
    assert rows["The hole against its post"] == '1-13/16"'
    assert rows["A post's top against its neighbour's"] == '1/8"'  # [tolerance] neighbours, not given.


@pytest.mark.parametrize("name", YARDS)
def test_a_post_shifted_as_far_as_it_may_is_as_near_to_a_rail_or_joint_as_allowed(name):
    plan = plan_of(name)
    array = plan.arrays[0]
    frame, pipe = array.job.frame, plan.book.job.pipe
    for beam in array.fit.beams:
        joints = plan.cuts.joints_m.get(array.beam_name(beam.letter), ())
        for k, post in enumerate(beam.posts_m):
            for way, shift in zip((-1.0, 1.0), along_m(plan, array, beam, k, joints), strict=True):
                if shift is None:
                    assert all((at - post) * way < 0.0 for at in (*beam.rails_m, *joints))
                    continue
                now = post + way * shift
                rails = min(abs(at - now) for at in beam.rails_m) - frame.rail_clear_m
                others = [abs(at - now) - pipe.joint_clear_m for at in joints]
                assert min([rails, *others]) == pytest.approx(0.0, abs=1e-9) or shift == 0.0


def test_as_built_has_every_top_and_room_to_write():
    plan = plan_of("cross_fall")
    sheet = next(s for s in pack(plan).sheets if s.name == "as_built")
    table = sheet.blocks[1]
    tops = [Notation(style="feet-inches").length(float(t)) for t in plan.arrays[0].fit.lengths.top_m]
    assert [row[1] for row in table.rows] == tops
    blank = [column.name for column in table.columns if column.kind == "blank"]
    assert blank == ["rod", "hi", "top", "difference", "verdict", "by", "note"]
