"""Grid convergence: how far a map grid's north is turned from true north.

Sign: positive when grid north lies east of true north, so true azimuth = grid bearing + convergence. PROJ's
meridian convergence has this sign; the Geocentric Datum of Australia manual prints the opposite one.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pyproj import CRS

OVERLAP = 1.0
"""Degrees by which a zone is used past its own area; coordinates that lie further out are a slip."""
NEIGHBOURS = 3.0
"""Degrees by which a zone is carried into its neighbour's by people who say where they are."""


def grid_convergence_rad(crs: str, lat_rad: float, lon_rad: float) -> float:
    """Return the convergence of a map grid at a place, positive when grid north is east of true north.

    Parameters
    ----------
    crs : str
        ``EPSG:32633`` or anything else that names a projected grid.
    lat_rad, lon_rad : float
        North and east positive. On which datum hardly matters: 200 m change it by 0.002° at the most.

    Raises
    ------
    ValueError
        When the name is unknown, names no map grid, or the place is off the grid.
    """
    from pyproj import Proj
    from pyproj.exceptions import ProjError

    grid = map_grid_named(crs)
    message = (
        f"{crs} has no convergence at latitude {math.degrees(lat_rad):.4f}°, "
        f"longitude {math.degrees(lon_rad):.4f}°; give the grid of the survey's own zone"
    )
    try:
        factors = Proj(grid).get_factors(math.degrees(lon_rad), math.degrees(lat_rad), errcheck=True)
    except ProjError as err:
        raise ValueError(message) from err
    convergence = float(factors.meridian_convergence)
    if not math.isfinite(convergence) or not _in_area(grid, lat_rad, lon_rad, margin=NEIGHBOURS):
        raise ValueError(message)
    return math.radians(convergence)


def place_on_grid(crs: str, east_m: float, north_m: float) -> tuple[float, float]:
    """Return the latitude and longitude of grid coordinates, radians, on the grid's own datum.

    Raises
    ------
    ValueError
        When the name is unknown, names no map grid, or the place lies outside the grid's area of use.
    """
    from pyproj import Proj
    from pyproj.exceptions import ProjError

    grid = map_grid_named(crs)
    message = (
        f"control points near east {east_m:.0f} m, north {north_m:.0f} m do not lie on {crs} ({grid.name})"
    )
    try:
        lon, lat = Proj(grid, preserve_units=False)(east_m, north_m, inverse=True, errcheck=True)
    except ProjError as err:
        raise ValueError(message) from err
    place = math.radians(lat), math.radians(lon)
    if not _in_area(grid, *place, margin=OVERLAP):
        raise ValueError(message)
    return place


def _in_area(grid: CRS, lat_rad: float, lon_rad: float, *, margin: float) -> bool:
    """Whether a place lies in the area of use or so many degrees round it; yes where none is stated."""
    area = grid.area_of_use
    if area is None:
        return True
    lat, lon = math.degrees(lat_rad), math.degrees(lon_rad)
    inside = area.south - margin <= lat <= area.north + margin
    # A grid of the whole earth is 360 wide, which the remainder would make nought.
    width = (area.east - area.west) % 360.0 or 360.0
    return inside and (lon - area.west + margin) % 360.0 <= width + 2.0 * margin


def map_grid_named(crs: str) -> CRS:
    """Return a projected coordinate system, with or without heights, by its name."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        grid = CRS.from_user_input(crs)
    except CRSError as err:
        message = f"{crs!r} names no coordinate system; expected a code such as EPSG:32633"
        raise ValueError(message) from err
    if not grid.is_projected:
        message = f"{crs} ({grid.name}) is no map grid; expected a projected system such as EPSG:32633"
        raise ValueError(message)
    return grid
