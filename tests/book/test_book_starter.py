"""The starter folder reads once filled in; the page of tables is the declarations' own."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from staking.base.errors import WrongInput
from staking.book.describe import tables_markdown
from staking.book.folder import read_book
from staking.book.keys import ARRAYS, SECTIONS, Key
from staking.book.starter import write_starter
from staking.book.tables import TABLES

UNITS = ("ft", "in", "m", "mm")


def filled(folder, units):
    """Write a starter and take the # away in front of every example."""
    for path in write_starter(folder, units=units):
        text = path.read_text(encoding="utf-8")
        path.write_text(re.sub(r"^#(?=[^\s])", "", text, flags=re.MULTILINE), encoding="utf-8")
    return folder


@pytest.mark.parametrize("units", UNITS)
def test_a_starter_filled_with_its_own_examples_reads_without_mistakes(tmp_path, units):
    folder = filled(tmp_path / "yard", units)
    # The one file that a starter names and does not write.
    (folder / "ground.csv").write_text("east,north,elevation\n0,0,100\n9,0,101\n0,9,102\n")
    book = read_book(folder)
    assert book.warnings == ()
    assert len(book.ground_table.z_m) == 3
    assert book.job.site.units == units
    for table in TABLES:
        rows = getattr(book, table.attribute)
        assert len(rows) == max(len(column.examples) for column in table.columns), table.name
    assert book.levels[0].bs_m == pytest.approx(5.12 * 0.3048, abs=0.001)
    assert book.job.arrays[0].frame.bay_m == pytest.approx(8.75 * 0.3048, abs=0.0005)


def test_a_starter_holds_every_key_and_column(tmp_path):
    filled(tmp_path, "ft")
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    tree = tomllib.loads(text)
    for section in SECTIONS:
        if section is ARRAYS:
            continue
        for key in section.keys:
            if isinstance(key, Key) and key.instead:
                assert f"# or {key.name} = " in text
                continue
            assert key.name in tree[section.name]
            if not isinstance(key, Key):
                inner = tree[section.name][key.name]
                inner = inner if key.several else [inner]
                assert set().union(*inner) == {one.name for one in key.keys}
                # 2026-11-28: the one stock of the example was bought at a price and four were on hand.
                assert all(len(set(one) & set(key.apart)) <= 1 for one in inner)
    for table in TABLES:
        header = (tmp_path / table.file).read_text(encoding="utf-8").splitlines()[0]
        assert header.split(",") == [column.name for column in table.columns]


def test_an_untouched_starter_tells_what_is_needed(tmp_path):
    write_starter(tmp_path, units="m")
    with pytest.raises(WrongInput) as wrong:
        read_book(tmp_path)
    told = {mistake.column for mistake in wrong.value.mistakes}
    assert {
        "array.tilt",
        "frame.stack",
        "fit.clearance",
        "footing.embedment",
        "pipe.stock",
        "control",
    } <= told
    assert all(mistake.row is None for mistake in wrong.value.mistakes)


def test_nothing_existing_is_overwritten(tmp_path):
    (tmp_path / "levels.csv").write_text("mine")
    (tmp_path / "job.toml").write_text("mine")
    with pytest.raises(WrongInput) as wrong:
        write_starter(tmp_path, units="ft")
    assert [Path(mistake.file).name for mistake in wrong.value.mistakes] == ["job.toml", "levels.csv"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job.toml", "levels.csv"]
    assert (tmp_path / "levels.csv").read_text() == "mine"


def test_a_starter_in_a_file_or_an_unknown_unit_is_told(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(WrongInput, match="cannot be written"):
        write_starter(tmp_path / "file", units="ft")
    with pytest.raises(WrongInput, match="unknown word"):
        write_starter(tmp_path / "new", units="yards")
    assert not (tmp_path / "new").exists()


def test_the_page_of_tables_is_up_to_date():
    page = Path(__file__).parents[2] / "docs" / "tables.md"
    assert page.read_text(encoding="utf-8") == tables_markdown(), "write tables_markdown() to docs/tables.md"


def test_the_page_names_every_column_and_key():
    page = tables_markdown()
    for table in TABLES:
        assert f"## `{table.file}`" in page
        assert all(f"| `{column.name}` |" in page for column in table.columns)
    for section in SECTIONS:
        assert all(f"| `{key.name}` |" in page for key in section.keys)
