"""Readings that nothing checks, counted the same way wherever they are told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from staking.control.adjustment import AdjustedReading
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
