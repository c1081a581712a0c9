"""The files for spreadsheets, drawing programs, receivers and maps: each where its library is there.

A library that is missing costs its own file and nothing else; `lacking` says which and what to do.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from importlib.util import find_spec
from typing import NamedTuple

from staking.formats.dxf import dxf_bytes
from staking.formats.geojson import geojson_bytes
from staking.formats.gpx import gpx_bytes
from staking.formats.kml import kml_bytes
from staking.formats.xlsx import xlsx_bytes
from staking.sheets.sheet import Pack


class _File(NamedTuple):
    name: str
    library: str
    """Empty where none is needed."""
    write: Callable[[], bytes]


def other_files(pack: Pack) -> dict[str, bytes]:
    """Return the files by name that apply and whose libraries are there."""
    return {one.name: one.write() for one in _wanted(pack) if _there(one.library)}


def lacking(pack: Pack) -> tuple[tuple[str, str], ...]:
    """Return the files that could not be written for want of a library, and its name."""
    return tuple((one.name, one.library) for one in _wanted(pack) if not _there(one.library))


def _wanted(pack: Pack) -> Iterator[_File]:
    site, earth, stamp = pack.site, pack.earth, pack.stamp
    if pack.data and stamp is not None:
        tables = [(data.name.removesuffix(".csv").replace("_", " "), data.table) for data in pack.data]
        yield _File("results.xlsx", "xlsxwriter", lambda: xlsx_bytes(tables, stamp.facts))
    if site is not None:
        yield _File("site.dxf", "ezdxf", lambda: dxf_bytes(site))
    if earth is not None:
        yield _File("stakes.gpx", "gpxpy", lambda: gpx_bytes(earth))
        yield _File("stakes.geojson", "", lambda: geojson_bytes(earth))
        yield _File("stakes.kml", "", lambda: kml_bytes(earth))


def _there(library: str) -> bool:
    return not library or find_spec(library) is not None
