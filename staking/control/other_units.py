"""All readings of a kind in the other unit: feet in a survey in metres, or metres in one in feet."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from staking.base.units import METRES_PER
from staking.control.adjustment import Suspect
from staking.control.network import Network, NetworkResult, adjusted_network
from staking.control.observing import Observed
from staking.control.settling import NotSettled
from staking.control.variance_test import variance_passes

BARE = re.compile(r"-?(\d+(\.\d*)?|\.\d+)")
"""A number without a unit."""
LEAST = 3
"""Fewer readings are taken one by one."""
CHANCE = 0.99
"""Of the whole kind, when the survey then passes. What else would explain it is one reading off by just what
a factor of 3.2808 makes: of a few metres some millimetres would do, and a whole kind in another unit is not
much rarer than a reading wrong by any amount (a judgement)."""
CHANCE_NEARLY = 0.9
"""The same where the survey then fails, though by no more than readings rounded more coarsely than stated."""
CONTRADICTED = 30.0
"""Variance factor from which on it is looked for: heights by receivers contradict little."""
NEARLY = 25.0
FEWER = 1e3
"""Greatest variance factor after it, and how many times less than before it must be, where it fails."""
GROUPS = (
    ("tapes", ("tape",), None),
    ("offsets", ("offset",), None),
    ("tapes and offsets", ("tape", "offset"), None),
    ("east and north of control points", ("control",), ("east", "north")),
    ("rods", ("rod",), None),
    ("rises", ("rise",), None),
    ("rods and rises", ("rod", "rise"), None),
    ("elevations of control points", ("control",), ("elevation",)),
    ("tapes and rods", ("tape", "rod"), None),
    ("tapes and rises", ("tape", "rise"), None),
    ("tapes, rods and rises", ("tape", "rod", "rise"), None),
    ("tapes, offsets and rods", ("tape", "offset", "rod"), None),
    ("tapes, offsets, rods and rises", ("tape", "offset", "rod", "rise"), None),
)
"""What is read in one unit throughout: in words, kinds, and columns where not all."""


def in_other_units(observed: Observed, network: Network, result: NetworkResult, unit: str) -> Suspect | None:
    """Return what is told when all readings of a kind fit in the other unit; None where none do.

    Parameters
    ----------
    observed, network, result
        The survey.
    unit
        What a bare number of the survey is in.
    """
    other = {"ft": "m", "m": "ft"}.get(unit)
    if other is None or result.vtpv < CONTRADICTED * max(result.redundancy, 1):
        return None
    factor = float(METRES_PER[other] / METRES_PER[unit])
    found: list[tuple[tuple[bool, int, float], Suspect]] = []
    for words, numbers in (*_groups(observed, result), *_set_ups(observed, network, result)):
        equations = list(network.equations)
        start = network.start.copy()
        for number in numbers:
            source, old = observed.sources[number], equations[number]
            assert source is not None
            equations[number] = replace(old, value=factor * (old.value - source.shift) + source.shift)
            if source.kind == "control":
                start[old.at[0]] *= factor
        try:
            anew = adjusted_network(replace(network, equations=equations, start=start))
        except NotSettled:
            continue
        if anew.redundancy < result.redundancy:
            continue
        passes = bool(variance_passes(anew.vtpv, anew.redundancy))
        nearly = min(NEARLY * anew.redundancy, result.vtpv / FEWER)
        if not passes and anew.vtpv > nearly:
            continue
        first = observed.sources[numbers[0]]
        assert first is not None
        long = {"ft": "feet", "m": "metres"}
        all_of_them = f"{long[other]} booked as {long[unit]}, and so all {len(numbers)} {words}"
        found.append(
            (
                # Of two that do the lesser mistake: what is scaled down misses less, whatever it was read in.
                (not passes, _kinds(observed, numbers), anew.vtpv),
                Suspect(
                    table=first.table,
                    row=first.row,
                    column=first.column,
                    read=first.read,
                    likely=f"{first.read.strip()} {other}",
                    why=f"{first.what}: {all_of_them}; write their unit behind each number",
                    chance=CHANCE if passes else CHANCE_NEARLY,
                    repair_chance=CHANCE if passes else CHANCE_NEARLY,
                    variance_factor_after=anew.vtpv / anew.redundancy,
                    passes_after=passes,
                ),
            )
        )
    return None if not found else min(found, key=lambda one: one[0])[1]


def _kinds(observed: Observed, numbers: Sequence[int]) -> int:
    """Return how many kinds of readings there are."""
    return len({source.kind for number in numbers if (source := observed.sources[number]) is not None})


def _groups(observed: Observed, result: NetworkResult) -> Iterator[tuple[str, list[int]]]:
    """Return the kinds of readings of which some miss, by words, with those that carry no unit."""
    for words, kinds, columns in GROUPS:
        numbers, parts = [], set()
        for number in result.used:
            source = observed.sources[number]
            if source is None or source.kind not in kinds:
                continue
            if columns is not None and source.column.rpartition(".")[2] not in columns:
                continue
            if BARE.fullmatch(source.read.strip()):
                numbers.append(number)
                parts.add(source.kind)
        if len(numbers) >= LEAST and len(parts) == len(kinds):
            yield words, numbers


def _set_ups(observed: Observed, network: Network, result: NetworkResult) -> Iterator[tuple[str, list[int]]]:
    """Return the rods of each set-up of several, as `_groups` does: a rod's other face is read all along."""
    by_instrument: dict[int, list[int]] = {}
    for number in result.used:
        source = observed.sources[number]
        if source is not None and source.kind == "rod" and BARE.fullmatch(source.read.strip()):
            by_instrument.setdefault(network.equations[number].at[0], []).append(number)
    for numbers in by_instrument.values():
        first = observed.sources[numbers[0]]
        if first is not None and len(by_instrument) > 1 and len(numbers) >= LEAST:
            yield f"rods of the set-up of row {first.row}", numbers
