"""A table for other programs: bare numbers in the survey's own unit."""

from __future__ import annotations

from collections.abc import Sequence

from staking.base.units import in_unit
from staking.sheets.table import Column, Table

_NUMBERS = ("east", "north", "stick", "bags", "stock", "length", "hole_depth")
"""Columns of numbers that no unit stands behind."""
_DECIMALS = {"ft": 4, "in": 3, "m": 4, "mm": 1}


def bare(value_m: float | None, unit: str) -> str:
    """Return a length as a bare number of `unit` to about a tenth of a millimetre, blank for None."""
    if value_m is None:
        return ""
    text = f"{in_unit(value_m, unit):.{_DECIMALS[unit]}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def bare_table(title: str, columns: Sequence[tuple[str, str]], rows: Sequence[tuple[str, ...]]) -> Table:
    """Return a table of columns given by name and unit."""
    return Table(
        title=title,
        columns=tuple(
            Column(
                heading=name,
                name=name,
                unit=unit,
                number=(bool(unit) or name in _NUMBERS) and all(_is_number(row[k]) for row in rows),
            )
            for k, (name, unit) in enumerate(columns)
        ),
        rows=tuple(rows),
    )


def _is_number(cell: str) -> bool:
    """Whether a cell is blank or a bare number: pipe that was on no list has a word for its stick."""
    return not cell or cell.removeprefix("-").replace(".", "", 1).isdecimal()
