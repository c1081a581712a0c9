"""A table on its way to paper, CSV or the screen: text only, already rounded, in one unit system."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a table."""

    heading: str
    """For people, ``Above-grade length``."""
    name: str
    """For files, ``above_grade``."""
    unit: str = ""
    align: Literal["left", "right", "center"] = "right"
    strong: bool = False
    """Printed heavy: the number that is read at the saw."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A titled table; every row has one text per column."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    totals: tuple[str, ...] | None = None
    notes: tuple[str, ...] = ()
