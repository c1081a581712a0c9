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
