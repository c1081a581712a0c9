"""A list of points with a row of column names: to control.csv, or to fixes.csv when it has latitudes.

Columns are known by their names and never by their order, for lists come as name-east-north and as
name-north-east. A unit behind a name, ``Northing (m)``, counts for the column.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from staking.book.celltext import CellRow, decode, split_rows
from staking.book.found_points import Asked, Found, FoundRow

MEANINGS: dict[str, tuple[str, ...]] = {
    "point": (
        "point", "name", "point name", "point id", "pointid", "point no", "point number", "pt", "pt name",
        "pt id", "pt no", "pnt", "id", "no", "number",
    ),
    "east": ("east", "easting", "eastings", "e", "x", "east coordinate"),
    "north": ("north", "northing", "northings", "n", "y", "north coordinate"),
    "elevation": ("elevation", "elev", "el", "z", "rl", "reduced level"),
    "lat": ("lat", "latitude"),
    "lon": ("lon", "long", "lng", "longitude"),
    "height": ("height", "h", "alt", "altitude"),
    "ellipsoidal": ("ellipsoidal height", "ellipsoid height", "height above ellipsoid", "hae"),
    "orthometric": ("orthometric height", "height above mean sea level", "msl", "msl height"),
    "height_kind": ("height kind",),
    "sd_h": ("sd h",),
    "sd_v": ("sd v",),
    "sd_east": ("sd east",),
    "sd_north": ("sd north",),
    "sd_elevation": ("sd elevation",),
    "session": ("session",),
    "note": ("note", "notes", "code", "description", "desc", "remark", "remarks", "comment"),
}  # fmt: skip
"""Names of the trade by what they mean; compared in small letters, with dashes and underlines as blanks."""
UNITS = {
    "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "ft": "ft", "feet": "ft", "foot": "ft", "ift": "ft", "mm": "mm", "in": "in",
}  # fmt: skip
SURVEY_FEET = ("usft", "us ft", "us survey ft", "us survey feet", "ftus", "sft")
"""US survey feet are longer than feet by 2 in a million: 1.2 m in the coordinates of a state's grid."""
FIXES = ("lat", "lon")
HEIGHTS = ("height", "ellipsoidal", "orthometric", "elevation")
CONTROL = ("east", "north", "elevation")
OF_RECEIVERS = ("ellipsoidal", "orthometric")
"""Heights whose name says that a receiver gave them: in metres, whatever the survey is in."""
BARE = re.compile(r"[-+\d.\s]+")
LENGTHS = (*CONTROL, *HEIGHTS, "sd_h", "sd_v", "sd_east", "sd_north", "sd_elevation")


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
    header = [_meaning(cell, found, rows[0].row) for cell in rows[0].cells]
    _check_header(rows[0], [meaning for meaning, _ in header], found)
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


def _meaning(cell: str, found: Found, line: int) -> tuple[str | None, str]:
    """Return what a column's name means, and the unit behind it; None for a column that is not used."""
    name, unit = cell, ""
    # "east (ft)", "east [ft]", or "east_ft" as the program's own lists have it.
    match = re.fullmatch(r"\s*(?P<name>.*?)\s*[\[(](?P<unit>[^\])]*)[\])]\s*", cell) or re.fullmatch(
        r"\s*(?P<name>.+)_(?P<unit>mm?|ft|in)\s*", cell, re.IGNORECASE
    )
    if match:
        name, unit = match["name"], " ".join(match["unit"].casefold().replace(".", "").split())
    plain = " ".join(re.sub(r"[_\-./#]+", " ", name.casefold()).split())
    meaning = next((key for key, names in MEANINGS.items() if plain in names), None)
    if meaning not in LENGTHS or not unit:
        return meaning, ""
    if unit in SURVEY_FEET:
        found.wrong(
            "coordinates in US survey feet",
            line=line,
            column=cell,
            remedy="A foot here is 0.3048 m exactly: have the list written in metres or in such feet.",
        )
    elif unit not in UNITS:
        found.wrong("unknown unit of a column", line=line, column=cell, expected="m, ft, in or mm")
    return meaning, UNITS.get(unit, "")


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
        found.wrong("several columns of heights", line=row.row, read=read, remedy="Keep one of them.")
    elif not on_earth and len(on_site) == 1:
        found.wrong("east without north, or the reverse", line=row.row, read=read, expected=would_do)
    elif not on_earth and not on_site and "elevation" not in there:
        found.wrong("no column holds a coordinate", line=row.row, read=read, expected=would_do)


def _said_of(row: CellRow, header: Sequence[tuple[str | None, str]], found: Found, asked: Asked) -> None:
    """Set where the rows go, and say as what each column was taken."""
    meanings = [meaning for meaning, _ in header]
    found.target = "fixes" if "lat" in meanings else "control"
    used = {cell: m for cell, m in zip(row.cells, meanings, strict=True) if m is not None and _used(m, found)}
    unused = [cell for cell in row.cells if cell and cell not in used]
    text = ", ".join(f"{cell} is {m}" for cell, m in used.items() if cell.casefold() != m)
    if text:
        found.said.append(f"{found.file}: {text}")
    if unused:
        found.said.append(f"{found.file}: not used: {', '.join(unused)}")
    if found.target == "control":
        if any(m in CONTROL and not unit for m, unit in header):
            found.said.append(f"{found.file}: bare numbers are in the survey's units")
        if not any(m is not None and m.startswith("sd_") for m in meanings):
            found.said.append(
                f"{found.file}: coordinates without an sd are held fixed; write an sd where they may err"
            )
    elif _height_column(meanings) and asked.height_kind == "none":
        found.said.append(f"{found.file}: heights left out")
    elif any(m in HEIGHTS and not unit for m, unit in header):
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
    header: Sequence[tuple[str | None, str]],
    heading: Sequence[str],
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
    for cell, (meaning, unit) in zip(row.cells, header, strict=False):
        if meaning is None or not cell or not _used(meaning, found):
            continue
        if meaning == "note":
            notes.append(cell)
        else:
            # A cell may carry a unit of its own, which then counts.
            cells[meaning] = f"{cell} {unit}" if unit and BARE.fullmatch(cell) else cell
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
        meanings = [meaning for meaning, _ in header]
        column = _height_column(meanings)
        if column in cells and asked.height_kind is None and _kind_of(meanings, asked) is None:
            found.heights_of_no_kind()
        elif (
            column in OF_RECEIVERS
            and asked.unit != "m"
            and asked.height_kind != "none"
            and BARE.fullmatch(cells.get(column, ""))
        ):
            found.heights_of_no_unit(heading[meanings.index(column)], asked.unit)
        cells = _as_fix(cells, meanings, asked)
    found.rows.append(FoundRow(line=row.row, cells=cells))


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
