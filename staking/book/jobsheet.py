"""The decisions of a job as rows of a key and its value, to the tree that ``job.toml`` would give.

A key is written with dots, ``frame.bay``; of several things alike each has its number, as in
``pipe.stock.2.length`` and ``arrays.1.frame.bay``. The values of a list stand in one cell, parted by
semicolons. A key without a value is absent.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from staking.base.errors import Mistake
from staking.book.celltext import CellRow
from staking.book.keys import SECTIONS, Key, Section
from staking.book.nearest import plain
from staking.book.tomltree import FILE

SHEET = "job"
KEY, VALUE = "key", "value"
PARTED_BY = ";"
_TOP = tuple(section.name for section in SECTIONS if not section.several)
MOST_ALIKE = 99
"""Of things alike in one list; a greater number is a slip."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobSheet:
    """What the sheet gave."""

    tree: Mapping[str, Any]
    mistakes: tuple[Mistake, ...] = ()
    rows: Mapping[str, int]
    """The row of each key, those without a value too."""
    filled: frozenset[str] = frozenset()
    """The keys with a value."""
    value_column: int = 1
    """Which column holds the values, from 0."""


def read_job_sheet(rows: Sequence[CellRow]) -> JobSheet:
    """Read the sheet's rows, the one of column names first."""
    names = [plain(cell) for cell in rows[0].cells] if rows else []
    if KEY not in names or VALUE not in names:
        read = ", ".join(rows[0].cells) if rows else None
        problem = "the first row does not name the columns key and value"
        mistake = Mistake(
            file=FILE, row=rows[0].row if rows else 1, read=read, problem=problem, expected="key, value"
        )
        return JobSheet(tree={}, mistakes=(mistake,), rows={})
    key_at, value_at = names.index(KEY), names.index(VALUE)
    tree: dict[str, Any] = {}
    mistakes: list[Mistake] = []
    at: dict[str, int] = {}
    filled: dict[str, int] = {}
    for row in rows[1:]:
        key, value = row.cells[key_at].strip("[] "), row.cells[value_at]
        if not key:
            if value:
                problem, expected = "a value without its key", "a key such as frame.bay"
                mistakes.append(
                    Mistake(file=FILE, row=row.row, read=str(value), problem=problem, expected=expected)
                )
            continue
        path = _path(key)
        name = ".".join(path)
        if value and name in filled:
            problem = f"the same key twice, first in row {filled[name]}"
            mistakes.append(
                Mistake(
                    file=FILE, row=row.row, column=name, read=str(value), problem=problem, remedy="Keep one"
                )
            )
            continue
        at.setdefault(name, row.row)
        if path[0] in _TOP and len(path) > 1:
            # A section whose rows are there is there, as [frame] without a key is: its needed keys are told.
            tree.setdefault(path[0], {})
        if value:
            filled[name] = at[name] = row.row
            problem = _put(tree, path, value)
            if problem:
                mistakes.append(
                    Mistake(file=FILE, row=row.row, column=name, read=str(value), problem=problem)
                )
    return JobSheet(
        tree=_listed(tree), mistakes=tuple(mistakes), rows=at, filled=frozenset(filled), value_column=value_at
    )


def _path(key: str) -> list[str]:
    """Return the parts of a key, with a 1 behind the name of things alike where no number stands."""
    parts = [part.strip().casefold() for part in key.split(".")]
    path: list[str] = []
    found: Sequence[Key | Section] = SECTIONS
    for part, following in zip(parts, [*parts[1:], None], strict=True):
        path.append(part)
        if part.isdigit():
            continue
        one = next((each for each in found if each.name == part), None)
        found = one.keys if isinstance(one, Section) else ()
        if isinstance(one, Section) and one.several and following is not None and not following.isdigit():
            path.append("1")
    return path


def _declared(path: Sequence[str]) -> Key | Section | None:
    """Return the declaration of a key, None where it is unknown."""
    found: Sequence[Key | Section] = SECTIONS
    one: Key | Section | None = None
    for part in path:
        if isinstance(one, Section) and one.several and part.isdigit():
            continue  # which of several
        one = next((each for each in found if each.name == part), None)
        if one is None:
            return None
        found = one.keys if isinstance(one, Section) else ()
    return one


def _put(tree: dict[str, Any], path: list[str], value: str) -> str:
    """Set a value in the tree; return what is wrong with its key, empty when nothing."""
    declared = _declared(path)
    typed: Any = value
    if isinstance(declared, Key) and declared.several:
        typed = [part.strip() for part in value.split(PARTED_BY) if part.strip()]
    inside = tree
    for k, part in enumerate(path[:-1]):
        if part.isdigit() and not 1 <= int(part) <= MOST_ALIKE:
            return f"things alike are numbered from 1 to {MOST_ALIKE}"
        deeper = inside.setdefault(part, {})
        if not isinstance(deeper, dict):
            return f"{'.'.join(path[: k + 1])} has a value of its own"
        inside = deeper
    if isinstance(inside.get(path[-1]), dict):
        return "keys within this one have values"
    inside[path[-1]] = typed
    return ""


def _listed(tree: dict[str, Any]) -> dict[str, Any]:
    """Return the tree with numbered things as lists, in the order of their numbers."""
    return {name: _list(value) for name, value in tree.items()}


def _list(value: Any) -> Any:
    if not isinstance(value, dict):
        return value
    if value and all(name.isdigit() for name in value):
        return [_list(value[name]) for name in sorted(value, key=int)]
    return _listed(value)


def row_of(sheet: JobSheet, key: str) -> int | None:
    """Return the row of a key as the reader names it in a mistake, None where the sheet has none for it.

    The reader counts things alike without gaps, leaves the number of a single one out, and calls an array by
    its name.
    """
    path = _path(_numbered(sheet, key))
    for k, part in enumerate(path):
        given = _numbers(sheet, path[:k]) if part.isdigit() else []
        if given and int(part) <= len(given):
            path[k] = given[int(part) - 1]
    wanted = ".".join(path)
    if wanted in sheet.rows:
        return sheet.rows[wanted]
    return min((row for name, row in sheet.rows.items() if name.startswith(f"{wanted}.")), default=None)


def _numbers(sheet: JobSheet, front: Sequence[str]) -> list[str]:
    """Return the numbers that stand behind the front of a key with a value, in order."""
    head = "".join(f"{part}." for part in front)
    tails = (name.removeprefix(head).split(".")[0] for name in sheet.filled if name.startswith(head))
    return sorted({tail for tail in tails if tail.isdigit()}, key=int)


def _numbered(sheet: JobSheet, key: str) -> str:
    """Return an array's key with its number instead of its name."""
    arrays = sheet.tree.get("arrays")
    if not key.startswith("arrays.") or not isinstance(arrays, list):
        return key
    for number, entry in enumerate(arrays, start=1):
        name = entry.get("name") if isinstance(entry, dict) else None
        if isinstance(name, str) and key.startswith(f"arrays.{name}"):
            return f"arrays.{number}{key.removeprefix(f'arrays.{name}')}"
    return key
