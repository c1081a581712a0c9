"""A survey folder to a field book, or every mistake in all its files at once."""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

from staking.base.errors import Mistake, WrongInput
from staking.book.checks import check_book
from staking.book.ground_table import GroundTable, read_named_table, table_mistakes
from staking.book.jobchecks import told
from staking.book.jobreader import JobRead, read_job, read_tree
from staking.book.jobsheet import SHEET
from staking.book.nearest import nearest
from staking.book.records import FieldBook, Site
from staking.book.site_north import arrays_on_axes
from staking.book.tablereader import TableRead, read_rows, read_table
from staking.book.tables import TABLES
from staking.book.tomltree import FILE as JOB_FILE
from staking.book.workbook import Workbook, is_workbook, read_workbook, told_by_cell

Purpose = Literal["plan", "check", "planned"]

SAW_LIST = "saw_list.csv"
OUTPUTS = (
    "piers.csv",
    "stakes.csv",
    "cuts.csv",
    "order.csv",
    SAW_LIST,
    "hubs.csv",
    "ties.csv",
    "point_list.csv",
)
"""Files that the program writes, which may lie in the same folder."""
TYPO = 0.75
"""Likeness to a table's name from which a file's name is taken to be a slip: ``level``, ``tapes2``."""
NO_TABLE = "no table of this name"
OTHER_ENDINGS = (".txt", ".tsv", ".xls", ".xlsx", ".ods", ".numbers", ".csv.txt", ".csv.csv")
"""Endings under which people save a table without meaning to."""


def read_book(
    folder: Path, *, purpose: Purpose = "plan", changes: Mapping[str, Any] | None = None
) -> FieldBook:
    """Read a survey: a folder, or a workbook with the same tables.

    Parameters
    ----------
    folder : Path
        Holds ``job.toml`` and the tables; or a workbook.
    purpose : str
        ``plan`` needs everything; ``check`` only ``[site]``, ``[control]`` or ``control.csv``, and readings;
        ``planned`` the same, with readings that are marked and not yet taken, which come as NaN.
    changes : mapping, optional
        Keys that take the place of those of ``job.toml``: a variant of the design.

    Returns
    -------
    FieldBook
        Metres and radians; point names as first typed wherever they stand, pier names as the layout has them.

    Raises
    ------
    WrongInput
        With all mistakes of all files.
    """
    if is_workbook(folder):
        workbook = read_workbook(folder)
        try:
            return _from_workbook(workbook, folder.parent, purpose, changes)
        except WrongInput as wrong:
            raise told_by_cell(wrong, workbook) from None
    mistakes: list[Mistake] = []
    warnings: list[str] = []
    files = _files(folder, mistakes, warnings)
    if JOB_FILE not in files:
        mistakes.append(_no_job(folder))
        job = JobRead(job=read_job(b"", for_plan=False).job, readable=False)
    else:
        job = read_job(files[JOB_FILE], for_plan=purpose == "plan", changes=changes)
        mistakes.extend(job.mistakes)
    tables = {
        table.name: read_table(
            table,
            files[table.file],
            unit=job.job.site.units,
            defaults=_defaults(job),
            planned=purpose == "planned",
        )
        for table in TABLES
        if table.file in files
    }
    table, more = _ground_table(folder, job, mistakes)
    for name in more:
        # Its name may look like a slip of a table's; it was asked for.
        mistakes = [m for m in mistakes if m.file != name or m.problem != NO_TABLE]
        warnings = [text for text in warnings if text != _not_read(name)]
    return _checked(job, tables, fingerprint(files | more), mistakes, warnings, purpose, table)


def _ground_table(
    folder: Path, job: JobRead, mistakes: list[Mistake]
) -> tuple[GroundTable | None, dict[str, bytes]]:
    """Return the table of ground points that the job names, with its bytes; mistakes are added."""
    wrong = table_mistakes(job.job.ground)
    mistakes.extend(wrong)
    if wrong or told(job, "site.units"):
        return None, {}
    try:
        return read_named_table(folder, job)
    except WrongInput as error:
        mistakes.extend(error.mistakes)
        return None, {}


def _from_workbook(
    workbook: Workbook, folder: Path, purpose: Purpose, changes: Mapping[str, Any] | None
) -> FieldBook:
    mistakes = list(workbook.mistakes)
    if workbook.job is None:
        problem = f"there is no sheet {SHEET} with the decisions"
        remedy = "staking new --workbook writes a workbook with one, every key explained"
        mistakes.append(Mistake(file=workbook.name, problem=problem, remedy=remedy))
        job = JobRead(job=read_job(b"", for_plan=False).job, readable=False)
    else:
        job = read_tree(workbook.job.tree, for_plan=purpose == "plan", changes=changes)
        mistakes.extend([*workbook.job.mistakes, *job.mistakes])
    tables = {
        table.name: read_rows(
            table,
            workbook.tables[table.name],
            unit=job.job.site.units,
            defaults=_defaults(job),
            planned=purpose == "planned",
        )
        for table in TABLES
        if table.name in workbook.tables
    }
    table, more = _ground_table(folder, job, mistakes)
    inputs = fingerprint({workbook.name: workbook.data, **more})
    return _checked(job, tables, inputs, mistakes, list(workbook.warnings), purpose, table)


def _checked(
    job: JobRead,
    tables: Mapping[str, TableRead],
    inputs: str,
    mistakes: list[Mistake],
    warnings: list[str],
    purpose: Purpose,
    ground_table: GroundTable | None,
) -> FieldBook:
    """Return the book from what was read, or raise every mistake."""
    for one in tables.values():
        mistakes.extend(one.mistakes)
    rows = {one.table.attribute: one.records for one in tables.values()}
    book = FieldBook(
        job=job.job, fingerprint=inputs, warnings=tuple(warnings), ground_table=ground_table, **rows
    )
    checked = check_book(book, job, tables, for_plan=purpose == "plan")
    mistakes.extend(checked.mistakes)
    if mistakes:
        raise WrongInput(_in_order(mistakes), asked=(*checked.book.warnings, *_without_rows(tables)))
    turned, hindered = arrays_on_axes(checked.book, for_plan=purpose == "plan")
    if hindered:
        raise WrongInput(list(hindered), asked=checked.book.warnings)
    return turned


def _without_rows(tables: Mapping[str, TableRead]) -> list[str]:
    """Return which tables of readings are there and hold nothing: where something lacks, that may be why."""
    empty = [one.table.file for one in tables.values() if one.table.readings and not one.typed]
    return [f"no row is in {', '.join(empty)}."] if empty else []


def read_site(folder: Path) -> tuple[Site, FieldBook | None]:
    """Read ``[site]``, and the whole survey where it can be: shadows are wanted before any reading.

    Raises
    ------
    WrongInput
        When ``job.toml`` is missing or has a mistake in ``[site]``.
    """
    try:
        book = read_book(folder, purpose="check")
    except WrongInput as wrong:
        if is_workbook(folder):
            return _site_of_workbook(folder, wrong), None
        own = [m for m in wrong.mistakes if m.file == JOB_FILE and (m.column or "site").startswith("site")]
        if own or not (folder / JOB_FILE).is_file():
            raise WrongInput(own or wrong.mistakes) from None
        return read_job((folder / JOB_FILE).read_bytes(), for_plan=False).job.site, None
    return book.job.site, book


def _site_of_workbook(path: Path, wrong: WrongInput) -> Site:
    own = [m for m in wrong.mistakes if m.kind == "key" and (m.column or "site").startswith("site")]
    workbook = read_workbook(path)
    if own or workbook.job is None:
        raise WrongInput(own or wrong.mistakes) from None
    return read_tree(workbook.job.tree, for_plan=False).job.site


def survey_files(folder: Path) -> dict[str, bytes]:
    """Return the contents of a survey's files by their lower-case names.

    Raises
    ------
    WrongInput
        When there is no such folder, or one of its files cannot be read or is a table under another name.
    """
    mistakes: list[Mistake] = []
    files = _files(folder, mistakes, [])
    if JOB_FILE not in files:
        mistakes.append(_no_job(folder))
    if mistakes:
        raise WrongInput(mistakes)
    return files


def _defaults(job: JobRead) -> dict[str, Any]:
    """Return what blank cells mean by the job's decision; where that is unreadable, no mistake."""
    unknown = not job.readable or told(job, "site.tape_how")
    return {"how": "level" if unknown else job.job.site.tape_how}


def fingerprint(files: Mapping[str, bytes]) -> str:
    """Return the first twelve hex digits of the SHA-256 over names and contents, sorted by name."""
    digest = hashlib.sha256()
    for name in sorted(files):
        digest.update(f"{name}\0{len(files[name])}\0".encode())
        digest.update(files[name])
    return digest.hexdigest()[:12]


def _files(folder: Path, mistakes: list[Mistake], warnings: list[str]) -> dict[str, bytes]:
    """Return the contents of ``job.toml`` and the tables by their lower-case names."""
    if not folder.is_dir():
        problem = "a file, not a folder" if folder.exists() else "no such folder"
        remedy = "Name the folder that holds job.toml and the tables"
        raise WrongInput([Mistake(file=str(folder), problem=problem, remedy=remedy)])
    known = {JOB_FILE, *(table.file for table in TABLES)}
    files: dict[str, bytes] = {}
    try:
        paths = sorted(folder.iterdir())
    except OSError as error:
        raise WrongInput([Mistake(file=str(folder), problem=f"cannot be read: {error.strerror}")]) from error
    for path in paths:
        name = path.name.lower()
        if name in files:
            mistakes.append(Mistake(file=path.name, problem="two files of this name", remedy="Keep one"))
        elif name in known:
            try:
                files[name] = path.read_bytes()
            except OSError as error:
                files[name] = b""
                mistakes.append(Mistake(file=path.name, problem=f"cannot be read: {error.strerror}"))
        else:
            _stranger(path, files, mistakes, warnings)
    return files


def _stranger(path: Path, files: Mapping[str, bytes], mistakes: list[Mistake], warnings: list[str]) -> None:
    """Tell of a file that is not read: as a mistake where its name is a slip, else as a warning."""
    name = path.name.lower()
    stems = [table.name for table in TABLES]
    if name.startswith((".", "~")) or not path.is_file():
        return
    if name in OUTPUTS:
        if name == SAW_LIST and "sawn.csv" not in files and not path.with_name("sawn.csv").exists():
            warnings.extend(_noted_in(path))
        return
    ending = next((one for one in OTHER_ENDINGS if name.removesuffix(one) in stems), None)
    if ending is not None:
        wanted = f"{name.removesuffix(ending)}.csv"
        if wanted not in files and not path.with_name(wanted).exists():
            problem = f"tables are read from CSV files only, not from {ending}"
            mistakes.append(Mistake(file=path.name, problem=problem, remedy=f"Save it as {wanted}"))
    elif name.endswith(".csv"):
        close = nearest(name.removesuffix(".csv"), stems, cutoff=TYPO)
        if close is not None:
            remedy = f"Did you mean {close}.csv? Rename it, or move it out of the folder"
            mistakes.append(Mistake(file=path.name, problem=NO_TABLE, remedy=remedy))
        else:
            warnings.append(_not_read(path.name))


def _noted_in(path: Path) -> list[str]:
    """Return a warning where a list to saw from says what was sawn, under the name it was written with."""
    try:
        rows = csv.DictReader(path.read_text(encoding="utf-8-sig", errors="replace").splitlines())
        noted = any((row.get("state") or "").strip() for row in rows)
    except (OSError, csv.Error):
        return []
    if not noted:
        return []
    return [f"{path.name} says what was sawn, and is not read under this name: copy it to sawn.csv."]


def _not_read(name: str) -> str:
    return f"{name} was not read: there is {NO_TABLE}."


def _no_job(folder: Path) -> Mistake:
    others = [path.name for path in folder.glob("*.toml") if path.name.lower() != "truth.toml"]
    close = nearest(JOB_FILE, others)
    remedy = (
        f"Rename {close} to {JOB_FILE}"
        if close
        else "staking new writes a folder with one, every key explained"
    )
    return Mistake(file=JOB_FILE, problem=f"there is no {JOB_FILE} in {folder}", remedy=remedy)


def _in_order(mistakes: list[Mistake]) -> list[Mistake]:
    """Return the mistakes by file, ``job.toml`` first, and within a table by row."""
    order = [JOB_FILE, *(table.file for table in TABLES)]

    def place(mistake: Mistake) -> tuple[int, int]:
        file = order.index(mistake.file) if mistake.file in order else len(order)
        return file, 0 if mistake.file == JOB_FILE else mistake.row or 0

    return sorted(mistakes, key=place)
