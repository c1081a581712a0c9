"""A survey in one workbook: a sheet for each table and one for the decisions; its mistakes told by cell."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from staking.base.errors import Mistake, WrongInput
from staking.book.celltext import CellRow
from staking.book.jobsheet import SHEET, JobSheet, read_job_sheet, row_of
from staking.book.nearest import nearest, plain
from staking.book.sheetcells import sheet_rows
from staking.book.sheetvalues import ENDINGS, letters, sheet_values, unreadable
from staking.book.tables import TABLES
from staking.book.tomltree import FILE as JOB_FILE

OTHER_WORKBOOKS = (".xls", ".xlsm", ".xlsb", ".numbers", ".gsheet")
NOTES_SHEET = "read me"
TYPO = 0.75
"""Likeness to a table's name from which a sheet's name is taken to be a slip."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Workbook:
    """A workbook's cells as text."""

    name: str
    """Of the file."""
    data: bytes
    job: JobSheet | None
    """None where there is no such sheet."""
    tables: Mapping[str, Sequence[CellRow]]
    """By the table's name; sheets without a single row left out."""
    mistakes: tuple[Mistake, ...] = ()
    warnings: tuple[str, ...] = ()
    sheets: Mapping[str, str] = field(default_factory=dict)
    """What the sheet of each table is called in the file."""


def is_workbook(path: Path) -> bool:
    """Return whether a survey is a workbook, by its name's ending."""
    return path.suffix.lower() in (*ENDINGS, *OTHER_WORKBOOKS) and not path.is_dir()


def read_workbook(path: Path) -> Workbook:
    """Read a workbook's cells.

    Raises
    ------
    WrongInput
        When it cannot be opened.
    """
    if path.suffix.lower() in OTHER_WORKBOOKS:
        problem = f"workbooks are read as {' or '.join(ENDINGS)}, not {path.suffix}"
        raise unreadable(path, problem, f"Save it as {path.stem}.xlsx")
    try:
        data = path.read_bytes()
    except OSError as error:
        raise unreadable(path, error.strerror or str(error), "Name the workbook or the folder") from error
    if not data:
        raise unreadable(path, "empty", "staking new --workbook writes one to fill in")
    known = {SHEET, *(table.name for table in TABLES)}
    cells = sheet_values(path, known)
    found: dict[str, list[CellRow]] = {}
    called: dict[str, str] = {}
    mistakes: list[Mistake] = []
    warnings: list[str] = []
    for title, values in cells.items():
        name = title.strip().casefold()
        rows = sheet_rows(values)
        if name in called:
            problem = f"two sheets of this name: {called[name]} and {title}"
            mistakes.append(Mistake(file=f"{name}.csv", problem=problem, remedy="Keep one"))
        elif name in known:
            found[name], called[name] = rows, title
        elif name != NOTES_SHEET and rows:
            _stranger(title, known, path.name, mistakes, warnings)
    job = read_job_sheet(found[SHEET]) if SHEET in found else None
    tables = {name: rows for name, rows in found.items() if name != SHEET and rows}
    return Workbook(
        name=path.name,
        data=data,
        job=job,
        tables=tables,
        mistakes=tuple(mistakes),
        warnings=tuple(warnings),
        sheets=called,
    )


def _stranger(title: str, known: set[str], file: str, mistakes: list[Mistake], warnings: list[str]) -> None:
    """Tell of a sheet that is not read: as a mistake where its name is a slip, else as a warning."""
    close = nearest(title.casefold(), sorted(known), cutoff=TYPO)
    if close is None:
        warnings.append(f"sheet {title} of {file} was not read: there is no table of this name.")
        return
    remedy = f"Did you mean {close}? Rename it, or move it to another workbook"
    place = f"sheet {title}"
    mistakes.append(Mistake(file=file, place=place, problem="no table of this name", remedy=remedy))


def told_by_cell(wrong: WrongInput, workbook: Workbook) -> WrongInput:
    """Return the same mistakes, each with its sheet and cell instead of file and row."""
    return WrongInput([_by_cell(mistake, workbook) for mistake in wrong.mistakes], asked=wrong.asked)


def _by_cell(mistake: Mistake, workbook: Workbook) -> Mistake:
    names = {table.file: table.name for table in TABLES} | {JOB_FILE: SHEET}
    if mistake.file not in names:
        return mistake
    name = names[mistake.file]
    title = workbook.sheets.get(name, name)
    row, column = mistake.row, None
    if name == SHEET and workbook.job is not None and mistake.column is not None:
        row = row_of(workbook.job, mistake.column) if row is None else row
        column = workbook.job.value_column
    elif mistake.column is not None:
        column = _column(workbook.tables.get(name, ()), mistake.column)
    place = f"sheet {title}"
    if row is not None:
        place += f", row {row}" if column is None else f", cell {letters(column)}{row}"
    return replace(
        mistake,
        file=workbook.name,
        row=None,
        place=place,
        kind="key" if name == SHEET else "column",
        problem=_in_sheets(mistake.problem),
        expected=None if mistake.expected is None else _in_sheets(mistake.expected),
        remedy=None if mistake.remedy is None else _in_sheets(mistake.remedy),
    )


def _column(rows: Sequence[CellRow], name: str) -> int | None:
    """Return which column of a sheet has a name, from 0."""
    names = [plain(cell) for cell in rows[0].cells] if rows else []
    return names.index(plain(name)) if plain(name) in names else None


def _in_sheets(text: str) -> str:
    """Return a sentence about files as one about sheets."""
    for table in TABLES:
        text = re.sub(
            rf"(?<![\w.])(?:a file )?{re.escape(table.file)}(?!\w)", f"the sheet {table.name}", text
        )
    return re.sub(rf"(?<![\w.]){re.escape(JOB_FILE)}(?!\w)", f"the sheet {SHEET}", text)
