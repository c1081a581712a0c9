"""Where the site is taken to lie, told and asked about: the sign of a latitude or longitude is easily lost.

Nothing in a level book shows on which half of the earth it was written. What a clock's zone, the sun and the
way an array faces say of it is held against the place.
"""

from __future__ import annotations

import math
from datetime import datetime, tzinfo
from statistics import median

from staking.base.geodesy import great_circle_m
from staking.base.units import format_angle
from staking.book.records import ArrayJob, FieldBook, Site
from staking.book.site_north import axes_place
from staking.north.declination import declination_rad
from staking.north.zone_towns import nearest_town, town_of

MOST_OFF_SUN_H = 2.75
"""Hours between a clock's zone, without summer time, and the sun: clocks of Spain's west on summer time are
2.6 off, those of the west of China, which keep its one zone, 3.1 (from memory)."""
MOST_DECLINATION_RAD = math.radians(30.0)
"""More is found near the magnetic poles only (common practice, no source)."""
TROPIC_RAD = math.radians(23.44)
"""Beyond it the sun stands on the equator's side at noon on every day of the year."""
FLAT_RAD = math.radians(5.0)
"""A flatter array may face any way (common practice, no source)."""
POLEWARD = math.cos(math.radians(75.0))
"""An array that faces nearer to the pole than 75° turns its back on the noon sun."""
OTHER_HALF_RAD = math.radians(12.0)
"""A zone whose town lies so far from the equator has no part so far on its other side (tzdata's zone.tab)."""
WIDEST_ZONE_M = 4_500_000.0
"""No place of a zone is so far from its principal town: China's far west is 4,100 km from Shanghai."""
FAR_FROM_TOWNS_M = 1_500_000.0
"""Land so far from every town of the list is ice."""


def place_of(book: FieldBook) -> tuple[tuple[float, float], str] | None:
    """Return latitude and longitude of the site, radians, and which table says so; None where none does."""
    site = book.job.site
    if site.latitude_rad is not None and site.longitude_rad is not None:
        return (site.latitude_rad, site.longitude_rad), "job.toml"
    if book.on_grid:
        try:
            return axes_place(book), "control.csv"
        except ValueError:
            return None  # Told where the grid is used.
    if not book.fixes:
        return None
    first = book.fixes[0].lon_rad
    lon = first + median(math.remainder(row.lon_rad - first, math.tau) for row in book.fixes)
    return (median(row.lat_rad for row in book.fixes), math.remainder(lon, math.tau)), "fixes.csv"


def place_words(book: FieldBook) -> str | None:
    """Return where the site is taken to lie, in words that a person can hold against a map."""
    found = place_of(book)
    if found is None:
        return None
    place, said_by = found
    town, away_m = nearest_town(place)
    of_file = "" if said_by == "job.toml" else f" by {said_by}"
    return (
        f"{sides_words(place)}{of_file}: {away_m / 1000:,.0f} km from {town.name} ({town.country}), the "
        "nearest town of the list of time zones"
    )


def site_remarks(site: Site) -> tuple[str, ...]:
    """Return questions on the place of `[site]` alone."""
    if site.latitude_rad is None or site.longitude_rad is None:
        return ()
    place = site.latitude_rad, site.longitude_rad
    return (*_far_remarks(place, "job.toml"), *_zone_remarks(site, place, "job.toml"))


def place_remarks(book: FieldBook) -> tuple[str, ...]:
    """Return questions on a place that a clock's zone, an array's facing or the declination contradicts."""
    site = book.job.site
    azimuth = book.job.control.azimuth
    compass = any(row.north == "magnetic" for row in book.bearings) or (
        azimuth is not None and azimuth.north == "magnetic"
    )
    found = place_of(book)
    if found is None:
        return ()
    place, said_by = found
    sun = bool(book.shadows or book.equal_shadows)
    return (
        *(_unchecked_remarks(book, place, sun=sun) if compass or sun else ()),
        *_far_remarks(place, said_by),
        *_zone_remarks(site, place, said_by),
        *(text for array in book.job.arrays for text in _facing_remarks(array, place, said_by)),
        *(_declination_remarks(site) if compass else ()),
    )


def _unchecked_remarks(book: FieldBook, place: tuple[float, float], *, sun: bool) -> tuple[str, ...]:
    """Return that north leans on a place of which nothing else in the folder speaks."""
    tilted = abs(place[0]) > TROPIC_RAD and any(a.array.tilt_rad > FLAT_RAD for a in book.job.arrays)
    zone = book.job.site.time_zone
    if book.fixes or book.on_grid or tilted or (zone is not None and town_of(str(zone)) is not None):
        return ()
    by = "the sun" if sun else "a compass"
    return (
        f"north is taken by {by} at {sides_words(place)}, and nothing else in this folder shows whether "
        "that is the right half of the earth: look it up on a map (site.time_zone by its name, as "
        '"America/New_York", would check it)',
    )


def sides_words(place: tuple[float, float]) -> str:
    """Return a place (radians) with its sides in words: a sign is overlooked, a word is not."""
    lat, lon = place
    return (
        f"{format_angle(abs(lat), 4)}° {'north' if lat >= 0 else 'SOUTH'}, "
        f"{format_angle(abs(lon), 4)}° {'east' if lon >= 0 else 'west'}"
    )


def _far_remarks(place: tuple[float, float], said_by: str) -> tuple[str, ...]:
    town, away_m = nearest_town(place)
    if away_m <= FAR_FROM_TOWNS_M:
        return ()
    return (
        f"by {said_by} the site lies {sides_words(place)}, {away_m / 1000:,.0f} km from the nearest town "
        f"({town.name}, {town.country}), in the sea or on the ice: is a minus lost or too much, or are the "
        "two exchanged?",
    )


def _zone_remarks(site: Site, place: tuple[float, float], said_by: str) -> tuple[str, ...]:
    if site.time_zone is None:
        return ()
    asked = _off_the_sun(site, site.time_zone, place[1], said_by)
    town = town_of(str(site.time_zone))
    if asked is not None or town is None:
        return () if asked is None else (asked,)
    away_m = great_circle_m(town.place, place)
    other_half = min(abs(place[0]), abs(town.place[0])) > OTHER_HALF_RAD and place[0] * town.place[0] < 0
    if not other_half and away_m <= WIDEST_ZONE_M:
        return ()
    half = ", on the other half of the earth" if other_half else ""
    return (
        f"job.toml site.time_zone is {town.zone}, of {town.name} ({town.country}) at "
        f"{sides_words(town.place)}; by {said_by} the site lies {sides_words(place)}, "
        f"{away_m / 1000:,.0f} km away{half}: is a minus lost or too much (south and west are minus), or is "
        "the zone another place's?",
    )


def _off_the_sun(site: Site, zone: tzinfo, lon_rad: float, said_by: str) -> str | None:
    """Return a question where the clock is further off the sun than clocks are; None where it is not."""
    day = datetime(2026, 1, 1) if site.date is None else datetime(*site.date.timetuple()[:3])
    noon = day.replace(hour=12, tzinfo=zone)
    offset, summer = noon.utcoffset(), noon.dst()
    if offset is None:
        return None
    zone_h = (offset.total_seconds() - (0.0 if summer is None else summer.total_seconds())) / 3600.0
    longitude = math.degrees(lon_rad)
    off_h = math.remainder(zone_h - longitude / 15.0, 24.0)
    if abs(off_h) <= MOST_OFF_SUN_H:
        return None
    way = "ahead of" if off_h > 0 else "behind"
    where = "" if said_by == "job.toml" else f" of {said_by}"
    return (
        f"job.toml site.time_zone is {zone_h:+g} h from UTC, {abs(off_h):.1f} h {way} the sun at longitude "
        f"{longitude:.4g}°{where}: is one of the two another place's, or a minus lost (west of Greenwich "
        "both are minus)?"
    )


def _facing_remarks(array: ArrayJob, place: tuple[float, float], said_by: str) -> tuple[str, ...]:
    """Return a question on an array that turns its back on the noon sun."""
    design = array.array
    toward_pole = math.cos(design.azimuth_rad) * math.copysign(1.0, place[0])
    if abs(place[0]) <= TROPIC_RAD or design.tilt_rad <= FLAT_RAD or toward_pole < POLEWARD:
        return ()
    pole, sun = ("north", "south") if place[0] > 0 else ("south", "north")
    other = sides_words((-place[0], place[1])).split(",", maxsplit=1)[0]
    name = f"array {array.name}" if array.name else "the array"
    return (
        f"{name} faces {format_angle(design.azimuth_rad)}°, to the {pole}, and by {said_by} the site lies "
        f"{sides_words(place)}, where the noon sun stands in the {sun} all year: is latitude's minus lost or "
        f"too much ({other}), or array.azimuth that of its back? If both are right the array will see little "
        "sun",
    )


def _declination_remarks(site: Site) -> tuple[str, ...]:
    if site.latitude_rad is None or site.longitude_rad is None or site.date is None:
        return ()
    try:
        found = declination_rad(site.latitude_rad, site.longitude_rad, site.date)
    except ValueError:
        return ()  # Told where the compass is used.
    if abs(found.declination_rad) <= MOST_DECLINATION_RAD:
        return ()
    side = "east" if found.declination_rad > 0 else "west"
    return (
        f"magnetic north is taken to lie {abs(math.degrees(found.declination_rad)):.0f}° {side} of true "
        f"north, as at latitude {math.degrees(site.latitude_rad):.4g}°, longitude "
        f"{math.degrees(site.longitude_rad):.4g}°: a compass is hardly of use there. Are latitude, longitude "
        "and their signs right?",
    )
