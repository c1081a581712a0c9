"""Two rows whose readings, or names, were exchanged while they were written."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from staking.control.causes import Cause, Change, known, other_text
from staking.control.equations import FIXED, Equation, Kind
from staking.control.mistaken_names import name_at, with_name
from staking.control.network import NetworkResult
from staking.control.observing import Observed

SHARE_NEXT = 0.02
SHARE_APART = 0.02
"""Of a reading's blunders (a judgement, no source): with the row next to it, and with any of the others."""
TAPES = frozenset({Kind.LEVEL_TAPE, Kind.SLOPE_TAPE})
SHARE_ONE_POINT = 0.01
"""Of a reading's blunders (a judgement, no source): with another tape of the same point."""
MOST_DOUBTED = 4
"""Readings, those that fit worst, whose points' other tapes are tried too: one of two exchanged may fit."""
NAMED = frozenset({Kind.STATION, Kind.OFFSET, Kind.SLOPE_STATION, Kind.SLOPE_OFFSET, Kind.COORDINATE, *FIXED})
"""Rows of one point each, which stands first in their equations: the names were exchanged."""
MOST_READINGS = 16
"""Readings, those that fit worst, whose rows are tried with each other."""


def exchanged_rows(
    observed: Observed,
    equations: Sequence[Equation],
    result: NetworkResult,
    worst: Sequence[int],
    inside: frozenset[int],
    unit: str,
) -> Iterator[Cause]:
    """Return pairs of rows of one table that would fit if one stood under the other's name.

    Parameters
    ----------
    observed, equations, result
        The survey.
    worst
        Places among the readings used, worst first, each checked by others.
    inside
        Equations that are looked at: what else stands in their rows tells nothing.
    unit
        What a bare number of the survey is in.
    """
    members: dict[tuple[str, int], list[int]] = {}
    for number, source in enumerate(observed.sources):
        if source is not None and source.row and number in inside:
            members.setdefault((source.table, source.row), []).append(number)
    many: dict[str, int] = {}
    for table, _ in members:
        many[table] = many.get(table, 0) + 1
    rows = []
    for row in worst[:MOST_READINGS]:
        source = observed.sources[result.used[row]]
        if source is not None and source.row:
            rows.append((source.table, source.row))
    rows += _taped_with(observed, equations, result, worst[:MOST_DOUBTED], inside)
    for one, other in combinations(sorted(dict.fromkeys(rows)), 2):
        if one[0] != other[0]:
            continue
        first, second = ({_sort(equations[k]): k for k in members[at]} for at in (one, other))
        both = [sort for sort in first if sort in second]
        if not both or len(first) < len(members[one]) or len(second) < len(members[other]):
            continue
        a, b = [first[sort] for sort in both], [second[sort] for sort in both]
        share = SHARE_NEXT if other[1] - one[1] == 1 else SHARE_APART / many[one[0]]
        if equations[a[0]].kind in TAPES and set(equations[a[0]].at) & set(equations[b[0]].at):
            share += SHARE_ONE_POINT
        if equations[a[0]].kind in NAMED:
            yield from _names(observed, equations, a, b, share)
        elif len(first) == len(second) == 1:
            if equations[a[0]].kind is Kind.ROD and equations[a[0]].at[0] != equations[b[0]].at[0]:
                # Rods from two set-ups have nothing to do with each other.
                continue
            texts = other_text(observed, equations, a[0], b[0], unit)
            yield known(texts, share, f"the readings of rows {one[1]} and {other[1]} exchanged")


def _taped_with(
    observed: Observed,
    equations: Sequence[Equation],
    result: NetworkResult,
    worst: Sequence[int],
    inside: frozenset[int],
) -> list[tuple[str, int]]:
    """Return the rows of tapes that share a point with one of those that fit worst."""
    points = {p for row in worst if (e := equations[result.used[row]]).kind in TAPES for p in e.at}
    return [
        (source.table, source.row)
        for number in sorted(inside)
        if equations[number].kind in TAPES
        and points.intersection(equations[number].at)
        and (source := observed.sources[number]) is not None
        and source.row
    ]


def _sort(equation: Equation) -> tuple[Kind, int]:
    """Return the kind of a reading, of a coordinate with its axis."""
    return equation.kind, equation.at[0] % 3 if equation.kind is Kind.COORDINATE else 0


def _names(
    observed: Observed, equations: Sequence[Equation], a: Sequence[int], b: Sequence[int], share: float
) -> Iterator[Cause]:
    """Return two rows of one point each, whose points were exchanged."""
    first, second = (_point(equations[k[0]]) for k in (a, b))
    names = observed.names
    if first == second:
        return
    changes = []
    for own, others, point in ((a, b, second), (b, a, first)):
        booked = _point(equations[own[0]])
        for number, other in zip(own, others, strict=True):
            changes.append(
                Change(
                    equation=number,
                    by=equations[other].value - equations[number].value,
                    column="point",
                    read=names[booked],
                    likely=names[point],
                    at=with_name(equations[number], 0, point).at,
                )
            )
    yield known(changes, share, f"{names[first]} and {names[second]} exchanged")


def _point(equation: Equation) -> int:
    return name_at(equation, 0)
