"""Names of points and piers wherever they stand: one spelling each, strangers and taped piers told."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from staking.base.errors import Mistake
from staking.book.jobreader import JobRead
from staking.book.kinds import PIER, POINT, POINTS
from staking.book.nearest import nearest
from staking.book.piernames import PierNames
from staking.book.records import ArrayJob, FieldBook, Job
from staking.book.tablereader import TableRead
from staking.book.tables import (
    ANGLES,
    BEARINGS,
    BUILT,
    EQUAL_SHADOWS,
    FIXES,
    LOST,
    OFFSETS,
    POINTS_TABLE,
    SHADOWS,
    STAKED,
    TABLES,
    TAPES,
)
from staking.book.tomltree import FILE as JOB_FILE

NEAR = 0.5
"""Likeness from which another point's name is offered: names are short, half of P9 is P2."""
NOT_ON_PIERS = (TAPES, OFFSETS, ANGLES, BEARINGS, SHADOWS, EQUAL_SHADOWS, FIXES)
"""A stake has the place it was set at; only its height may be measured, in levels and rises."""
ON_A_PIER = "the name of a pier, which stands where its stake was set"
NOT_ON_A_PIER = "Give the point another name; a pier's stake is only shot for height, in levels or rises"


BENCHMARK_NAME = re.compile(r"bm([ -]?\d+|[ -]\w+)?")
TURNING_NAME = re.compile(r"tp[ -]?\d+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mention:
    """One place where a name stands."""

    name: str
    file: str
    row: int | None
    column: str
    """Column, or dotted key."""

    @property
    def fold(self) -> str:
        """The name as it is compared."""
        return self.name.casefold()

    def mistake(self, problem: str, remedy: str) -> Mistake:
        """Return a mistake at this place."""
        return Mistake(
            file=self.file, row=self.row, column=self.column, read=self.name, problem=problem, remedy=remedy
        )


def table_mentions(one: TableRead) -> list[Mention]:
    """Return every name of a point or pier in a table, rows with mistakes too."""
    found: list[Mention] = []
    for row in one.typed:
        for column in one.table.columns:
            if column.kind not in (POINT, PIER, POINTS) or column.name not in row.read:
                continue
            value = column.kind.read(row.read[column.name], "")
            for name in value if isinstance(value, tuple) else (value,):
                found.append(Mention(name=name, file=one.table.file, row=row.row, column=column.name))
    return found


def control_mentions(job: Job) -> list[Mention]:
    """Return the points that ``[control]`` names."""
    control = job.control
    named = []
    if control.origin is not None:
        named.append((control.origin.point, "control.origin.point"))
    if control.azimuth is not None:
        named.append((control.azimuth.start, "control.azimuth.from"))
        named.append((control.azimuth.to, "control.azimuth.to"))
    if control.benchmark is not None:
        named.append((control.benchmark.point, "control.benchmark.point"))
    return [Mention(name=name, file=JOB_FILE, row=None, column=key) for name, key in named]


def place_mentions(job: JobRead) -> list[Mention]:
    """Return the points that the places of the arrays name."""
    found: list[Mention] = []
    for key, place in {one.where["place"]: one.parts["place"] for one in job.arrays}.items():
        for part in ("line", "area"):
            names = () if place is None else getattr(place, part) or ()
            found.extend(
                Mention(name=name, file=JOB_FILE, row=None, column=f"{key}.{part}") for name in names
            )
    return found


def strangers(mentions: Iterable[Mention], known: Mapping[str, str], piers: PierNames) -> list[Mistake]:
    """Return a mistake for each mention of a point that no reading mentions; `known` is by fold."""
    found: list[Mistake] = []
    for mention in mentions:
        if mention.fold in known or piers.of(mention.name) is not None:
            continue
        close = nearest(mention.name, known.values(), cutoff=NEAR)
        remedy = f"Did you mean {close}?" if close else "Write a reading that places it, or another name"
        found.append(mention.mistake("no reading mentions this point", remedy))
    return found


def taped_piers(tables: Mapping[str, TableRead], piers: PierNames) -> list[Mistake]:
    """Return a mistake for each pier-named point that is measured as if it were another point."""
    return [
        mention.mistake(ON_A_PIER, NOT_ON_A_PIER)
        for table in NOT_ON_PIERS
        if table.name in tables
        for mention in table_mentions(tables[table.name])
        if piers.of(mention.name) is not None
    ]


def no_piers(tables: Mapping[str, TableRead], piers: PierNames) -> list[Mistake]:
    """Return a mistake for each post in built.csv that no pier of the job is."""
    found: list[Mistake] = []
    listed = piers.listed()
    for mention in table_mentions(tables[BUILT.name]) if BUILT.name in tables and piers.arrays else ():
        if piers.of(mention.name) is None:
            close = nearest(mention.name, listed, cutoff=NEAR)
            remedy = f"Did you mean {close}?" if close else "Piers are named A1, A2 … B1, B2 …"
            found.append(mention.mistake("no pier of the job has this name", remedy))
    return found


def former_piers(tables: Mapping[str, TableRead], piers: PierNames) -> list[str]:
    """Return a warning for each stake of a pier that the job no longer has: an ordinary point."""
    return [
        f"{mention.file}, row {mention.row}: no pier of the job is named {mention.name}: its stake is an "
        "ordinary point."
        for mention in (table_mentions(tables[STAKED.name]) if STAKED.name in tables and piers.arrays else ())
        if piers.of(mention.name) is None
    ]


def pointless(tables: Mapping[str, TableRead], known: Mapping[str, str], piers: PierNames) -> list[str]:
    """Return a warning for each row of points.csv and lost.csv on a point that nothing else mentions."""
    return [
        _asked(mistake, "is mentioned nowhere else")
        for table in (POINTS_TABLE, LOST)
        if table.name in tables
        for mistake in strangers(table_mentions(tables[table.name]), known, piers)
        if (mistake.file, mistake.row) not in _must_be_measured(tables)
    ]


def unmeasured(tables: Mapping[str, TableRead], known: Mapping[str, str], piers: PierNames) -> list[Mistake]:
    """Return a mistake for each pin and benchmark of points.csv that stands in no reading."""
    kinds = _must_be_measured(tables)
    if not kinds:
        return []
    found = []
    for stranger in strangers(table_mentions(tables[POINTS_TABLE.name]), known, piers):
        kind = kinds.get((stranger.file, stranger.row))
        if kind is not None:
            close = nearest(stranger.read or "", known.values(), cutoff=NEAR)
            remedy = (f"Did you mean {close}? " if close else "") + "Measure it, or take the row out"
            problem = f"the {kind} stands in no reading"
            found.append(dataclasses.replace(stranger, problem=problem, remedy=remedy))
    return found


def _must_be_measured(tables: Mapping[str, TableRead]) -> dict[tuple[str, int | None], str]:
    """Return what the pins and benchmarks of points.csv are, by file and row."""
    rows = tables[POINTS_TABLE.name].typed if POINTS_TABLE.name in tables else ()
    kinds = {row.row: row.read.get("kind", "").strip().casefold() for row in rows}
    return {(POINTS_TABLE.file, row): kind for row, kind in kinds.items() if kind in ("pin", "benchmark")}


def line_ends(tables: Mapping[str, TableRead], mentions: Sequence[Mention], piers: PierNames) -> list[str]:
    """Return a warning for each end of offset lines that nothing else mentions: no line can start there."""
    if OFFSETS.name not in tables:
        return []
    ends = [one for one in table_mentions(tables[OFFSETS.name]) if one.column in ("from", "to")]
    others = {m.fold: m.name for m in mentions if m.file != OFFSETS.file or m.column not in ("from", "to")}
    first: dict[str, Mistake] = {}
    for mistake in strangers(ends, others, piers):
        first.setdefault((mistake.read or "").casefold(), mistake)
    problem = "is an end of an offset's line and mentioned nowhere else"
    return [_asked(mistake, problem) for mistake in first.values()]


def _asked(mistake: Mistake, problem: str) -> str:
    """Return a mistake's sentence for what is only asked about."""
    where = f"{mistake.file}, row {mistake.row}, column {mistake.column}"
    return f"{where}: {mistake.read} {problem}. {mistake.remedy}"


def spellings(mentions: Sequence[Mention], piers: PierNames) -> dict[str, str]:
    """Return the one spelling of each name by its fold: a pier's as the layout's, else as first typed."""
    found: dict[str, str] = {}
    for mention in mentions:
        found.setdefault(mention.fold, piers.of(mention.name) or mention.name)
    return found


def spelled_alike(book: FieldBook, spelling: Mapping[str, str]) -> FieldBook:
    """Return the book with each name spelled the same wherever it stands."""

    def spell(name: str) -> str:
        return spelling.get(name.casefold(), name)

    rows: dict[str, Any] = {}
    for table in TABLES:
        columns = [column for column in table.columns if column.kind in (POINT, PIER)]
        rows[table.attribute] = tuple(
            dataclasses.replace(
                record, **{column.attribute: spell(getattr(record, column.attribute)) for column in columns}
            )
            for record in getattr(book, table.attribute)
        )
    rows["lines"] = tuple(
        dataclasses.replace(line, points=tuple(spell(name) for name in line.points)) for line in rows["lines"]
    )
    return dataclasses.replace(book, job=_job_spelled(book.job, spell), **rows)


def _job_spelled(job: Job, spell: Callable[[str], str]) -> Job:
    control = job.control
    if control.origin is not None:
        origin = dataclasses.replace(control.origin, point=spell(control.origin.point))
        control = dataclasses.replace(control, origin=origin)
    if control.azimuth is not None:
        azimuth = dataclasses.replace(
            control.azimuth, start=spell(control.azimuth.start), to=spell(control.azimuth.to)
        )
        control = dataclasses.replace(control, azimuth=azimuth)
    if control.benchmark is not None:
        benchmark = dataclasses.replace(control.benchmark, point=spell(control.benchmark.point))
        control = dataclasses.replace(control, benchmark=benchmark)
    arrays: list[ArrayJob] = []
    for one in job.arrays:
        line = one.place.line
        place = dataclasses.replace(
            one.place,
            pier=one.place.pier.upper(),
            line=None if line is None else (spell(line[0]), spell(line[1])),
            area=None if one.place.area is None else tuple(spell(name) for name in one.place.area),
        )
        arrays.append(dataclasses.replace(one, place=place))
    return dataclasses.replace(job, control=control, arrays=tuple(arrays))
