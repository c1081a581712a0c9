"""Shadows as readings of true north: one at a clock time, or the middle of two of equal length."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from datetime import date as Date
from datetime import time as Time

from staking.base.errors import Mistake
from staking.book.clock import read_time
from staking.book.records import EqualShadowRow, FieldBook, ShadowRow, Site
from staking.book.tomltree import FILE
from staking.control.directions import Norths
from staking.control.equations import Equation, Kind
from staking.control.kinds import key_of
from staking.control.lacks import listed
from staking.control.observing import Extra, Observed, Source
from staking.control.signs import SIGNS, angle_of, degrees_text, with_other_signs
from staking.north.equal_shadows import EqualShadows, equal_shadows
from staking.north.shadow import shadow_at
from staking.north.sun import SUN_DAY_S, SUN_SD_RAD, sun_at

SHADOW = "shadow"
EQUAL = "equal shadows"
"""Kinds of these readings, as results and sheets name them."""
OFF_NOON_S = 900.0
"""So far may the middle of the two times be from noon, 15 min: there the sun's elevation hardly changes."""
UNEQUAL_RAD = math.radians(3.0)
"""The sun's elevations at the two times may differ by this much: times noted to ten minutes. More is told."""


def add_sun_readings(book: FieldBook, observed: Observed, norths: Norths) -> None:
    """Add the rows of ``shadows.csv`` and ``equal_shadows.csv`` as bearings from true north.

    All shadows of one day share the error of the clock: an unknown, observed as nought with the standard
    deviation ``[accuracy] clock``, in radians that the sun goes round meanwhile. A clock that is fast makes
    the azimuth computed for its time too great by the turning of the shadow.
    """
    rows: list[ShadowRow | EqualShadowRow] = [*book.shadows, *book.equal_shadows]
    if rows and book.job.site.time_zone is None:
        tables = " and ".join(dict.fromkeys(row.table for row in rows))
        observed.warnings.append(
            f"{tables}: times are taken as UTC, for [site] time_zone does not say which clock they are by"
        )
    dark = [row for row in rows if not _shone(book, row, book.job.site)]
    if len(rows) > 1 and dark:
        sign = _sign_lost(book, rows, dark)
        if sign is not None:
            observed.mistakes.append(sign)
            return
    for row in rows:
        where = _where(book, row, observed)
        turn = norths.turn("true", file=row.table, row=row.row, column="to")
        if where is None or turn is None:
            continue
        if key_of(row.start) == key_of(row.to):
            _tell(observed, row, "to", "the same point as in column from")
            continue
        try:
            if isinstance(row, ShadowRow):
                _add_shadow(book, row, observed, where, turn.angle_rad)
            else:
                _add_equal(book, row, observed, where, turn.angle_rad)
        except ValueError as error:
            column = "time" if isinstance(row, ShadowRow) else "afternoon"
            remedy = "Look at the times, the date, and site.time_zone, latitude and longitude"
            _tell(observed, row, column, str(error), remedy=remedy)


def _sign_lost(
    book: FieldBook, rows: list[ShadowRow | EqualShadowRow], dark: list[ShadowRow | EqualShadowRow]
) -> Mistake | None:
    """Return the one mistake that has the sun down at times it shone: a sign of latitude or longitude."""
    site = book.job.site
    for keys in SIGNS:
        if all(_shone(book, row, with_other_signs(site, keys)) for row in rows):
            other = " and ".join(f"{key} {degrees_text(-angle_of(site, key))}" for key in keys)
            return Mistake(
                file=FILE,
                column=f"site.{keys[0]}",
                read=degrees_text(angle_of(site, keys[0])),
                problem=f"there the sun was down at the times of {_which(rows, dark)}",
                remedy=f"At {other} it shone at all of them: south and west are minus, is a minus lost or "
                "too much? Else look at the times, the date and site.time_zone",
            )
    return None


def _which(rows: list[ShadowRow | EqualShadowRow], dark: list[ShadowRow | EqualShadowRow]) -> str:
    if len(dark) == len(rows):
        return f"all {len(rows)} rows of shadows"
    named = [
        f"{table} row{'' if len(own) == 1 else 's'} {listed(own)}"
        for table in dict.fromkeys(row.table for row in dark)
        for own in [[str(row.row) for row in dark if row.table == table]]
    ]
    return f"{len(dark)} of {len(rows)} rows of shadows ({', '.join(named)})"


def _shone(book: FieldBook, row: ShadowRow | EqualShadowRow, site: Site) -> bool:
    """Return whether the sun was up at the times of a row; yes where nothing tells the place or the day."""
    date = site.date if row.date is None else row.date
    if site.latitude_rad is None or site.longitude_rad is None or date is None:
        return True
    times = (row.time,) if isinstance(row, ShadowRow) else (row.morning, row.afternoon)
    try:
        return all(
            sun_at(site.latitude_rad, site.longitude_rad, _when(book, date, time)).elevation_rad > 0.0
            for time in times
        )
    except ValueError:
        return True  # A year out of reach is told with its row.


@dataclass(frozen=True, slots=True, kw_only=True)
class _Where:
    """Place and day of a row."""

    lat_rad: float
    lon_rad: float
    date: Date


def _where(book: FieldBook, row: ShadowRow | EqualShadowRow, observed: Observed) -> _Where | None:
    site = book.job.site
    date = site.date if row.date is None else row.date
    lacking = [
        key
        for key, value in (
            ("site.latitude", site.latitude_rad),
            ("site.longitude", site.longitude_rad),
            ("site.date, or the row's date", date),
        )
        if value is None
    ]
    if site.latitude_rad is None or site.longitude_rad is None or date is None:
        remedy = f"Give {', '.join(lacking)}"
        _tell(observed, row, "to", "the sun's direction is not known without place and day", remedy=remedy)
        return None
    return _Where(lat_rad=site.latitude_rad, lon_rad=site.longitude_rad, date=date)


def _tell(
    observed: Observed,
    row: ShadowRow | EqualShadowRow,
    column: str,
    problem: str,
    *,
    remedy: str | None = None,
) -> None:
    read = row.read.get(column)
    observed.mistakes.append(
        Mistake(file=row.table, row=row.row, column=column, read=read, problem=problem, remedy=remedy)
    )


def _when(book: FieldBook, date: Date, time: Time) -> datetime:
    return datetime.combine(date, time, tzinfo=book.job.site.time_zone or UTC)


def _add_shadow(book: FieldBook, row: ShadowRow, observed: Observed, where: _Where, turn_rad: float) -> None:
    shadow = shadow_at(where.lat_rad, where.lon_rad, _when(book, where.date, row.time))
    accuracy = book.job.accuracy
    clock_rad = accuracy.clock_s * math.tau / SUN_DAY_S
    clock = observed.shared(f"clock of {where.date}", Extra(start=0.0, sd=clock_rad))
    own_rad = accuracy.shadow_rad if row.sd_rad is None else row.sd_rad
    observed.add(
        Equation(
            kind=Kind.BEARING,
            at=(observed.point(row.start), observed.point(row.to), clock),
            value=shadow.azimuth_rad + turn_rad,
            sd=math.hypot(own_rad, SUN_SD_RAD),
            factor=shadow.turning_rad_per_s * SUN_DAY_S / math.tau,
        ),
        Source(
            table=row.table,
            row=row.row,
            column="time",
            kind=SHADOW,
            what=f"shadow {row.start}-{row.to}",
            read=row.read.get("time", ""),
        ),
    )


def _add_equal(
    book: FieldBook, row: EqualShadowRow, observed: Observed, where: _Where, turn_rad: float
) -> None:
    found: EqualShadows = equal_shadows(
        where.lat_rad,
        where.lon_rad,
        _when(book, where.date, row.morning),
        _when(book, where.date, row.afternoon),
    )
    if abs(found.unequal_rad) > UNEQUAL_RAD or abs(found.off_noon_s) > OFF_NOON_S:
        higher = "morning" if found.unequal_rad < 0 else "afternoon"
        minutes = abs(found.off_noon_s) / 60.0
        side = "after" if found.off_noon_s > 0 else "before"
        observed.warnings.append(
            f"{row.table}, row {row.row}: at these times the sun stood "
            f"{math.degrees(abs(found.unequal_rad)):.1f}° higher in the {higher}, and their middle is "
            f"{minutes:.0f} min {side} the sun's noon: the shadows were not of equal length, and the line is "
            "wrong, or the times are; look at the times, the date and site.time_zone"
        )
    mark_sd_rad = found.sd_rad(mark_m=book.job.accuracy.shadow_mark_m, length_m=row.length_m)
    observed.add(
        Equation(
            kind=Kind.BEARING,
            at=(observed.point(row.start), observed.point(row.to), -1),
            value=found.middle_rad + turn_rad,
            sd=mark_sd_rad if row.sd_rad is None else row.sd_rad,
        ),
        Source(
            table=row.table,
            row=row.row,
            column="to",
            kind=EQUAL,
            what=f"equal shadows {row.start}-{row.to}",
            read=row.read.get("to", ""),
        ),
    )


def rewritten_shadow(source: Source, equation: Equation, by_rad: float) -> str:
    """Return what would put a shadow right: the time changed, or another mark."""
    if source.kind != SHADOW or equation.factor == 0.0:
        return "another mark"
    try:
        read = read_time(source.read, "")
    except ValueError:
        return "another time"  # A book made by a program may carry no text.
    later = datetime.combine(Date(2000, 1, 1), read) + timedelta(
        seconds=round(by_rad / equation.factor * SUN_DAY_S / math.tau)
    )
    return later.strftime("%H:%M:%S" if read.second or later.second else "%H:%M")
