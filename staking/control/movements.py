"""Causes that put several height readings off by one amount: an instrument bumped, a turning point moved."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from staking.control.causes import MOVED_M, WRONG_SETUPS, Cause, Change, wide
from staking.control.equations import Equation, Kind, points_of
from staking.control.observing import Observed


def movements(observed: Observed, equations: Sequence[Equation], used: frozenset[int]) -> Iterator[Cause]:
    """Return every moment at which an instrument or a turning point may have moved.

    Parameters
    ----------
    observed
        Readings with their rows and set-ups.
    equations
        Their equations, extras in their places.
    used
        Equations that took part and are checked by others.
    """
    for setup in observed.setups:
        rows = [number for number in setup.readings if number in used]
        # A bump before the second sight or the last is one reading's error as well.
        moments = range(2, len(rows) - 1)
        for k in moments:
            yield _moved(
                observed,
                rows[k:],
                WRONG_SETUPS / len(moments),
                f"instrument moved before this sight of the set-up of row {setup.first_row}",
            )
    sights: dict[int, list[int]] = {}
    for number in sorted(used):
        if equations[number].kind in (Kind.ROD, Kind.RISE):
            for point in points_of(equations[number]):
                sights.setdefault(point, []).append(number)
    for point, numbers in sights.items():
        columns = [_column(observed, number) for number in numbers]
        for k in range(1, len(numbers)):
            if (columns[k - 1], columns[k]) != ("fs", "bs"):
                continue
            later = [n for n in numbers[k:] if equations[n].kind is Kind.ROD]
            yield _moved(
                observed,
                later,
                WRONG_SETUPS,
                f"{observed.names[point]} moved between its FS and its BS",
                blamed=((numbers[k - 1], 0.5), (numbers[k], 0.5)) if len(later) == 1 else (),
            )


def _column(observed: Observed, number: int) -> str:
    source = observed.sources[number]
    return "" if source is None else source.column


def _moved(
    observed: Observed,
    numbers: Sequence[int],
    prior: float,
    why: str,
    blamed: tuple[tuple[int, float], ...] = (),
) -> Cause:
    changes = []
    for number in numbers:
        source = observed.sources[number]
        assert source is not None
        changes.append(
            Change(equation=number, by=math.nan, column=source.column, read=source.read, likely="")
        )
    return Cause(
        changes=tuple(changes),
        steps=(1.0,) * len(changes),
        amounts=wide(MOVED_M),
        prior=prior,
        why=why,
        blamed=blamed,
    )
