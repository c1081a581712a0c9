"""Which stake a stake is checked from where no pin proves it: never two that check one another only.

One distance between two stakes shows an error of either, but where it is the only check of both a common
error (a pin that moved, a tape hooked wrong) shows in neither. So of two that chose each other one looks for
another neighbour that tells as well.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from staking.marks.checks import LEAST_SHOWN, PinCheck, pin_check, share_shown
from staking.marks.swing import SHORTEST_TIE_M, Swing
from staking.marks.ties import Yard

Floats = NDArray[np.float64]


def stakes_to_check_from(yard: Yard, *, lost: tuple[str, ...]) -> dict[int, int]:
    """Return for each stake that no pin proves the standing neighbour to check it from, by index."""
    telling: dict[int, list[int]] = {}
    chosen: dict[int, int] = {}
    for i, swing in enumerate(yard.swings):
        beside = _neighbours(yard, i, lost=lost)
        if not beside or pin_that_proves(yard, i, enough=LEAST_SHOWN) is not None:
            continue
        shown = {j: shown_from(yard, i, j, swing) for j in beside}
        telling[i] = sorted((j for j in beside if shown[j] >= LEAST_SHOWN), key=lambda j: -shown[j])
        chosen[i] = max(beside, key=lambda j: shown[j])
    for i in sorted(chosen):
        if chosen.get(chosen[i]) == i and not _moved(i, telling, chosen, frozenset()):
            _moved(chosen[i], telling, chosen, frozenset())
    return chosen


def _moved(
    i: int, telling: Mapping[int, Sequence[int]], chosen: dict[int, int], passed: frozenset[int]
) -> bool:
    """Check stake `i` from the next best one that tells and is not checked from it, others moving up."""
    passed = passed | {i}
    for k in telling[i]:
        if k == chosen[i]:
            continue
        if chosen.get(k) != i or (k not in passed and _moved(k, telling, chosen, passed)):
            chosen[i] = k
            return True
    return False


def pin_that_proves(yard: Yard, i: int, *, enough: float) -> PinCheck | None:
    """Return the pin to check a stake from, None without one that shows `enough`.

    Of a stake set by station and offset any pin shows an error along the line: the nearest one.
    """
    swing, reach = yard.swings[i], yard.sights[i].length_m
    if swing is not None:
        third = pin_check(yard.sights[i], swing)
        return third if third is not None and third.shown >= enough else None
    far_enough = np.flatnonzero(reach >= SHORTEST_TIE_M)
    if not len(far_enough):
        return None
    return PinCheck(point=int(far_enough[np.argmin(reach[far_enough])]), shown=1.0, allowed_m=None)


def shown_from(yard: Yard, i: int, j: int, swing: Swing | None) -> float:
    """Return what share of an error in either tie of stake `i` its distance from stake `j` is sure to show.

    Of a stake set without ties everything shows that lies along the line.
    """
    return 1.0 if swing is None else share_shown(toward(yard, j, i), swing)


def toward(yard: Yard, start: int, to: int) -> Floats:
    """Return (2,) the unit vector in plan from one stake to another."""
    reach = yard.fit.piers.en_m[to] - yard.fit.piers.en_m[start]
    return np.asarray(reach / np.hypot(reach[0], reach[1]))


def _neighbours(yard: Yard, i: int, *, lost: tuple[str, ...]) -> list[int]:
    """Return the standing stakes next to pier `i`: of its own beam first, then of the beams beside."""
    piers = yard.fit.piers
    gone = {name.strip().casefold() for name in lost}
    away = np.abs(piers.beam - piers.beam[i]) + np.abs(piers.number - piers.number[i])
    beside = [int(j) for j in np.flatnonzero(away == 1) if piers.names[j].casefold() not in gone]
    return sorted(beside, key=lambda j: int(piers.beam[j] != piers.beam[i]))
