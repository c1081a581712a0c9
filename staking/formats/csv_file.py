"""A `Table` as CSV, for spreadsheets and other programs."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from staking.formats.xlsx import heading
from staking.sheets.table import Table

NOTE = "note"
"""The column that holds the stamp where there is one: tables that are handed back take no other columns."""


def csv_text(table: Table, stamp: Sequence[tuple[str, str]] = ()) -> str:
    """Return a table as CSV: one heading line, then its rows; no title, totals or notes.

    A column is headed by its name for files and its unit, ``above_grade_ft``. Columns to tick or write in are
    left out. The stamp, names with their texts, fills an empty note, or follows in columns of its own.
    """
    kept = [i for i, column in enumerate(table.columns) if column.kind == "text"]
    note = next((i for i in kept if table.columns[i].name == NOTE), None)
    words = "; ".join(f"{name} {text}" for name, text in stamp)
    more = stamp if note is None else ()
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*(heading(table.columns[i]) for i in kept), *(name for name, _ in more)])
    for row in table.rows:
        cells = [row[i] or words if i == note else row[i] for i in kept]
        writer.writerow([*cells, *(text for _, text in more)])
    return out.getvalue()


def csv_bytes(table: Table, stamp: Sequence[tuple[str, str]] = ()) -> bytes:
    """Return a table as the bytes of a CSV file."""
    return csv_text(table, stamp).encode()
