"""One table's text to its records, every mistake told with file, row and column."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from staking.base.errors import Mistake
from staking.book.celltext import CellRow, MaySpan, OpenQuote, decode, split_rows
from staking.book.nearest import did_you_mean, plain
from staking.book.sheetcells import refused
from staking.book.tables import Column, Table

MUST_BE_DECIDED = ("how",)
"""Columns that may be blank only where the job decides."""
OWN_SLOPE = frozenset({"tape_rise", "tape_slope"})
"""A tape whose own rise or slope was read lay along it: nothing else need say so."""
MISSING = "this column is missing"
NOT_TAKEN = "a reading that is not taken yet"
LEAST_ALIKE = 3
"""A mistake that every row has, of so many or more, is one mistake of the table."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedRow:
    """One row as typed, whether or not its values could be read."""

    row: int
    read: Mapping[str, str]
    """Each non-blank cell by column."""
    sound: bool = True
    """False where the cells may stand under the wrong columns."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRead:
    """What one file gave."""

    table: Table
    records: tuple[Any, ...] = ()
    """Instances of the table's record: the rows without a mistake."""
    typed: tuple[TypedRow, ...] = ()
    """All rows, those with mistakes too."""
    mistakes: tuple[Mistake, ...] = ()
    named: bool = True
    """False where a column's name is unknown, so that cells may be missing from their rows."""


PLANNED_MARKS = ("x", "?", "*", "✓")
"""What marks a reading that is planned and not yet taken."""


def read_table(
    table: Table, data: bytes, *, unit: str, defaults: Mapping[str, Any], planned: bool = False
) -> TableRead:
    """Read one CSV file.

    Parameters
    ----------
    table : Table
        The declaration.
    data : bytes
        The file.
    unit : str
        What a bare length is in.
    defaults : mapping
        By column: what a blank cell means by decision, None where the job decides nothing (``how``).
    planned : bool
        Whether readings may be planned only: a mark, or nothing in a needed cell, is read as NaN.
    """
    try:
        text = decode(data)
    except ValueError as error:
        return TableRead(table=table, mistakes=(Mistake(file=table.file, problem=str(error)),))
    rows, quotes = rows_of(table, text, unit)
    return read_rows(table, rows, quotes, unit=unit, defaults=defaults, planned=planned)


def rows_of(table: Table, text: str, unit: str) -> tuple[list[CellRow], list[OpenQuote]]:
    """Return the rows of a CSV file; a note may run over several lines that could not be rows themselves."""

    def spanning(cells: tuple[str, ...], delimiter: str) -> MaySpan:
        header = [_column(table, cell) for cell in cells]

        def may_span(index: int, lines: list[str]) -> bool:
            column = header[index] if index < len(header) else None
            return (column is not None and column.name == "note") and not any(
                _looks_like_a_row(line.split(delimiter), header, unit) for line in lines
            )

        return may_span

    return split_rows(text, known=tuple(column.name for column in table.columns), spanning=spanning)


def read_rows(
    table: Table,
    rows: Sequence[CellRow],
    quotes: Sequence[OpenQuote] = (),
    *,
    unit: str,
    defaults: Mapping[str, Any],
    planned: bool = False,
) -> TableRead:
    """Read a table's rows, the one of column names first; the parameters are those of `read_table`."""
    names = tuple(column.name for column in table.columns)
    if not rows:
        problem = "empty: no row of column names"
        expected = f"a first row {','.join(names)}"
        return TableRead(
            table=table, mistakes=(Mistake(file=table.file, problem=problem, expected=expected),)
        )
    header = [_column(table, cell) for cell in rows[0].cells]
    mistakes = _header_mistakes(table, rows[0])
    if not any(header):
        return TableRead(table=table, mistakes=tuple(mistakes))
    named = all(column is not None or not cell for column, cell in zip(header, rows[0].cells, strict=True))
    if not named:
        defaults = {}  # the unknown column may be the one that answers
    records: list[Any] = []
    typed: list[TypedRow] = []
    open_quotes = {quote.row: quote for quote in quotes}
    if rows[0].row in open_quotes:
        mistakes.append(_quote_mistake(table, header, open_quotes[rows[0].row]))
    mistakes = _with_nameless(mistakes, _nameless(table, rows))
    of_heading, in_rows = bool(mistakes), len(mistakes)
    named = named and not of_heading
    for row in rows[1:]:
        quote = open_quotes.get(row.row)
        shifted = (
            _too_long(table, row, len(header)) if quote is None else _quote_mistake(table, header, quote)
        )
        if shifted is not None:
            mistakes.append(shifted)
            typed.append(TypedRow(row=row.row, read=_read(header, row), sound=False))
            continue
        typed.append(TypedRow(row=row.row, read=_read(header, row)))
        record = _record(table, header, typed[-1], unit, defaults, mistakes, planned=planned)
        if record is not None:
            records.append(record)
    told = [*mistakes[:in_rows], *_alike_told_once(mistakes[in_rows:], len(rows) - 1, of_heading=of_heading)]
    return TableRead(
        table=table, records=tuple(records), typed=tuple(typed), mistakes=tuple(told), named=named
    )


def _with_nameless(of_header: list[Mistake], nameless: list[Mistake]) -> list[Mistake]:
    """Return the mistakes of the headings: one missing and one column without a name are one slip."""
    lacking = [k for k, one in enumerate(of_header) if one.problem == MISSING]
    if len(lacking) != 1 or len(nameless) != 1:
        return [*of_header, *nameless]
    found, told = nameless[0], list(of_header)
    remedy = f"Below {found.problem.partition('under ')[2]}, stands '{found.read}': is it this one?"
    told[lacking[0]] = replace(told[lacking[0]], remedy=remedy)
    return told


def _alike_told_once(mistakes: Sequence[Mistake], rows: int, *, of_heading: bool) -> list[Mistake]:
    """Return the mistakes of rows, one that every row has told once, or not where a heading is wrong."""

    def key(one: Mistake) -> tuple[object, ...]:
        # Cells under a wrong heading differ: there it is the mistake alone that is the same.
        return one.column, one.problem, one.remedy, None if of_heading else one.read

    alike: dict[tuple[object, ...], list[Mistake]] = {}
    for one in mistakes:
        alike.setdefault(key(one), []).append(one)
    told: list[Mistake] = []
    for one in mistakes:
        group = alike[key(one)]
        if one.problem == NOT_TAKEN and len(group) >= LEAST_ALIKE:
            # Of a level book no column has a reading in every row.
            if one is group[0]:
                told.append(replace(one, problem=f"{one.problem}, here and in {len(group) - 1} rows below"))
        elif rows < LEAST_ALIKE or len(group) < rows:
            told.append(one)
        elif one is group[0] and not of_heading:
            told.append(replace(one, problem=f"{one.problem}, here and in all {rows - 1} rows below"))
    return told


def _column(table: Table, cell: str) -> Column | None:
    """Return the column that a header cell names, None when it names none."""
    return next((column for column in table.columns if column.name == plain(cell)), None)


def _read(header: Sequence[Column | None], row: CellRow) -> dict[str, str]:
    pairs = zip(header, row.cells, strict=False)
    return {column.name: cell for column, cell in pairs if column is not None and cell}


def _header_mistakes(table: Table, row: CellRow) -> list[Mistake]:
    """Return what is wrong with the row of column names."""
    names = [column.name for column in table.columns]
    found = [_column(table, cell) for cell in row.cells]
    if not any(found):
        return [
            Mistake(
                file=table.file,
                row=row.row,
                read=",".join(row.cells),
                problem="the first row does not name the columns",
                expected=",".join(names),
            )
        ]
    mistakes: list[Mistake] = []
    seen: set[str] = set()
    for cell, column in zip(row.cells, found, strict=True):
        if not cell:
            continue
        problem: str | None = "unknown column"
        if column is not None:
            problem = "the same column twice" if column.name in seen else None
            seen.add(column.name)
        if problem is not None:
            remedy = did_you_mean(cell, names) if column is None else "Keep one of them"
            mistakes.append(
                Mistake(file=table.file, row=row.row, column=cell, problem=problem, remedy=remedy)
            )
    for column in table.columns:
        if column.needed and column.name not in seen:
            mistakes.append(
                Mistake(
                    file=table.file,
                    row=row.row,
                    column=column.name,
                    problem=MISSING,
                    expected=f"{column.meaning}, such as {column.example}",
                )
            )
    return mistakes


def _quote_mistake(table: Table, header: Sequence[Column | None], quote: OpenQuote) -> Mistake:
    column = header[quote.index] if quote.index < len(header) else None
    return Mistake(
        file=table.file,
        row=quote.row,
        column=None if column is None else column.name,
        read=quote.read,
        problem=quote.problem,
        remedy="Write inches without a quote in front, as 5' 5-1/8\", or close the quote at the cell's end",
    )


def _too_long(table: Table, row: CellRow, columns: int) -> Mistake | None:
    extra = [cell for cell in row.cells[columns:] if cell]
    if not extra:
        return None
    return Mistake(
        file=table.file,
        row=row.row,
        read=", ".join(extra),
        problem=f"{len(row.cells)} cells under {columns} columns",
        remedy="A decimal comma parts a number in two: write a point; put a note with commas in quotes",
    )


def _nameless(table: Table, rows: Sequence[CellRow]) -> list[Mistake]:
    """Return a mistake for each column without a name that has cells below, at the first such cell."""
    mistakes: list[Mistake] = []
    for index, name in enumerate(rows[0].cells):
        filled = next((row for row in rows[1:] if not name and "".join(row.cells[index : index + 1])), None)
        if filled is not None:
            problem = f"a cell under column {index + 1}, which has no name"
            remedy = f"Name the column in row {rows[0].row}, or empty it"
            read = filled.cells[index]
            mistakes.append(
                Mistake(file=table.file, row=filled.row, read=read, problem=problem, remedy=remedy)
            )
    return mistakes


def _looks_like_a_row(cells: list[str], header: Sequence[Column | None], unit: str) -> bool:
    """Whether a line inside a quoted note could be a row: every cell reads as its column asks."""
    read = [(column, cell.strip()) for column, cell in zip(header, cells, strict=False) if cell.strip()]
    if len(read) < 2 or len(cells) > len(header):
        return False
    for column, cell in read:
        try:
            if column is not None:
                column.kind.read(cell, unit)
        except ValueError:
            return False
    given = {column.name for column, _ in read if column is not None}
    return all(column.name in given for column in header if column is not None and column.needed)


def _record(
    table: Table,
    header: Sequence[Column | None],
    typed: TypedRow,
    unit: str,
    defaults: Mapping[str, Any],
    mistakes: list[Mistake],
    *,
    planned: bool,
) -> Any | None:
    """Return the record of one row, None when a mistake (added to the list) stands in its way."""
    values: dict[str, Any] = {}
    good = True
    for column in table.columns:
        cell = typed.read.get(column.name)
        if planned and column.name in table.planned:
            marked = cell is not None and cell.strip().casefold() in PLANNED_MARKS
            if marked or (cell is None and column.needed):
                values[column.attribute] = math.nan
                continue
        if cell is None:
            if column.needed:
                good = False
                if column in header:
                    mistakes.append(_blank(table, typed.row, column))
            elif column.name in defaults:
                values[column.attribute] = defaults[column.name]
                if defaults[column.name] is None and not OWN_SLOPE.isdisjoint(typed.read):
                    values[column.attribute] = "slope"
                elif defaults[column.name] is None:
                    good = False
                    mistakes.append(_undecided(table, typed.row, column))
            elif column.name in MUST_BE_DECIDED:
                good = False
            continue
        turned = refused(cell, column.kind, expected=f"{column.meaning}, such as {column.example}")
        if turned is not None:
            good = False
            mistakes.append(
                Mistake(
                    file=table.file, row=typed.row, column=column.name, read=str(cell), **turned._asdict()
                )
            )
            continue
        try:
            values[column.attribute] = column.kind.read(cell, unit)
        except ValueError as error:
            good = False
            if column.name in table.planned and cell.strip().casefold() in PLANNED_MARKS:
                mistakes.append(_not_taken(table, typed.row, column, cell))
                continue
            mistakes.append(
                Mistake(
                    file=table.file,
                    row=typed.row,
                    column=column.name,
                    read=cell,
                    problem=str(error),
                    expected=getattr(error, "expected", None),
                    remedy=getattr(error, "remedy", None),
                )
            )
    if not good:
        return None
    return table.record(table=table.file, row=typed.row, read=typed.read, **values)


def _not_taken(table: Table, row: int, column: Column, cell: str) -> Mistake:
    return Mistake(
        file=table.file,
        row=row,
        column=column.name,
        read=cell,
        problem=NOT_TAKEN,
        remedy="Write what was read; before any is taken: staking check --planned",
    )


def _blank(table: Table, row: int, column: Column) -> Mistake:
    return Mistake(
        file=table.file,
        row=row,
        column=column.name,
        problem="nothing there",
        expected=f"{column.meaning}, such as {column.example}",
    )


def _undecided(table: Table, row: int, column: Column) -> Mistake:
    return Mistake(
        file=table.file,
        row=row,
        column=column.name,
        problem="nothing says whether the tape was held level or along the slope",
        expected="level or slope",
        remedy='Write it in the row, or once in job.toml: [site] tape_how = "level"',
    )
