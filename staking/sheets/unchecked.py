"""Readings that nothing checks, counted the same way wherever they are told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from staking.book.records import FieldBook
from staking.control.adjustment import AdjustedReading
from staking.control.kinds import key_of
from staking.control.network import NOTHING_CHECKS
from staking.sheets.notation import count_words

_NAMES = {
    "rod": ("shot", "shots"),
    "rise": ("rise", "rises"),
    "tape": ("tape", "tapes"),
    "offset": ("offset", "offsets"),
    "angle": ("angle", "angles"),
    "bearing": ("bearing", "bearings"),
    "fix": ("fix", "fixes"),
    "control": ("control point", "control points"),
    "shadow": ("shadow", "shadows"),
    "equal shadows": ("pair of equal shadows", "pairs of equal shadows"),
}


def unchecked_rows(readings: Iterable[AdjustedReading]) -> tuple[AdjustedReading, ...]:
    """Return the readings that nothing checks, one of a row but for rods, of which a row may hold two.

    What a row of offsets or fixes says of two axes is one reading to whoever took it.
    """
    found: dict[tuple[str, int, str], AdjustedReading] = {}
    for reading in readings:
        if reading.redundancy_number < NOTHING_CHECKS:
            column = reading.column if reading.kind == "rod" else ""
            found.setdefault((reading.table, reading.row, column), reading)
    return tuple(found.values())


def unchecked_words(readings: Iterable[AdjustedReading]) -> str:
    """Return how many readings of each kind nothing checks, ``27 shots, 24 offsets``; empty for none."""
    counts = Counter(reading.kind for reading in unchecked_rows(readings))
    return ", ".join(
        count_words(number, *_NAMES.get(kind, (f"reading of {kind}", f"readings of {kind}")))
        for kind, number in counts.items()
    )


def shared_words(book: FieldBook) -> str:
    """Return which mistakes that all tapes or all rod readings share nothing would show; empty for none.

    Lengths are known in another way from two fixes or two given places, heights from rises or two given
    elevations.
    """
    control = book.job.control
    placed = {key_of(row.point) for row in book.control_points if None not in (row.east_m, row.north_m)}
    placed |= set() if control.origin is None else {key_of(control.origin.point)}
    levelled = {key_of(row.point) for row in book.control_points if row.elevation_m is not None}
    levelled |= set() if control.benchmark is None else {key_of(control.benchmark.point)}
    fixed = {key_of(row.point) for row in book.fixes}
    raised = {key_of(row.point) for row in book.fixes if row.height_m is not None}
    tapes = bool(book.tapes) and len(placed) < 2 and len(fixed) < 2
    rods = bool(book.levels) and len(levelled) < 2 and len(raised) < 2 and not book.rises
    shared = [
        *(["all tapes (their unit, a stretched tape, level or along the slope)"] if tapes else []),
        *(["all rod readings (their unit)"] if rods else []),
    ]
    return " or ".join(shared)
