"""Cells as people save them: encodings, delimiters, quotes, remarks, row numbers."""

from __future__ import annotations

import codecs
import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from written_yard import LEVELS, mistakes_of, places, read_yard

from staking.book.celltext import CellRow, decode, split_rows


def rows_of(text, *, known=("point", "bs", "note"), spans=True):
    rows, quotes = split_rows(text, known=known, spanning=lambda cells, delimiter: lambda index, lines: spans)
    return rows, quotes


@pytest.mark.parametrize(
    ("cell", "read"),
    [
        ('65 1/8"', '65 1/8"'),
        ("5' 5-1/8\"", "5' 5-1/8\""),
        ('"5\' 5-1/8"""', "5' 5-1/8\""),
        ('"65 1/8"""', '65 1/8"'),
        ('"a ""b"" c"', 'a "b" c'),
        (' "x" ', "x"),
        ('x"y"z', 'x"y"z'),
        ('""', ""),
        ('""""', '"'),
        ('"a,b"', "a,b"),
        ("5’ 5⅛”", "5’ 5⅛”"),
        ("\u00a05.4\u00a0", "5.4"),
    ],
)
def test_a_cell_is_read_as_typed(cell, read):
    rows, quotes = rows_of(f"point,bs,note\nP1,{cell},end\n")
    assert quotes == []
    assert rows[1].cells == ("P1", read, "end")


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_row_numbers_are_those_of_a_spreadsheet(end):
    lines = ["# remark", "", "point,bs,note", ",,", '# a "quote, open', 'P1,5,"two', 'lines"', "", "P2,6,"]
    rows, quotes = rows_of(end.join(lines))
    assert quotes == []
    assert [(row.row, row.cells[0]) for row in rows] == [(3, "point"), (6, "P1"), (8, "P2")]
    assert rows[1].cells[2] == "two\nlines"


def test_a_remark_saved_in_quotes_is_a_remark():
    rows, _ = rows_of('point,bs,note\n"# from noon, second day",,\n # indented\nP1,5,\n')
    assert [row.row for row in rows] == [1, 4]


def test_a_spreadsheets_error_value_is_not_a_remark():
    rows, _ = rows_of("point,bs,note\n#REF!,5,\n#N/A,5,\n")
    assert [row.cells[0] for row in rows[1:]] == ["#REF!", "#N/A"]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_the_header_tells_the_delimiter(delimiter):
    rows, _ = rows_of(f"note{delimiter}point{delimiter}bs\na. b{delimiter}P1{delimiter}5\n")
    assert rows[1].cells == ("a. b", "P1", "5")


def test_a_delimiter_line_is_hidden_as_spreadsheets_hide_it():
    rows, _ = rows_of("sep=;\npoint;bs;note\nP1;5;\n")
    assert rows == [
        CellRow(row=1, cells=("point", "bs", "note")),
        CellRow(row=2, cells=("P1", "5", "")),
    ]


ENCODINGS = {
    "utf-8": lambda text: text.encode(),
    "utf-8 with mark": lambda text: text.encode("utf-8-sig"),
    "utf-16 little": lambda text: codecs.BOM_UTF16_LE + text.encode("utf-16-le"),
    "utf-16 big": lambda text: codecs.BOM_UTF16_BE + text.encode("utf-16-be"),
    "western": lambda text: text.encode("cp1252"),
}


@pytest.mark.parametrize("saved", ENCODINGS.values(), ids=ENCODINGS.keys())
def test_every_usual_encoding_reads_the_same(tmp_path, saved):
    text = LEVELS.replace("5.12", "5’ 1-½”").replace("bolt in the slab", "Grundstück")
    book = read_yard(tmp_path, {"levels.csv": saved(text)})
    assert book.levels[0].note == "Grundstück"
    assert book.levels[0].bs_m == pytest.approx(61.5 * 0.0254, abs=1e-12)
    assert book.levels[0].read["bs"] == "5’ 1-½”"


@pytest.mark.parametrize("data", [b"\xff\xfe\x00", b"\xff\xfea", b"\x81\x8d\x9d", b"p\0o\0i\0n\0t\0"])
def test_what_is_no_text_is_refused(tmp_path, data):
    with pytest.raises(ValueError, match="save it again as CSV UTF-8"):
        decode(data)
    assert ("levels.csv", None, None) in places(mistakes_of(tmp_path, {"levels.csv": data}))


QUOTES = [
    # never closed: the rest of the file is gone
    ('BM1,5.12,,,30,"bolt\nP1,,4.31,,,\nBM1,,,5.97,30,\n', 2, "note"),
    # closed by the opening of a later quote
    ('BM1,5.12,,,30,"bolt\nP1,,4.31,,,\nBM1,,,5.97,30,"hub"\n', 2, "note"),
    # closed at the end of a cell further down: well formed, but rows stand inside
    ('BM1,5.12,,,30,"bolt\nP1,,4.31,,,\nBM1,,,5.97,30,hub"\n', 2, "note"),
    # in the column of a reading
    ('BM1,5.12,,,30,\nP1,,"4.31,,,\nP2,,4"\nBM1,,,5.97,30,\n', 3, "is"),
    # inches inside quotes, not doubled
    ('BM1,5.12,,,30,\nP1,,"4\' 3-1/8"",,,\nBM1,,,5.97,30,\n', 3, "is"),
    # something behind the closing quote
    ('BM1,5.12,,,30,\nP1,,"4.31" ft,,,\nBM1,,,5.97,30,\n', 3, "is"),
]


@pytest.mark.parametrize(("rows", "row", "column"), QUOTES)
def test_a_quote_that_swallows_rows_is_told_where_it_opens(tmp_path, rows, row, column):
    found = mistakes_of(tmp_path, {"levels.csv": "point,bs,is,fs,dist,note\n" + rows}, purpose="check")
    told = [mistake for mistake in found if "quote" in mistake.problem]
    assert places(told) == [("levels.csv", row, column)]


def test_a_reading_over_two_lines_is_a_swallowing_quote(tmp_path):
    """Even where nothing inside looks like a row: only a note runs over lines."""
    text = 'point,bs,is,fs,dist,note\nBM1,5.12,,,30,\n"P1\nfence",,4.31,,far off,\nBM1,,,5.97,30,\n'
    found = mistakes_of(tmp_path, {"levels.csv": text}, purpose="check")
    assert places([one for one in found if "quote" in one.problem]) == [("levels.csv", 3, "point")]


def test_rows_behind_an_open_quote_are_still_read(tmp_path):
    text = 'point,bs,is,fs,dist,note\nBM1,5.12,,,30,"bolt\nP1,,4.3x,,,\nBM1,,,5.97,30,\n'
    found = mistakes_of(tmp_path, {"levels.csv": text}, purpose="check")
    assert ("levels.csv", 3, "is") in places(found)


def test_a_note_of_several_lines_is_a_note(tmp_path):
    text = LEVELS.replace("bolt in the slab", '"bolt, in the slab\nfound at noon, dry\n\nsee P2"')
    book = read_yard(tmp_path, {"levels.csv": text})
    assert book.levels[0].note == "bolt, in the slab found at noon, dry see P2"
    assert [row.row for row in book.levels] == list(range(2, 9))


cells = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=8)


@given(st.lists(st.lists(cells, min_size=3, max_size=3), min_size=1, max_size=5))
@settings(derandomize=True, max_examples=100)
def test_what_the_csv_module_writes_is_read_back(table):
    """Against the standard library as writer: any text, every cell quoted where it must be."""
    table = [[" ".join(cell.replace("\u00a0", " ").split()) for cell in row] for row in table]
    out = io.StringIO()
    csv.writer(out).writerows([["point", "bs", "note"], *table])
    rows, quotes = rows_of(out.getvalue())
    expected = [tuple(row) for row in table if any(row) and not row[0].startswith("#")]
    assert quotes == []
    assert [row.cells for row in rows[1:] if not row.cells[0].startswith("#")] == expected
