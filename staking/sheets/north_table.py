"""The sheet of true north: the compass, the sun on the meridian, shadows by the clock."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date as Date
from datetime import datetime

from staking.base.axes import azimuth_of
from staking.base.units import format_angle
from staking.book.records import Site
from staking.north.shadow import HIGHEST_RAD, LOWEST_RAD, Shadow, ShadowDay, shadow_at, shadows_on
from staking.place_asked import sides_words
from staking.plan import Plan
from staking.sheets.names import axes_north
from staking.sheets.notation import Notation, sentence
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table

MINUTE_S = 60.0
_LINE_M = {"feet-inches": 0.9144, "decimal feet": 0.9144, "metric": 1.0}
"""Length of the plumb line that shadows are told for: 3 ft or 1 m."""
_REACH_M = {"feet-inches": 9.144, "decimal feet": 9.144, "metric": 10.0}
"""Distance at which an error of direction is told: 30 ft or 10 m."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """The line that a person sets directions out from."""

    start: str
    to: str
    azimuth_rad: float
    """From true north."""


def north_sheet(plan: Plan, *, notation: Notation) -> Sheet | None:
    """Return the sheet, None where latitude, longitude or date are not given."""
    site = plan.book.job.site
    if site.latitude_rad is None or site.longitude_rad is None or site.date is None:
        return None
    blocks: list[Words | Table] = []
    told = magnetic_words(site)
    if told is not None:
        blocks.append(Words(heading="Compass", lines=(told,)))
    day = shadow_day(site, site.date)
    if isinstance(day, str):
        blocks.append(Words(heading="Sun", lines=(day,)))
    else:
        blocks.append(Words(heading="Sun", lines=sun_words(site, day, notation)))
        if day.shadows:
            blocks.append(shadow_table(day, line_of(plan), notation))
    return Sheet(name="north", title="True north by shadow", blocks=tuple(blocks))


def magnetic_words(site: Site) -> str | None:
    """Return what is known of magnetic north, None where it cannot be."""
    if site.latitude_rad is None or site.longitude_rad is None or site.date is None:
        return None
    from staking.north.declination import declination_rad
    from staking.north.words import declination_words

    try:
        found = declination_rad(site.latitude_rad, site.longitude_rad, site.date)
    except ValueError as error:
        return sentence(str(error))
    return sentence(
        f"{declination_words(found, site.date)}. A compass adds its own error and that of iron near "
        "it: it does "
        "not lay out an array"
    )


def shadow_day(site: Site, date: Date) -> ShadowDay | str:
    """Return the shadows of a day, or why there are none."""
    assert site.latitude_rad is not None
    assert site.longitude_rad is not None
    from datetime import UTC

    try:
        return shadows_on(site.latitude_rad, site.longitude_rad, date, site.time_zone or UTC)
    except ValueError as error:
        return sentence(str(error))


def line_of(plan: Plan) -> Line | None:
    """Return the survey's line with its true azimuth: the azimuth's, else the first array's; None without."""
    control = plan.book.job.control
    ends = None if control.azimuth is None else (control.azimuth.start, control.azimuth.to)
    if ends is None:
        ends = next((array.place.line for array in plan.book.job.arrays if array.place.line), None)
    if ends is None:
        return None
    points = plan.adjustment.points
    place = {name.strip().casefold(): enz for name, enz in zip(points.names, points.enz_m, strict=True)}
    here, there = (place.get(name.strip().casefold()) for name in ends)
    if here is None or there is None:
        return None
    east, north = float(there[0] - here[0]), float(there[1] - here[1])
    if not math.isfinite(east + north) or math.hypot(east, north) == 0.0:
        return None
    turned = axes_north(plan)
    if turned is None:
        return None
    return Line(start=ends[0], to=ends[1], azimuth_rad=(azimuth_of(east, north) + turned) % math.tau)


def clock_words(site: Site, when: datetime) -> str:
    """Return which clock the times are by."""
    if site.time_zone is None:
        return "Times are UTC, NOT your clock's: give [site] time_zone in job.toml"
    return f"Times are by {_zone_text(site, when)}"


def _zone_text(site: Site, when: datetime) -> str:
    offset = when.astimezone(site.time_zone).utcoffset()
    assert offset is not None
    minutes = round(offset.total_seconds() / MINUTE_S)
    told = f"UTC{'-' if minutes < 0 else '+'}{abs(minutes) // 60}:{abs(minutes) % 60:02d}"
    name = str(site.time_zone)
    return told if name.startswith("UTC") else f"{name}, on this day {told}"


def sun_words(site: Site, day: ShadowDay, notation: Notation) -> tuple[str, ...]:
    """Return when the sun stands on the meridian, by which clock, and what limits the shadows."""
    noon = day.noon
    lines = [f"{clock_words(site, noon.when)}. Set the clock by a phone or radio before you start."]
    high = format_angle(noon.elevation_rad, 1)
    if noon.elevation_rad <= 0.0:
        lines.append(f"On {day.day} the sun does not rise: there are no shadows.")
        return tuple(lines)
    when = noon.when if site.time_zone is None else noon.when.astimezone(site.time_zone)
    falls = "north" if noon.stands == "south" else "south"
    assert site.latitude_rad is not None
    assert site.longitude_rad is not None
    said = (
        f"On {day.day}, at {sides_words((site.latitude_rad, site.longitude_rad))}, the sun stands true "
        f"{noon.stands} at {_clock(when, day, seconds=True)}, {high}° high: a plumb line's shadow then falls "
        f"true {falls}."
    )
    if noon.elevation_rad > HIGHEST_RAD:
        said += (
            f" It stands too near overhead to use then: above {format_angle(HIGHEST_RAD, 0)}° the "
            "shadow is short "
            "and turns fast. Use the morning or the afternoon."
        )
    else:
        turning = shadow_at(site.latitude_rad, site.longitude_rad, noon.when).turning_rad_per_s
        said += f" A clock 1 min wrong turns that line by {_minute_words(turning, notation)}."
    lines.append(said)
    if not day.shadows and noon.elevation_rad <= HIGHEST_RAD:
        lines.append(
            f"It stays below {format_angle(LOWEST_RAD, 0)}° all day: shadows are long and faint, and no "
            "table is "
            "given."
        )
    lines.append(
        "A longitude 0.1° wrong is a clock 24 s wrong. Equal shadows before and after noon need no "
        "clock: see "
        "equal_shadows.csv."
    )
    return tuple(lines)


def shadow_table(day: ShadowDay, line: Line | None, notation: Notation) -> Table:
    """Return the shadows of a day, one row every ten minutes."""
    long_m = _LINE_M[notation.style]
    rows = []
    for shadow in day.shadows:
        row = [_clock(shadow.when, day), _turn(shadow.azimuth_rad)]
        if line is not None:
            row.append(_turn(shadow.azimuth_rad - line.azimuth_rad))
        turns = format_angle(abs(shadow.turning_rad_per_s) * MINUTE_S, 2)
        rows.append((*row, turns, notation.length(shadow.length * long_m)))
    columns = [
        Column(heading="Clock", name="clock", strong=True),
        Column(heading="Shadow falls, from true north", name="shadow", unit="°", strong=True),
    ]
    if line is not None:
        heading = f"The same, clockwise from {line.start}→{line.to}"
        columns.append(Column(heading=heading, name="from_line", unit="°", strong=True))
    columns.append(Column(heading="1 min of clock turns it by", name="minute", unit="°"))
    heading = f"Shadow of a {notation.words(long_m)} line"
    columns.append(Column(heading=heading, name="length", unit=notation.unit))
    notes = [
        *([_minutes_words(day.shadows, day, notation)] if day.shadows else []),
        "The shadow of a plumb line on level ground, from its foot outward. Directions are "
        "computed to 0.001° (one "
        "standard deviation) and hold for the middle of the shadow; refraction does not turn it.",
    ]
    if line is not None:
        notes.append(
            f"{line.start}→{line.to} stands at {format_angle(line.azimuth_rad, 3)}° from true north."
        )
    if day.too_high:
        notes.append(
            f"Left out from {_clock(day.too_high[0], day)} to {_clock(day.too_high[-1], day)}: the sun "
            "stands above "
            f"{format_angle(HIGHEST_RAD, 0)}°."
        )
    return Table(
        title=f"Shadows on {day.day}",
        columns=tuple(columns),
        rows=tuple(rows),
        notes=tuple(notes),
        size_pt=9.0,
    )


def _turn(angle_rad: float) -> str:
    """Print a direction to 0.01°; 360.00 is 0.00."""
    text = f"{math.degrees(angle_rad % math.tau):.2f}"
    return "0.00" if text == "360.00" else text


def _minutes_words(shadows: Sequence[Shadow], day: ShadowDay, notation: Notation) -> str:
    """Return what a minute of clock error costs where it costs least and most, so that one hour is chosen."""
    least = min(shadows, key=lambda one: abs(one.turning_rad_per_s))
    most = max(shadows, key=lambda one: abs(one.turning_rad_per_s))
    return (
        "A clock 1 min wrong turns a shadow's direction least at "
        f"{_clock(least.when, day)}, by {_minute_words(least.turning_rad_per_s, notation)}, and most at "
        f"{_clock(most.when, day)}, by {_minute_words(most.turning_rad_per_s, notation)}."
    )


def _minute_words(turning_rad_per_s: float, notation: Notation) -> str:
    angle_rad = abs(turning_rad_per_s) * MINUTE_S
    reach_m = _REACH_M[notation.style]
    off = notation.small_words(reach_m * math.tan(angle_rad))
    return f"{math.degrees(angle_rad):.2f}°, {off} at {notation.words(reach_m)}"


def _clock(when: datetime, day: ShadowDay, *, seconds: bool = False) -> str:
    """Return the time, with the date where the clock is on another day than the sun."""
    if seconds and when.microsecond >= 500_000:
        from datetime import timedelta

        when += timedelta(seconds=1)
    text = when.strftime("%H:%M:%S" if seconds else "%H:%M")
    return text if when.date() == day.day else f"{text} on {when.date()}"
