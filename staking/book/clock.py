"""Clock times and time zones as people type them."""

from __future__ import annotations

import re
from datetime import UTC, time, timedelta, timezone, tzinfo

from staking.book.nearest import nearest

_OFFSET = re.compile(
    r"(?:UTC|GMT)?\s*(?P<sign>[+-])?(?P<hours>\d{1,2})(?::?(?P<minutes>[0-5]\d))?", re.IGNORECASE
)
_TIME = re.compile(
    r"(?P<hours>\d{1,2}):(?P<minutes>[0-5]\d)(?::(?P<seconds>[0-5]\d))?\s*(?P<half>[ap]\.?m\.?)?",
    re.IGNORECASE,
)
_DURATION = re.compile(
    r"(?P<number>\d{1,6}(?:\.\d{1,6})?)\s*(?P<unit>s|sec|seconds?|min|minutes?)?", re.IGNORECASE
)


def read_zone(text: str, unit: str) -> tzinfo:
    """Read an offset from UTC, or a zone's name, which knows of summer time; raises ValueError."""
    del unit
    plain = text.strip().replace("−", "-")
    if plain.upper() in ("UTC", "GMT", "Z"):
        return UTC
    match = _OFFSET.fullmatch(plain)
    if match is not None:
        minutes = 60 * int(match["hours"]) + int(match["minutes"] or 0)
        if match["sign"] == "-":
            minutes = -minutes
        if not -12 * 60 <= minutes <= 14 * 60:
            message = "no clock is so far from UTC; expected -12:00 to +14:00"
            raise ValueError(message)
        return timezone(timedelta(minutes=minutes))
    from zoneinfo import ZoneInfo, available_timezones

    try:
        if plain.isascii():
            return ZoneInfo(plain)
    except (KeyError, ValueError, OSError):
        pass  # No zone of this name, or a name that is a folder of zones.
    near = nearest(plain, sorted(available_timezones())) if plain.isascii() else None
    hint = f"; did you mean {near}?" if near else ""
    message = f"not a time zone; expected an offset from UTC as -4:00, or a name as America/New_York{hint}"
    raise ValueError(message)


def read_time(text: str, unit: str) -> time:
    """Read a time of day, 14:32, 14:32:10 or 2:32 pm; raises ValueError."""
    del unit
    match = _TIME.fullmatch(text.strip())
    message = "not a time of day; expected one as 14:32, 14:32:10 or 2:32 pm"
    if match is None:
        raise ValueError(message)
    hours = int(match["hours"])
    if match["half"]:
        if not 1 <= hours <= 12:
            raise ValueError(message)
        hours = hours % 12 + (12 if match["half"][0] in "pP" else 0)
    if hours > 23:
        raise ValueError(message)
    return time(hours, int(match["minutes"]), int(match["seconds"] or 0))


def read_duration(text: str, unit: str) -> float:
    """Read a span of time in seconds: 60, 60 s or 1 min; raises ValueError."""
    del unit
    match = _DURATION.fullmatch(text.strip())
    value = 0.0 if match is None else float(match["number"])
    if match is None or not value > 0.0:
        message = "not a span of time greater than zero; expected one as 30 s or 1 min"
        raise ValueError(message)
    return value * (60.0 if (match["unit"] or "s").lower().startswith("m") else 1.0)
