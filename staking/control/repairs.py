"""What may have gone wrong with a reading, and what would then have been right.

The shares are a judgement of how often people go wrong in each way (common practice, no source); they only
matter where the readings themselves leave a choice.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from staking.base.units import METRES_PER, format_angle, parse_angle, parse_length, write_like
from staking.control.equations import Equation, Kind
from staking.control.observing import Observed, Source

Floats = NDArray[np.float64]

SHARE_WHOLE_UNIT = 0.20
SHARE_SMALL_UNIT = 0.12
SHARE_TEN_UNITS = 0.06
SHARE_HUNDREDTH = 0.02
SHARE_DIGITS = 0.12
SHARE_INCHES_FOR_TENTHS = 0.05
SHARE_SIGN = 0.08
SHARE_EXCHANGED = 0.06
SHARE_HOW = 0.08
SHARE_OTHER = 0.25
"""Any other amount; the shares of one reading add up to about one."""

NOTICED_SDS = 3.0
"""A change of fewer standard deviations than this could not be told from the reading's error."""

LENGTH_KINDS = frozenset({"rod", "rise", "tape", "offset"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One reading put right."""

    equation: int
    by: float
    """To add to the reading, metres or radians."""
    column: str
    read: str
    likely: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """One way of going wrong, undone."""

    changes: tuple[Change, ...]
    share: float
    why: str


def repairs(
    observed: Observed,
    equations: Sequence[Equation],
    used: Sequence[int],
    coordinates: Floats,
    unit: str,
) -> list[Repair]:
    """Return every repair of the readings that took part.

    Parameters
    ----------
    observed
        Readings with their rows.
    equations
        Their equations, extras in their places.
    used
        Numbers of the equations that took part.
    coordinates
        Adjusted coordinates.
    unit
        What a bare number of the survey is in.
    """
    found: list[Repair] = []
    for number in used:
        source = observed.sources[number]
        if source is None:
            continue
        equation = equations[number]
        if source.kind in LENGTH_KINDS:
            found += _of_length(number, equation, source, unit)
        elif equation.kind is Kind.BEARING:
            found.append(_turned_about(number, equation, source))
    found += _exchanged(observed, equations, frozenset(used), unit)
    found += _other_how(observed, equations, used, coordinates)
    return [
        repair
        for repair in found
        if any(abs(c.by) > NOTICED_SDS * equations[c.equation].sd for c in repair.changes)
    ]


def written(value_m: float, source: Source, unit: str) -> str:
    """Return a length as its file writes it."""
    return write_like(value_m - source.shift, source.read, unit=unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRepair:
    """One way in which one length may have been misread or miswritten, undone."""

    by_m: float
    """To add to the reading."""
    likely: str
    """The repaired reading, as its file writes it."""
    share: float
    """Of a reading's blunders; `SHARE_OTHER` is what these leave to other amounts."""
    why: str


def _of_length(number: int, equation: Equation, source: Source, unit: str) -> Iterator[Repair]:
    for one in reading_repairs(
        equation.value - source.shift, source.read, kind=source.kind, column=source.column, unit=unit
    ):
        change = Change(
            equation=number, by=one.by_m, column=source.column, read=source.read, likely=one.likely
        )
        yield Repair(changes=(change,), share=one.share, why=one.why)


def reading_repairs(
    value_m: float, read: str, *, kind: str, column: str, unit: str
) -> Iterator[ReadingRepair]:
    """Return the likely repairs of one length by itself, whatever other readings say of it.

    Parameters
    ----------
    value_m
        The reading, metres.
    read
        As typed.
    kind, column
        What was read (rod, rise, tape, offset) and the column it stands in.
    unit
        What a bare number of the survey is in.
    """
    signed = kind in ("rise", "offset") and column != "station"
    for step_m, share, words in _steps(read, unit):
        ways = [by for by in (step_m, -step_m) if signed or value_m + by >= 0]
        for by in ways:
            yield ReadingRepair(
                by_m=by,
                likely=write_like(value_m + by, read, unit=unit),
                share=share / len(ways),
                why=f"misread by {words}",
            )
    swaps = list(_swapped_digits(value_m, read, unit))
    for by, text in swaps:
        yield ReadingRepair(
            by_m=by, likely=text, share=SHARE_DIGITS / len(swaps), why="two digits changed places"
        )
    tenths = re.fullmatch(r"(\d+)\.(\d|0\d|1[01])(\s*ft)?", read.strip())
    if tenths is not None and (tenths[3] or unit == "ft"):
        meant = (int(tenths[1]) + int(tenths[2]) / 12) * float(METRES_PER["ft"])
        yield ReadingRepair(
            by_m=meant - value_m,
            likely=write_like(meant, read, unit=unit),
            share=SHARE_INCHES_FOR_TENTHS,
            why=f"inches written as decimals: {tenths[1]} ft {int(tenths[2])} in",
        )
    if signed and value_m != 0:
        why = "up taken for down" if kind == "rise" else "right taken for left"
        yield ReadingRepair(
            by_m=-2 * value_m,
            likely=write_like(-value_m, read, unit=unit),
            share=SHARE_SIGN,
            why=f"sign: {why}",
        )


def _steps(read: str, unit: str) -> list[tuple[float, float, str]]:
    """Return the steps by which a reading in this notation is misread: metres, share, words."""
    text = read.strip().lower()
    foot, inch = float(METRES_PER["ft"]), float(METRES_PER["in"])
    if (
        "'" in text
        or ("ft" in text and "in" in text)
        or '"' in text
        or text.endswith("in")
        or (unit == "in" and re.fullmatch(r"[-+\d./ ]*", text))
    ):
        return [
            (foot, SHARE_WHOLE_UNIT, "one foot"),
            (inch, SHARE_SMALL_UNIT, "one inch"),
            (10 * foot, SHARE_TEN_UNITS / 2, "ten feet"),
            (10 * inch, SHARE_TEN_UNITS / 2, "ten inches"),
        ]
    if text.endswith("ft") or (unit == "ft" and not text.endswith("m")):
        return [
            (foot, SHARE_WHOLE_UNIT, "one foot"),
            (foot / 10, SHARE_SMALL_UNIT, "a tenth of a foot"),
            (10 * foot, SHARE_TEN_UNITS, "ten feet"),
            (foot / 100, SHARE_HUNDREDTH, "a hundredth of a foot"),
        ]
    return [
        (1.0, SHARE_WHOLE_UNIT, "one metre"),
        (0.1, SHARE_SMALL_UNIT, "one decimetre"),
        (10.0, SHARE_TEN_UNITS, "ten metres"),
        (0.01, SHARE_HUNDREDTH, "one centimetre"),
    ]


def _swapped_digits(value_m: float, read: str, unit: str) -> Iterator[tuple[float, str]]:
    """Return the readings with two neighbouring digits exchanged, a point between them aside."""
    places = [k for k, sign in enumerate(read) if sign.isdigit()]
    seen = {read}
    for a, b in pairwise(places):
        if read[a + 1 : b] not in ("", "."):
            continue
        text = read[:a] + read[b] + read[a + 1 : b] + read[a] + read[b + 1 :]
        if text in seen:
            continue
        seen.add(text)
        try:
            yield parse_length(text, unit=unit) - value_m, text
        except ValueError:
            continue


def _turned_about(number: int, equation: Equation, source: Source) -> Repair:
    likely = angle_written(equation.value, math.pi, source)
    change = Change(equation=number, by=math.pi, column=source.column, read=source.read, likely=likely)
    return Repair(changes=(change,), share=SHARE_SIGN, why="the far end taken for the near end")


def angle_written(value_rad: float, by_rad: float, source: Source) -> str:
    """Return a changed angle in degrees, from the north in which it was read."""
    # A book made by a program may carry no text.
    with suppress(ValueError):
        value_rad = parse_angle(source.read)
    return format_angle((value_rad + by_rad) % (2 * math.pi), 3)


def _exchanged(
    observed: Observed, equations: Sequence[Equation], used: frozenset[int], unit: str
) -> Iterator[Repair]:
    """Return BS and FS exchanged, within a setup and within a row."""
    pairs: list[tuple[int, int, str]] = []
    by_row: dict[int, dict[str, int]] = {}
    for setup in observed.setups:
        columns: dict[str, int] = {}
        for number in setup.readings:
            source = observed.sources[number]
            assert source is not None
            columns[source.column] = number
            by_row.setdefault(source.row, {})[source.column] = number
        if "bs" in columns and "fs" in columns:
            pairs.append((columns["bs"], columns["fs"], "BS and FS of one setup exchanged"))
    for row in by_row.values():
        if "bs" in row and "fs" in row:
            pairs.append((row["bs"], row["fs"], "BS and FS of one row exchanged"))
    for a, b, why in pairs:
        if a not in used or b not in used:
            continue
        first, second = observed.sources[a], observed.sources[b]
        assert first is not None
        assert second is not None
        difference = equations[b].value - equations[a].value
        yield Repair(
            changes=(
                Change(
                    equation=a,
                    by=difference,
                    column=first.column,
                    read=first.read,
                    likely=written(equations[b].value, first, unit),
                ),
                Change(
                    equation=b,
                    by=-difference,
                    column=second.column,
                    read=second.read,
                    likely=written(equations[a].value, second, unit),
                ),
            ),
            share=SHARE_EXCHANGED,
            why=why,
        )


def _other_how(
    observed: Observed, equations: Sequence[Equation], used: Sequence[int], coordinates: Floats
) -> Iterator[Repair]:
    """Return tapes and offsets taken on the slope and booked as level, and the reverse."""

    def change(number: int, by: float, sloped: bool) -> Change:
        was, is_now = ("slope", "level") if sloped else ("level", "slope")
        return Change(equation=number, by=by, column="how", read=was, likely=is_now)

    members = frozenset(used)
    for number in used:
        equation = equations[number]
        kind, at = equation.kind, equation.at
        sloped = kind in (Kind.SLOPE_TAPE, Kind.SLOPE_STATION)
        if kind in (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE):
            drop = coordinates[3 * at[1] + 2] - coordinates[3 * at[0] + 2]
            square = equation.value**2 + (drop**2 if sloped else -(drop**2))
            if math.isnan(square) or square <= 0:
                continue
            changes: tuple[Change, ...] = (change(number, math.sqrt(square) - equation.value, sloped),)
        elif kind in (Kind.STATION, Kind.SLOPE_STATION):
            if number + 1 not in members:
                continue
            bys = _offset_the_other_way(equation, equations[number + 1], coordinates, sloped)
            if bys is None:
                continue
            changes = (change(number, bys[0], sloped), change(number + 1, bys[1], sloped))
        else:
            continue
        yield Repair(
            changes=changes,
            share=SHARE_HOW,
            why="taped level, booked as slope" if sloped else "taped on the slope, booked as level",
        )


def _offset_the_other_way(
    station: Equation, offset: Equation, coordinates: Floats, sloped: bool
) -> tuple[float, float] | None:
    """Return what to add to station and offset if they were taken the other way than booked."""
    p, f, t = (3 * k for k in station.at)
    length = math.hypot(coordinates[t] - coordinates[f], coordinates[t + 1] - coordinates[f + 1])
    drop = coordinates[t + 2] - coordinates[f + 2]
    if length == 0 or math.isnan(drop) or math.isnan(coordinates[p + 2]):
        return None
    stretch = math.hypot(1.0, drop / length)
    along = station.value if sloped else station.value / stretch
    rise = coordinates[p + 2] - coordinates[f + 2] - drop / length * along
    square = offset.value**2 + (rise**2 if sloped else -(rise**2))
    across = math.copysign(math.sqrt(max(square, 0.0)), offset.value)
    return (station.value * stretch if sloped else along) - station.value, across - offset.value
