"""Pier cards: every number from the plan, every text inside its card and clear of the others."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from level_texts import assert_apart, boxes_of

from staking.base.units import parse_length
from staking.book.folder import read_book
from staking.plan import planned
from staking.sheets.drawing import Text
from staking.sheets.pack import pack
from staking.sheets.sheet import PAPER_MM

SAMPLES = Path(__file__).parents[2] / "sample_surveys"
YARDS = ("cross_fall", "hand_check", "planted_blunder", "real_hillside")
BARE = {"feet-inches": "ft", "decimal feet": "ft", "metric": "mm"}


def cards(name, paper=None):
    plan = planned(read_book(SAMPLES / name))
    made = pack(plan, paper=paper)
    return plan, made, [sheet for sheet in made.sheets if sheet.name == "pier_cards"]


def texts(sheet, layer=""):
    return [item for item in sheet.drawing.items if isinstance(item, Text) and item.layer.startswith(layer)]


@pytest.mark.parametrize("name", YARDS)
def test_four_a_sheet_and_each_pier_once_with_its_own_cut(name):
    plan, _, sheets = cards(name)
    fit = plan.arrays[0].fit
    assert len(sheets) == -(-len(fit.piers.names) // 4)
    named = [item.text for sheet in sheets for item in texts(sheet, "name")]
    spare = -len(fit.piers.names) % 4
    assert named == [*fit.piers.names, *["Pier"] * spare]
    style = plan.book.job.site.show
    cut = [item.text for sheet in sheets for item in texts(sheet, "cut") if "above grade" not in item.text]
    read_m = [parse_length(re.sub(r" mm$", "", text), unit=BARE[style]) for text in cut if "_" not in text]
    assert read_m == pytest.approx(list(fit.lengths.above_grade_m), abs=0.0016)


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("name", YARDS)
def test_no_text_leaves_its_card_or_meets_another(name, paper):
    _, _, sheets = cards(name, paper)
    width, height = PAPER_MM[paper]
    for sheet in sheets:
        boxes = boxes_of(item for item in texts(sheet) if item.layer != "title")
        assert_apart(boxes)
        for x0, y0, x1, y1, text in boxes:
            half = width / 2.0
            assert (x1 < half) if x0 < half else (x1 < width - 13.0), text
            assert 13.0 < y0 < y1 < height - 13.0


def test_the_pier_sheet_tells_the_concrete_of_all_holes():
    plan, made, _ = cards("cross_fall")
    footing, post_m = plan.book.job.footing, 2.375 * 0.0254
    square_m2 = math.pi / 4 * footing.hole_diameter_m**2
    pipe_m2 = math.pi / 4 * post_m**2
    wanted_m3 = sum(
        square_m2 * hole.hole_depth_m - pipe_m2 * (hole.embedment_m + hole.lip_m)
        for hole in plan.arrays[0].holes
    )
    sheet = next(sheet for sheet in made.sheets if sheet.name == "piers")
    said = next(line for block in sheet.blocks for line in getattr(block, "lines", ()) if "Concrete" in line)
    yards = float(re.search(r"in all ([\d.]+) yd³", said)[1])
    # Rounded up to a hundredth of a cubic yard.
    assert 0.0 <= yards - wanted_m3 / 0.9144**3 < 0.0101


def test_the_cover_names_the_cards_once():
    _, made, sheets = cards("cross_fall")
    assert len(sheets) == 3
    words = [line for block in made.sheets[0].blocks for line in getattr(block, "lines", ())]
    rows = [cell for block in made.sheets[0].blocks for row in getattr(block, "rows", ()) for cell in row]
    assert sum(text.count("Pier cards") for text in (*words, *rows)) == 1


def test_a_card_has_a_check_and_a_stop():
    plan, _, sheets = cards("cross_fall")
    said = " ".join(item.text for item in texts(sheets[0], "check"))
    check = plan.arrays[0].stakeout.marks[0].check
    assert f"Check: {check.point} to this stake" in said
    assert said.count("STOP if the post stands more than") == 4


@pytest.mark.parametrize(("name", "fails"), [("planted_blunder", True), ("cross_fall", False)])
def test_every_card_says_whose_it_is_and_whether_the_survey_fails(name, fails):
    # 2026-11-28: the sheet said that the survey fails; of the cards cut apart from it none did.
    _, made, sheets = cards(name)
    block = made.title_block
    for sheet in sheets:
        here = len(texts(sheet, "name"))
        whose = [item.text for item in texts(sheet, "whose")]
        assert sum(block.fingerprint in text and block.date in text for text in whose) == here
        assert whose.count(block.job) == here
        alarms = [item.text for item in texts(sheet, "alarm")]
        assert alarms == (["SURVEY FAILS ITS TESTS: do not dig or cut yet."] * here if fails else [])
