"""What a pack prints, sheet by sheet, without its title block: to tell later which sheets are void."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from staking.sheets.drawing import Circle, Drawing, Line, Text
from staking.sheets.sheet import TITLE_LAYERS, Pack, Sheet, Words
from staking.sheets.table import Table

COUNTED = "no."
"""Stands before a whole number that is no length, so that a change by one is not taken for a last place."""

CORNERS = 12
"""Of a circle, which is kept as a ring."""
TO_MM = 1
"""Decimals of millimetres on the paper to which drawn lines are kept."""
Path = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedSheet:
    """One sheet's words and numbers in the order in which they are read."""

    title: str
    part: int
    """Of several sheets with one title, from 1."""
    scale: int | None
    """Of a map: one millimetre on paper is this many on the ground."""
    texts: tuple[str, ...]
    drawn: Mapping[str, tuple[Path, ...]] = field(default_factory=dict)
    """Of a map: its lines and rings by layer, millimetres on the paper."""


def printed_sheets(pack: Pack) -> tuple[PrintedSheet, ...]:
    """Return what every sheet says; what all sheets share besides date and inputs counts with each."""
    block = pack.title_block
    shared = (block.job, block.benchmark, block.lengths_in, block.alarm)
    seen: dict[str, int] = {}
    found = []
    for sheet in pack.sheets:
        seen[sheet.title] = seen.get(sheet.title, 0) + 1
        scale = None if sheet.drawing is None or sheet.drawing.scale == 1 else sheet.drawing.scale
        found.append(
            PrintedSheet(
                title=sheet.title,
                part=seen[sheet.title],
                scale=scale,
                texts=(*shared, *_texts(sheet)),
                drawn={} if scale is None or sheet.drawing is None else _drawn(sheet.drawing),
            )
        )
    return tuple(found)


def _texts(sheet: Sheet) -> Iterator[str]:
    for block in sheet.blocks:
        if isinstance(block, Words):
            yield block.heading
            yield from block.lines
        else:
            yield from _table_texts(block)
    if sheet.drawing is not None:
        for item in sheet.drawing.items:
            if isinstance(item, Text) and item.layer not in TITLE_LAYERS:
                yield item.text


def _drawn(drawing: Drawing) -> dict[str, tuple[Path, ...]]:
    found: dict[str, list[Path]] = {}
    for item in drawing.items:
        if isinstance(item, Text) or item.layer in TITLE_LAYERS:
            continue
        xy = _ring(item) if isinstance(item, Circle) else _line(item)
        found.setdefault(item.layer, []).append(tuple((round(x, TO_MM), round(y, TO_MM)) for x, y in xy))
    return {layer: tuple(paths) for layer, paths in found.items()}


def _line(line: Line) -> Path:
    return (*line.xy_mm, line.xy_mm[0]) if line.closed else line.xy_mm


def _ring(circle: Circle) -> Path:
    (x, y), turn = circle.xy_mm, math.tau / CORNERS
    return tuple(
        (x + circle.radius_mm * math.cos(k * turn), y + circle.radius_mm * math.sin(k * turn))
        for k in range(CORNERS + 1)
    )


def _table_texts(table: Table) -> Iterator[str]:
    yield table.title
    yield " | ".join(column.heading for column in table.columns)
    for row in (*table.rows, *(() if table.totals is None else (table.totals,))):
        for cell, column in zip(row, table.columns, strict=True):
            if column.unit and cell:
                yield f"{cell} {column.unit}"
            else:
                yield f"{COUNTED} {cell}" if cell.isdigit() else cell
    yield from table.notes
