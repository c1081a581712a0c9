"""A `Table` as CSV, for spreadsheets and other programs."""

from __future__ import annotations

import csv
import io

from staking.formats.xlsx import heading
from staking.sheets.table import Table


def csv_text(table: Table) -> str:
    """Return a table as CSV: one heading line, then its rows; no title, totals or notes.

    A column is headed by its name for files and its unit, ``above_grade_ft``. Columns to tick or write in are
    left out.
    """
    kept = [i for i, column in enumerate(table.columns) if column.kind == "text"]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([heading(table.columns[i]) for i in kept])
    writer.writerows([row[i] for i in kept] for row in table.rows)
    return out.getvalue()


def csv_bytes(table: Table) -> bytes:
    """Return a table as the bytes of a CSV file."""
    return csv_text(table).encode()
