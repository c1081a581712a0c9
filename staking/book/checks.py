"""What files must agree on with one another, once each has been read by itself."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass

from staking.base.errors import Mistake
from staking.book.jobchecks import check_job
from staking.book.jobreader import JobRead
from staking.book.levelbook import check_levels
from staking.book.names import (
    Mention,
    control_mentions,
    former_piers,
    line_ends,
    no_piers,
    place_mentions,
    pointless,
    spelled_alike,
    spellings,
    strangers,
    table_mentions,
    taped_piers,
    unmeasured,
)
from staking.book.piernames import pier_names
from staking.book.records import FieldBook, OffsetRow
from staking.book.rowchecks import check_rows, same_rows
from staking.book.slips import slips
from staking.book.tablereader import TableRead
from staking.book.tables import CONTROL, LEVELS, LINES, TABLES


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A field book after all checks."""

    book: FieldBook
    """With each name spelled the same wherever it stands, and with its warnings."""
    mistakes: tuple[Mistake, ...]


def check_book(book: FieldBook, job: JobRead, tables: Mapping[str, TableRead], *, for_plan: bool) -> Checked:
    """Return the book checked within and across its tables.

    Parameters
    ----------
    book : FieldBook
        The rows that could be read.
    job : JobRead
        The decisions as far as they could be read.
    tables : mapping
        By table name: the files that are there.
    for_plan : bool
        Whether what only a plan needs must be there.
    """
    mistakes = check_job(job, tables, for_plan=for_plan)
    warnings = list(book.warnings)
    for one in tables.values():
        mistakes.extend(check_rows(one))
    if LEVELS.name in tables and tables[LEVELS.name].named:
        wrong, unclosed = check_levels(tables[LEVELS.name].typed, file=LEVELS.file)
        mistakes.extend(wrong)
        warnings.extend(unclosed)
        if job.readable:  # Else the unit of a bare number is not known.
            warnings.extend(odd_rods(book))
    warnings.extend(lone_offsets(book))
    warnings.extend(same_rows(tables))
    piers = pier_names(job.arrays)
    by_table = {table.name: table_mentions(tables[table.name]) for table in TABLES if table.name in tables}
    placing = [
        mention
        for table in TABLES
        if table.readings or table is CONTROL
        for mention in by_table.get(table.name, ())
    ]
    known = spellings(placing, piers)
    mistakes.extend(taped_piers(tables, piers))
    mistakes.extend(no_piers(tables, piers))
    warnings.extend(former_piers(tables, piers))
    in_control, in_place = control_mentions(job.job), place_mentions(job)
    asked = [*in_control, *(in_place if for_plan else []), *by_table.get(LINES.name, ())]
    if placing:
        mistakes.extend(strangers(asked, known, piers))
        mistakes.extend(unmeasured(tables, known, piers))
        warnings.extend(pointless(tables, known, piers))
        warnings.extend(line_ends(tables, [*placing, *in_control], piers))
    mentions: list[Mention] = [*in_control, *in_place, *(one for found in by_table.values() for one in found)]
    warnings.extend(slips(mentions, piers))
    spelled = spelled_alike(book, spellings(mentions, piers))
    return Checked(book=dataclasses.replace(spelled, warnings=tuple(warnings)), mistakes=tuple(mistakes))


LONGEST_ROD_M = 10.0
"""No rod is longer: telescoping rods reach about 25 ft. Common practice, no source."""
LONGEST_METRIC_ROD_M = 5.1
"""Rods with a metric face end at 5 m as a rule (common practice, no source)."""


def odd_rods(book: FieldBook) -> list[str]:
    """Return what is odd of rod readings: below the rod's foot, beyond its top, feet among metres."""
    found: list[str] = []
    beyond, metric = [], []
    for row in book.levels:
        for column, value_m in (("bs", row.bs_m), ("is", row.is_m), ("fs", row.fs_m)):
            if value_m is None or math.isnan(value_m):
                continue
            where = f"{row.table}, row {row.row}: {column} {row.read[column]}"
            if value_m < 0:
                found.append(f"{where} is taken as a rod held upside down.")
            elif value_m > LONGEST_ROD_M:
                beyond.append(where)
            elif value_m > LONGEST_METRIC_ROD_M and book.job.site.units in ("m", "mm"):
                metric.append(where)
    if beyond:
        found.append(f"{_first_of(beyond)} longer than any rod: is the unit right?")
    elif metric:
        found.append(
            f"{_first_of(metric)} more than 5 m, where rods with a metric face end: is the rod in feet?"
        )
    return found


def _first_of(places: list[str]) -> str:
    return places[0] + (" is" if len(places) == 1 else f" and {len(places) - 1} more are")


FELLOWS = 5
"""So many offsets of a line lie on one side before a single one on the other is asked about."""


def lone_offsets(book: FieldBook) -> list[str]:
    """Return a question on each offset that alone lies on its side of a line: a minus lost."""
    by_line: dict[tuple[str, str], list[OffsetRow]] = {}
    for row in book.offsets:
        if abs(row.offset_m) > 0.0:
            by_line.setdefault((row.start.strip().casefold(), row.to.strip().casefold()), []).append(row)
    found = []
    for rows in by_line.values():
        right = [row for row in rows if row.offset_m > 0]
        left = [row for row in rows if row.offset_m < 0]
        sides = ("right", "left") if len(right) < len(left) else ("left", "right")
        few, many = sorted((right, left), key=len)
        if len(few) == 1 and len(many) >= FELLOWS:
            (row,) = few
            found.append(
                f"{row.table}, row {row.row}: offset {row.read['offset']} puts {row.point} {sides[0]} of "
                f"{row.start}-{row.to}, the other {len(many)} of that line lie {sides[1]}: is its sign right?"
            )
    return found
