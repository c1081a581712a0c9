"""Blank forms: the site's own names are in, and what is typed from them goes into the tables."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from staking.book.folder import read_book
from staking.book.tables import LEVELS, RISES, TAPES
from staking.plan import planned, surveyed
from staking.sheets.pack import pack
from staking.sheets.table import Table

SAMPLES = Path(__file__).parents[2] / "sample_surveys"


def forms(plan):
    return {sheet.name: sheet for sheet in pack(plan).sheets if sheet.name.startswith("form_")}


def table_of(sheet):
    return next(block for block in sheet.blocks if isinstance(block, Table))


@pytest.mark.parametrize("name", ["cross_fall", "hand_check", "real_hillside"])
def test_every_mark_and_pier_has_its_row(name):
    plan = planned(read_book(SAMPLES / name))
    made = forms(plan)
    piers = list(plan.arrays[0].fit.piers.names)
    points = plan.adjustment.points
    marks = [n for n, k in zip(points.names, points.kinds, strict=True) if k in ("benchmark", "pin")]
    level = [row[0] for row in table_of(made["form_levels"]).rows]
    assert {*marks, *piers} <= set(level)
    assert level[0] == next(reversed([n for n in level if n])), "the loop comes back to where it began"
    assert [row[0] for row in table_of(made["form_holes"]).rows] == piers
    assert "" in level, "room for what nobody foresaw"


def test_columns_are_those_of_the_tables():
    made = forms(planned(read_book(SAMPLES / "cross_fall")))
    for form, table, more in (
        ("form_levels", LEVELS, {"hi", "elevation"}),
        ("form_tapes", TAPES, {"horizontal", "by"}),
    ):
        columns = {column.name for column in table_of(made[form]).columns}
        assert columns - more <= {column.name for column in table.columns}


def test_who_reads_rises_has_a_form_for_them(tmp_path):
    # 2026-11-28: there was none, though a water level is read on paper as a laser is.
    shutil.copytree(SAMPLES / "cross_fall", tmp_path / "yard")
    (tmp_path / "yard" / "rises.csv").write_text("from,to,rise\nP1,P2,0.1 ft\n")
    plan = surveyed(read_book(tmp_path / "yard", purpose="check"))
    made = forms(plan)
    assert list(made) == ["form_levels", "form_rises", "form_tapes"]
    table = table_of(made["form_rises"])
    assert {c.name for c in table.columns} - {"up_from", "up_to", "by"} <= {c.name for c in RISES.columns}
    points = plan.adjustment.points
    marks = {n for n, k in zip(points.names, points.kinds, strict=True) if k in ("benchmark", "pin")}
    named = [set(row[:2]) for row in table.rows if row[0]]
    assert set.union(*named) == marks
    assert len(named) == len(marks), "one more than joins them: it closes"


def test_a_survey_alone_has_no_hole_log():
    made = forms(surveyed(read_book(SAMPLES / "cross_fall", purpose="check")))
    assert set(made) == {"form_levels", "form_tapes"}
