"""Shadows timed by a clock a whole hour off: summer time where the file says none, or the reverse."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

from staking.book.clock import read_time
from staking.book.records import FieldBook, ShadowRow
from staking.control.causes import WRONG_READINGS, WRONG_SETUPS, Cause, Change, known
from staking.control.observing import Observed
from staking.control.sun_readings import SHADOW

SHARE_HOUR = 0.10
"""Of one shadow's blunders. That all shadows of a day are timed so is as likely as a moved set-up."""
SLOW = "summer time taken for standard time: the clock was an hour fast"
FAST = "standard time taken for summer time: the clock was an hour slow"


def wrong_clocks(observed: Observed, used: frozenset[int], book: FieldBook) -> Iterator[Cause]:
    """Return every shadow, and all shadows of a day together, as timed an hour early and an hour late.

    Parameters
    ----------
    observed
        The readings.
    used
        Equations that took part and are checked by others.
    book
        Where the rows with their times stand.
    """
    rows = {row.row: row for row in book.shadows}
    groups: dict[tuple[date, str], list[Change]] = {}
    for number in sorted(used):
        source = observed.sources[number]
        if source is None or source.kind != SHADOW or source.row not in rows:
            continue
        row = rows[source.row]
        for hours, why in ((-1, SLOW), (1, FAST)):
            found = _turned(row, book, hours)
            if found is None:
                continue
            by, likely = found
            change = Change(equation=number, by=by, column="time", read=source.read, likely=likely)
            yield known([change], SHARE_HOUR / 2, why)
            day = row.date or book.job.site.date
            assert day is not None
            groups.setdefault((day, why), []).append(change)
    for (day, why), changes in groups.items():
        if len(changes) > 1:
            yield known(changes, WRONG_SETUPS / WRONG_READINGS / 2, f"all shadows of {day}: {why}")


def _turned(row: ShadowRow, book: FieldBook, hours: int) -> tuple[float, str] | None:
    """Return how far the shadow turns in so many hours, and the time then; None where there is no shadow."""
    from staking.north.shadow import shadow_at

    site = book.job.site
    day = row.date or site.date
    if day is None or site.latitude_rad is None or site.longitude_rad is None:
        return None
    when = datetime.combine(day, row.time, tzinfo=site.time_zone or UTC)
    then = when + timedelta(hours=hours)
    try:
        # By the clock on the wall: an hour in which the zone itself changes is no slip of a person.
        here, there = (shadow_at(site.latitude_rad, site.longitude_rad, t).azimuth_rad for t in (when, then))
    except ValueError:
        return None  # The sun was down.
    typed = row.read.get("time", "")
    try:
        seconds = bool(read_time(typed, "").second)
    except ValueError:
        seconds = False
    return math.remainder(there - here, math.tau), then.strftime("%H:%M:%S" if seconds else "%H:%M")
