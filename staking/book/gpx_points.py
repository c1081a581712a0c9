"""Waypoints and track points of a GPX 1.0 or 1.1 file.

The schema calls `ele` the elevation in metres and does not say above what; receivers write heights above mean
sea level or above the ellipsoid. So heights are taken only when the person says which they are.
"""

from __future__ import annotations

from typing import Any

from staking.base.errors import Mistake, WrongInput
from staking.book.found_points import Asked, Found, FoundRow, degrees_text, metres_text
from staking.book.standing import MOVED_M, SAYS_NOTHING, Position, stood

LONG_S = 6 * 3600.0
"""Waypoints further apart in time were hardly taken in one session."""
USUAL_SD_M = 2.0
"""A track that scatters less says nothing: receivers hold still positions still."""


def looks_like_gpx(text: str) -> bool:
    """Return whether a text is a GPX file."""
    return text.lstrip().startswith("<") and "<gpx" in text[:4000]


def gpx_points(file: str, text: str, asked: Asked) -> Found:
    """Return a fix for each waypoint, or one for the points of tracks and routes, averaged.

    Parameters
    ----------
    file
        Name of the file.
    text
        Its contents.
    asked
        The point that tracks were logged on, and what heights are.
    """
    try:
        import gpxpy
    except ImportError as error:
        remedy = "Install it: pip install 'staking[logs]'"
        problem = "reading GPX needs the library gpxpy"
        raise WrongInput([Mistake(file="staking", problem=problem, remedy=remedy)]) from error
    found = Found(file=file)
    try:
        gpx: Any = gpxpy.parse(text)
    except (gpxpy.gpx.GPXException, ValueError) as error:
        # The library tells of a point without a name as "in None (got None)".
        found.wrong(
            f"not a GPX file that can be read: {str(error).partition(' in None')[0]}",
            remedy="Export it again; every point needs its lat and lon.",
        )
        return found
    nameless = [point for track in gpx.tracks for segment in track.segments for point in segment.points]
    nameless += [point for route in gpx.routes for point in route.points]
    if asked.point is None and not gpx.waypoints:
        found.wrong(
            f"no waypoints, and {len(nameless)} points of tracks that have no names"
            if nameless
            else "no points",
            remedy="If the receiver stood on one point, say which: --point P1." if nameless else None,
        )
        return found
    if asked.point is not None and not nameless:
        found.wrong(
            "--point is for tracks, and this file has waypoints only, which have names of their own",
            remedy="Leave --point out.",
        )
        return found
    if asked.point is not None:
        _add_track(found, asked.point, nameless, asked)
        if gpx.waypoints:
            found.said.append(f"{file}: {len(gpx.waypoints)} waypoints left out; import them without --point")
        return found
    for number, waypoint in enumerate(gpx.waypoints, start=1):
        _add_waypoint(found, number, waypoint, asked)
    if nameless:
        found.said.append(f"{file}: {len(nameless)} points of tracks left out: they have no names")
    _times_told(found, gpx.waypoints)
    return found


def _add_waypoint(found: Found, number: int, waypoint: Any, asked: Asked) -> None:
    name = " ".join((waypoint.name or "").split())
    if not name:
        found.wrong(
            f"waypoint {number} has no name",
            read=f"{waypoint.latitude}, {waypoint.longitude}",
            remedy="Name it as the point is named in the other tables.",
        )
        return
    cells = {
        "point": name,
        "lat": degrees_text(waypoint.latitude),
        "lon": degrees_text(waypoint.longitude),
        "session": asked.session or "",
        "note": " ".join((waypoint.comment or waypoint.description or "").split()),
    }
    cells |= _height_cells(found, waypoint.elevation, asked)
    found.rows.append(FoundRow(line=None, cells=cells))


def _height_cells(found: Found, height_m: float | None, asked: Asked) -> dict[str, str]:
    """Return the cells of a height, and say once what is done with heights."""
    if height_m is None:
        return {}
    if asked.height_kind is None:
        # GPX says "elevation" and no more.
        found.heights_of_no_kind()
        return {}
    out = asked.height_kind == "none"
    text = f"{found.file}: heights {'left out' if out else f'are taken as {asked.height_kind}'}"
    if text not in found.said:
        found.said.append(text)
    return {} if out else {"height": metres_text(height_m), "height_kind": asked.height_kind}


def _add_track(found: Found, point: str, logged: list[Any], asked: Asked) -> None:
    positions = [Position(lat=p.latitude, lon=p.longitude, height_m=p.elevation) for p in logged]
    mean = stood(positions)
    if mean.spread_m > MOVED_M:
        found.wrong(
            f"the track's points scatter by {mean.spread_m:.0f} m: the receiver did not stand on one point",
            remedy="Log each point into a file of its own.",
        )
        return
    cells = {
        "point": point,
        "lat": degrees_text(mean.lat),
        "lon": degrees_text(mean.lon),
        "session": asked.session or "",
        "note": f"mean of {mean.count} track points; scatter {mean.spread_m:.3f} m",
    }
    if mean.spread_m > USUAL_SD_M:
        cells["sd_h"] = metres_text(mean.spread_m)
    cells |= _height_cells(found, mean.height_m, asked)
    found.rows.append(FoundRow(line=None, cells=cells))
    found.said.insert(0, f"{found.file}: {mean.count} track points make one fix of {point}")
    found.said.append(f"{found.file}: {SAYS_NOTHING}")


def _times_told(found: Found, waypoints: list[Any]) -> None:
    times = [w.time for w in waypoints if w.time is not None]
    if len(times) > 1 and (max(times) - min(times)).total_seconds() > LONG_S:
        hours = (max(times) - min(times)).total_seconds() / 3600
        found.said.append(
            f"{found.file}: its waypoints were taken over {hours:.0f} hours; if the receiver was switched "
            "off between, give them sessions of their own in fixes.csv, for each has a shift of its own"
        )
