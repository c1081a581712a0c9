"""Rows added to a table's file: what stands in it stays byte by byte, remarks, order and encoding too."""

from __future__ import annotations

import codecs
import csv
import io
import os
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from staking.base.errors import Mistake, WrongInput
from staking.book.celltext import decode, delimiter_of, split_rows
from staking.book.nearest import plain
from staking.book.tables import Table


def appended(table: Table, data: bytes | None, rows: Sequence[Mapping[str, str]]) -> bytes:
    """Return a table's file with rows added at its end.

    Columns keep their order; one that the rows need and the file lacks is added to its right.

    Parameters
    ----------
    table
        The declaration.
    data
        The file as it is; None where there is none.
    rows
        Cells by column.

    Raises
    ------
    WrongInput
        When the file's column names cannot be made out.
    """
    filled = {name for row in rows for name, cell in row.items() if cell}
    names = [column.name for column in table.columns]
    if data is None or not data.strip():
        return _lines([names, *([row.get(name, "") for name in names] for row in rows)], ",", "\n").encode()
    text = decode(data)
    header_line, header, delimiter = _header(table, text, tuple(names))
    end = "\r\n" if "\r\n" in text else "\n"
    missing = [name for name in names if name in filled and name not in header]
    if missing:
        lines = re.split(r"(\r\n|\r|\n)", text)
        # Every second part is a line's end.
        lines[2 * header_line] = delimiter.join([lines[2 * header_line], *missing])
        text = "".join(lines)
    header = [*header, *missing]
    if not text.endswith(("\n", "\r")):
        text += end
    text += _lines([[row.get(name, "") for name in header] for row in rows], delimiter, end)
    return _encoded(text, data)


def _header(table: Table, text: str, names: tuple[str, ...]) -> tuple[int, list[str], str]:
    """Return the number of the header's line, its columns and what parts them."""
    rows, _ = split_rows(text, known=names, spanning=lambda _cells, _delimiter: _never)
    lines = re.split(r"\r\n|\r|\n", text)
    told = re.fullmatch(r"sep=(.)", lines[0].strip())
    if rows:
        for number, line in enumerate(lines):
            delimiter = told[1] if told else delimiter_of(line, names)
            cells = tuple(cell.strip().strip('"').strip() for cell in line.split(delimiter))
            if cells == rows[0].cells:
                return number, [plain(cell) for cell in cells], delimiter
    problem = "its row of column names cannot be made out"
    expected = f"a first row such as {','.join(names)}"
    raise WrongInput([Mistake(file=table.file, problem=problem, expected=expected)])


def _never(index: int, lines: list[str]) -> bool:
    del index, lines
    return False


def _lines(rows: Sequence[Sequence[str]], delimiter: str, end: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=end).writerows(rows)
    return out.getvalue()


def _encoded(text: str, data: bytes) -> bytes:
    """Return the text in the encoding of the file; a name that it cannot write makes it UTF-8."""
    if data.startswith(codecs.BOM_UTF16_LE):
        return codecs.BOM_UTF16_LE + text.encode("utf-16-le")
    if data.startswith(codecs.BOM_UTF16_BE):
        return codecs.BOM_UTF16_BE + text.encode("utf-16-be")
    if data.startswith(codecs.BOM_UTF8):
        return codecs.BOM_UTF8 + text.encode()
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        try:
            return text.encode("cp1252")
        except UnicodeEncodeError:
            return codecs.BOM_UTF8 + text.encode()
    return text.encode()


def replace_files(contents: Mapping[Path, bytes]) -> None:
    """Write files whole or not at all: each beside its place first, moved there once all are on the disk.

    Raises
    ------
    OSError
        When one cannot be written; those that were there are then as they were.
    """
    waiting: dict[Path, Path] = {}
    try:
        for place, content in contents.items():
            beside = place.with_name(f".{place.name}.part")
            waiting[place] = beside
            with beside.open("wb") as out:
                out.write(content)
                out.flush()
                os.fsync(out.fileno())
        for place, beside in waiting.items():
            os.replace(beside, place)
    finally:
        for beside in waiting.values():
            beside.unlink(missing_ok=True)
