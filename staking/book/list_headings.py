"""What the column names of a list of points mean, and the unit that stands with them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from staking.base.unit_names import unit_named
from staking.book.found_points import XIs

MEANINGS: dict[str, tuple[str, ...]] = {
    "point": (
        "point", "name", "point name", "point id", "pointid", "point no", "point num", "point number", "pt",
        "pt name", "pt id", "ptid", "pt no", "pt num", "pnt", "pid", "p", "id", "no", "number", "label",
    ),
    "east": ("east", "easting", "eastings", "e", "east coordinate", "grid easting", "grid east"),
    "north": ("north", "northing", "northings", "n", "north coordinate", "grid northing", "grid north"),
    "x": ("x", "x coord", "x coordinate"),
    "y": ("y", "y coord", "y coordinate"),
    "elevation": ("elevation", "elev", "el", "z", "z coord", "z coordinate", "rl", "reduced level"),
    "lat": ("lat", "latitude"),
    "lon": ("lon", "long", "lng", "longitude"),
    "height": ("height", "h", "ht", "alt", "altitude"),
    "ellipsoidal": (
        "ellipsoidal height", "ellipsoid height", "ellipsoidal ht", "ellipsoid ht", "ellip height",
        "ellip ht", "ell height", "ell ht", "height above ellipsoid", "hae",
    ),
    "orthometric": (
        "orthometric height", "orthometric ht", "orthometric elevation", "ortho height", "ortho ht",
        "ortho elev", "height above mean sea level", "msl", "msl height",
    ),
    "height_kind": ("height kind",),
    "sd_h": ("sd h",),
    "sd_v": ("sd v",),
    "sd_east": ("sd east",),
    "sd_north": ("sd north",),
    "sd_elevation": ("sd elevation",),
    "session": ("session",),
    "note": (
        "note", "notes", "code", "description", "desc", "d", "remark", "remarks", "comment", "comments",
        "feature code",
    ),
}  # fmt: skip
"""Names of the trade by what they mean; compared in small letters, with dashes and underlines as blanks."""
FIXES = ("lat", "lon")
HEIGHTS = ("height", "ellipsoidal", "orthometric", "elevation")
CONTROL = ("east", "north", "elevation")
LENGTHS = (*CONTROL, "x", "y", *HEIGHTS, "sd_h", "sd_v", "sd_east", "sd_north", "sd_elevation")
_DATUM = re.compile(r"\s*[a-z]{2,6}[\s-]?\d{2,4}\s*", re.IGNORECASE)
"""What counts its heights or places, such as NAVD88 or EGM 2008, is no unit."""
_HALVES = {"n": "N", "north": "N", "s": "S", "south": "S", "e": "E", "east": "E", "w": "W", "west": "W"}
_SIDES = {"lat": "NS", "lon": "EW"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """One column of a list."""

    cell: str
    """As typed."""
    meaning: str | None = None
    """A key of `MEANINGS`; None: not used."""
    unit: str = ""
    """A unit of length; empty: bare numbers are in the survey's."""
    half: str = ""
    """N, S, E or W of a latitude or longitude whose name says that its numbers count that way."""
    unknown: str = ""
    """What stands in the unit's place and is none."""


def heading(cell: str, x_is: XIs | None = None) -> Heading:
    """Return what a column's name means.

    Parameters
    ----------
    cell
        As typed: ``Northing (usft)``, ``elev [m]``, ``east_ft``, ``Easting US survey feet``.
    x_is
        Where x runs, where the person said so.
    """
    name, unit, bracketed = cell, "", False
    match = re.fullmatch(r"\s*(?P<name>.*?)\s*[\[(](?P<unit>[^\])]*)[\])]\s*", cell)
    if match:
        name, unit, bracketed = match["name"], match["unit"], True
    elif _meaning(cell) is None:
        name, unit = _parted(cell)
    meaning = _meaning(name)
    if x_is is not None and meaning in ("x", "y"):
        meaning = x_is if meaning == "x" else "north" if x_is == "east" else "east"
    if meaning in FIXES:
        half = _HALVES.get(unit.strip().casefold(), "")
        return Heading(cell=cell, meaning=meaning, half=half if half in _SIDES[meaning] else "")
    if meaning not in LENGTHS or not unit.strip():
        return Heading(cell=cell, meaning=meaning)
    known = unit_named(unit)
    if known is None and _DATUM.fullmatch(unit):
        return Heading(cell=cell, meaning=meaning)
    return Heading(
        cell=cell, meaning=meaning, unit=known or "", unknown=unit if bracketed and known is None else ""
    )


def _meaning(name: str) -> str | None:
    plain = " ".join(re.sub(r"[_\-./#:]+", " ", name.casefold()).split())
    return next((key for key, names in MEANINGS.items() if plain in names), None)


def _parted(cell: str) -> tuple[str, str]:
    """Return a name and the unit in its last words: ``east_ft``, ``Easting US survey feet``, ``Lat N``."""
    words = [word for word in re.split(r"[\s_,]+", cell) if word]
    for k in range(1, len(words)):
        name, unit = " ".join(words[:k]), " ".join(words[k:])
        meaning = _meaning(name)
        if (meaning in LENGTHS and unit_named(unit)) or (meaning in FIXES and unit.casefold() in _HALVES):
            return name, unit
    return cell, ""
