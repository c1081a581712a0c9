"""Grid convergence: how far a map grid's north is turned from true north.

Sign: positive when grid north lies east of true north, so true azimuth = grid bearing + convergence. PROJ's
meridian convergence has this sign; the Geocentric Datum of Australia manual prints the opposite one.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pyproj import CRS


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

    grid = _map_grid(crs)
    message = (
        f"{crs} has no convergence at latitude {math.degrees(lat_rad):.4f}°, "
        f"longitude {math.degrees(lon_rad):.4f}°; give the grid of the survey's own zone"
    )
    try:
        factors = Proj(grid).get_factors(math.degrees(lon_rad), math.degrees(lat_rad), errcheck=True)
    except ProjError as err:
        raise ValueError(message) from err
    convergence = float(factors.meridian_convergence)
    if not math.isfinite(convergence):
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

    grid = _map_grid(crs)
    message = (
        f"control points near east {east_m:.0f} m, north {north_m:.0f} m do not lie on {crs} ({grid.name})"
    )
    try:
        lon, lat = Proj(grid, preserve_units=False)(east_m, north_m, inverse=True, errcheck=True)
    except ProjError as err:
        raise ValueError(message) from err
    area = grid.area_of_use
    if area is not None:
        # Zones are drawn wider than their area: a degree outside is the neighbour's, further is a slip.
        inside = area.south - 1.0 <= lat <= area.north + 1.0
        turned = (lon - area.west + 1.0) % 360.0 <= (area.east - area.west) % 360.0 + 2.0
        if not (inside and turned):
            raise ValueError(message)
    return math.radians(lat), math.radians(lon)


def _map_grid(crs: str) -> CRS:
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
