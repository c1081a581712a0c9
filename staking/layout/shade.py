"""Whether one array's modules shade another's, and by how much the one behind must stand off.

Both faces are flat: the shadow of the one on the plane of the other is a parallelogram cut off where the one
in front dips behind that plane, and what it covers is a polygon's area. Posts, beams, trees and the ground
itself cast no shadow here. The sun is a point at its centre, so edges are a quarter of a degree blurred.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date as Date
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from staking.north.sun import noon_of, sun_at

Floats = NDArray[np.float64]

LOOK_S = 300.0
"""Between two looks at the sun: it turns by about a degree."""
COVERED = 1e-6
"""Share of a face below which rounding, not a shadow, covers it."""
SOLSTICES = ((12, 18), (6, 18))
"""From these days on, month and day, the shortest day of the north and of the south is looked for."""
SOLSTICE_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Suns:
    """Where the sun stands at the times that are looked at."""

    noon: datetime
    """When it stands on the meridian, UTC."""
    when: tuple[datetime, ...]
    """UTC."""
    toward: Floats
    """(T, 3) unit vectors toward the sun: east, north of the site's axes, up."""


def shortest_day(lat_rad: float, lon_rad: float, year: int) -> Date:
    """Return the day of a year on which the sun's noon is lowest."""
    month, first = SOLSTICES[0] if lat_rad >= 0 else SOLSTICES[1]
    days = [Date(year, month, first + k) for k in range(SOLSTICE_DAYS)]
    return min(days, key=lambda day: noon_of(lat_rad, lon_rad, day).elevation_rad)


def suns_of(
    lat_rad: float,
    lon_rad: float,
    day: Date,
    *,
    before_s: float,
    after_s: float,
    axes_north_rad: float = 0.0,
) -> Suns:
    """Return the sun from so long before its noon to so long after it, while it stands above the horizon.

    Parameters
    ----------
    lat_rad, lon_rad : float
        North and east positive.
    day : date
    before_s, after_s : float
        Of the sun's own time: from the passage of the meridian, seconds.
    axes_north_rad : float
        Azimuth of the site's north axis from true north.

    Raises
    ------
    ValueError
        Outside the years of the sun's theory.
    """
    noon = noon_of(lat_rad, lon_rad, day).when
    count = max(2, math.ceil((before_s + after_s) / LOOK_S) + 1)
    seconds = np.linspace(-before_s, after_s, count)
    when, toward = [], []
    for second in seconds:
        at = noon + timedelta(seconds=float(second))
        sun = sun_at(lat_rad, lon_rad, at)
        if sun.elevation_rad <= 0:
            continue
        azimuth = sun.azimuth_rad - axes_north_rad
        flat = math.cos(sun.elevation_rad)
        when.append(at)
        toward.append(
            (flat * math.sin(azimuth), flat * math.cos(azimuth), math.sin(sun.elevation_rad)),
        )
    return Suns(noon=noon, when=tuple(when), toward=np.array(toward).reshape(-1, 3))


def shaded_shares(front: Floats, back: Floats, toward: Floats) -> Floats:
    """Return the share of the back face that the front face's shadow covers, for each sun (T,).

    Nought while the sun stands behind the back face, which then is lit by nothing.

    Parameters
    ----------
    front, back : (4, 3)
        Corners in turn: low left, low right, high right, high left.
    toward : (T, 3)
        Unit vectors toward the sun.
    """
    return _covered([front], back, toward)


def _covered(fronts: Sequence[Floats], back: Floats, toward: Floats) -> Floats:
    """Return the share of one face that the shadows of several cover together."""
    from shapely import Polygon, box, union_all

    origin = back[0]
    along, up = back[1] - origin, back[3] - origin
    width, height = float(np.linalg.norm(along)), float(np.linalg.norm(up))
    along, up = along / width, up / height
    normal = np.cross(along, up)
    above = [_in_front(front, origin, normal) for front in fronts]
    above = [corners for corners in above if len(corners) >= 3]
    shares = np.zeros(len(toward))
    if not above:
        return shares
    face = box(0.0, 0.0, width, height)
    for k, sun in enumerate(toward):
        facing = float(sun @ normal)
        if facing <= 0:
            continue
        shadows = []
        for corners in above:
            off = (corners - origin) @ normal
            cast = corners - np.outer(off / facing, sun) - origin
            shadows.append(face.intersection(Polygon(np.column_stack([cast @ along, cast @ up]))))
        shares[k] = union_all(shadows).area / face.area
    return shares


def shaded_share(fronts: Sequence[Floats], backs: Sequence[Floats], toward: Floats) -> Floats:
    """Return the share of all back faces that the shadows of all front faces cover together, each sun (T,).

    Parameters are those of `shaded_shares`, a face for each section.
    """
    areas = np.array([_area(back) for back in backs])
    covered = [_covered(fronts, back, toward) for back in backs]
    return np.asarray(areas @ np.array(covered) / areas.sum())


def _area(face: Floats) -> float:
    return float(np.linalg.norm(face[1] - face[0]) * np.linalg.norm(face[3] - face[0]))


def _in_front(corners: Floats, origin: Floats, normal: Floats) -> Floats:
    """Return the polygon's part on the side of a plane to which its normal points."""
    off = (corners - origin) @ normal
    kept = []
    for k, (here, d) in enumerate(zip(corners, off, strict=True)):
        after, e = corners[(k + 1) % len(corners)], off[(k + 1) % len(corners)]
        if d >= 0:
            kept.append(here)
        if (d >= 0) != (e >= 0):
            kept.append(here + d / (d - e) * (after - here))
    return np.array(kept).reshape(-1, 3)
