"""A workbook written to fill in, or filled with what stands in a survey's folder."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from staking.base.errors import Mistake, WrongInput
from staking.book.celltext import CellRow, decode
from staking.book.folder import survey_files
from staking.book.kinds import UNITS
from staking.book.tablereader import rows_of
from staking.book.tables import TABLES
from staking.book.tomltree import FILE as JOB_FILE
from staking.book.tomltree import text_of, tree_of
from staking.book.workbook_starter import Filling, workbook_bytes


def workbook_path(asked: Path) -> Path:
    """Return where a workbook goes: the name as asked for, with its ending."""
    return asked if asked.suffix.lower() == ".xlsx" else asked.with_name(f"{asked.name}.xlsx")


def write_workbook(asked: Path, *, units: str, folder: Path | None = None) -> Path:
    """Write a workbook to fill in, or one that holds what a folder holds, and return where it is.

    Parameters
    ----------
    asked : Path
        The workbook's name; ``.xlsx`` is added where it is missing.
    units : str
        ft, in, m or mm: what a bare number will mean; a folder's own unit overrules it.
    folder : Path, optional
        A survey to copy. Rows keep their numbers; remarks are left behind.

    Raises
    ------
    WrongInput
        When the file is there already, the unit is unknown, the folder's files cannot be read, or the file
        cannot be written.
    """
    path = workbook_path(asked)
    if path.exists():
        remedy = "Nothing was written; choose another name, or move the file away"
        raise WrongInput([Mistake(file=str(path), problem="exists already", remedy=remedy)])
    try:
        unit: str = UNITS.read(units, "")
    except ValueError as error:
        raise WrongInput([Mistake(file=str(path), read=units, problem=str(error))]) from error
    try:
        data = workbook_bytes(units=unit, filling=None if folder is None else filling_of(folder))
    except ImportError:
        problem = "writing a workbook needs the library XlsxWriter"
        raise WrongInput(
            [Mistake(file=str(path), problem=problem, remedy="pip install XlsxWriter")]
        ) from None
    beside = path.with_name(f".{path.name}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        beside.write_bytes(data)
        os.replace(beside, path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        problem = f"cannot be written: {error.strerror}"
        raise WrongInput([Mistake(file=str(path), problem=problem)]) from error
    return path


def filling_of(folder: Path) -> Filling:
    """Return what a survey's folder holds, cell for cell.

    Raises
    ------
    WrongInput
        When a file cannot be read, or a quote in it is open.
    """
    files = survey_files(folder)
    tree = tree_of(files.get(JOB_FILE, b""))
    if isinstance(tree, Mistake):
        raise WrongInput([tree])
    site = tree.get("site")
    unit = text_of(site.get("units", "")) if isinstance(site, Mapping) else ""
    mistakes: list[Mistake] = []
    tables: dict[str, list[CellRow]] = {}
    for table in TABLES:
        if table.file not in files:
            continue
        try:
            rows, quotes = rows_of(table, decode(files[table.file]), unit)
        except ValueError as error:
            mistakes.append(Mistake(file=table.file, problem=str(error)))
            continue
        mistakes += [
            Mistake(file=table.file, row=quote.row, read=quote.read, problem=quote.problem)
            for quote in quotes
        ]
        tables[table.name] = rows
    if mistakes:
        raise WrongInput(mistakes)
    return Filling(job=tree, tables=tables)
