"""The writers on small drawings and tables of their own."""

import xml.etree.ElementTree as ET

import pytest

from staking.formats.columns import lay_out, tail
from staking.formats.csv_file import csv_text
from staking.formats.svg import svg_text
from staking.sheets.drawing import Circle, Drawing, Line, Text
from staking.sheets.letters import text_width_mm
from staking.sheets.sheet import SMALLEST_PT
from staking.sheets.table import Column, Table

NS = "{http://www.w3.org/2000/svg}"


def _svg(*items):
    return ET.fromstring(svg_text(Drawing(width_mm=200.0, height_mm=100.0, scale=50, items=items)))


def test_svg_is_in_millimetres_and_upside_up():
    root = _svg(Line(xy_mm=((10.0, 20.0), (110.0, 20.0)), width_mm=0.3, layer="bar"))
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("200mm", "100mm", "0 0 200 100")
    line = root.find(f"{NS}g/{NS}polyline")
    assert line.get("points") == "10,80 110,80"
    assert line.get("stroke-width") == "0.3"
    assert root.find(f"{NS}g").get("class") == "bar"


def test_text_is_escaped_turned_and_held_to_its_width():
    text = Text(xy_mm=(50.0, 40.0), text='5\' <&> "x"', size_pt=10.0, turn_deg=30.0, anchor="end", halo=True)
    found = _svg(text).find(f"{NS}text")
    assert found.text == '5\' <&> "x"'
    assert found.get("transform") == "rotate(-30 50 60)"
    assert found.get("text-anchor") == "end"
    assert float(found.get("textLength")) == pytest.approx(text_width_mm(text.text, size_pt=10.0), abs=1e-3)
    assert float(found.get("font-size")) == pytest.approx(10.0 * 25.4 / 72.0, abs=1e-3)
    assert found.get("paint-order") == "stroke"


def test_grays_dashes_and_fills():
    root = _svg(
        Circle(xy_mm=(1.0, 2.0), radius_mm=3.0, width_mm=0.0, fill_gray=0.0),
        Line(xy_mm=((0.0, 0.0), (1.0, 0.0), (1.0, 1.0)), closed=True, dash="dashed", gray=1.0, fill_gray=0.5),
    )
    circle, polygon = root.find(f"{NS}circle"), root.find(f"{NS}polygon")
    assert circle.get("fill") == "#000000"
    assert circle.get("stroke") is None
    assert polygon.get("stroke") == "#ffffff"
    assert polygon.get("fill") == "#808080"
    assert polygon.get("stroke-dasharray")


def test_csv_quotes_names_units_and_leaves_ticks_out():
    table = Table(
        title="t",
        columns=(
            Column(heading="Pier", name="pier"),
            Column(heading="Length", name="length", unit="ft"),
            Column(heading="Done", name="done", kind="tick"),
        ),
        rows=(("A,1", "5.43", ""), ('A"2', "-0.5", "")),
        totals=("", "4.93", ""),
    )
    assert csv_text(table) == 'pier,length_ft\n"A,1",5.43\n"A""2",-0.5\n'


@pytest.mark.parametrize(
    ("text", "end"),
    [
        ("5' 5-1/8\"", '-1/8"'),
        ("102' 0\"", '"'),
        ('3/16"', '"'),
        ("5.43", ".43"),
        ("1655", ""),
        ("87°", "°"),
        ("83 %", " %"),
        ("UP 5' 5-15/16\"", '-15/16"'),
        ("15' 8-5/16\" left", '-5/16" left'),
        ("A1", ""),
        ("", ""),
        ("–", ""),
    ],
)
def test_tail_is_what_stands_right_of_the_units(text, end):
    assert tail(text) == end


def test_columns_fill_the_room_and_never_more():
    columns = tuple(Column(heading=f"Heading {k}", name=f"c{k}") for k in range(6))
    table = Table(title="", columns=columns, rows=(("100' 11-15/16\"",) * 6,) * 3, size_pt=12.0)
    roomy, tight = lay_out(table, room_mm=250.0), lay_out(table, room_mm=140.0)
    assert roomy.size_pt == 12.0
    assert sum(c.width_mm for c in roomy.columns) <= 250.0
    assert tight.size_pt < 12.0
    assert sum(c.width_mm for c in tight.columns) <= 140.0 + 1e-9
    assert lay_out(table, room_mm=60.0).size_pt >= SMALLEST_PT


def test_words_wrap_before_numbers_break():
    """Found 2026-11-28: on a list cut again lengths broke in two, 14' over 4-5/8", beside words of 38 mm."""
    columns = (
        Column(heading="Piece", name="piece", align="left", strong=True),
        Column(heading="Changed", name="changed", align="left"),
        *(Column(heading="Length", name=f"l{k}", strong=True) for k in range(4)),
    )
    row = ("beam A 3", "was stick 2, 14' 3-7/16\" shorter", *("14' 11-15/16\"",) * 4)
    layout = lay_out(Table(title="", columns=columns, rows=(row,) * 3, size_pt=12.0), room_mm=150.0)
    strong_pt = layout.size_pt + 2.0
    for text, column in zip(row, layout.columns, strict=True):
        if text != row[1]:
            assert text_width_mm(text, size_pt=strong_pt, strong=True) <= column.width_mm - 3.2


def test_pads_line_up_the_units():
    rows = (("5' 5-1/8\"",), ("12' 0\"",), ("6' 11-15/16\"",))
    table = Table(title="", columns=(Column(heading="L", name="l"),), rows=rows, size_pt=10.0)
    (column,) = lay_out(table, room_mm=100.0).columns
    ends = [
        text_width_mm(tail(row[0]), size_pt=10.0) + pad for row, pad in zip(rows, column.pads_mm, strict=True)
    ]
    assert max(ends) - min(ends) < 1e-9
