"""What a spreadsheet holds in its cells, to text as a person would have typed it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

from staking.book.celltext import CellRow, is_remark
from staking.book.kinds import DATE, TEXT, TIME, Kind

_DIGITS = 15
"""Decimal digits that a spreadsheet keeps of a number; the sixteenth is an artefact of binary fractions."""


class TurnedCell(str):
    """A cell that the spreadsheet holds as a date or a time, whatever was typed."""

    __slots__ = ("date",)
    date: date | None


class Refusal(NamedTuple):
    """Why a date does not belong in a cell."""

    problem: str
    expected: str
    remedy: str


def cell_text(value: object) -> str:
    """Return a cell's value as text; dates and times as `TurnedCell`."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return _number(float(value))
    if isinstance(value, datetime) and value.time() != time():
        return _turned(value.isoformat(sep=" ", timespec="minutes"), value.date())
    if isinstance(value, date):
        day = value.date() if isinstance(value, datetime) else value
        return _turned(day.isoformat(), day)
    if isinstance(value, time):
        return _turned(value.isoformat(timespec="seconds" if value.second else "minutes"), None)
    if isinstance(value, timedelta):
        minutes, seconds = divmod(round(value.total_seconds()), 60)
        hours, minutes = divmod(minutes, 60)
        return _turned(f"{hours:02d}:{minutes:02d}" + (f":{seconds:02d}" if seconds else ""), None)
    return str(value).replace("\u00a0", " ").strip()


def _number(value: float) -> str:
    text = f"{value:.{_DIGITS}g}"
    if "e" in text:
        text = f"{value:.20f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _turned(text: str, day: date | None) -> TurnedCell:
    cell = TurnedCell(text)
    cell.date = day
    return cell


def sheet_rows(values: Iterable[Iterable[object]]) -> list[CellRow]:
    """Return the rows that are neither blank nor a remark, with the numbers that the spreadsheet shows."""
    rows = []
    for number, row in enumerate(values, start=1):
        cells = tuple(cell_text(value) for value in row)
        if any(cells) and not is_remark(next(cell for cell in cells if cell)):
            rows.append(CellRow(row=number, cells=cells))
    return rows


def refused(cell: object, kind: Kind, *, expected: str) -> Refusal | None:
    """Return why a cell that the spreadsheet made a date or time of does not belong; None where it does."""
    if not isinstance(cell, TurnedCell) or kind is TEXT or kind is (TIME if cell.date is None else DATE):
        return None
    what = "a time" if cell.date is None else "a date"
    typed = ""
    if cell.date is not None:
        day, month, year = cell.date.day, cell.date.month, cell.date.year % 100
        typed = f" (perhaps {month}-{day}, {month}/{day}, {day}-{month} or {month}-{year:02d})"
    return Refusal(
        problem=f"{what}: the spreadsheet made one of what was typed{typed}",
        expected=expected,
        remedy="Format the cell as text, then type it again; in a cell that is not text 12-6 and 3/8 become "
        "dates",
    )
