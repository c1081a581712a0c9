"""A list of points with a row of column names: to control.csv, or to fixes.csv when it has latitudes.

Columns are known by their names and never by their order, for lists come as name-east-north and as
name-north-east. A unit behind a name, ``Northing (m)``, counts for the column.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from staking.base.units import in_unit, parse_length
from staking.book.celltext import CellRow, decode, split_rows
from staking.book.found_points import Asked, Found, FoundRow
from staking.book.list_headings import CONTROL, FIXES, HEIGHTS, MEANINGS, Heading, heading

OF_RECEIVERS = ("ellipsoidal", "orthometric")
"""Heights whose name says that a receiver gave them: in metres, whatever the survey is in."""
BARE = re.compile(r"[-+\d.\s]+")

MIXED_FEET = (
    "; numbers without a unit are feet of 0.3048 m here, 2 in a million shorter (2 ft in a million): type "
    "usft behind others that are of the same grid"
)


def list_points(file: str, data: bytes, asked: Asked) -> Found:
    """Return the rows of a list of points.

    Parameters
    ----------
    file
        Name of the list.
    data
        Its contents.
    asked
        Session, and what heights are.
    """
    found = Found(file=file)
    try:
        text = decode(data)
    except ValueError as error:
        found.wrong(str(error))
        return found
    known = tuple(name for names in MEANINGS.values() for name in names)
    rows, quotes = split_rows(text, known=known, spanning=lambda _cells, _delimiter: _never)
    for quote in quotes:
        found.wrong(quote.problem, line=quote.row, read=quote.read)
    if not rows:
        found.wrong("empty")
        return found
    header = _one_height(_headings(rows[0], found, asked), asked)
    _check_header(rows[0], [one.meaning for one in header], found)
    if found.mistakes:
        return found
    _said_of(rows[0], header, found, asked)
    if len(rows) == 1:
        found.wrong("no row below the column names", line=rows[0].row)
    for row in rows[1:]:
        _add(row, header, rows[0].cells, found, asked)
    return found


def _never(index: int, lines: list[str]) -> bool:
    del index, lines
    return False


def _headings(row: CellRow, found: Found, asked: Asked) -> list[Heading]:
    """Return what the columns mean; note a unit that is none, and an x that may run either way."""
    headings = [heading(cell, asked.x_is) for cell in row.cells]
    for one in headings:
        if one.unknown:
            found.wrong(
                "unknown unit of a column",
                line=row.row,
                column=one.cell,
                read=one.unknown,
                expected="m, cm, mm, ft (0.3048 m), usft (US survey feet) or in",
                remedy="What is no unit, as the name of a datum, is left out of the brackets.",
            )
    there = {one.meaning for one in headings}
    if there.isdisjoint(("x", "y")):
        return headings
    if {"east", "north"} <= there or there & set(FIXES):
        # The other columns say where the points are.
        return [replace(one, meaning=None) if one.meaning in ("x", "y") else one for one in headings]
    found.wrong(
        "x and y may be east and north, or north and east: maps and drawings have the one, many countries' "
        "surveys the other, and the wrong one is the yard's mirror image",
        line=row.row,
        read=", ".join(row.cells),
        remedy="Say --x east or --x north, or name the columns east and north.",
    )
    # As if they were the usual ones, so that what else is wrong is told too.
    return [heading(cell, "east") for cell in row.cells]


def _one_height(headings: list[Heading], asked: Asked) -> list[Heading]:
    """Return the columns of fixes with the one of several heights that the person asked for."""
    heights = [one for one in headings if one.meaning in HEIGHTS]
    if len(heights) < 2 or asked.height_kind is None or not {"lat", "lon"} & {h.meaning for h in headings}:
        return headings
    other = {"ellipsoidal": "orthometric", "orthometric": "ellipsoidal"}.get(asked.height_kind)
    wanted = [one for one in heights if one.meaning == asked.height_kind]
    wanted = wanted or [one for one in heights if one.meaning != other]
    if asked.height_kind == "none":
        wanted = heights[:1]
    kept = wanted if len(wanted) == 1 else heights
    return [one if one in kept or one not in heights else replace(one, meaning=None) for one in headings]


def _check_header(row: CellRow, meanings: Sequence[str | None], found: Found) -> None:
    """Note names that are missing or mean the same thing."""
    read = ", ".join(row.cells)
    would_do = "point, east, north, elevation, or point, lat, lon, height"
    for meaning in dict.fromkeys(m for m in meanings if m is not None):
        same = [cell for cell, m in zip(row.cells, meanings, strict=True) if m == meaning]
        if len(same) > 1 and meaning != "note":
            found.wrong(
                f"{' and '.join(same)} both name the {meaning}",
                line=row.row,
                read=read,
                remedy="Keep one, or give the other a name that is not used, such as old.",
            )
    there = set(meanings)
    if "point" not in there:
        found.wrong(
            "no column names the points, or the first row does not name the columns",
            line=row.row,
            read=read,
            expected=would_do,
        )
    on_earth, on_site = there.intersection(FIXES), there.intersection(("east", "north"))
    if on_earth and on_site:
        found.wrong(
            "latitude or longitude beside east or north: two kinds of coordinates",
            line=row.row,
            read=read,
            remedy="Keep one kind; latitude and longitude go to fixes.csv, east and north to control.csv.",
        )
    elif on_earth and len(on_earth) < 2:
        found.wrong("latitude without longitude, or the reverse", line=row.row, read=read, expected=would_do)
    elif on_earth and len(there.intersection(HEIGHTS)) > 1:
        found.wrong(
            "several columns of heights",
            line=row.row,
            read=read,
            remedy="Say --height-kind ellipsoidal, orthometric or none, or keep one of them.",
        )
    elif not on_earth and len(on_site) == 1:
        found.wrong("east without north, or the reverse", line=row.row, read=read, expected=would_do)
    elif not on_earth and not on_site and "elevation" not in there:
        found.wrong("no column holds a coordinate", line=row.row, read=read, expected=would_do)


def _said_of(row: CellRow, header: Sequence[Heading], found: Found, asked: Asked) -> None:
    """Set where the rows go, and say as what each column was taken."""
    meanings = [one.meaning for one in header]
    found.target = "fixes" if "lat" in meanings else "control"
    used = {one.cell: one for one in header if one.meaning is not None and _used(one.meaning, found)}
    unused = [cell for cell in row.cells if cell and cell not in used]
    text = ", ".join(
        f"{cell} is {one.meaning}" for cell, one in used.items() if cell.casefold() != one.meaning
    )
    if text:
        found.said.append(f"{found.file}: {text}")
    if unused:
        found.said.append(f"{found.file}: not used: {', '.join(unused)}")
    survey_feet = [cell for cell, one in used.items() if one.unit == "usft"]
    if survey_feet:
        found.said.append(
            f"{found.file}: US survey feet, 1200/3937 m each (usft): {', '.join(survey_feet)}"
            + ("; east and north go in as the grid's own feet" if asked.grid_in_survey_feet else "")
            + (MIXED_FEET if asked.unit in ("ft", "in") and not asked.grid_in_survey_feet else "")
        )
    if found.target == "control":
        if any(one.meaning in CONTROL and not one.unit for one in header):
            found.said.append(f"{found.file}: bare numbers are in the survey's units, {asked.unit}")
        if not any(m is not None and m.startswith("sd_") for m in meanings):
            found.said.append(
                f"{found.file}: coordinates without an sd are held fixed; write an sd where they may err"
            )
    elif _height_column(meanings) and asked.height_kind == "none":
        found.said.append(f"{found.file}: heights left out")
    elif any(one.meaning in HEIGHTS and not one.unit for one in header):
        found.said.append(f"{found.file}: heights without a unit are in the survey's, {asked.unit}")


def _used(meaning: str, found: Found) -> bool:
    if meaning in ("point", "note"):
        return True
    if found.target == "fixes":
        return meaning in (*FIXES, *HEIGHTS, "height_kind", "sd_h", "sd_v", "session")
    return meaning in (*CONTROL, "sd_east", "sd_north", "sd_elevation")


def _height_column(meanings: Sequence[str | None]) -> str | None:
    return next((m for m in meanings if m in HEIGHTS), None)


def _kind_of(meanings: Sequence[str | None], asked: Asked) -> str | None:
    """Return what the list's heights are: by their name, else as the person says; blank: by a column."""
    column = _height_column(meanings)
    if asked.height_kind == "none":
        return None
    if column in ("ellipsoidal", "orthometric"):
        return column
    return "" if "height_kind" in meanings else asked.height_kind


def _add(
    row: CellRow,
    header: Sequence[Heading],
    names: Sequence[str],
    found: Found,
    asked: Asked,
) -> None:
    cells: dict[str, str] = {}
    notes: list[str] = []
    extra = [cell for cell in row.cells[len(header) :] if cell]
    if extra:
        found.wrong(
            f"{len(row.cells)} cells under {len(header)} column names",
            line=row.row,
            read=", ".join(extra),
            remedy="A decimal comma parts a number in two: write a point.",
        )
        return
    for cell, one in zip(row.cells, header, strict=False):
        if one.meaning is None or not cell or not _used(one.meaning, found):
            continue
        if one.meaning == "note":
            notes.append(cell)
        else:
            cells[one.meaning] = _with_unit(cell, one, asked)
    if notes:
        cells["note"] = ", ".join(notes)
    if found.target == "control" and ("east" in cells) != ("north" in cells):
        there, lacking = ("east", "north") if "east" in cells else ("north", "east")
        found.wrong(
            f"{there} without {lacking}",
            line=row.row,
            column=lacking,
            read=", ".join(row.cells),
            remedy="Give both, or neither for a point of which the elevation alone is known.",
        )
        return
    if found.target == "fixes":
        meanings = [one.meaning for one in header]
        column = _height_column(meanings)
        if column in cells and asked.height_kind is None and _kind_of(meanings, asked) is None:
            found.heights_of_no_kind()
        elif (
            column in OF_RECEIVERS
            and asked.unit != "m"
            and asked.height_kind != "none"
            and BARE.fullmatch(cells.get(column, ""))
        ):
            found.heights_of_no_unit(names[meanings.index(column)], asked.unit)
        cells = _as_fix(cells, meanings, asked)
    found.rows.append(FoundRow(line=row.row, cells=cells))


def _with_unit(cell: str, one: Heading, asked: Asked) -> str:
    """Return a cell with what its column's name says; one that carries its own unit or side keeps it."""
    if not BARE.fullmatch(cell):
        return cell
    if one.half:
        return f"{cell} {one.half}"
    if asked.grid_in_survey_feet and one.meaning in ("east", "north"):
        # There a number in feet is the grid's own, and metres are brought to it.
        if one.unit == "usft":
            return f"{cell} ft"
        if one.unit in ("m", "cm", "mm"):
            with contextlib.suppress(ValueError):
                return f"{in_unit(parse_length(cell, unit=one.unit), 'usft'):.4f} ft"
    return f"{cell} {one.unit}" if one.unit else cell


def _as_fix(cells: Mapping[str, str], meanings: Sequence[str | None], asked: Asked) -> dict[str, str]:
    """Return the cells of a fix, its height only where it is known above what it is."""
    kind = _kind_of(meanings, asked)
    column = _height_column(meanings)
    fix = {name: cell for name, cell in cells.items() if name not in HEIGHTS}
    fix.setdefault("session", asked.session or "")
    height = cells.get(column) if column is not None else None
    if height is not None and kind is not None:
        fix["height"] = height
        if kind:
            fix["height_kind"] = kind
    else:
        for name in ("sd_v", "height_kind"):
            fix.pop(name, None)
    return fix
