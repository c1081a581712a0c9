"""An `EarthModel` as GPX 1.1 waypoints, written by gpxpy.

``ele`` is given only where orthometric heights tie the site: readers take it for a height above the sea, and
an ellipsoidal one would be tens of metres off.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from staking.sheets.earth_model import EarthModel, EarthPlace

if TYPE_CHECKING:
    from gpxpy.gpx import GPXWaypoint

DEGREE_DECIMALS = 8
"""About a millimetre."""
HEIGHT_DECIMALS = 3


def gpx_bytes(model: EarthModel) -> bytes:
    """Return the model's places as the bytes of a GPX file."""
    from gpxpy.gpx import GPX

    gpx = GPX()
    gpx.creator = "staking"
    gpx.name = model.title
    said = [f"{name}: {text}." for name, text in model.facts]
    gpx.description = " ".join([*said, *model.remarks])
    gpx.waypoints = [_waypoint(place) for place in model.places]
    return f"{gpx.to_xml(version='1.1')}\n".encode()


def _west_of_180(lon_deg: float) -> float:
    """Return a longitude as the schema wants it: from -180 to less than 180."""
    return lon_deg - 360.0 if lon_deg >= 180.0 else lon_deg


def _waypoint(place: EarthPlace) -> GPXWaypoint:
    from gpxpy.gpx import GPXWaypoint

    return GPXWaypoint(
        latitude=round(place.lat_deg, DEGREE_DECIMALS),
        longitude=_west_of_180(round(place.lon_deg, DEGREE_DECIMALS)),
        elevation=None if place.above_sea_m is None else round(place.above_sea_m, HEIGHT_DECIMALS),
        name=place.name,
        description=place.described,
        type=place.kind,
    )
