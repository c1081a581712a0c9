"""What ``staking shadows`` prints."""

from __future__ import annotations

from dataclasses import replace
from datetime import date as Date

from staking.base.errors import Mistake, WrongInput
from staking.book.kinds import DATE
from staking.book.records import Site
from staking.north.sun import check_year
from staking.place_asked import site_remarks
from staking.sheets.north_table import Line, magnetic_words, shadow_day, shadow_table, sun_words
from staking.sheets.notation import Notation, sentence
from staking.sheets.table import Table
from staking.sheets.wrapped import bullets


def day_asked(site: Site, typed: str | None) -> Date:
    """Return the day to tell of: that typed, else the survey's.

    Raises
    ------
    WrongInput
        When the place or the day is not known.
    """
    mistakes = [
        Mistake(file="job.toml", column=f"site.{key}", problem="this key is missing; the sun needs it")
        for key, value in (("latitude", site.latitude_rad), ("longitude", site.longitude_rad))
        if value is None
    ]
    date = site.date
    if typed is not None:
        try:
            date = DATE.read(typed, "")
        except ValueError as error:
            mistakes.append(Mistake(file="--date", read=typed, problem=str(error)))
    elif date is None:
        remedy = "Give it in job.toml, or --date 2026-10-03"
        mistakes.append(Mistake(file="job.toml", column="site.date", problem="no day", remedy=remedy))
    if date is not None:
        try:
            check_year(date.year)
        except ValueError as error:
            file, column = ("job.toml", "site.date") if typed is None else ("--date", None)
            mistakes.append(Mistake(file=file, column=column, read=date.isoformat(), problem=str(error)))
    if mistakes or date is None:
        raise WrongInput(mistakes)
    return date


def shadow_lines(site: Site, date: Date, line: Line | None) -> list[str]:
    """Return the shadows of a day, for a site of known latitude and longitude."""
    notation = Notation(style=site.show)
    name = site.name or "Survey"
    lines = [name, "=" * len(name), ""]
    day = shadow_day(site, date)
    if isinstance(day, str):
        return [*lines, *bullets([day])]
    lines += bullets(sun_words(site, day, notation))
    told = magnetic_words(replace(site, date=date))
    lines += bullets([] if told is None else [told])
    asked = site_remarks(site)
    lines += ["", "WORRY ABOUT", *bullets(sentence(text) for text in asked)] if asked else []
    return [*lines, "", *_grid(shadow_table(day, line, notation))] if day.shadows else lines


def _grid(table: Table) -> list[str]:
    """Lay a table out, its headings as a key below: they are longer than their columns."""
    names = [column.name.replace("_", " ") for column in table.columns]
    rows = [names, *table.rows]
    widths = [max(len(row[k]) for row in rows) for k in range(len(names))]
    key = [
        f"{name}: {column.heading}{f', {column.unit}' if column.unit else ''}"
        for name, column in zip(names, table.columns, strict=True)
    ]
    laid = ["  " + "   ".join(f"{cell:>{w}}" for cell, w in zip(row, widths, strict=True)) for row in rows]
    return [table.title.upper(), *laid, "", *bullets([*key, *table.notes])]
