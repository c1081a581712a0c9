"""From the field book to observation equations: one per reading, each with the row that it stands on."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from staking.base.errors import Mistake
from staking.book.records import BearingRow, FieldBook, LevelRow, Row
from staking.control.adjustment import LevelSums
from staking.control.curvature import curvature_and_refraction
from staking.control.directions import Norths
from staking.control.equations import Equation, Kind
from staking.control.kinds import key_of
from staking.control.true_tape import true_tape


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where an equation comes from."""

    table: str
    row: int
    column: str
    kind: str
    what: str
    read: str
    shift: float = 0.0
    """What corrections added to the reading: the equation's value less what was typed."""
    rad_per_m: float = 0.0
    """For a latitude or longitude: how much it grows with a metre of the equation; 0 for others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """One standing of the level: the readings taken from it, in the order of the book."""

    first_row: int
    readings: tuple[int, ...]
    """Numbers of the equations."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Extra:
    """An unknown that is no coordinate of a point: a height of instrument, a shift that readings share."""

    start: float = math.nan
    """Where the adjustment starts; NaN: its readings give it."""
    sd: float | None = None
    """When known beforehand as `start` with a standard deviation; None: free."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """One rod reading with its instrument and the length of its sight."""

    equation: int
    instrument: str
    """By key; empty where the book names none."""
    setup: int
    dist_m: float | None


FIRST_EXTRA = -10
"""Extras stand in equations as -10, -11, … until `numbered` places them after the points; -1 means none."""


@dataclass(slots=True, kw_only=True)
class Observed:
    """Every reading as an equation; grown while the book is read."""

    names: list[str] = field(default_factory=list)
    numbers: dict[str, int] = field(default_factory=dict)
    """Number of each point, by key."""
    equations: list[Equation] = field(default_factory=list)
    sources: list[Source | None] = field(default_factory=list)
    """None for an equation that is no reading: what is known beforehand of an extra."""
    extras: list[Extra] = field(default_factory=list)
    extra_of: dict[str, int] = field(default_factory=dict)
    """Mark of an extra that several rows share, by what they share."""
    setups: list[Setup] = field(default_factory=list)
    sights: list[Sight] = field(default_factory=list)
    unclosed_setups: int = 0
    mistakes: list[Mistake] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    def point(self, name: str) -> int:
        """Return the number of a point, new when the name is."""
        key = key_of(name)
        if key not in self.numbers:
            self.numbers[key] = len(self.names)
            self.names.append(name.strip())
        return self.numbers[key]

    def extra(self, extra: Extra) -> int:
        """Add an extra unknown and return its mark, to stand in equations until they are `numbered`."""
        self.extras.append(extra)
        return FIRST_EXTRA + 1 - len(self.extras)

    def shared(self, name: str, extra: Extra) -> int:
        """Return the mark of an extra that several rows share, added when first asked for."""
        if name not in self.extra_of:
            self.extra_of[name] = self.extra(extra)
        return self.extra_of[name]

    def add(self, equation: Equation, source: Source | None) -> int:
        """Add an equation and return its number."""
        if equation.sd <= 0 or not math.isfinite(equation.sd):
            self.mistakes.append(
                Mistake(
                    file="job.toml" if source is None else source.table,
                    row=None if source is None else source.row,
                    column="accuracy" if source is None else "sd",
                    problem="a standard deviation must be more than zero",
                    remedy="Say how far one reading may be off, one time in three; no reading is exact.",
                )
            )
        self.equations.append(equation)
        self.sources.append(source)
        return len(self.equations) - 1


def _source(row: Row, column: str, kind: str, what: str) -> Source:
    return Source(
        table=row.table, row=row.row, column=column, kind=kind, what=what, read=row.read.get(column, "")
    )


def _same_point(observed: Observed, row: Row, *names: str) -> bool:
    keys = [key_of(name) for name in names]
    if len(set(keys)) == len(keys):
        return False
    observed.mistakes.append(
        Mistake(
            file=row.table,
            row=row.row,
            problem="one point stands here twice",
            read=", ".join(names),
            expected="different points",
        )
    )
    return True


def observed_book(book: FieldBook, norths: Norths) -> Observed:
    """Return the equations of a field book; extras stand in them by their marks, see `numbered`."""
    observed = Observed()
    _add_levels(book, observed)
    accuracy = book.job.accuracy
    for rise in book.rises:
        if _same_point(observed, rise, rise.start, rise.to):
            continue
        at = observed.point(rise.start), observed.point(rise.to)
        sd = accuracy.rise_m if rise.sd_m is None else rise.sd_m
        observed.add(
            Equation(kind=Kind.RISE, at=at, value=rise.rise_m, sd=sd),
            _source(rise, "rise", "rise", f"rise {rise.start}-{rise.to}"),
        )
    for tape in book.tapes:
        if _same_point(observed, tape, tape.start, tape.to):
            continue
        at = observed.point(tape.start), observed.point(tape.to)
        true = true_tape(tape, book.job, observed.mistakes, observed.warnings)
        if true is None:
            continue
        observed.add(
            Equation(
                kind=Kind.LEVEL_TAPE if true.is_level else Kind.SLOPE_TAPE,
                at=at,
                value=true.length_m,
                sd=true.sd_m,
            ),
            replace(
                _source(tape, "length", "tape", f"tape {tape.start}-{tape.to}"),
                shift=true.length_m - tape.length_m,
            ),
        )
    _add_offsets(book, observed)
    for angle in book.angles:
        if _same_point(observed, angle, angle.at, angle.start, angle.to):
            continue
        corner = observed.point(angle.at), observed.point(angle.start), observed.point(angle.to)
        observed.add(
            Equation(
                kind=Kind.ANGLE,
                at=corner,
                value=angle.angle_rad,
                sd=accuracy.angle_rad if angle.sd_rad is None else angle.sd_rad,
            ),
            _source(angle, "angle", "angle", f"angle at {angle.at} from {angle.start} to {angle.to}"),
        )
    for bearing in book.bearings:
        _add_bearing(bearing, observed, norths, accuracy.bearing_rad)
    return observed


def _add_levels(book: FieldBook, observed: Observed) -> None:
    accuracy = book.job.accuracy
    readings: list[int] = []
    first_row = 0
    instrument = 0
    level = ""
    is_open = False

    def close() -> None:
        nonlocal is_open
        if readings:
            observed.setups.append(Setup(first_row=first_row, readings=tuple(readings)))
        readings.clear()
        is_open = False

    def sight(row: LevelRow, column: str, reading_m: float) -> None:
        sd = math.hypot(accuracy.rod_m, accuracy.rod_per_m * (row.dist_m or 0.0))
        bend_m = curvature_and_refraction(row.dist_m or 0.0)
        number = observed.add(
            Equation(
                kind=Kind.ROD,
                at=(instrument, observed.point(row.point)),
                value=reading_m - bend_m,
                sd=sd if row.sd_m is None else row.sd_m,
            ),
            replace(_source(row, column, "rod", f"{column.upper()} on {row.point}"), shift=-bend_m),
        )
        readings.append(number)
        observed.sights.append(
            Sight(equation=number, instrument=level, setup=len(observed.setups), dist_m=row.dist_m)
        )

    for row in book.levels:
        named = key_of(row.instrument)
        if is_open and row.bs_m is None and named and named != level:
            observed.mistakes.append(
                Mistake(
                    file=row.table,
                    row=row.row,
                    column="instrument",
                    read=row.instrument,
                    problem="another instrument than in the row of the setup's BS",
                    remedy="Name the instrument in the row of the BS.",
                )
            )
        for column, reading_m in (("is", row.is_m), ("fs", row.fs_m)):
            if reading_m is None:
                continue
            if not is_open:
                observed.mistakes.append(
                    Mistake(
                        file=row.table,
                        row=row.row,
                        column=column,
                        read=row.read.get(column),
                        problem=f"{column.upper()} without a setup: no BS since the last FS",
                        remedy="Start the setup with a BS on a point already shot.",
                    )
                )
                continue
            sight(row, column, reading_m)
        if row.fs_m is not None:
            close()
        if row.bs_m is not None:
            if is_open:
                observed.unclosed_setups += 1
                close()
            first_row, is_open, level = row.row, True, named
            instrument = observed.extra(Extra())
            sight(row, "bs", row.bs_m)
    if is_open:
        observed.unclosed_setups += 1
        close()


def level_sums(book: FieldBook, observed: Observed) -> LevelSums | None:
    """Return the level book's own arithmetic; None without a level book."""
    if not book.levels:
        return None
    return LevelSums(
        sum_bs_m=math.fsum(row.bs_m for row in book.levels if row.bs_m is not None),
        sum_fs_m=math.fsum(row.fs_m for row in book.levels if row.fs_m is not None),
        setups=len(observed.setups),
        unclosed_setups=observed.unclosed_setups,
    )


def _add_offsets(book: FieldBook, observed: Observed) -> None:
    for row in book.offsets:
        if _same_point(observed, row, row.point, row.start, row.to):
            continue
        at = observed.point(row.point), observed.point(row.start), observed.point(row.to)
        sd = book.job.accuracy.offset_m if row.sd_m is None else row.sd_m
        line = f"of {row.point} from {row.start}-{row.to}"
        sloped = row.how == "slope"
        observed.add(
            Equation(kind=Kind.SLOPE_STATION if sloped else Kind.STATION, at=at, value=row.station_m, sd=sd),
            _source(row, "station", "offset", f"station {line}"),
        )
        # An offset of zero has no slope.
        observed.add(
            Equation(
                kind=Kind.SLOPE_OFFSET if sloped and row.offset_m != 0 else Kind.OFFSET,
                at=at,
                value=row.offset_m,
                sd=sd,
            ),
            _source(row, "offset", "offset", f"offset {line}"),
        )


def _add_bearing(row: BearingRow, observed: Observed, norths: Norths, usual_sd_rad: float) -> None:
    if _same_point(observed, row, row.start, row.to):
        return
    turn = norths.turn(row.north, file=row.table, row=row.row, column="north")
    if turn is None:
        return
    shared = -1
    if turn.sd_rad > 0:
        # All magnetic bearings share the error of the declination.
        shared = observed.shared("magnetic north", Extra(start=0.0, sd=turn.sd_rad))
    at = (observed.point(row.start), observed.point(row.to), shared)
    observed.add(
        Equation(
            kind=Kind.BEARING,
            at=at,
            value=row.bearing_rad + turn.angle_rad,
            sd=usual_sd_rad if row.sd_rad is None else row.sd_rad,
            factor=1.0,
        ),
        _source(row, "bearing", "bearing", f"bearing {row.start}-{row.to}"),
    )


def numbered(observed: Observed) -> list[Equation]:
    """Return the equations with extras in their places after the points, and what is known of them before."""
    points = 3 * len(observed.names)

    def placed(k: int) -> int:
        return points + FIRST_EXTRA - k if k <= FIRST_EXTRA else k

    return [replace(e, at=tuple(placed(k) for k in e.at)) for e in observed.equations]


def add_known_extras(observed: Observed) -> None:
    """Add what is known beforehand of extras as equations that are no readings; once, after all readings."""
    for k, extra in enumerate(observed.extras):
        if extra.sd is not None:
            mark = FIRST_EXTRA - k
            observed.add(Equation(kind=Kind.COORDINATE, at=(mark,), value=extra.start, sd=extra.sd), None)
