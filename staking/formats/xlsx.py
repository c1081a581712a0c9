"""Tables as one workbook, written by XlsxWriter: a sheet each, numbers as numbers, names as text.

The time of making is fixed: the same tables give the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import datetime

from staking.sheets.table import Column, Table

MADE = datetime(2000, 1, 1)
_ABOUT = "about"
_LONGEST_NAME = 31
"""Signs in a sheet's name that every spreadsheet takes (from memory of Office Open XML's limits)."""
_WIDE = 2
"""Signs of white beside the widest cell."""


def xlsx_bytes(tables: Sequence[tuple[str, Table]], facts: Sequence[tuple[str, str]]) -> bytes:
    """Return the tables by their sheets' names as the bytes of an .xlsx file, behind a sheet of facts."""
    from xlsxwriter import Workbook

    out = io.BytesIO()
    workbook = Workbook(out, {"in_memory": True})
    workbook.set_properties({"created": MADE})
    head = workbook.add_format({"bold": True, "bottom": 2})
    plain = workbook.add_format({"num_format": "@"})
    about = workbook.add_worksheet(_ABOUT)
    for row, (name, text) in enumerate(facts):
        about.write_string(row, 0, name, head)
        about.write_string(row, 1, text, plain)
    about.set_column(0, 0, 14)
    about.set_column(1, 1, 80)
    for name, table in tables:
        sheet = workbook.add_worksheet(name[:_LONGEST_NAME])
        sheet.freeze_panes(1, 1)
        kept = [i for i, column in enumerate(table.columns) if column.kind == "text"]
        for place, i in enumerate(kept):
            column = table.columns[i]
            cells = [row[i] for row in table.rows]
            style = workbook.add_format({"num_format": _pattern(cells)}) if column.number else plain
            sheet.write_string(0, place, heading(column), head)
            for row, cell in enumerate(cells, start=1):
                if column.number and cell:
                    sheet.write_number(row, place, float(cell), style)
                elif cell:
                    sheet.write_string(row, place, cell, plain)
            sheet.set_column(place, place, max(len(t) for t in (heading(column), *cells)) + _WIDE)
    workbook.close()
    return out.getvalue()


def _pattern(cells: Sequence[str]) -> str:
    """Return the number format that shows as many decimals as the cells have."""
    places = max((len(cell.partition(".")[2]) for cell in cells), default=0)
    return f"0.{'0' * places}" if places else "0"


def heading(column: Column) -> str:
    """Return a column's name for files, with its unit: ``above_grade_ft``."""
    return f"{column.name}_{column.unit}" if column.unit else column.name
