"""Whether fixes to be added agree with the site and with one another, before they are written."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from staking.base.errors import Mistake
from staking.base.geodesy import FAR_M, great_circle_m
from staking.base.globe import read_globe
from staking.book.found_points import Found, FoundRow
from staking.book.records import Site
from staking.book.tablereader import TableRead
from staking.book.tables import FIXES


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fix:
    """A fix, there or to be added."""

    where: str
    cells: Mapping[str, str]
    file: str = ""
    """Empty for one that is there already."""
    line: int | None = None

    @property
    def place(self) -> tuple[float, float] | None:
        """Latitude and longitude, radians; None where a cell cannot be read, which is told elsewhere."""
        try:
            return read_globe(self.cells["lat"]), read_globe(self.cells["lon"])
        except (KeyError, ValueError):
            return None


def disagreeing(
    rows: Sequence[tuple[Found, FoundRow]], before: TableRead | None, site: Site
) -> list[Mistake]:
    """Return a mistake for the first fix whose height is of another kind, and for each on another site."""
    there = [
        _Fix(where=f"{FIXES.file} row {typed.row}", cells=typed.read)
        for typed in (before.typed if before is not None else ())
    ]
    new = [
        _Fix(
            where=f"{one.file} row {row.line}" if row.line else one.file,
            cells=row.cells,
            file=one.file,
            line=row.line,
        )
        for one, row in rows
    ]
    return [*_kinds([*there, *new]), *_far(there, new, site)]


def _kinds(fixes: Sequence[_Fix]) -> list[Mistake]:
    first: _Fix | None = None
    for one in fixes:
        kind = one.cells.get("height_kind", "").strip().casefold()
        if not kind or not one.cells.get("height"):
            continue
        if first is None:
            first = one
        elif one.file and kind != first.cells["height_kind"].strip().casefold():
            other = f"{first.where} is {first.cells['height_kind']}"
            return [
                Mistake(
                    file=one.file,
                    row=one.line,
                    column="height_kind",
                    read=one.cells.get("height_kind"),
                    problem=f"heights of two kinds on one site: {other}",
                    remedy="The two lie tens of metres apart, by the geoid. Have the receiver give one kind "
                    "for all, or say --height-kind where a file is silent.",
                )
            ]
    return []


def _far(there: Sequence[_Fix], new: Sequence[_Fix], site: Site) -> list[Mistake]:
    """Return a mistake for each new fix that lies kilometres from the site, else from the other fixes."""
    if site.latitude_rad is not None and site.longitude_rad is not None:
        home, what = (site.latitude_rad, site.longitude_rad), "[site] latitude and longitude"
    else:
        places = [place for one in (there or new) if (place := one.place) is not None]
        if not places:
            return []
        first = places[0][1]
        lon = first + median(math.remainder(place[1] - first, math.tau) for place in places)
        home, what = (median(place[0] for place in places), lon), "the other fixes"
    found = []
    for one in new:
        place = one.place
        if place is None or great_circle_m(place, home) <= FAR_M:
            continue
        exchanged = great_circle_m((place[1], place[0]), home) <= FAR_M
        found.append(
            Mistake(
                file=one.file,
                row=one.line,
                column="point",
                read=f"{one.cells.get('point')}: {one.cells['lat']}, {one.cells['lon']}",
                problem=f"the fix lies {great_circle_m(place, home) / 1000:.0f} km from {what}",
                remedy="Latitude and longitude are exchanged."
                if exchanged
                else "West and south are minus; look whether latitude and longitude are exchanged.",
            )
        )
    return found
