"""A survey's workbook to fill in, or filled from a folder: a sheet a table, drop-downs, units, examples.

Every cell to type in is formatted as text, so that no spreadsheet makes dates of 12-6 or 3/8.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any

from staking.book.celltext import CellRow
from staking.book.jobsheet import PARTED_BY, SHEET
from staking.book.keys import ARRAY_PARTS, ARRAYS, PIPE, SECTIONS, Key, Section
from staking.book.kinds import Kind
from staking.book.starter import example_cell, example_value
from staking.book.tables import TABLES, Column, Table
from staking.book.tomltree import text_of
from staking.book.workbook import NOTES_SHEET

if TYPE_CHECKING:
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

ROWS = 1000
"""Rows with drop-downs and hints."""
SEVERAL_ROWS = 3
"""How many of things alike the sheet of decisions has rows for."""
_MADE = datetime(2000, 1, 1)
"""Written into the file as the time of making: the same input gives the same bytes."""
_WIDEST, _NARROWEST = 44, 9
_LONGEST_HINT, _LONGEST_TITLE = 255, 32
"""What spreadsheets show of a hint (from memory of Office Open XML's limits)."""
_LONGEST_LIST = 255

_NOTES = (
    "A survey to fill in. Sheets that you do not need may stay empty or be deleted.",
    "Sheet job holds the decisions: a key and its value in each row; an empty value means the default.",
    "Several values of one key stand in one cell, parted by semicolons: 1.9 ft; 9.4 ft",
    "Of several things alike each has its number: pipe.stock.1.length, pipe.stock.2.length; "
    "arrays.1.name, arrays.1.array.tilt.",
    "Every other sheet is a table. Rows whose first cell begins with # are remarks: units and examples.",
    "A bare number is in the survey's units (site.units on sheet job); a length may carry its own: "
    "5.43 ft, 5' 5-1/8\", 65 1/8\", 1.655 m, 1655 mm. Angles are degrees: 88.5, 88°30', 88-30-00.",
    "Cells are formatted as text: in others a spreadsheet makes dates of 12-6 and 3/8.",
    "Then: staking check FILE.xlsx, staking plan FILE.xlsx --out DIR.",
    "It gives geometry, not strength: licensed engineers, electricians and the local code decide.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """What to fill a workbook with instead of examples."""

    job: Mapping[str, Any]
    """The tree of ``job.toml``."""
    tables: Mapping[str, Sequence[CellRow]] = field(default_factory=dict)
    """By name, the row of column names first; they keep their row numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Formats:
    head: Format
    typed: Format
    remark: Format
    told: Format
    section: Format


def workbook_bytes(*, units: str, filling: Filling | None = None) -> bytes:
    """Return the workbook as the bytes of an .xlsx file; the same input gives the same bytes."""
    from xlsxwriter import Workbook

    out = io.BytesIO()
    # Rows are written as they come, from the top: nothing is kept in files elsewhere.
    workbook = Workbook(out, {"in_memory": True, "strings_to_numbers": False, "strings_to_formulas": False})
    workbook.set_properties({"title": "Survey", "created": _MADE})
    formats = _Formats(
        head=workbook.add_format({"bold": True, "bottom": 2, "num_format": "@"}),
        typed=workbook.add_format({"num_format": "@"}),
        remark=workbook.add_format({"italic": True, "font_color": "#666666", "num_format": "@"}),
        told=workbook.add_format({"font_color": "#666666", "num_format": "@"}),
        section=workbook.add_format({"bold": True, "top": 1, "num_format": "@"}),
    )
    if filling is None:
        notes = workbook.add_worksheet(NOTES_SHEET)
        notes.set_column(0, 0, 110, formats.typed)
        _printed_across(notes)
        for row, text in enumerate(_NOTES):
            notes.write_string(row, 0, text, formats.typed)
    _job_sheet(workbook.add_worksheet(SHEET), formats, units, filling)
    for table in TABLES:
        rows = None if filling is None else filling.tables.get(table.name)
        if filling is None:
            _blank_table(workbook.add_worksheet(table.name), table, formats, units)
        elif rows:
            _filled_table(workbook.add_worksheet(table.name), table, formats, rows)
    workbook.close()
    return out.getvalue()


def _blank_table(sheet: Worksheet, table: Table, formats: _Formats, units: str) -> None:
    """Write column names, units, and examples as remarks."""
    for place, column in enumerate(table.columns):
        sheet.write_string(0, place, column.name, formats.head)
        sheet.write_string(
            1, place, f"{'# ' if place == 0 else ''}{_told_kind(column.kind, units)}", formats.told
        )
        texts = [example_cell(text, column.kind, units) for text in column.examples]
        for row, text in enumerate(texts, start=2):
            shown = f"# {text}" if place == 0 else text
            if shown:
                sheet.write_string(row, place, shown, formats.remark)
    examples = max(len(column.examples) for column in table.columns)
    _finish_table(sheet, table.columns, formats, first_row=2 + examples)


def _filled_table(sheet: Worksheet, table: Table, formats: _Formats, rows: Sequence[CellRow]) -> None:
    for row in rows:
        style = formats.head if row is rows[0] else formats.typed
        for place, cell in enumerate(row.cells):
            if cell:
                sheet.write_string(row.row - 1, place, cell, style)
    by_name = {column.name: column for column in table.columns}
    columns = [by_name.get(name.strip().casefold()) for name in rows[0].cells]
    _finish_table(sheet, columns, formats, first_row=rows[0].row, head_row=rows[0].row - 1)


def _finish_table(
    sheet: Worksheet,
    columns: Sequence[Column | None],
    formats: _Formats,
    *,
    first_row: int,
    head_row: int = 0,
) -> None:
    """Format the cells to type in as text, and give them hints and drop-downs."""
    sheet.freeze_panes(head_row + 1, 1)
    _printed_across(sheet)
    last = max(ROWS, first_row + ROWS // 2)
    for place, column in enumerate(columns):
        if column is None:
            continue
        wide = max(len(column.name), *(len(text) for text in column.examples), 6) + 3
        sheet.set_column(place, place, min(_WIDEST, max(_NARROWEST, wide)), formats.typed)
        needed = "Needed: " if column.needed else ""
        _hint(sheet, (first_row, place, last, place), column.name, f"{needed}{column.meaning}", column.kind)
    sheet.ignore_errors({"number_stored_as_text": f"A1:Z{last}"})


def _printed_across(sheet: Worksheet) -> None:
    """Print a sheet across the paper, all columns on one page, its head on every page."""
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)


def _hint(sheet: Worksheet, cells: tuple[int, int, int, int], title: str, text: str, kind: Kind) -> None:
    rule: dict[str, Any] = {
        "validate": "any",
        "input_title": title[:_LONGEST_TITLE],
        "input_message": f"{text}. {_told_kind(kind, '')}"[:_LONGEST_HINT],
    }
    if kind.choices and len(",".join(kind.choices)) <= _LONGEST_LIST:
        rule |= {
            "validate": "list",
            "source": list(kind.choices),
            "error_title": "Unknown word",
            "error_message": f"One of: {', '.join(kind.choices)}"[:_LONGEST_HINT],
            # A remark or a word in capitals is well: the program reads it.
            "error_type": "warning",
        }
    sheet.data_validation(*cells, rule)


def _told_kind(kind: Kind, units: str) -> str:
    """Return what stands in a cell and in which unit."""
    unit = kind.unit.replace("survey's units", units) if units else kind.unit
    return f"{kind.word}, {unit}" if unit else kind.word


def _job_sheet(sheet: Worksheet, formats: _Formats, units: str, filling: Filling | None) -> None:
    """Write a row for each key with its kind, default, meaning and an example."""
    values = {"site.units": units} if filling is None else dict(_flat(filling.job, ""))
    sheet.freeze_panes(1, 2)
    _printed_across(sheet)
    for place, (name, wide) in enumerate(
        (("key", 34), ("value", 30), ("what it is", 34), ("default", 26), ("example", 26), ("meaning", 90))
    ):
        sheet.set_column(place, place, wide, formats.typed if place == 1 else formats.told)
        sheet.write_string(0, place, name, formats.head)
    row = 1
    for section in SECTIONS:
        if section is ARRAYS and not any(name.startswith("arrays.") for name in values):
            parts = ", ".join(f"arrays.1.{part.name}.…" for part in ARRAY_PARTS)
            text = f"# several arrays: arrays.1.name, {parts}, then arrays.2…: {section.meaning}"
            sheet.write_string(row, 0, text, formats.section)
            row += 1
            continue
        sheet.write_string(row, 0, f"# {section.name}: {section.meaning}", formats.section)
        row += 1
        for name, key in _keys(section, section.name, values):
            _key_row(sheet, row, name, key, values.pop(name, ""), formats, units)
            row += 1
    for name, value in values.items():
        sheet.write_string(row, 0, name, formats.typed)
        sheet.write_string(row, 1, value, formats.typed)
        row += 1
    sheet.ignore_errors({"number_stored_as_text": f"B1:E{row + ROWS}"})


def _key_row(
    sheet: Worksheet, row: int, name: str, key: Key, value: str, formats: _Formats, units: str
) -> None:
    sheet.write_string(row, 0, name, formats.typed)
    if value:
        sheet.write_string(row, 1, value, formats.typed)
    else:
        sheet.write_blank(row, 1, None, formats.typed)
    kind = ("several: " if key.several else "") + _told_kind(key.kind, units)
    default = "needed" if key.needed else key.default
    example = f"{PARTED_BY} ".join(example_value(key, units))
    for place, text in ((2, kind), (3, default), (4, example), (5, key.meaning)):
        sheet.write_string(row, place, text, formats.told)
    _hint(sheet, (row, 1, row, 1), name[-_LONGEST_TITLE:], key.meaning, key.kind)


def _keys(section: Section, front: str, values: Mapping[str, str]) -> Iterator[tuple[str, Key]]:
    """Yield the dotted name of every key of a section, those of things alike as often as there are rows."""
    numbers = [""]
    if section.several:
        least = SEVERAL_ROWS if section in PIPE.keys else 0
        given = {
            name.removeprefix(f"{front}.").split(".")[0] for name in values if name.startswith(f"{front}.")
        }
        most = max([least, *(int(number) for number in given if number.isdigit())])
        numbers = [f".{number}" for number in range(1, most + 1)]
    for number in numbers:
        for key in section.keys:
            name = f"{front}{number}.{key.name}"
            if isinstance(key, Key):
                yield name, key
            elif section is not ARRAYS or any(given.startswith(f"{name}.") for given in values):
                yield from _keys(key, name, values)


def _flat(tree: Mapping[str, Any], front: str) -> Iterator[tuple[str, str]]:
    """Yield every value of a tree of decisions with its dotted key."""
    for name, value in tree.items():
        at = f"{front}{name}"
        if isinstance(value, Mapping):
            yield from _flat(value, f"{at}.")
        elif isinstance(value, list) and any(isinstance(item, Mapping) for item in value):
            for number, item in enumerate(value, start=1):
                yield from _flat(item, f"{at}.{number}.")
        elif isinstance(value, list):
            yield at, f"{PARTED_BY} ".join(text_of(item) for item in value)
        else:
            yield at, text_of(value)
