"""The sheets of one array's sections as one: a stack of near-empty sheets is read by nobody."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from staking.plan import ArrayPlan
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Table


def together(sheets: Sequence[Sheet], sections: Sequence[ArrayPlan]) -> Sheet:
    """Return sheets of one kind, one for each section of an array, as one sheet.

    Words that all sections share stand once, others say whose they are. Tables of the same columns become
    one, for pier names go on from section to section; those with columns of their own stay apart.
    """
    if len(sheets) == 1:
        return sheets[0]
    names = [f"Section {section.job.section}" for section in sections]
    parts: list[Words | Table] = []
    whose: list[str] = []
    for name, sheet in zip(names, sheets, strict=True):
        at = 0
        for block in sheet.blocks:
            if isinstance(block, Words):
                at = _put_words(parts, whose, _said_by(block, sheets, name), at)
            else:
                table = replace(block, notes=_notes_by(block, sheets, name))
                at = _put_table(parts, whose, table, name, at)
    own = f", {sections[0].name}" if sections[0].name else ""
    title = sheets[0].title.removesuffix(f", {sections[0].title}") + own
    return replace(sheets[0], title=title, blocks=_with_last_notes(_titled(parts, whose)))


def _titled(parts: Sequence[Words | Table], whose: Sequence[str]) -> list[Words | Table]:
    """Return the blocks, tables of one title with their section's name behind it."""
    titles = [block.title for block in parts if isinstance(block, Table)]
    return [
        replace(block, title=f"{block.title}, {name.lower()}" if block.title else name)
        if isinstance(block, Table) and titles.count(block.title) > 1
        else block
        for block, name in zip(parts, whose, strict=True)
    ]


def _said_by(words: Words, sheets: Sequence[Sheet], name: str) -> Words:
    """Return words whose lines say whose they are where not every section has them."""
    told = [
        {line for block in sheet.blocks if isinstance(block, Words) for line in block.lines}
        for sheet in sheets
    ]
    lines = (line if all(line in own for own in told) else f"{name}: {line}" for line in words.lines)
    return replace(words, lines=tuple(lines))


def _notes_by(table: Table, sheets: Sequence[Sheet], name: str) -> tuple[str, ...]:
    told = [
        {note for block in sheet.blocks if isinstance(block, Table) for note in block.notes}
        for sheet in sheets
    ]
    return tuple(note if all(note in own for own in told) else f"{name}: {note}" for note in table.notes)


def _put_words(parts: list[Words | Table], whose: list[str], words: Words, at: int) -> int:
    """Add words to those of the same heading and size, else at a place; return the place after them."""
    for i, other in enumerate(parts):
        if isinstance(other, Words) and replace(other, lines=()) == replace(words, lines=()):
            parts[i] = replace(other, lines=_in_one(other.lines, words.lines))
            return i + 1
    parts.insert(at, words)
    whose.insert(at, "")
    return at + 1


def _in_one(lines: Sequence[str], more: Sequence[str]) -> tuple[str, ...]:
    """Return all lines once, each new one behind those that others have in its place."""
    found, at = list(lines), 0
    for line in more:
        if line not in found:
            while at < len(found) and found[at] not in more:
                at += 1
            found.insert(at, line)
        at = max(at, found.index(line) + 1)
    return tuple(found)


def _put_table(parts: list[Words | Table], whose: list[str], table: Table, name: str, at: int) -> int:
    """Add a table's rows to those of the same title and columns, else the table; return the place after."""
    for i, other in enumerate(parts):
        if not isinstance(other, Table) or other.title != table.title:
            continue
        at = max(at, i + 1)
        if replace(other, notes=()) == replace(table, notes=()):
            return at
        if other.columns == table.columns and other.totals is table.totals is None:
            starts = (len(other.rows), *(len(other.rows) + k for k in table.rules_above))
            parts[i] = replace(
                other,
                rows=(*other.rows, *table.rows),
                rules_above=(*other.rules_above, *starts),
                notes=tuple(dict.fromkeys((*other.notes, *table.notes))),
            )
            return at
    parts.insert(at, table)
    whose.insert(at, name)
    return at + 1


def _with_last_notes(blocks: Sequence[Words | Table]) -> tuple[Words | Table, ...]:
    """Return the blocks with notes that several tables have under the last of them alone."""
    said: set[str] = set()
    kept: list[Words | Table] = []
    for block in reversed(blocks):
        if isinstance(block, Table):
            kept.append(replace(block, notes=tuple(note for note in block.notes if note not in said)))
            said |= set(block.notes)
        else:
            kept.append(block)
    return tuple(reversed(kept))
