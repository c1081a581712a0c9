"""Questions on where the site lies: a clock's zone and a compass that suit another place on the earth."""

from __future__ import annotations

import math
from datetime import datetime

from staking.book.records import FieldBook, Site
from staking.north.declination import declination_rad

MOST_OFF_SUN_H = 2.75
"""Hours between a clock's zone, without summer time, and the sun: clocks of Spain's west on summer time are
2.6 off, those of the west of China, which keep its one zone, 3.1 (from memory)."""
MOST_DECLINATION_RAD = math.radians(30.0)
"""More is found near the magnetic poles only (common practice, no source)."""


def place_remarks(book: FieldBook) -> tuple[str, ...]:
    """Return questions on a clock's zone that suits another longitude, and on an extreme declination."""
    site = book.job.site
    azimuth = book.job.control.azimuth
    compass = any(row.north == "magnetic" for row in book.bearings) or (
        azimuth is not None and azimuth.north == "magnetic"
    )
    return (*_zone_remarks(site), *(_declination_remarks(site) if compass else ()))


def _zone_remarks(site: Site) -> tuple[str, ...]:
    if site.time_zone is None or site.longitude_rad is None:
        return ()
    day = datetime(2026, 1, 1) if site.date is None else datetime(*site.date.timetuple()[:3])
    noon = day.replace(hour=12, tzinfo=site.time_zone)
    offset, summer = noon.utcoffset(), noon.dst()
    if offset is None:
        return ()
    zone_h = (offset.total_seconds() - (0.0 if summer is None else summer.total_seconds())) / 3600.0
    longitude = math.degrees(site.longitude_rad)
    off_h = math.remainder(zone_h - longitude / 15.0, 24.0)
    if abs(off_h) <= MOST_OFF_SUN_H:
        return ()
    way = "ahead of" if off_h > 0 else "behind"
    return (
        f"job.toml site.time_zone is {zone_h:+g} h from UTC, {abs(off_h):.1f} h {way} the sun at longitude "
        f"{longitude:.4g}°: is one of the two another place's, or a minus lost (west of Greenwich both are "
        "minus)?",
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
