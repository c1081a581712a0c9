"""What must be known of a workbook before its cells are read: how far they reach, which hold error values.

The library that reads the cells gives errors such as ``#REF!`` as empty, and a reading must not vanish so;
and it fills every sheet up to its farthest cell, which for one cell touched at the far corner is more than
any memory. Office Open XML (ECMA-376 part 1, 18.3.1.4): a cell ``c`` has its place in ``r`` and ``t="e"``
for an error. OpenDocument (ISO/IEC 26300 part 1, 9): rows and cells follow one another, with how often they
repeat.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_CELL = re.compile(rb'<(?:\w+:)?c\b[^>]*?\sr="([A-Z]{1,3})([0-9]{1,7})"')
_ERROR = re.compile(
    rb'<(?:\w+:)?c\b(?=[^>]*\st="e")[^>]*?\sr="([A-Z]{1,3})([0-9]{1,7})"[^>]*>(.*?)</(?:\w+:)?c>', re.DOTALL
)
_VALUE = re.compile(rb"<(?:\w+:)?v>([^<]*)</")
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_ERROR_KIND = "{urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0}value-type"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """One sheet before it is read."""

    rows: int
    columns: int
    """How far its cells reach, empty ones of an .xlsx file too."""
    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    """By row and column, both from 0: the error's text."""


def sheet_outlines(path: Path) -> dict[str, Outline]:
    """Return the outline of every sheet by its title; none where the file is not laid out as expected."""
    try:
        with zipfile.ZipFile(path) as file:
            if "content.xml" in file.namelist():
                return _open_document(file)
            return {title: _office_open(file.read(name)) for title, name in _sheets(file)}
    except (OSError, KeyError, ValueError, zipfile.BadZipFile, ET.ParseError):
        return {}


def _sheets(file: zipfile.ZipFile) -> Iterator[tuple[str, str]]:
    """Yield each sheet's title and the name of its part."""
    parts = {
        relation.get("Id"): relation.get("Target", "")
        for relation in ET.fromstring(file.read("xl/_rels/workbook.xml.rels"))
    }
    for element in ET.fromstring(file.read("xl/workbook.xml")).iter():
        target = parts.get(element.get(_RELATION))
        title = element.get("name")
        if element.tag.endswith("}sheet") and target and title is not None:
            yield title, target.lstrip("/") if target.startswith("/") else str(PurePosixPath("xl", target))


def _office_open(data: bytes) -> Outline:
    places = {(letters, int(row)) for letters, row in _CELL.findall(data)}
    found = {}
    for letters, row, inside in _ERROR.findall(data):
        value = _VALUE.search(inside)
        text = value[1].decode("utf-8", "replace") if value else "#VALUE!"
        found[int(row) - 1, _number(letters) - 1] = text
    return Outline(
        rows=max((row for _, row in places), default=0),
        columns=max((_number(letters) for letters in {letters for letters, _ in places}), default=0),
        errors=found,
    )


def _number(letters: bytes) -> int:
    """Return the number of a column from its letters: A is 1."""
    number = 0
    for letter in letters:
        number = 26 * number + letter - ord("A") + 1
    return number


def _open_document(file: zipfile.ZipFile) -> dict[str, Outline]:
    found: dict[str, Outline] = {}
    for table in ET.fromstring(file.read("content.xml")).iter(f"{_TABLE}table"):
        row = rows = columns = 0
        errors = {}
        for line in table.iter(f"{_TABLE}table-row"):
            row += int(line.get(f"{_TABLE}number-rows-repeated", "1"))
            column = 0
            for cell in line:
                column += int(cell.get(f"{_TABLE}number-columns-repeated", "1"))
                if cell.get(f"{_OFFICE}value-type") is not None:
                    rows, columns = row, max(columns, column)
                if cell.get(_ERROR_KIND) == "error":
                    errors[row - 1, column - 1] = "".join(cell.itertext()).strip() or "#VALUE!"
        found[table.get(f"{_TABLE}name", "")] = Outline(rows=rows, columns=columns, errors=errors)
    return found
