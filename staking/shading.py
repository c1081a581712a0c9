"""Whether the arrays of a job shade one another between given hours, and what spacing would do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date as Date
from datetime import time as Time
from itertools import accumulate

from staking.base.units import told
from staking.book.records import ArrayJob, FieldBook
from staking.book.site_north import axes_north_rad, axes_place
from staking.ground.yard import YardGround
from staking.layout.frame import Fit
from staking.layout.shade import Suns, shortest_day, suns_of
from staking.layout.spacing import Shade, Standing, shades_of

SOME_YEAR = 2026
"""Of the shortest day where no date is given: from year to year its sun differs by less than 0.01°."""
HOUR_S = 3600.0
MINUTE_S = 60.0
NOON_H = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Shading:
    """What was looked at, and what was found."""

    day: Date | None = None
    """None: not looked at."""
    start: Time | None = None
    to: Time | None = None
    shades: tuple[Shade, ...] = ()
    why_not: str = ""
    """Why shade was not looked at, where there are several arrays."""

    @property
    def failing(self) -> tuple[Shade, ...]:
        """Return the pairs of which one array shades the other, the worst first."""
        return tuple(sorted((one for one in self.shades if one.share > 0), key=lambda one: -one.share))


def shading(
    book: FieldBook,
    arrays: Sequence[tuple[ArrayJob, Fit]],
    *,
    placed: Mapping[str, tuple[float, float]],
    ahead: Mapping[str, tuple[float, float] | None],
    ground: YardGround,
) -> Shading:
    """Return what the arrays do to one another.

    Parameters
    ----------
    book
        The field book: place, day and hours.
    arrays
        Each with its fit, of a stepped one each section.
    placed, ahead
        By array: where the pier that its place names stands, and the unit vector along its place's line.
    ground
        Of the whole yard.
    """
    if len({job.name for job, _ in arrays}) < 2:
        return Shading()
    try:
        suns, day = _suns(book)
    except ValueError as error:
        return Shading(why_not=str(error))
    standing = []
    for whole in book.job.arrays:
        own = [(job, fit.plane) for job, fit in arrays if job.name == whole.name]
        standing.append(
            Standing(
                job=_as_parted(whole, [job for job, _ in own]),
                sections=tuple(own),
                placed_en_m=placed[whole.name],
                ahead=ahead[whole.name],
                ground=ground.for_array(whole.name),
            )
        )
    hours = book.job.shade
    found = shades_of(standing, suns, style=book.job.site.show)
    return Shading(day=day, start=hours.start, to=hours.to, shades=found)


def _as_parted(job: ArrayJob, sections: Sequence[ArrayJob]) -> ArrayJob:
    """Return a job with the breaks at which it was parted."""
    after = tuple(accumulate(one.array.modules_along for one in sections[:-1]))
    return replace(job, fit=replace(job.fit, sections=1, break_after=after or None))


def _suns(book: FieldBook) -> tuple[Suns, Date]:
    site, hours = book.job.site, book.job.shade
    if book.on_grid:
        lat_rad, lon_rad = axes_place(book)
    elif site.latitude_rad is None or site.longitude_rad is None:
        message = "give [site] latitude and longitude to see whether the arrays shade one another"
        raise ValueError(message)
    else:
        lat_rad, lon_rad = site.latitude_rad, site.longitude_rad
    day = hours.day or shortest_day(lat_rad, lon_rad, SOME_YEAR if site.date is None else site.date.year)
    suns = suns_of(
        lat_rad,
        lon_rad,
        day,
        before_s=-_after_noon_s(hours.start),
        after_s=_after_noon_s(hours.to),
        axes_north_rad=axes_north_rad(book),
    )
    return suns, day


def _after_noon_s(at: Time) -> float:
    return (at.hour - NOON_H) * HOUR_S + at.minute * MINUTE_S + at.second


def hours_words(found: Shading) -> str:
    """Return the time looked at, in words."""
    if found.start is None or found.to is None or found.day is None:
        return ""
    return f"from {found.start:%H:%M} to {found.to:%H:%M} by the sun on {found.day.isoformat()}"


def clock_words(after_noon_s: float) -> str:
    """Return a time by the sun, of which 12:00 is noon, to a minute."""
    minutes = round(NOON_H * 60 + after_noon_s / MINUTE_S)
    return f"{minutes // 60}:{minutes % 60:02d}"


def shading_remarks(found: Shading, style: str) -> tuple[str, ...]:
    """Return a sentence for each array that another shades, or on why that was not looked at."""
    if found.why_not:
        return (found.why_not,)
    return tuple(shade_words(one, found, style) for one in found.failing)


def shade_words(one: Shade, found: Shading, style: str) -> str:
    """Return what one array does to another, and the spacing that would do."""
    assert one.worst_s is not None
    minutes = round(one.shaded_s / MINUTE_S)
    text = (
        f"array {one.front} shades array {one.back} {hours_words(found)}: {100 * one.share:.0f} % of it at "
        f"{clock_words(one.worst_s)}, some of it for {minutes // 60} h {minutes % 60:02d} min. Edge to edge "
        f"they stand {told(one.gap_m, style)} apart in plan"
    )
    if one.least_gap_m is None:
        return f"{text}; no spacing up to 30 m that array {one.back} fits at would do"
    text += f"; {told(one.least_gap_m, style)} would do"
    return f"{text}: in [place] of array {one.back} {one.keys}" if one.keys else text
