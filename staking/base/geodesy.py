"""Latitude and longitude to the site's own axes and back, at the scale of the ground.

A site's frame touches the ellipsoid's normal at one place, the reference: east and north there are those of
the topocentric axes (IOGP Publication 373-7-2, Geomatics Guidance Note 7 part 2, EPSG method 9837), turned to
the site's north. Distances come out as a tape laid level at the reference's height gives them.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pyproj import CRS, Transformer

UNKNOWN_ACCURACY_M = 5.0
"""Taken for a change of datum whose accuracy the registry does not state: the worst that it states for
changes by formula alone."""
RADIUS_M = 6_371_000.0
"""Of the sphere on which distances between sites are told."""
FOOT_M = 0.3048
SURVEY_FOOT_M = 1200.0 / 3937.0
"""US survey foot: NIST Special Publication 811 (2008), appendix B.6 (from memory)."""
FAR_M = 10_000.0
"""A place so far from the others of a survey is on another site."""


def is_survey_foot(unit_m: float) -> bool:
    """Return whether a unit is the US survey foot, as registries round it."""
    return math.isclose(unit_m, SURVEY_FOOT_M, rel_tol=1e-9)


def great_circle_m(here: tuple[float, float], there: tuple[float, float]) -> float:
    """Return the distance between two (latitude, longitude), radians, on a sphere, in metres."""
    half = math.sin((here[0] - there[0]) / 2) ** 2
    half += math.cos(here[0]) * math.cos(there[0]) * math.sin((here[1] - there[1]) / 2) ** 2
    return 2 * RADIUS_M * math.asin(math.sqrt(min(half, 1.0)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The site's axes laid on the earth."""

    lat_rad: float
    """Of the reference, WGS 84; north and east positive."""
    lon_rad: float
    height_m: float
    """Of the level at which distances are taken, above the ellipsoid."""
    turn_rad: float = 0.0
    """Azimuth of the site's north axis at the reference, clockwise from true north."""
    east_m: float = 0.0
    """Site coordinates of the reference."""
    north_m: float = 0.0

    def placed(self, lat_rad: float, lon_rad: float) -> tuple[float, float]:
        """Return the site coordinates (east, north) of a place, in metres."""
        east, north, _ = _topocentric(self).transform(lon_rad, lat_rad, self.height_m, radians=True)
        c, s = math.cos(self.turn_rad), math.sin(self.turn_rad)
        return self.east_m + c * east - s * north, self.north_m + s * east + c * north

    def geodetic(self, east_m: float, north_m: float) -> tuple[float, float]:
        """Return the latitude and longitude of site coordinates, in radians."""
        x, y = east_m - self.east_m, north_m - self.north_m
        c, s = math.cos(self.turn_rad), math.sin(self.turn_rad)
        east, north = c * x + s * y, c * y - s * x
        up = 0.0
        # The plane of the axes leaves the level surface: one step back to the frame's height, then another.
        for _ in range(3):
            lon, lat, height = _topocentric(self).transform(
                east, north, up, radians=True, direction="INVERSE"
            )
            up += self.height_m - height
        return float(lat), float(lon)

    def metres_per_radian(self) -> tuple[float, float]:
        """Return how far a radian of latitude leads north and one of longitude east, at the reference."""
        step = 1e-6
        level = Frame(lat_rad=self.lat_rad, lon_rad=self.lon_rad, height_m=self.height_m)
        north = level.placed(self.lat_rad + step, self.lon_rad)[1]
        east = level.placed(self.lat_rad, self.lon_rad + step)[0]
        return north / step, east / step


_TRANSFORMERS: dict[Frame, Transformer] = {}


def _topocentric(frame: Frame) -> Transformer:
    """Return the pipeline of a frame from longitude, latitude, height in radians; made once."""
    from pyproj import Transformer

    if frame not in _TRANSFORMERS:
        _TRANSFORMERS.clear()
        _TRANSFORMERS[frame] = Transformer.from_pipeline(
            "+proj=pipeline +step +proj=cart +ellps=WGS84 +step +proj=topocentric +ellps=WGS84 "
            f"+lat_0={math.degrees(frame.lat_rad)!r} +lon_0={math.degrees(frame.lon_rad)!r} "
            f"+h_0={frame.height_m!r}"
        )
    return _TRANSFORMERS[frame]


@dataclass(frozen=True, slots=True, kw_only=True)
class MapGrid:
    """A map grid with the best way to it from WGS 84 that needs no file from elsewhere."""

    transformer: Transformer
    unit_m: float
    """Metres in one unit of the grid."""
    accuracy_m: float
    """Of the change of datum, as the registry states it; 0 where the grid is on WGS 84."""
    name: str

    def placed(self, lat_rad: float, lon_rad: float) -> tuple[float, float]:
        """Return grid coordinates of a place, in metres."""
        east, north = self.transformer.transform(math.degrees(lon_rad), math.degrees(lat_rad), errcheck=True)
        return east * self.unit_m, north * self.unit_m

    def geodetic(self, east_m: float, north_m: float) -> tuple[float, float]:
        """Return the latitude and longitude of grid coordinates, in radians."""
        lon, lat = self.transformer.transform(
            east_m / self.unit_m, north_m / self.unit_m, direction="INVERSE", errcheck=True
        )
        return math.radians(lat), math.radians(lon)


def map_grid(crs: str, *, near: tuple[float, float] | None = None, in_feet: bool = False) -> MapGrid:
    """Return a map grid by its name.

    Parameters
    ----------
    crs : str
        ``EPSG:32633`` or anything else that names a projected grid.
    near : (lat, lon), optional
        Radians; of several changes of datum the one made for this place is taken.
    in_feet : bool
        Whether coordinates were typed in feet and read as feet of 0.3048 m. On a grid of US survey feet,
        2 in a million longer, they are the grid's own, and so told back; only their place on the earth is
        that of survey feet.

    Raises
    ------
    ValueError
        When the name is unknown, names no map grid, or nothing leads to it from WGS 84.
    """
    from pyproj import CRS
    from pyproj.exceptions import CRSError
    from pyproj.transformer import AreaOfInterest, TransformerGroup

    try:
        grid = CRS.from_user_input(crs)
    except CRSError as error:
        message = f"{crs!r} names no coordinate system; expected a code such as EPSG:32633"
        raise ValueError(message) from error
    if not grid.is_projected:
        message = f"{crs} ({grid.name}) is no map grid; expected a projected system such as EPSG:32633"
        raise ValueError(message)
    area = None
    if near is not None:
        lat, lon = math.degrees(near[0]), math.degrees(near[1])
        area = AreaOfInterest(lon, lat, lon, lat)
    with warnings.catch_warnings():
        # That a better way would need a file from elsewhere: its accuracy is handed on instead.
        warnings.simplefilter("ignore", UserWarning)
        # A ballpark change of datum is none at all, and may be hundreds of metres off.
        ways = TransformerGroup(
            4326, grid, always_xy=True, allow_ballpark=False, area_of_interest=area
        ).transformers
    if not ways:
        message = f"no way from latitude and longitude to {crs} ({grid.name}) without files from elsewhere"
        raise ValueError(message)
    accuracy = float(ways[0].accuracy)
    return MapGrid(
        transformer=ways[0],
        unit_m=FOOT_M if in_feet and is_survey_foot(_unit_m(grid)) else _unit_m(grid),
        accuracy_m=accuracy if accuracy >= 0 else UNKNOWN_ACCURACY_M,
        name=f"{crs} ({grid.name})",
    )


def _unit_m(grid: CRS) -> float:
    return float(grid.axis_info[0].unit_conversion_factor)
