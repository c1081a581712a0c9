"""How wide each column of a table is on paper, and what lines its numbers up."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from staking.sheets.letters import text_width_mm
from staking.sheets.sheet import SMALLEST_PT
from staking.sheets.table import Column, Table

PAD_MM = 1.6
"""White on each side of a cell."""
HEADING_PT = 9.0
STRONGER_PT = 2.0
"""How much larger a strong column is set."""
MAIN_PT = 5.0
"""How much larger the main column is set."""
_MOST_EXTRA_MM = 9.0
"""A column is never made wider than its words by more than this: eyes lose the row across wide gaps."""
_WIDE_MM = 38.0
"""Least width of a column that wraps."""
_BLANK_MM = 24.0
"""Width of a space to write in."""
_TICK_MM = 9.0
_STEP_PT = 0.5
FOLD_GUTTER_MM = 8.0
"""White between the columns of a table that is set in several side by side."""
_MOST_WAYS, _LEAST_ROWS = 4, 4
"""Columns side by side at the most; rows in each at the least."""
LEAD_MM = 2.4
"""More white before words that follow a column of numbers, or "3083" and "P3" read as one."""
_KERNING_MM = 0.3
"""Text can come out wider than the sum of its letters by kerning; never by as much as this."""

_FIGURE_SPACE = "\u2007"
"""As wide as a figure."""
_TEN_INCHES = re.compile(r"\d' 1\d")
_UNDER_TEN = re.compile(r"(?<=\d') (?=\d(?!\d))")
_TAIL = re.compile(r"""(?:\.\d+|-\d+/\d+"|"|(?<=\d)°|(?<=\d)\s?%)[^0-9]*$""")


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnLayout:
    """One column as set: its width and, for each row then the totals, the white right of the text."""

    width_mm: float
    pads_mm: tuple[float, ...]
    lead_mm: float = 0.0
    """White before its words besides the pad."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TableLayout:
    """A table as set."""

    size_pt: float
    columns: tuple[ColumnLayout, ...]


def lay_out(table: Table, *, room_mm: float) -> TableLayout:
    """Return sizes and widths with which a table fills the room, its letters smaller only if they must."""
    size_pt = table.size_pt
    while True:
        natural = [_natural_mm(table, i, size_pt) for i in range(len(table.columns))]
        if sum(natural) <= room_mm or size_pt - _STEP_PT < SMALLEST_PT:
            break
        size_pt -= _STEP_PT
    return TableLayout(
        size_pt=size_pt,
        columns=tuple(
            ColumnLayout(width_mm=width, pads_mm=_pads_mm(table, i, size_pt), lead_mm=lead_mm(table, i))
            for i, width in enumerate(_shared_out(table, natural, size_pt, room_mm))
        ),
    )


def folded(table: Table, *, room_mm: float) -> tuple[int, TableLayout] | None:
    """Return in how many columns side by side a narrow table can be set, and how wide each is then.

    None for a table that is wide, short, has totals, or spaces to write in.
    """
    if table.totals is not None or any(c.wide or c.kind == "blank" for c in table.columns):
        return None
    for ways in range(min(_MOST_WAYS, len(table.rows) // _LEAST_ROWS), 1, -1):
        layout = lay_out(table, room_mm=(room_mm - (ways - 1) * FOLD_GUTTER_MM) / ways)
        natural = sum(_natural_mm(table, i, table.size_pt) for i in range(len(table.columns)))
        if layout.size_pt == table.size_pt and natural <= sum(c.width_mm for c in layout.columns) + 1e-6:
            return ways, layout
    return None


def under_each_other(table: Table) -> Table:
    """Return the table with feet under feet where some inches have two figures: 8'  4" under 12' 10"."""
    columns = [[text for text, _ in _cells(table, i)] for i in range(len(table.columns))]
    wide = [
        column.align == "right" and any(_TEN_INCHES.search(text) for text in texts)
        for column, texts in zip(table.columns, columns, strict=True)
    ]

    def row(cells: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(
            _UNDER_TEN.sub(" " + _FIGURE_SPACE, cell) if spaced else cell
            for cell, spaced in zip(cells, wide, strict=True)
        )

    totals = None if table.totals is None else row(table.totals)
    return replace(table, rows=tuple(row(cells) for cells in table.rows), totals=totals)


def lead_mm(table: Table, i: int) -> float:
    """Return the white before a column of words that follows one of numbers."""
    here, before = table.columns[i], table.columns[i - 1] if i else None
    follows = before is not None and before.align == "right" and before.kind == "text"
    return LEAD_MM if here.align == "left" and here.kind == "text" and follows else 0.0


def tail(text: str) -> str:
    """Return what stands right of a number's units: its decimals, its fraction of an inch and the mark."""
    match = _TAIL.search(text)
    return match.group() if match and any(c.isdigit() for c in text[: match.start()]) else ""


def _shared_out(table: Table, natural: list[float], size_pt: float, room_mm: float) -> list[float]:
    spare = room_mm - sum(natural)
    wide = [i for i, column in enumerate(table.columns) if column.wide]
    if spare < 0.0:
        return _squeezed(table, natural, room_mm)
    if wide:
        whole = sum(_natural_mm(table, i, size_pt, wrapped=False) - natural[i] for i in wide)
        spare = min(spare, whole + _MOST_EXTRA_MM * len(wide))
        return [width + (spare / len(wide) if i in wide else 0.0) for i, width in enumerate(natural)]
    return [width + min(_MOST_EXTRA_MM, spare / len(natural)) for width in natural]


def _squeezed(table: Table, natural: list[float], room_mm: float) -> list[float]:
    """Return widths that fit: words wrap, light ones first, before numbers break or run into each other."""
    widths = list(natural)
    wordy = [i for i, c in enumerate(table.columns) if c.align == "left" and c.kind == "text"]
    wordy.sort(key=lambda i: (table.columns[i].strong, -natural[i]))
    for least in (_WIDE_MM, 0.0):
        for i in wordy:
            narrowest = max(least, _one_word_mm(table, i))
            widths[i] -= min(max(0.0, widths[i] - narrowest), max(0.0, sum(widths) - room_mm))
    return [width * min(1.0, room_mm / sum(widths)) for width in widths]


def _one_word_mm(table: Table, i: int) -> float:
    """Return the width of a column, set as small as may be, whose every line is one word."""
    size = _size(table.columns[i], SMALLEST_PT)
    words = [(word, strong) for text, strong in _cells(table, i) for word in text.split(" ")]
    words += [(word, True) for word in heading_text(table.columns[i]).split(" ")]
    widest = max(text_width_mm(word, size_pt=size, strong=strong) for word, strong in words)
    return widest + 2.0 * PAD_MM + _KERNING_MM + lead_mm(table, i)


def _cells(table: Table, i: int) -> list[tuple[str, bool]]:
    """Return the texts of a column, the total last, and whether each is heavy."""
    cells = [(row[i], table.columns[i].strong) for row in table.rows]
    if table.totals is not None:
        cells.append((table.totals[i], True))
    return cells


def _size(column: Column, size_pt: float) -> float:
    return size_pt + (MAIN_PT if column.main else STRONGER_PT if column.strong else 0.0)


def _natural_mm(table: Table, i: int, size_pt: float, *, wrapped: bool = True) -> float:
    column = table.columns[i]
    if column.kind == "tick":
        return _TICK_MM
    heading = max(
        (text_width_mm(word, size_pt=HEADING_PT, strong=True) for word in heading_text(column).split(" ")),
        default=0.0,
    )
    if column.kind == "blank":
        return max(_BLANK_MM, heading + 2.0 * PAD_MM)
    size = _size(column, size_pt)
    widths = [text_width_mm(text, size_pt=size, strong=strong) for text, strong in _cells(table, i)]
    pads = _pads_mm(table, i, size_pt)
    cells = max((w + pad for w, pad in zip(widths, pads, strict=True)), default=0.0)
    if column.wide and wrapped:
        cells = min(cells, _WIDE_MM)
    return max(cells, heading) + 2.0 * PAD_MM + _KERNING_MM + lead_mm(table, i)


def heading_text(column: Column) -> str:
    """Return a column's heading with its unit."""
    return f"{column.heading} ({column.unit})" if column.unit else column.heading


def _pads_mm(table: Table, i: int, size_pt: float) -> tuple[float, ...]:
    cells = _cells(table, i)
    if table.columns[i].align != "right":
        return (0.0,) * len(cells)
    size = _size(table.columns[i], size_pt)
    tails = [text_width_mm(tail(text), size_pt=size, strong=strong) for text, strong in cells]
    longest = max(tails, default=0.0)
    return tuple(longest - t for t in tails)
