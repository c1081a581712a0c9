"""Points less sure than their standard deviations say, or on an arc, because the equations are bent there.

A standard deviation follows from the equations as they slope at the adjusted place. Where tapes nearly along
one line just meet, that slope changes within the point's own error: two standard deviations across, the sum
of squares should have grown by four and has not. On one tape and a poor bearing a point lies on an arc, and
its ellipse is straight: two standard deviations along it the sum of squares has grown by far more than four.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from staking.base.covariance import elements
from staking.base.triplets import Triplets
from staking.control.ellipses import ellipse_of
from staking.control.equations import ANGULAR, Kind, Stack, evaluated, misfits, stacked
from staking.control.network import Network, NetworkResult

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SDS = 2.0
"""How far off the sum of squares is looked at: what holds 19 places in 20."""
LEAST_GROWTH = 3.0
"""Growth of the sum of squares at two standard deviations, 4 where nothing is bent, below which it is told. A
point k standard deviations off the line of its tapes grows by ``(2 - 2/k)²``: it is told below k = 7.5."""
MOST_GROWTH = 12.0
"""Growth at two standard deviations above which a place is told to lie on an arc. With tapes of 3 mm in a
yard of 20 m a bearing of 0.5° gives 5, and both coordinates hold together in 95 of 100; 1° gives 20, and 87
hold (`benchmarks.intervals`)."""
STRAIGHT = 0.05
"""Bend of a reading over those two standard deviations, in its own, that cannot matter: at the growth that is
told all bends together, root-sum-square, are above 0.27."""
MOST_NAMED = 6
CURVED = (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE, *ANGULAR)
"""Readings that bend with the place of their points; stations and offsets bend with their line alone."""


def bent_points(network: Network, result: NetworkResult) -> tuple[list[int], list[int]]:
    """Return the points, by number, that are less sure in plan than their sds say, and those on an arc."""
    stack = stacked([network.equations[k] for k in result.used])
    at = np.nan_to_num(result.coordinates)
    east = 3 * np.arange(network.points)
    pairs = [elements(result.cov, east + a, east + b) for a in (0, 1) for b in (0, 1)]
    cov = np.stack(pairs, axis=1).reshape(-1, 2, 2)
    loose: list[int] = []
    on_arc: list[int] = []
    total: float | None = None
    for p in _worth_a_look(stack, at, result):
        around = ellipse_of(cov[p])
        if around is None or not around.semi_major_m > 0:
            continue
        toward = np.sin(around.azimuth_rad), np.cos(around.azimuth_rad)
        step = _step(result, int(p), toward) * SDS / around.semi_major_m
        total = _total(stack, at) if total is None else total
        growth = [_total(stack, at + step) - total, _total(stack, at - step) - total]
        if min(growth) < LEAST_GROWTH:
            loose.append(int(p))
        elif min(growth) > MOST_GROWTH:
            on_arc.append(int(p))
    return loose, on_arc


def arc_words(names: Sequence[str]) -> list[str]:
    """Return what is told of points on an arc, in one warning at most."""
    if not names:
        return []
    more = f" and {len(names) - MOST_NAMED} others" if len(names) > MOST_NAMED else ""
    lies, its, it = ("lies", "its", "it") if len(names) == 1 else ("lie", "their", "them")
    return [
        f"{', '.join(names[:MOST_NAMED])}{more} {lies} on an arc: the direction there is so unsure against "
        f"the tape that {its} straight ellipse holds in fewer than 95 of 100. East and north hold each for "
        f"itself; a second tape to {it} from elsewhere, or a better direction, makes the ellipse true"
    ]


def bent_words(names: Sequence[str]) -> list[str]:
    """Return what is told of points less sure than their sds say, in one warning at most."""
    if not names:
        return []
    more = f" and {len(names) - MOST_NAMED} others" if len(names) > MOST_NAMED else ""
    its, it, each = ("its", "it", "it") if len(names) == 1 else ("their", "them", "each")
    return [
        f"{', '.join(names[:MOST_NAMED])}{more} may stand further off than {its} ± says, for the readings "
        f"that place {it} run nearly along one line. Tape {each} from a point off that line, or measure its "
        "station and offset"
    ]


def _worth_a_look(stack: Stack, at: Floats, result: NetworkResult) -> list[int]:
    """Return points at a reading that the error of one of its ends against the other may bend.

    What a point's error of two standard deviations moves one end against the other is no more than two of
    that difference's own.
    """
    rows = np.flatnonzero(np.isin(stack.kind, CURVED))
    points = set()
    for a, b in ((0, 1), (0, 2)):
        some = rows[(stack.at[rows, b] >= 0) & ((b == 1) | (stack.kind[rows] == Kind.ANGLE))]
        i, j = stack.at[some, a], stack.at[some, b]
        length = np.maximum(np.hypot(at[3 * j] - at[3 * i], at[3 * j + 1] - at[3 * i + 1]), 1e-3)
        # Half the second derivative: 1/2L of a tape, 1/2L² of a direction.
        per = np.where(np.isin(stack.kind[some], ANGULAR), length**2, length) * stack.sd[some]
        variance = np.nan_to_num(sum(_apart(result, 3 * i + axis, 3 * j + axis) for axis in (0, 1)))
        for end in (i, j):
            points |= set(end[SDS**2 * variance / 2.0 / per > STRAIGHT].tolist())
    return sorted(points)


def _apart(result: NetworkResult, i: Ints, j: Ints) -> Floats:
    """Return the variances of coordinates i less j, which meet in a reading."""
    cov = result.cov
    return np.asarray(elements(cov, i, i) + elements(cov, j, j) - 2.0 * elements(cov, i, j))


def _step(result: NetworkResult, point: int, toward: tuple[float, float]) -> Floats:
    """Return how all coordinates go along when a point errs toward a direction, times its variance."""
    function = Triplets((1, len(result.coordinates)))
    function[0, [3 * point, 3 * point + 1]] = toward
    return result.moved_by(function)


def _total(stack: Stack, at: Floats) -> float:
    predicted, _ = evaluated(stack, at)
    return float(((misfits(stack, predicted) / stack.sd) ** 2).sum())
