"""The map as a drawing: true to scale, nothing lost, nothing twice in one place."""

import math
from dataclasses import replace

import numpy as np
import pytest
import synthetic_plan as synthetic

from staking.base.units import format_length
from staking.sheets.drawing import Circle, Line, Text
from staking.sheets.letters import CAP_HEIGHT, DESCENT, MM_PER_PT, text_width_mm
from staking.sheets.map_scale import largest_scale
from staking.sheets.pack import pack
from staking.sheets.sheet import MARGIN_MM

PAPER_MM = 1e-6


def _drawing(plan, **keys):
    return pack(plan, **keys).drawings[0][1]


def _circles(drawing, layer):
    return [item for item in drawing.items if isinstance(item, Circle) and item.layer == layer]


def _in_window(drawing, items):
    frame = next(i for i in drawing.items if isinstance(i, Line) and i.layer == "frame")
    (left, bottom), (right, top) = frame.xy_mm[0], frame.xy_mm[2]
    return [i for i in items if left <= i.xy_mm[0] <= right and bottom <= i.xy_mm[1] <= top]


@pytest.mark.parametrize("show", ["feet-inches", "decimal feet", "metric"])
def test_distances_on_paper_times_the_scale_are_those_on_the_ground(show):
    plan = synthetic.full_plan(show=show)
    drawing = _drawing(plan)
    drawn = _in_window(drawing, _circles(drawing, "piers"))
    piers = plan.arrays[0].fit.piers.en_m
    assert len(drawn) == len(piers)
    paper = np.array([c.xy_mm for c in drawn])
    for i in range(len(piers)):
        for j in range(i):
            ground = np.linalg.norm(piers[i] - piers[j])
            assert np.linalg.norm(paper[i] - paper[j]) * drawing.scale / 1000.0 == pytest.approx(
                ground, abs=PAPER_MM
            )
    # North is up and east to the right: neither mirrored nor turned.
    turn = (paper - paper[0]) * drawing.scale / 1000.0 - (piers - piers[0])
    assert abs(turn).max() < PAPER_MM


@pytest.mark.parametrize(
    ("style", "ratio", "words"),
    [("feet-inches", 48, "1/4\" = 1'"), ("decimal feet", 60, "1 in = 5 ft"), ("metric", 50, "")],
)
def test_scales_are_those_of_a_scale_rule(style, ratio, words):
    # 9 m by 4 m into 190 by 120 mm needs 1:47.4.
    found = largest_scale(width_m=9.0, height_m=4.0, width_mm=190.0, height_mm=120.0, style=style)
    assert found.ratio == ratio
    assert found.rule == words


def test_rule_words_agree_with_the_ratio():
    from fractions import Fraction

    from staking.sheets.map_scale import _BY_STYLE

    for style in ("feet-inches", "decimal feet"):
        ratios = [ratio for ratio, _ in _BY_STYLE[style]]
        assert ratios == sorted(set(ratios))
        for ratio, words in _BY_STYLE[style]:
            paper, ground = words.replace('"', "").replace(" in", "").replace("'", "").split(" = ")
            assert Fraction(ground.replace(" ft", "")) * 12 / Fraction(paper) == ratio


def test_extent_beyond_every_standard_scale_still_fits():
    found = largest_scale(width_m=9e5, height_m=1.0, width_mm=190.0, height_mm=120.0, style="metric")
    assert 9e5 / found.ratio * 1000.0 <= 190.0


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("azimuth", [90.0, 135.0, 172.0, 200.0, 270.0, 355.0])
def test_no_text_lies_on_another_whichever_way_the_array_faces(azimuth, paper):
    _assert_texts_apart(_drawing(synthetic.full_plan(azimuth_deg=azimuth), paper=paper))


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("show", ["feet-inches", "metric"])
def test_no_text_lies_on_another_on_a_crowded_map(show, paper):
    plan = synthetic.long_plan(show=show)
    key, *parts = [sheet.drawing for sheet in pack(plan, paper=paper).sheets if sheet.name == "stakeout_map"]
    assert parts
    names = []
    _assert_texts_apart(key)
    for drawing in parts:
        _assert_texts_apart(drawing)
        texts = [t.text for t in drawing.items if isinstance(t, Text)]
        assert "in the tables only" not in " ".join(texts)
        names += [t for t in drawing.items if isinstance(t, Text) and t.layer == "pier names"]
    # Each of the 50 piers has a name and a length on one of the parts.
    assert sum(t.strong for t in names) == 50
    assert len(names) == 100


def _assert_texts_apart(drawing):
    boxes = [(_box(t), t) for t in drawing.items if isinstance(t, Text)]
    for i, (a, first) in enumerate(boxes):
        assert a[0] >= MARGIN_MM - 0.5
        assert a[2] <= drawing.width_mm - MARGIN_MM + 0.5
        for b, second in boxes[i + 1 :]:
            touch = a[0] < b[2] and a[2] > b[0] and a[1] < b[3] and a[3] > b[1]
            assert not touch, (first.text, second.text)


def _box(text):
    width = text_width_mm(text.text, size_pt=text.size_pt, strong=text.strong)
    left = {"start": 0.0, "middle": -width / 2, "end": -width}[text.anchor]
    low, high = -0.5 * DESCENT * text.size_pt * MM_PER_PT, CAP_HEIGHT * text.size_pt * MM_PER_PT
    c, s = math.cos(math.radians(text.turn_deg)), math.sin(math.radians(text.turn_deg))
    corners = [(left, low), (left + width, low), (left, high), (left + width, high)]
    xs = [text.xy_mm[0] + c * x - s * y for x, y in corners]
    ys = [text.xy_mm[1] + s * x + c * y for x, y in corners]
    return min(xs), min(ys), max(xs), max(ys)


@pytest.mark.parametrize("azimuth", [90.0, 172.0, 270.0])
def test_no_name_lies_on_a_pier_a_pin_or_a_hub(azimuth):
    drawing = _drawing(synthetic.full_plan(azimuth_deg=azimuth))
    signs = [
        (*np.min(item.xy_mm, axis=0), *np.max(item.xy_mm, axis=0))
        for item in drawing.items
        if isinstance(item, Line) and item.layer in ("piers", "pins", "hubs")
    ]
    for text in drawing.items:
        if isinstance(text, Text) and text.layer in ("pier names", "pin names"):
            a = _box(text)
            assert not any(a[0] < b[2] and a[2] > b[0] and a[1] < b[3] and a[3] > b[1] for b in signs), text


def test_every_pier_has_its_name_and_above_grade_length_by_it():
    plan = synthetic.full_plan()
    drawing = _drawing(plan)
    fit = plan.arrays[0].fit
    at = {t.text: t.xy_mm for t in drawing.items if isinstance(t, Text) and t.strong}
    circles = _in_window(drawing, _circles(drawing, "piers"))
    for name, circle, above in zip(fit.piers.names, circles, fit.lengths.above_grade_m, strict=True):
        texts = [t for t in drawing.items if isinstance(t, Text) and t.layer == "pier names"]
        length = next(t for t in texts if t.text == format_length(float(above), style="feet-inches"))
        assert math.dist(at[name], circle.xy_mm) < 30.0
        assert math.dist(length.xy_mm, at[name]) < 16.0


def test_contours_run_where_the_ground_has_their_elevation():
    plan = synthetic.full_plan()
    drawing = _drawing(plan)
    circles = _in_window(drawing, _circles(drawing, "piers"))
    origin = np.array(circles[0].xy_mm) - plan.arrays[0].fit.piers.en_m[0] * 1000.0 / drawing.scale
    lines = [i for i in drawing.items if isinstance(i, Line) and i.layer == "contours"]
    assert len(lines) >= 4
    for line in lines:
        en = (np.array(line.xy_mm) - origin) * drawing.scale / 1000.0
        z = plan.ground.z(en)
        # One foot apart; the grid is 2.5 mm on paper, so the hump is met to a few centimetres.
        step = z.mean() / 0.3048
        assert abs(step - round(step)) < 0.1
        assert np.ptp(z) < 0.06
        assert not plan.ground.outside(en * 0.999).any()


def test_contours_stop_where_the_shots_do():
    plan = synthetic.full_plan()
    nowhere = replace(plan, ground=synthetic.Slope(low=(500.0, 500.0), high=(501.0, 501.0)))
    assert not [i for i in _drawing(nowhere).items if i.layer == "contours"]
    assert [i for i in _drawing(plan).items if i.layer == "contours"]


def test_without_ground_or_arrays_a_survey_still_has_its_map():
    plan = replace(synthetic.survey_plan(), ground=None)
    drawing = _drawing(plan)
    assert "G1" in [t.text for t in drawing.items if isinstance(t, Text)]


def test_nothing_placed_in_plan_gives_no_map():
    plan = synthetic.survey_plan()
    points = plan.adjustment.points
    levels_only = replace(
        points, enz_m=np.column_stack([np.full((len(points.names), 2), np.nan), points.enz_m[:, 2]])
    )
    bare = pack(replace(plan, adjustment=replace(plan.adjustment, points=levels_only)))
    assert bare.drawings == ()
    names = [s.name for s in bare.sheets]
    assert names == ["cover", "control", "north", "form_levels", "form_tapes"]


def test_magnetic_north_is_drawn_west_of_true_north_where_declination_is_west():
    # WMM2025 at 42.4 N, 72.6 W in October 2026: about 13 degrees west.
    texts = [t.text for t in _drawing(synthetic.full_plan()).items if isinstance(t, Text)]
    assert any(t.startswith("magnetic 13.") and t.endswith("W") for t in texts)
    assert "± 0.4° on 2026-10-03" in texts
    assert "model to 2030-01-01" in texts
    arrow = next(
        i
        for i in _drawing(synthetic.full_plan()).items
        if isinstance(i, Line) and i.layer == "north" and i.dash == "dashed"
    )
    (x0, y0), (x1, y1) = arrow.xy_mm
    assert math.degrees(math.atan2(x1 - x0, y1 - y0)) == pytest.approx(-13.4, abs=0.5)


def test_without_a_date_there_is_no_magnetic_arrow():
    plan = synthetic.full_plan()
    site = replace(plan.book.job.site, date=None)
    undated = replace(plan, book=replace(plan.book, job=replace(plan.book.job, site=site)))
    texts = [t.text for t in _drawing(undated).items if isinstance(t, Text)]
    assert not any("magnetic" in t for t in texts)
    assert "not dated" in texts


def test_lost_pins_are_not_drawn():
    from staking.book.records import LostRow

    plan = synthetic.full_plan()
    lost = LostRow(table="lost.csv", row=2, point=" p3 ")
    texts = [
        t.text
        for t in _drawing(replace(plan, book=replace(plan.book, lost=(lost,)))).items
        if isinstance(t, Text)
    ]
    assert "P3" not in texts
    assert "P2" in texts


def test_lines_to_keep_clear_of_are_drawn_and_named():
    from staking.book.records import LineRow

    plan = synthetic.full_plan()
    row = LineRow(table="lines.csv", row=2, line="gas", kind="buried", points=("P1", "P3"))
    drawing = _drawing(replace(plan, book=replace(plan.book, lines=(row,))))
    texts = [t.text for t in drawing.items if isinstance(t, Text)]
    assert "buried line gas" in texts
    assert any(isinstance(i, Line) and i.layer == "buried" for i in drawing.items)
