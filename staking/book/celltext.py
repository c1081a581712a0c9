"""A file of cells as people save it, to rows of text: encodings, delimiters, remarks, quotes.

Quotes follow RFC 4180 where a cell starts with one; anywhere else a double quote is an inch mark and stays
as typed. A cell that opens with a quote and runs over its row's end is told as a quote that swallows rows,
unless it closes properly and the table allows it.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Callable
from dataclasses import dataclass

LONGEST_CELL = 50
"""Lines of text after which a cell is taken to be an open quote: no note of a field book runs that long."""

_LINE_END = re.compile(r"\r\n|\r|\n")
_SHEET_ERROR = re.compile(r"#(REF!|VALUE!|N/A|NAME\?|DIV/0!|NUM!|NULL!)")


@dataclass(frozen=True, slots=True, kw_only=True)
class CellRow:
    """One row that is neither blank nor a remark."""

    row: int
    """As a spreadsheet shows it: blank rows and remarks count, a cell of several lines is one row."""
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenQuote:
    """A quote that swallows what follows it."""

    row: int
    index: int
    """Which cell of the row, from 0."""
    read: str
    """The rest of the line from the quote on."""
    problem: str


MaySpan = Callable[[int, list[str]], bool]
"""Whether the cell of that index may run over these further lines."""
Spanning = Callable[[tuple[str, ...], str], MaySpan]
"""From the header's cells and the delimiter to the rule for the rows below."""


def decode(data: bytes) -> str:
    """Return the text of a file, without byte order mark.

    UTF-8, UTF-16 with a byte order mark, else the Western code page cp1252, as spreadsheets save.

    Raises
    ------
    ValueError
        When it is none of them; the message says what to do.
    """
    unreadable = "not readable as text; save it again as CSV UTF-8"
    try:
        if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            text = data.decode("utf-16")
        elif data.startswith(codecs.BOM_UTF8):
            text = data.decode("utf-8-sig")
        else:
            try:
                text = data.decode("utf-8")
            except UnicodeDecodeError:
                text = data.decode("cp1252")
    except UnicodeDecodeError as error:
        raise ValueError(unreadable) from error
    if "\0" in text:
        raise ValueError(unreadable)
    return text


def delimiter_of(header: str, known: tuple[str, ...]) -> str:
    """Return what parts the cells of a header: comma, semicolon or tab, whichever yields most known names."""

    def hits(delimiter: str) -> tuple[int, int]:
        names = [name.strip(' "').casefold() for name in header.split(delimiter)]
        return sum(name in known for name in names), len(names)

    return max(",;\t", key=hits)


def split_rows(
    text: str, *, known: tuple[str, ...], spanning: Spanning
) -> tuple[list[CellRow], list[OpenQuote]]:
    """Part a text into rows of cells, blanks round each cell taken off.

    Parameters
    ----------
    text : str
        The file.
    known : tuple of str
        Column names, to tell the delimiter by.
    spanning : callable
        Gives the rule for quoted cells that run over further lines and close.

    Returns
    -------
    rows, open_quotes
        A row with an open quote is read again as a line of its own, its quotes left as they stand.
    """
    lines = _LINE_END.split(text)
    delimiter, skipped = ",", 0
    if match := re.fullmatch(r"sep=(.)", lines[0].strip()):
        delimiter, skipped = match[1], 1  # a spreadsheet hides this line and does not count it
    else:
        header = next((line for line in lines if line.strip(" ,;\t") and not is_remark(line)), "")
        delimiter = delimiter_of(header, known)
    rows: list[CellRow] = []
    quotes: list[OpenQuote] = []
    at, row = skipped, 0
    may_span: MaySpan = _never
    while at < len(lines):
        row += 1
        if is_remark(lines[at]):
            at += 1
            continue
        cells, used, quote = _cells(lines, at, delimiter, may_span)
        if quote is not None:
            quotes.append(OpenQuote(row=row, index=quote[0], read=quote[1], problem=quote[2]))
            cells, used = lines[at].split(delimiter), 1
        at += used
        cells = [cell.replace("\u00a0", " ").strip() for cell in cells]
        if any(cells) and not is_remark(cells[0]):
            rows.append(CellRow(row=row, cells=tuple(cells)))
            if len(rows) == 1:
                may_span = spanning(rows[0].cells, delimiter)
    return rows, quotes


def _never(index: int, lines: list[str]) -> bool:
    del index, lines
    return False


def is_remark(line: str) -> bool:
    """Whether a line is a remark; a spreadsheet's error value is not one and must not vanish."""
    return line.lstrip().startswith("#") and not _SHEET_ERROR.match(line.lstrip())


def _cells(
    lines: list[str], first: int, delimiter: str, may_span: MaySpan
) -> tuple[list[str], int, tuple[int, str, str] | None]:
    """Return the cells of the row that starts at line `first`, the lines it takes, and an open quote."""
    cells: list[str] = []
    line, at, used = lines[first], 0, 1
    while True:
        start = at
        while at < len(line) and line[at] in " \t\u00a0" and line[at] != delimiter:
            at += 1
        if at < len(line) and line[at] == '"':
            opened = line[at:]
            closed = _closing(lines, first + used - 1, at)
            if closed is None:
                return cells, used, (len(cells), opened, "a double quote opens here and never closes")
            cell, last, at = closed
            over = lines[first + used : last + 1]
            used, line = last - first + 1, lines[last]
            end = line.find(delimiter, at)
            end = len(line) if end < 0 else end
            if line[at:end].strip():
                problem = "a double quote opens here and its closing one is not at the end of a cell"
                if over:
                    problem = f"a double quote opens here and swallows the {len(over)} lines that follow"
                return cells, used, (len(cells), opened, problem)
            if over and not may_span(len(cells), over):
                problem = f"a double quote opens here and swallows the {len(over)} lines that follow"
                return cells, used, (len(cells), opened, problem)
            cells.append(cell)
        else:
            end = line.find(delimiter, start)
            end = len(line) if end < 0 else end
            cells.append(line[start:end])
        if end >= len(line):
            return cells, used, None
        at = end + 1


def _closing(lines: list[str], number: int, at: int) -> tuple[str, int, int] | None:
    """Return the text of the quoted cell that opens at lines[number][at], its last line, the place behind."""
    parts: list[str] = []
    place = at + 1
    for last in range(number, min(number + LONGEST_CELL, len(lines))):
        line = lines[last]
        while (quote := line.find('"', place)) >= 0:
            parts.append(line[place:quote])
            if line[quote + 1 : quote + 2] != '"':
                return "".join(parts), last, quote + 1
            parts.append('"')
            place = quote + 2
        parts.append(line[place:] + "\n")
        place = 0
    return None
