"""Logs and lists of points into a survey's folder: all of them or none, and nothing twice unasked."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from pathlib import Path

from staking.base.errors import Mistake, WrongInput
from staking.book.agreeing import disagreeing
from staking.book.appending import appended, replace_files
from staking.book.celltext import decode
from staking.book.found_points import Asked, Found, FoundRow
from staking.book.geojson_points import geojson_points, looks_like_geojson
from staking.book.gpx_points import gpx_points, looks_like_gpx
from staking.book.jobchecks import told
from staking.book.jobreader import JobRead, read_job
from staking.book.names import BENCHMARK_NAME, NOT_ON_A_PIER, ON_A_PIER, TURNING_NAME
from staking.book.nmea_log import looks_like_nmea, nmea_points
from staking.book.piernames import PierNames, pier_names
from staking.book.point_list import list_points
from staking.book.records import FieldBook, Job, Site
from staking.book.site_north import Misplaced, axes_place, in_survey_feet
from staking.book.tablereader import TableRead, read_table
from staking.book.tables import CONTROL, FIXES, POINTS_TABLE, Table
from staking.book.tomltree import FILE as JOB_FILE

MOST_NAMES = 8
"""Points named one by one; the others are counted."""
TABLES: Mapping[str, Table] = {"fixes": FIXES, "control": CONTROL}


def imported(files: Sequence[Path], folder: Path, asked: Asked, *, again: bool = False) -> list[str]:
    """Add the points of files to a survey's tables and return what to say, a line each.

    Parameters
    ----------
    files
        GPX, NMEA 0183 logs, GeoJSON, lists of points; told apart by what is in them.
    folder
        The survey's.
    asked
        What the person said beside the files.
    again
        Whether points may be fixed anew in a session that has them already.

    Raises
    ------
    WrongInput
        With every mistake; then nothing was written.
    """
    job = _job(folder)
    site, unit, piers = job.job.site, job.job.site.units, pier_names(job.arrays)
    asked = dataclasses.replace(asked, unit=unit, grid_in_survey_feet=in_survey_feet(site))
    found = [_found(path, asked) for path in files]
    mistakes = [mistake for one in found for mistake in one.mistakes]
    contents: dict[Path, bytes] = {}
    counts: list[str] = []
    for target, table in TABLES.items():
        rows = [(one, row) for one in found if one.target == target for row in one.rows]
        if not rows:
            continue
        place, data = _there(folder, table)
        before = None if data is None else read_table(table, data, unit=unit, defaults={})
        if before is not None and before.mistakes:
            mistakes += before.mistakes
            continue
        for one, row in rows:
            mistakes += _wrong_cells(table, one, row, unit)
        mistakes += _twice(table, rows, before, again=again)
        if table is FIXES:
            mistakes += disagreeing(rows, before, site)
            mistakes += _on_piers(rows, piers)
        if mistakes:
            continue
        contents[place] = _checked(table, data, [row for _, row in rows], unit, before)
        if table is CONTROL:
            mistakes += _off_the_site(rows, contents[place], site)
        counts.append(f"{len(rows)} {'row' if len(rows) == 1 else 'rows'} added to {place}")
        if table is CONTROL:
            counts += _ground_shots(folder, [row for _, row in rows])
    if mistakes:
        raise WrongInput(mistakes)
    replace_files(contents)
    return [*counts, *(line for one in found for line in one.said), *_sessions(found)]


def _job(folder: Path) -> JobRead:
    """Return the survey's decisions; without a site nobody knows what a bare number means."""
    path = folder / JOB_FILE
    if not path.is_file():
        remedy = "Name the survey's folder last; staking new writes one."
        raise WrongInput([Mistake(file=str(path), problem="there is no such file", remedy=remedy)])
    job = read_job(path.read_bytes(), for_plan=False)
    if not job.readable or told(job, "site"):
        raise WrongInput(job.mistakes)
    return job


def _on_piers(rows: Sequence[tuple[Found, FoundRow]], piers: PierNames) -> list[Mistake]:
    """Return a mistake for each fix on a pier's name, which ``check`` would refuse after it."""
    return [
        Mistake(
            file=one.file,
            row=row.line,
            column="point",
            read=row.cells.get("point"),
            problem=ON_A_PIER,
            remedy=NOT_ON_A_PIER,
        )
        for one, row in rows
        if piers.of(" ".join(row.cells.get("point", "").split())) is not None
    ]


def _off_the_site(rows: Sequence[tuple[Found, FoundRow]], content: bytes, site: Site) -> list[Mistake]:
    """Return a mistake where control points to be added lie off the map grid, or far from the site on it."""
    records = read_table(CONTROL, content, unit=site.units, defaults={}).records[-len(rows) :]
    book = FieldBook(job=Job(site=site), control_points=tuple(records))
    if not book.on_grid:
        return []
    try:
        axes_place(book)
    except Misplaced as error:
        mistake = error.mistake
        for (one, row), record in zip(rows, records, strict=True):
            if mistake.file == CONTROL.file and record.row == mistake.row:
                return [dataclasses.replace(mistake, file=one.file, row=row.line)]
        return [mistake]
    except ValueError:
        return []  # Told by check, with what is missing.
    return []


def _found(path: Path, asked: Asked) -> Found:
    """Return what a file holds, by what it looks like inside."""
    if not path.is_file():
        problem = "a folder, not a file" if path.is_dir() else "no such file"
        raise WrongInput(
            [Mistake(file=str(path), problem=problem, remedy="Name files first, the folder last.")]
        )
    data = path.read_bytes()
    asked = dataclasses.replace(asked, session=asked.session or path.stem)
    try:
        text = decode(data)
    except ValueError as error:
        # Receivers log sentences between messages of bytes.
        text = data.decode("ascii", errors="replace")
        if not looks_like_nmea(text):
            raise WrongInput([Mistake(file=path.name, problem=str(error))]) from error
    if not text.strip():
        raise WrongInput([Mistake(file=path.name, problem="the file is empty", remedy="Copy it again.")])
    if looks_like_gpx(text):
        return gpx_points(path.name, text, asked)
    if looks_like_geojson(text):
        return geojson_points(path.name, text, asked)
    if looks_like_nmea(text):
        return nmea_points(path.name, text, asked)
    if asked.point is not None:
        found = Found(file=path.name)
        found.wrong("--point is for logs, and this is a list of points", remedy="Leave --point out.")
        return found
    return list_points(path.name, data, asked)


def _there(folder: Path, table: Table) -> tuple[Path, bytes | None]:
    """Return where a table's file stands, whatever the case of its name, and its contents."""
    for path in sorted(folder.iterdir()):
        if path.name.casefold() == table.file:
            return path, path.read_bytes()
    return folder / table.file, None


def _ground_shots(folder: Path, rows: Sequence[FoundRow]) -> list[str]:
    """Return that points with elevations shape the ground, where points.csv does not say what they are."""
    _, data = _there(folder, POINTS_TABLE)
    typed = () if data is None else read_table(POINTS_TABLE, data, unit="m", defaults={}).typed
    said = {" ".join(one.read.get("point", "").split()).casefold() for one in typed}
    names = [
        name
        for row in rows
        if "elevation" in row.cells
        and (name := row.cells.get("point", "")).casefold() not in said
        # A benchmark or turning point by its name is no ground.
        and not BENCHMARK_NAME.fullmatch(name.casefold())
        and not TURNING_NAME.fullmatch(name.casefold())
    ]
    if not names:
        return []
    told = ", ".join(names[:MOST_NAMES]) + (
        f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
    )
    return [f"these shape the ground, unless points.csv says of them pin or ground = no: {told}"]


def _wrong_cells(table: Table, one: Found, row: FoundRow, unit: str) -> list[Mistake]:
    """Return a mistake for each cell that its column cannot take."""
    found = []

    def wrong(column: str, read: str | None, problem: str, error: ValueError | None = None) -> None:
        found.append(
            Mistake(
                file=one.file,
                row=row.line,
                column=column,
                read=read,
                problem=problem,
                expected=getattr(error, "expected", None),
                remedy=getattr(error, "remedy", None),
            )
        )

    for column in table.columns:
        cell = row.cells.get(column.name, "")
        if not cell:
            if column.needed:
                wrong(column.name, None, "nothing there")
            continue
        try:
            column.kind.read(cell, unit)
        except ValueError as error:
            wrong(column.name, cell, str(error), error)
    name = row.cells.get("point", "")
    if name.startswith("#"):
        wrong("point", name, "a name that begins with # would be taken for a remark")
    return found


def _key(table: Table, cells: Mapping[str, str]) -> tuple[str, ...]:
    """Return by what rows of a table are the same: a point, of fixes in one session."""
    names = ("point", "session") if table is FIXES else ("point",)
    return tuple(" ".join(cells.get(name, "").split()).casefold() for name in names)


def _twice(
    table: Table, rows: Sequence[tuple[Found, FoundRow]], before: TableRead | None, *, again: bool
) -> list[Mistake]:
    """Return a mistake for each row that the table, or the files, have already."""
    if again and table is FIXES:
        return []
    seen: dict[tuple[str, ...], str] = {}
    for typed in before.typed if before is not None else ():
        seen.setdefault(_key(table, typed.read), f"{table.file} row {typed.row}")
    found = []
    for one, row in rows:
        key = _key(table, row.cells)
        if key in seen:
            session = row.cells.get("session", "")
            remedy = "Keep one of the rows, or give one another name."
            if table is FIXES:
                remedy = (
                    "Was the file imported before? If not: --session with another name for another session, "
                    "or --again if the point was fixed again in the same one."
                )
            in_session = f" in session {session}" if table is FIXES else ""
            found.append(
                Mistake(
                    file=one.file,
                    row=row.line,
                    column="point",
                    read=row.cells.get("point"),
                    problem=f"{seen[key]} has the point{in_session} already",
                    remedy=remedy,
                )
            )
        seen.setdefault(key, f"{one.file} row {row.line}" if row.line else one.file)
    return found


def _checked(
    table: Table, data: bytes | None, rows: Sequence[FoundRow], unit: str, before: TableRead | None
) -> bytes:
    """Return the file with the rows, once it reads back as what it was and they are."""
    content = appended(table, data, [row.cells for row in rows])
    after = read_table(table, content, unit=unit, defaults={})
    old = before.typed if before is not None else ()
    wanted = [*(dict(t.read) for t in old), *({k: _spaced(v) for k, v in r.cells.items() if v} for r in rows)]
    if after.mistakes or [dict(typed.read) for typed in after.typed] != wanted:
        problem = "the rows added do not read back as they were found"
        remedy = "Save the file again as CSV UTF-8, and look for open quotes in it."
        raise WrongInput([*after.mistakes, Mistake(file=table.file, problem=problem, remedy=remedy)])
    return content


def _spaced(cell: str) -> str:
    return cell.replace("\u00a0", " ").strip()


def _sessions(found: Sequence[Found]) -> list[str]:
    """Return which sessions the fixes were given."""
    names = dict.fromkeys(
        row.cells.get("session", "") for one in found if one.target == "fixes" for row in one.rows
    )
    if not names:
        return []
    return [
        f"session {', '.join(names)}: files of one time between switching on and off belong to one session "
        "(--session NAME)"
    ]
