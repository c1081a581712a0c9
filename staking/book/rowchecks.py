"""What the cells of one row, or the rows of one table, must agree on."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

from staking.base.errors import Mistake
from staking.book.tablereader import PLANNED_MARKS, TableRead, TypedRow
from staking.book.tables import (
    ANGLES,
    BEARINGS,
    BUILT,
    CONTROL,
    EQUAL_SHADOWS,
    FIXES,
    LINES,
    OFFSETS,
    RISES,
    SAWN,
    SHADOWS,
    TAPES,
    Table,
)

_Check = Callable[[Table, TypedRow], list[Mistake]]

LEAST_POINTS = {"break": 2, "boundary": 2, "no_build": 3, "buried": 2, "overhead": 2}
"""Points without which a line is no line and an area no area."""


def check_rows(one: TableRead) -> list[Mistake]:
    """Return what does not agree within the rows of a table, and rows that tell of the same thing twice."""
    found = _twice(one)
    check = _CHECKS.get(one.table.name)
    for row in one.typed:
        if check is not None and row.sound and one.named:
            found.extend(check(one.table, row))
    return found


TWICE_COUNTED = (TAPES, OFFSETS, RISES, ANGLES, BEARINGS)
"""Tables in which a row that was copied by mistake counts as another reading."""


def same_rows(tables: Mapping[str, TableRead]) -> list[str]:
    """Return a warning for each row of readings that stands in its table twice, the same in every cell."""
    found: list[str] = []
    for table in TWICE_COUNTED:
        first: dict[frozenset[tuple[str, str]], list[int]] = {}
        for row in tables[table.name].typed if table.name in tables else ():
            cells = {name: " ".join(cell.split()).casefold() for name, cell in row.read.items()}
            taken = not any(
                cells.get(name, PLANNED_MARKS[0]) in PLANNED_MARKS
                for name in tables[table.name].table.planned
            )
            if row.sound and taken:
                first.setdefault(frozenset(cells.items()), []).append(row.row)
        found += [
            f"{table.file}, rows {', '.join(map(str, rows[:-1]))} and {rows[-1]} are the same in every cell "
            f"and count as {len(rows)} readings: was one copied? Then delete it"
            for rows in first.values()
            if len(rows) > 1
        ]
    return found


def _twice(one: TableRead) -> list[Mistake]:
    """Return a mistake for each row whose name another row of the table has already."""
    found: list[Mistake] = []
    for name in one.table.unique:
        first: dict[str, int] = {}
        for row in one.typed:
            cell = " ".join(row.read.get(name, "").split())
            if not cell or not row.sound:
                continue
            if cell.casefold() in first:
                problem = f"row {first[cell.casefold()]} is on it already"
                found.append(_mistake(one.table, row, name, problem, remedy="Keep one of the rows"))
            first.setdefault(cell.casefold(), row.row)
    return found


def _mistake(
    table: Table,
    row: TypedRow,
    column: str | None,
    problem: str,
    *,
    expected: str | None = None,
    remedy: str | None = None,
) -> Mistake:
    read = None if column is None else row.read.get(column)
    return Mistake(
        file=table.file,
        row=row.row,
        column=column,
        read=read,
        problem=problem,
        expected=expected,
        remedy=remedy,
    )


def _to_itself(table: Table, row: TypedRow) -> list[Mistake]:
    """Return a mistake where two of the points that a reading goes between are one."""
    seen: dict[str, str] = {}
    for column in ("at", "from", "to"):
        name = " ".join(row.read.get(column, "").split()).casefold()
        if name and name in seen:
            problem = f"the same point as in column {seen[name]}"
            return [_mistake(table, row, column, problem, expected="another point")]
        seen[name] = column
    return []


def _needs(table: Table, row: TypedRow, column: str, needed: Sequence[str]) -> list[Mistake]:
    """Return a mistake where `column` is filled and one that it needs is not."""
    if column not in row.read:
        return []
    return [
        _mistake(
            table,
            row,
            other,
            f"nothing there, while {column} is filled",
            expected=table.column(other).meaning,
        )
        for other in needed
        if other not in row.read
    ]


def _check_fix(table: Table, row: TypedRow) -> list[Mistake]:
    # An sd_v without a height hurts nobody: receivers fill the column where a height is lost.
    return _needs(table, row, "height", ["height_kind"])


def _check_control(table: Table, row: TypedRow) -> list[Mistake]:
    coordinates = ("east", "north", "elevation")
    if not any(name in row.read for name in coordinates):
        return [_mistake(table, row, None, "no coordinate in this row", expected="east, north or elevation")]
    return [found for name in coordinates for found in _needs(table, row, f"sd_{name}", [name])]


def _check_line(table: Table, row: TypedRow) -> list[Mistake]:
    found: list[Mistake] = []
    kind = row.read.get("kind", "").strip().casefold().replace(" ", "_").replace("-", "_")
    names = table.column("points").kind.read(row.read.get("points", ""), "")
    least = LEAST_POINTS.get(kind, 0)
    if "points" in row.read and len(names) < least:
        there = "one point" if len(names) == 1 else f"{len(names)} points"
        problem = f"{there} where a line of kind {kind} needs {least}"
        found.append(_mistake(table, row, "points", problem, expected="point names parted by spaces"))
    if any(a.casefold() == b.casefold() for a, b in pairwise(names)):
        found.append(_mistake(table, row, "points", "the same point twice running"))
    if kind == "overhead" and "height" not in row.read:
        expected = table.column("height").meaning
        found.append(_mistake(table, row, "height", "nothing there", expected=expected))
    return found


def _check_built(table: Table, row: TypedRow) -> list[Mistake]:
    if not set(row.read) - {"pier", "note"}:
        return [_mistake(table, row, None, "nothing was measured in this row")]
    pairs = (("rod", "hi"), ("hi", "rod"), ("east", "north"), ("north", "east"))
    return [found for one, other in pairs for found in _needs(table, row, one, [other])]


def _check_sawn(table: Table, row: TypedRow) -> list[Mistake]:
    if "piece" not in row.read:
        found = []
        if row.read.get("state", "").strip().casefold() != "left":
            remedy = "Write left and the length that was measured, or name the piece"
            found.append(
                _mistake(table, row, "state", "a row without a piece is pipe that is left", remedy=remedy)
            )
        elif "length" not in row.read:
            found.append(
                _mistake(table, row, "length", "how much is left is not said", remedy="Write its length")
            )
        return found
    found = [
        _mistake(table, row, name, "needed with a piece", remedy="Copy it from saw_list.csv")
        for name in ("stick", "stock", "length")
        if name not in row.read
    ]
    if row.read.get("state", "").strip().casefold() == "left":
        remedy = "Leave piece blank for pipe that is left; sawn or spoilt goes with a piece"
        found.append(_mistake(table, row, "state", "left beside a piece", remedy=remedy))
    return found


_CHECKS: dict[str, _Check] = {
    SAWN.name: _check_sawn,
    RISES.name: _to_itself,
    TAPES.name: _to_itself,
    OFFSETS.name: _to_itself,
    ANGLES.name: _to_itself,
    BEARINGS.name: _to_itself,
    SHADOWS.name: _to_itself,
    EQUAL_SHADOWS.name: _to_itself,
    FIXES.name: _check_fix,
    CONTROL.name: _check_control,
    LINES.name: _check_line,
    BUILT.name: _check_built,
}
