"""What a pack prints, sheet by sheet, without its title block: to tell later which sheets are void."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from staking.sheets.drawing import Text
from staking.sheets.sheet import TITLE_LAYERS, Pack, Sheet, Words
from staking.sheets.table import Table

COUNTED = "no."
"""Stands before a whole number that is no length, so that a change by one is not taken for a last place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedSheet:
    """One sheet's words and numbers in the order in which they are read."""

    title: str
    part: int
    """Of several sheets with one title, from 1."""
    scale: int | None
    """Of a map: one millimetre on paper is this many on the ground."""
    texts: tuple[str, ...]


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
