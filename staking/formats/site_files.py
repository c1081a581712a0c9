"""The files for drawing programs, receivers and map programs: each where its library is there.

A library that is missing costs its own file and nothing else; `lacking` says which and what to do.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib.util import find_spec
from typing import NamedTuple

from staking.formats.dxf import dxf_bytes
from staking.formats.geojson import geojson_bytes
from staking.formats.gpx import gpx_bytes
from staking.formats.kml import kml_bytes
from staking.sheets.earth_model import EarthModel
from staking.sheets.site_model import SiteModel

EXTRA = "files"
"""The extra of the package that brings the libraries."""
DXF_NAME = "site.dxf"


class _EarthFile(NamedTuple):
    name: str
    library: str
    """Empty where none is needed."""
    write: Callable[[EarthModel], bytes]


_EARTH_FILES = (
    _EarthFile("stakes.gpx", "gpxpy", gpx_bytes),
    _EarthFile("stakes.geojson", "", geojson_bytes),
    _EarthFile("stakes.kml", "simplekml", kml_bytes),
)


def site_files(site: SiteModel | None, earth: EarthModel | None) -> dict[str, bytes]:
    """Return the files by name that apply and whose libraries are there."""
    files = {}
    if site is not None and _there("ezdxf"):
        files[DXF_NAME] = dxf_bytes(site)
    if earth is not None:
        files |= {one.name: one.write(earth) for one in _EARTH_FILES if _there(one.library)}
    return files


def lacking(site: SiteModel | None, earth: EarthModel | None) -> tuple[tuple[str, str], ...]:
    """Return the files that could not be written for want of a library, and its name."""
    wanted = [(DXF_NAME, "ezdxf")] if site is not None else []
    if earth is not None:
        wanted += [(one.name, one.library) for one in _EARTH_FILES]
    return tuple((name, library) for name, library in wanted if not _there(library))


def _there(library: str) -> bool:
    return not library or find_spec(library) is not None
