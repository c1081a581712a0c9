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
    """Right-aligned lengths are lined up on their decimal sign or whole inch."""
    strong: bool = False
    """Printed heavy: the number that is read at the saw."""
    main: bool = False
    """The number that the sheet is for: larger still and between heavy lines."""
    kind: Literal["text", "tick", "blank"] = "text"
    """``tick`` is a box to tick, ``blank`` a space to write in; files leave them out."""
    number: bool = False
    """Whether its cells are bare numbers, for spreadsheets; a name that looks like one is not."""
    wide: bool = False
    """Takes the room that the other columns leave, and wraps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A titled table; every row has one text per column."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    totals: tuple[str, ...] | None = None
    notes: tuple[str, ...] = ()
    size_pt: float = 10.0
    """Of its letters; larger where it is read at arm's length."""
    rules_above: tuple[int, ...] = ()
    """Rows, counted from 0, that begin a new group."""

    def __post_init__(self) -> None:
        for row in (*self.rows, *(() if self.totals is None else (self.totals,))):
            if len(row) != len(self.columns):
                message = (
                    f"table {self.title!r}: {len(row)} cells in a row of {len(self.columns)} columns: {row}"
                )
                raise ValueError(message)
