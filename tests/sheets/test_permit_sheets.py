"""What a permit desk asks for: drawn to scale, each answer from the plan, and each gap said."""

from __future__ import annotations

import math
import re
import shutil
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from level_texts import assert_apart, boxes_of

from staking.book.folder import read_book
from staking.plan import planned
from staking.sheets.drawing import Line, Text
from staking.sheets.letters import MM_PER_PT, text_width_mm
from staking.sheets.notation import Notation
from staking.sheets.pack import pack
from staking.sheets.permit_plan import setbacks
from staking.sheets.permit_table import NOT_GIVEN, lowest_edge_m, plan_size_m
from staking.sheets.section_lines import line_sections

SAMPLES = Path(__file__).parents[2] / "sample_surveys"
YARDS = ("cross_fall", "hand_check", "planted_blunder", "real_hillside")


@cache
def made(name):
    plan = planned(read_book(SAMPLES / name))
    return plan, pack(plan)


def sheet_of(name, kind):
    return next(sheet for sheet in made(name)[1].sheets if sheet.name == kind)


def lines_of(sheet, layer):
    return [item for item in sheet.drawing.items if isinstance(item, Line) and item.layer == layer]


@pytest.mark.parametrize("name", YARDS)
def test_the_outline_in_plan_is_the_field_foreshortened(name):
    # geometry.md: the field is turned by the tilt about the beams, and lies along u and up v.
    array = made(name)[0].arrays[0]
    plane, design = array.fit.plane, array.job.array
    wide, deep = plan_size_m(array)
    assert wide == pytest.approx(design.width_m * math.cos(plane.cross_slope_rad), abs=1e-6)
    assert deep == pytest.approx(design.height_m * math.cos(plane.tilt_rad), rel=2e-3)


def test_the_lowest_edge_of_level_beams_is_the_low_end_of_every_section():
    plan, _ = made("planted_blunder")
    array = plan.arrays[0]
    assert array.fit.plane.cross_slope_rad == 0.0
    for section in line_sections(plan, array):
        assert lowest_edge_m(array) == pytest.approx(section.heavy[0][1], abs=1e-9)


@pytest.mark.parametrize("name", YARDS)
def test_the_footing_is_drawn_to_its_scale(name):
    plan, _ = made(name)
    sheet = sheet_of(name, "permit_detail")
    said = [item.text for item in sheet.drawing.items if isinstance(item, Text)]
    at = next(re.search(r"as at (\S+)", text)[1] for text in said if "as at" in text)
    ratio = int(next(re.search(r"Scale 1:(\d+)", text)[1] for text in said if text.startswith("Scale")))
    hole = next(hole for hole in plan.arrays[0].holes if hole.pier == at)
    (corners,) = (np.array(item.xy_mm) for item in lines_of(sheet, "hole"))
    wide_mm = np.ptp(corners[:, 0])
    assert wide_mm * ratio / 1000.0 == pytest.approx(plan.book.job.footing.hole_diameter_m, abs=1e-4 * ratio)
    # The two lips lie as much above as below the middle.
    middle = (corners[0, 1] + corners[3, 1]) / 2.0
    assert (middle - corners[1, 1]) * ratio / 1000.0 == pytest.approx(hole.hole_depth_m, abs=1e-4 * ratio)
    (post,) = (np.array(item.xy_mm) for item in lines_of(sheet, "post"))
    i = plan.arrays[0].fit.piers.names.index(at)
    above_mm = post[:, 1].max() - middle
    above_m = float(plan.arrays[0].fit.lengths.above_grade_m[i])
    assert above_mm * ratio / 1000.0 == pytest.approx(above_m, abs=1e-4 * ratio)


@pytest.mark.parametrize("name", YARDS)
def test_the_outline_on_the_site_plan_measures_what_its_dimensions_say(name):
    plan, _ = made(name)
    sheet, notation = sheet_of(name, "permit_plan"), Notation(style=plan.book.job.site.show)
    said = [i.text for i in sheet.drawing.items if isinstance(i, Text) and i.layer == "dimensions"]
    outline = plan.arrays[0].fit.modules_outline_en_m
    sides = [float(np.hypot(*(outline[k] - outline[k - 1]))) for k in (3, 2)]
    assert said == [notation.words(side) for side in sides]
    edges = lines_of(sheet, "modules")
    longest = max(math.dist(a, b) for item in edges for a, b in pairwise(item.xy_mm))
    # A tenth of a millimetre on paper.
    assert longest * sheet.drawing.scale / 1000.0 == pytest.approx(max(sides), abs=1e-4 * sheet.drawing.scale)


@pytest.mark.parametrize("name", YARDS)
def test_what_is_not_known_says_so(name):
    plan, _ = made(name)
    table = sheet_of(name, "permit").blocks[1]
    answers = dict(table.rows)
    for asked in ("Address and parcel number", "Existing buildings", "Trench route and equipment"):
        assert answers[asked].startswith(NOT_GIVEN)
    assert (plan.book.job.footing.frost_depth_m is None) == answers["Frost depth"].startswith(NOT_GIVEN)
    assert not plan.book.lines
    assert answers["Property lines"].startswith(NOT_GIVEN)
    notation = Notation(style=plan.book.job.site.show)
    fit = plan.arrays[0].fit
    assert answers["Array: greatest height above existing grade"] == notation.words(fit.highest_m)
    schedule = sheet_of(name, "permit").blocks[2]
    assert [row[0] for row in schedule.rows] == list(fit.piers.names)
    assert [row[3] for row in schedule.rows] == [notation.length(float(v)) for v in fit.lengths.above_grade_m]


@pytest.mark.parametrize("kind", ["permit_plan", "permit_detail"])
@pytest.mark.parametrize("name", YARDS)
def test_no_two_level_texts_meet(name, kind):
    items = sheet_of(name, kind).drawing.items
    assert_apart(boxes_of(item for item in items if isinstance(item, Text) and item.turn_deg == 0.0))


@pytest.mark.parametrize("low", [False, True])
def test_no_words_of_the_side_view_lie_on_the_ground(low, tmp_path):
    """2026-11-29: of an array that stands low the ground ran through the heights of its edges."""
    shutil.copytree(SAMPLES / "hand_check", tmp_path / "yard")
    job = tmp_path / "yard" / "job.toml"
    text = job.read_text(encoding="utf-8")
    if low:
        text = text.replace("tilt = 30", "tilt = 8").replace("clearance = 0.60", "clearance = 0.2")
        text = text.replace("above_grade_min = 0.50", "above_grade_min = 0.1")
    job.write_text(text, encoding="utf-8")
    sheets = pack(planned(read_book(tmp_path / "yard"))).sheets
    sheet = next(one for one in sheets if one.name == "permit_detail")
    ground = [np.array(item.xy_mm) for item in lines_of(sheet, "ground")]
    for item in sheet.drawing.items:
        if not isinstance(item, Text) or item.layer != "dimensions":
            continue
        wide = text_width_mm(item.text, size_pt=item.size_pt, strong=item.strong)
        x = item.xy_mm[0] - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor]
        for path in ground:
            ends = max(x - 1.0, path[:, 0].min()), min(x + wide + 1.0, path[:, 0].max())
            along = np.linspace(*ends, 50)
            if along[0] <= along[-1]:
                y = np.interp(along, *path[np.argsort(path[:, 0])].T)
                over = (y > item.xy_mm[1] - 0.3) & (y < item.xy_mm[1] + 0.7 * item.size_pt * MM_PER_PT)
                assert not over.any(), item.text


def test_setbacks_of_a_surveyed_parcel_are_drawn_and_told_as_the_lines_sheet_has_them():
    plan, _ = made("tied_meadow")
    notation = Notation(style=plan.book.job.site.show)
    kept = [
        d for d in plan.clearances.distances if d.obstacle == "property line" and d.thing_kind == "modules"
    ]
    (modules,) = kept
    answers = dict(sheet_of("tied_meadow", "permit").blocks[1].rows)
    assert notation.words(modules.distance_m) in answers["Setbacks"]
    assert "10' 0\" to keep" in answers["Setbacks"]
    assert "NOT KEPT" not in answers["Setbacks"]
    sheet = sheet_of("tied_meadow", "permit_plan")
    texts = {item.text for item in sheet.drawing.items if isinstance(item, Text)}
    assert notation.words(modules.distance_m) in texts
    assert {"C1", "C2", "C3", "C4"} <= texts, "the whole parcel is on it"
    ((*_, apart_m),) = setbacks(plan, plan.arrays[0])
    assert apart_m == pytest.approx(modules.distance_m, abs=1e-9)
    lines = [item.xy_mm for item in lines_of(sheet, "dimensions") if len(item.xy_mm) == 2]
    # A tenth of a millimetre on paper.
    assert any(abs(math.dist(*xy) * sheet.drawing.scale / 1000.0 - apart_m) < 1e-4 * 192 for xy in lines)
    # The tree keeps 6 ft clear: a circle 12 ft across.
    (tree,) = (np.array(xy.xy_mm) for xy in lines_of(sheet, "trees"))
    assert np.ptp(tree[:, 0]) * sheet.drawing.scale / 1000.0 == pytest.approx(12 * 0.3048, abs=0.02)


@pytest.mark.parametrize("name", [*YARDS, "tied_meadow"])
def test_nothing_on_a_map_reaches_over_its_frame(name):
    for kind in ("stakeout_map", "permit_plan"):
        for sheet in (sheet for sheet in made(name)[1].sheets if sheet.name == kind):
            (frame,) = (
                i for i in sheet.drawing.items if isinstance(i, Line) and i.layer == "frame" and i.closed
            )
            x, y = np.array(frame.xy_mm).T
            for item in sheet.drawing.items:
                if item.layer in ("pins", "piers", "hubs", "modules", "parts", "trees", "baseline", "beyond"):
                    if isinstance(item, Line):
                        own = np.array(item.xy_mm)
                    else:
                        own = np.array(item.xy_mm) + item.radius_mm * np.array([[-1, -1], [1, 1]])
                    if own[:, 1].max() < y.min():
                        continue  # In the key.
                    assert x.min() - 1e-9 <= own[:, 0].min() <= own[:, 0].max() <= x.max() + 1e-9
                    assert y.min() - 1e-9 <= own[:, 1].min() <= own[:, 1].max() <= y.max() + 1e-9
