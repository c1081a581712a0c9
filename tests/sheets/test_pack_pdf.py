"""The PDF as a reader of PDFs sees it: sizes, places, words, bytes."""

import io
import math
import re
from dataclasses import replace
from functools import cache

import numpy as np
import pdfplumber
import pytest
import synthetic_plan as synthetic

from benchmarks.page_boxes import troubles
from staking.base.units import format_length
from staking.formats import typst_pdf
from staking.formats.typst_pdf import SheetsFailed, pdf_bytes
from staking.sheets.labels import GAP_MM
from staking.sheets.pack import pack
from staking.sheets.sheet import MARGIN_MM, PAPER_MM, SMALLEST_PT, Sheet, Words
from staking.sheets.table import Column, Table

MM = 72.0 / 25.4
SET_TO_PT = 0.02
"""A thousandth of a millimetre is the last place of the drawing, and sizes come back rounded."""

SIGNS = 'Yard #1 *<b>* $x_2$ "A" \\ &amp; [y]'
"""A name full of signs that mean something to typesetters."""
LONG = "Émile Żółkiewski-Ångström & søn, très longue ferme d'été über dem Fluß, north field"
PLANS = {
    "feet-inches": lambda: synthetic.full_plan(extra=(("P9", "pin", (80.0, 60.0, 33.0)),)),
    "metric": lambda: synthetic.full_plan(
        name=LONG, show="metric", units="m", cross_slope_deg=3.064, passes=False
    ),
    "survey": lambda: synthetic.survey_plan(name=SIGNS),
}


@cache
def _pack(name):
    return pack(PLANS[name]())


@cache
def _pages(name):
    with pdfplumber.open(io.BytesIO(pdf_bytes(_pack(name)))) as document:
        return [
            {
                "width": page.width,
                "height": page.height,
                "chars": page.chars,
                "text": "\n".join(text for text, _ in _runs(page.chars)),
                "images": page.images,
                "shapes": page.rects + page.curves + page.lines,
            }
            for page in document.pages
        ]


def _page(name, title):
    return next(p for p in _pages(name) if title in p["text"].split("\n"))


def _map(name):
    return next(p for p in _pages(name) if "The bar is 100 mm long" in p["text"])


@pytest.mark.parametrize("name", PLANS)
def test_the_bar_on_the_map_is_100_mm_long(name):
    wide = [s["x1"] - s["x0"] for s in _map(name)["shapes"]]
    assert [w for w in wide if abs(w - 100.0 * MM) <= 0.2]


@pytest.mark.parametrize("name", PLANS)
def test_no_letter_is_smaller_than_nine_points(name):
    for page in _pages(name):
        level = [c["size"] for c in page["chars"] if abs(c["matrix"][1]) < 1e-9 and c["text"].strip()]
        assert min(level) >= SMALLEST_PT - SET_TO_PT
    for _, drawing in _pack(name).drawings:
        assert min(item.size_pt for item in drawing.items if hasattr(item, "size_pt")) >= SMALLEST_PT


def _runs(chars):
    """Return the level texts of a page as drawn, each with its inked box: left, low, right, high."""
    runs = []
    for c in chars:
        if abs(c["matrix"][1]) > 1e-9:
            continue
        base, size = c["y0"] + 0.22 * c["size"], c["size"]
        last = runs[-1] if runs else None
        if last is not None and abs(last[1] - base) < 0.01 and abs(last[3] - c["x0"]) < 0.4 * size:
            last[0], last[3] = last[0] + c["text"], c["x1"]
        else:
            runs.append([c["text"], base, c["x0"], c["x1"], size])
    return [(text, (x0, base - 0.15 * size, x1, base + 0.7 * size)) for text, base, x0, x1, size in runs]


@pytest.mark.parametrize("name", PLANS)
def test_no_words_on_the_map_run_into_each_other(name):
    texts, boxes = zip(*_runs(_map(name)["chars"]), strict=True)
    left, low, right, high = np.array(boxes).T
    touch = (left[:, None] < right) & (right[:, None] > left) & (low[:, None] < high) & (high[:, None] > low)
    np.fill_diagonal(touch, False)
    assert len(texts) > 30
    assert not [(texts[i], texts[j]) for i, j in np.argwhere(touch)]


@pytest.mark.parametrize("name", PLANS)
def test_nothing_is_printed_in_the_margins_or_over_the_title_block(name):
    for page in _pages(name):
        for c in page["chars"]:
            if c["text"].strip():
                assert c["x0"] >= MARGIN_MM * MM - 0.5
                assert c["x1"] <= page["width"] - MARGIN_MM * MM + 0.5
                assert c["top"] >= MARGIN_MM * MM - 1.5
                assert c["bottom"] <= page["height"] - (MARGIN_MM - 1.0) * MM


@pytest.mark.parametrize("name", PLANS)
def test_every_sheet_says_job_date_inputs_benchmark_and_its_number(name):
    pages = _pages(name)
    for n, page in enumerate(pages, start=1):
        assert f"Sheet {n} of {len(pages)}" in page["text"]
        job = {"survey": SIGNS, "metric": LONG[:20]}.get(name, "Miller yard, north field")
        for words in (job, "2026-10-03", "3f9c0a77d21e", "BM1, elevation"):
            assert words in page["text"]


def test_the_map_is_vector_and_its_words_can_be_read():
    page, plan = _map("feet-inches"), PLANS["feet-inches"]()
    assert not page["images"]
    texts = [text for text, _ in _runs(page["chars"])]
    fit = plan.arrays[0].fit
    for pier, above in zip(fit.piers.names, fit.lengths.above_grade_m, strict=True):
        assert pier in texts
        assert format_length(float(above), style="feet-inches") in texts


def test_the_same_pack_gives_the_same_bytes():
    assert pdf_bytes(pack(synthetic.full_plan())) == pdf_bytes(pack(synthetic.full_plan()))


@pytest.mark.parametrize(("name", "paper"), [("feet-inches", "letter"), ("metric", "a4")])
def test_paper_follows_the_notation(name, paper):
    for page in _pages(name):
        assert sorted((page["width"] / MM, page["height"] / MM)) == pytest.approx(
            sorted(PAPER_MM[paper]), abs=0.05
        )


def test_paper_can_be_chosen():
    chosen = pack(synthetic.full_plan(), paper="a4")
    assert chosen.paper == "a4"
    assert sorted((chosen.drawings[0][1].width_mm, chosen.drawings[0][1].height_mm)) == [210.0, 297.0]


def test_numbers_of_a_column_stand_under_each_other():
    chars, ends = _page("feet-inches", "Cutting")["chars"], []
    for k, c in enumerate(chars):
        large = c["size"] == pytest.approx(14.0, abs=0.1)
        # The last figure of the whole inches stands before the fraction's dash, or the mark if there is none.
        before = "".join(d["text"] for d in chars[max(0, k - 3) : k])
        if large and c["text"] in '-"' and before[-1:].isdigit() and "/" not in before:
            ends.append(chars[k - 1]["x1"])
    lengths, cuts = [x for x in ends if x < 340], [x for x in ends if x > 340]
    assert len(lengths) == 15
    assert len(cuts) == 14  # What the marks add up to stands below the table.
    assert max(lengths) - min(lengths) < 0.05
    assert max(cuts) - min(cuts) < 0.05


def test_headings_are_repeated_where_a_table_runs_over_the_page():
    pages = [p for p in _pages("feet-inches") if "Elevation" in p["text"] and "Kind" in p["text"]]
    assert len(pages) == 2
    assert "Control, continued" in pages[1]["text"]


def test_a_typeface_that_is_missing_is_an_error_not_a_blank_sheet(monkeypatch, tmp_path):
    monkeypatch.setattr(typst_pdf, "FONTS", tmp_path)
    with pytest.raises(SheetsFailed, match="font"):
        pdf_bytes(_pack("survey"))


def test_a_letter_that_the_typeface_lacks_is_shown_not_dropped_silently():
    plan = synthetic.survey_plan(name="庭 yard")
    with pdfplumber.open(io.BytesIO(pdf_bytes(pack(plan)))) as document:
        assert "yard" in document.pages[0].extract_text()


def test_failing_survey_is_framed_on_the_cover_and_its_suspect_listed():
    cover, control = _pages("metric")[0], _page("metric", "Control")
    assert "THE SURVEY FAILS ITS TEST" in cover["text"]
    assert "sighted once" in cover["text"]
    for words in ("levels.csv, 14", "5.38", "4.38", "83 %", "FAILS"):
        assert words in control["text"]
    assert "THE SURVEY FAILS" not in "".join(p["text"] for p in _pages("feet-inches"))


def test_every_sheet_says_that_the_survey_fails_and_none_that_it_passes():
    for name, fails in (("metric", True), ("survey", True), ("feet-inches", False)):
        for page in _pages(name):
            assert ("SURVEY FAILS ITS TESTS: see Control" in page["text"]) == fails
    (_, site_map), *_ = _pack("metric").drawings
    assert any("SURVEY FAILS" in getattr(item, "text", "") for item in site_map.items)


def test_survey_alone_has_cover_control_map_and_forms():
    names = [s.name for s in _pack("survey").sheets]
    assert names == ["cover", "control", "north", "stakeout_map", "form_levels", "form_tapes"]
    assert "G17" in _map("survey")["text"]


def test_cover_tells_what_the_plane_is():
    text = _pages("metric")[0]["text"]
    # Third row of the check values of docs/geometry: true tilt 28.154, facing 177.74, skew 57.4 mm.
    for words in ("28.15°", "177.74°", "57 mm", "toward the right", "27.96°"):
        assert words in text
    assert "gives geometry, not strength" in text
    for rule in ("1926.651(b)", "1926.1408", "1926.502(i)", "1926.54", "51 lb|23 kg"):
        assert re.search(rule.replace("(", r"\(").replace(")", r"\)"), text)


def test_a_pin_far_off_is_pointed_at_from_the_edge():
    text = [words for words, _ in _runs(_map("feet-inches")["chars"])]
    assert "P9" in text
    far = math.hypot(80.0, 60.0)
    assert f"{format_length(far, style='feet-inches')} from A1" in text


def test_several_arrays_each_have_their_sheets():
    ground = synthetic.Slope()
    plan = replace(
        synthetic.full_plan(arrays=("low", "high")),
        arrays=(
            synthetic.array_plan(ground, name="low"),
            synthetic.array_plan(ground, name="high", shift=(1.0, 5.0)),
        ),
    )
    made = pack(plan)
    titles = [sheet.title for sheet in made.sheets]
    for title in ("Stakes and offset hubs", "Squareness", "Piers", "Beams and rails"):
        assert [t for t in titles if t.startswith(title)] == [f"{title}, low", f"{title}, high"]
    site_map = replace(made, sheets=tuple(s for s in made.sheets if s.drawing is not None))
    with pdfplumber.open(io.BytesIO(pdf_bytes(site_map))) as document:
        text = [words for words, _ in _runs(document.pages[0].chars)]
    assert "high-B5" in text
    assert "low side of high" in text


def test_the_gap_between_labels_can_be_seen():
    assert GAP_MM >= 0.5


def test_a_long_name_is_cut_off_in_the_title_block_and_whole_on_the_cover():
    cover, *others = _pages("metric")
    assert LONG in cover["text"].split("\n")
    for page in (cover, *others):
        texts, boxes = zip(*_runs(page["chars"]), strict=True)
        label, name = (
            boxes[texts.index("Job")],
            boxes[next(i for i, t in enumerate(texts) if t.endswith("..."))],
        )
        # One line, below its label.
        assert name[3] < label[1]
        assert name[2] < boxes[texts.index("Date")][0]


@pytest.mark.parametrize("name", PLANS)
def test_no_page_that_runs_on_holds_a_few_rows_only(name):
    for page in _pages(name):
        if ", continued" in page["text"]:
            lines = {round(c["top"]) for c in page["chars"]}
            assert len(lines) >= 10


def _paged(*tables):
    """Return how many millimetres each page of a sheet of tables tells."""
    sheets = (Sheet(name="beams", title="Beams", blocks=tables),)
    with pdfplumber.open(io.BytesIO(pdf_bytes(replace(_pack("survey"), sheets=sheets)))) as document:
        return [len(re.findall(r"\d mm", page.extract_text())) for page in document.pages]


def _tables(first, rows, *, wide):
    column = Column(heading="Rail", name="rail", wide=wide)
    return (
        Table(title="Posts", columns=(column,), rows=(("7 in",),) * first),
        Table(title="Rails", columns=(column,), rows=tuple((f"{k} mm",) for k in range(rows))),
    )


def test_a_table_that_fits_stands_whole_on_a_page_and_a_longer_one_begins_where_there_is_room():
    assert _paged(*_tables(30, 22, wide=True)) == [0, 22]
    first, second, third = _paged(*_tables(22, 95, wide=True))
    assert first >= 6
    assert first + second + third == 95
    assert second > 30
    assert third >= 6


def test_a_long_table_leaves_no_few_rows_for_its_last_page():
    for rows in range(38, 60, 3):
        pages = _paged(*_tables(1, rows, wide=True))
        assert sum(pages) == rows
        assert min(pages) >= 6 or len(pages) == 1


def test_a_narrow_table_is_set_in_columns_side_by_side_where_that_saves_a_page():
    # 2026-11-28: story pole and rails stood alone on pages that were nearly empty.
    assert _paged(*_tables(22, 20, wide=False)) == [20]
    assert _paged(*_tables(4, 8, wide=False)) == [8]


def test_long_words_wrap_before_numbers_run_into_each_other():
    # 2026-11-28: of a piece that rests on 25 posts their names squeezed "196.85" and "393.70" into one.
    posts = ", ".join(f"A{k}" for k in range(1, 60))
    table = Table(
        title="Pieces",
        columns=(
            Column(heading="Piece", name="piece", align="left", strong=True),
            *(Column(heading=f"To {k}", name=f"to_{k}", strong=True) for k in range(5)),
            Column(heading="Rests on", name="rests", align="left"),
        ),
        rows=tuple((f"A {k}", *["393.70"] * 5, posts) for k in range(6)),
    )
    sheets = (Sheet(name="pieces", title="Pieces", blocks=(table,)),)
    count, found = troubles(pdf_bytes(replace(_pack("survey"), sheets=sheets)))
    assert count > 30
    assert not found


def test_a_sign_stays_with_its_number_at_the_end_of_a_line():
    # 2026-11-28: "magnetic bearing −" ended a line and "11.7°" began the next.
    text = "The bearing is " + "x" * 20 + " magnetic bearing − 11.7° and the pipe is 21 ft long "
    lines = tuple("word " * n + text for n in range(14))
    sheets = (Sheet(name="words", title="Words", blocks=(Words(lines=lines),)),)
    with pdfplumber.open(io.BytesIO(pdf_bytes(replace(_pack("survey"), sheets=sheets)))) as document:
        said = document.pages[0].extract_text().split("\n")
    assert sum("− 11.7°" in line for line in said) == len(lines)
    assert sum("21 ft" in line for line in said) == len(lines)
    assert sum("magnetic" in line for line in said) < len(said)  # Lines do break.


@pytest.mark.parametrize(("large", "small"), [("tabloid", "letter"), ("a3", "a4")])
def test_on_large_paper_stand_the_maps_alone_at_a_larger_scale(large, small):
    plan = synthetic.full_plan()
    made, plain = pack(plan, paper=large), pack(plan, paper=small)
    assert made.paper == small
    maps = {"stakeout_map", "permit_plan"}
    for sheet in made.sheets:
        if sheet.drawing is not None:
            size = sorted((sheet.drawing.width_mm, sheet.drawing.height_mm))
            assert size == sorted(PAPER_MM[large if sheet.name in maps else small])
    assert made.drawings[0][1].scale < plain.drawings[0][1].scale
    with pdfplumber.open(io.BytesIO(pdf_bytes(made))) as document:
        page = next(p for p in document.pages if "The bar is 100 mm long" in p.extract_text())
        assert sorted((page.width / MM, page.height / MM)) == pytest.approx(sorted(PAPER_MM[large]), abs=0.05)
