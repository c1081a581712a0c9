"""The laser sheet: each cell, added to its height of instrument, is the post's top again."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from staking.base.units import parse_length
from staking.book.folder import read_book
from staking.plan import planned
from staking.sheets.notation import Notation
from staking.sheets.pack import pack
from staking.sheets.table import Table

SAMPLES = Path(__file__).parents[2] / "sample_surveys"
BARE = {"feet-inches": "ft", "decimal feet": "ft", "metric": "mm"}
LAST_PLACE_M = {"feet-inches": 0.0254 / 16, "decimal feet": 0.003048, "metric": 0.001}


@pytest.mark.parametrize("name", ["cross_fall", "hand_check", "real_hillside"])
def test_every_mark_leads_back_to_the_top(name):
    plan = planned(read_book(SAMPLES / name))
    style = plan.book.job.site.show
    sheet = next(sheet for sheet in pack(plan).sheets if sheet.name == "laser")
    marks, pole = (block for block in sheet.blocks if isinstance(block, Table))
    allowance_m = plan.book.job.pipe.cut_allowance_m
    tops = dict(zip(plan.arrays[0].fit.piers.names, plan.arrays[0].fit.lengths.top_m, strict=True))

    def read(text):
        return parse_length(re.sub(r" (mm|ft)$", "", text), unit=BARE[style])

    benchmark_m = plan.book.job.control.benchmark.elevation_m
    seen = set()
    for k, column in enumerate(marks.columns):
        if not column.name.startswith("hi_"):
            continue
        hi_m = read(column.heading.split("HI\u00a0")[1])
        if column.heading.startswith("BS "):
            assert read(column.heading[3:].split(", HI")[0]) + benchmark_m == pytest.approx(hi_m, abs=1e-9)
        for row in marks.rows:
            word, amount = row[k].split(" ", 1)
            seen.add(word)
            amount_m = read(amount)
            top_m = hi_m + amount_m if word == "UP" else hi_m - amount_m
            assert top_m == pytest.approx(tops[row[0]], abs=0.51 * LAST_PLACE_M[style])
            if word == "DOWN":
                assert amount_m <= allowance_m + LAST_PLACE_M[style]
            if word == "ROD":
                assert amount_m >= allowance_m - LAST_PLACE_M[style]
    assert {"UP", "ROD"} <= seen
    lowest = min(tops.values())
    assert pole.rows[0][0] == min(tops, key=tops.get)
    for row in pole.rows:
        assert read(row[1]) == pytest.approx(tops[row[0]] - lowest, abs=0.51 * LAST_PLACE_M[style])


def test_heights_of_instrument_are_round_and_stand_about_the_tops():
    from staking.sheets.laser_table import instrument_heights_m

    heights = np.array(instrument_heights_m(np.array([31.0, 31.4, 32.0]), "metric"))
    assert np.allclose(np.diff(heights), 0.15)
    assert heights[0] < 31.4 < heights[-1]
    assert np.allclose(heights / 0.15, np.round(heights / 0.15))
    assert Notation(style="metric").length(float(heights[0])).isdigit()
