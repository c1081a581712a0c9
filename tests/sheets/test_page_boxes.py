"""The printed pages measured: boxes of texts, the geometry of the map, numbers against the files."""

from __future__ import annotations

import io
import math
import re
from functools import cache
from pathlib import Path

import numpy as np
import pdfplumber
import pytest

from benchmarks.page_boxes import SMALLEST_PT, invented, packed, runs, troubles
from staking.book.folder import read_book
from staking.formats.pack_files import pack_files
from staking.formats.typst_pdf import pdf_bytes
from staking.plan import planned
from staking.sheets.drawing import Drawing, Text
from staking.sheets.pack import pack
from staking.sheets.sheet import Pack, Sheet, TitleBlock

SAMPLES = Path(__file__).parents[2] / "sample_surveys"
YARDS = ("cross_fall", "hand_check", "planted_blunder", "real_hillside")
MM = 72.0 / 25.4
BARE = {"feet-inches": "ft", "decimal feet": "ft", "metric": "mm"}


@cache
def files_of(name):
    plan = planned(read_book(SAMPLES / name))
    return plan, pack_files(pack(plan))


@cache
def pages_of(name):
    with pdfplumber.open(io.BytesIO(files_of(name)[1]["pack.pdf"])) as document:
        return [
            (runs(page, n), [*page.curves, *page.lines, *page.rects])
            for n, page in enumerate(document.pages, start=1)
        ]


def page_with(name, words):
    return next(page for page in pages_of(name) if any(run.text.startswith(words) for run in page[0]))


@pytest.mark.parametrize("name", YARDS)
def test_no_text_of_a_sample_meets_another_or_is_small_or_in_the_margin(name):
    count, found = troubles(files_of(name)[1]["pack.pdf"])
    assert count > 1000
    assert not found


@pytest.mark.parametrize("seed", range(2))
def test_no_text_of_an_invented_yard_meets_another(seed, tmp_path):
    # 50 yards of up to 200 piers: python -m benchmarks.page_boxes
    invented(tmp_path, seed, most_piers=12)
    count, found = troubles(packed(tmp_path))
    assert count > 1000
    assert not found


def _drawn(*items):
    block = TitleBlock(job="", date="", fingerprint="", benchmark="", lengths_in="")
    drawing = Drawing(width_mm=100.0, height_mm=100.0, scale=1, items=items)
    sheet = Sheet(name="x", title="x", drawing=drawing)
    return troubles(pdf_bytes(Pack(paper="a4", title_block=block, sheets=(sheet,), drawings=(), data=())))


def _text(text, x, y, **more):
    return Text(xy_mm=(x, y), text=text, **more)


def test_the_measure_sees_texts_that_meet_small_ones_and_those_in_the_margin():
    assert _drawn(_text("apart", 20, 50), _text("apart too", 40, 50), _text("below", 20, 46)) == (4, [])
    assert _drawn(_text("one", 20, 50), _text("other", 22, 51))[1] == ["page 1: 'one' over 'other'"]
    assert _drawn(_text("level", 40, 50), _text("turned", 40, 46, turn_deg=60))[1]
    # Their level boxes meet, they do not.
    assert not _drawn(_text("turned, long", 20, 20, turn_deg=45), _text("beside", 32, 24))[1]
    assert _drawn(_text("small", 20, 50, size_pt=SMALLEST_PT - 0.1))[1] == ["page 1: 'small' in 8.90 pt"]
    assert _drawn(_text("turned", 20, 50, size_pt=8.9, turn_deg=70))[1] == ["page 1: 'turned' in 8.90 pt"]
    assert _drawn(_text("edge", 5, 50))[1] == ["page 1: 'edge' in the margin"]


@pytest.mark.parametrize("name", YARDS)
def test_piers_on_the_printed_map_stand_as_far_apart_as_the_scale_says(name):
    plan, _ = files_of(name)
    texts, shapes = page_with(name, "Scale 1:")
    ratio = int(
        next(re.match(r"Scale 1:(\d+)", run.text)[1] for run in texts if run.text.startswith("Scale 1:"))
    )
    wanted = plan.arrays[0].fit.piers.en_m * 1000.0 / ratio
    # A pier is a circle between 3 and 8 mm across; in the key stands one more, smaller.
    round_ones = [
        ((s["x0"] + s["x1"]) / 2.0 / MM, (s["y0"] + s["y1"]) / 2.0 / MM, s["x1"] - s["x0"])
        for s in shapes
        if abs((s["x1"] - s["x0"]) - (s["y1"] - s["y0"])) < 0.01
        and 2.9 * MM < s["x1"] - s["x0"] < 9.0 * MM
        and len(s.get("pts", ())) >= 6
    ]
    found = np.array(sorted({(round(x, 3), round(y, 3)) for x, y, _ in round_ones}))
    assert len(found) == len(wanted)
    # The printed circles are matched to the piers by laying both by their own middle.
    here, there = found - found.mean(axis=0), wanted - wanted.mean(axis=0)
    nearest = np.hypot(*(here[:, None] - there[None]).transpose(2, 0, 1))
    order = nearest.argmin(axis=0)
    assert sorted(order) == list(range(len(wanted)))
    placed = found[order]
    for i in range(len(wanted)):
        for j in range(i):
            # Spacings, rows and diagonals alike, to 0.1 mm on paper.
            assert math.dist(placed[i], placed[j]) == pytest.approx(math.dist(wanted[i], wanted[j]), abs=0.1)
