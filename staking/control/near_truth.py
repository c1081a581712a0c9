"""Places where the equations are as good as linear, though gross blunders dragged the adjusted ones off.

Only surveys whose variance factor passes `GROSS_VARIANCE` need it. Candidates are the places of the
adjustment, places found with weights that fall as readings miss, places found anew without what is given of
one point, places found anew without one reading that may have chosen the wrong mirror image, and places found
anew with the reading that misses most put right in one of the ways that people misread. The candidate that
most readings agree with is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from staking.base.lsq import RankDeficient
from staking.control.equations import (
    FIXED,
    PLAN,
    Equation,
    Kind,
    Stack,
    points_of,
    stacked,
)
from staking.control.given_apart import exchanged_given, without_given
from staking.control.network import Network, NetworkResult, adjusted_network
from staking.control.robust_places import FAR_SDS, gross_rows, misses, reweighted, sum_missed
from staking.control.settling import NotSettled, written_about

Floats = NDArray[np.float64]

GROSS_VARIANCE = 1e3
"""Variance factor from which on the places are too far dragged along to count as near."""
ALL_BUT_ONE = 2.0
"""Mean square of the other misses at which one blunder explains all: no further place is tried."""
FEWER = FAR_SDS**2 / 2
"""Half of what one reading that misses grossly counts."""
MOST_TRIED_ALL = 1000
"""Readings up to which places are looked for as long as more than one of them misses grossly."""
MOST_PLACED = 10
"""Readings without which the points are placed anew: each costs one whole adjustment."""
SMALL = 60
"""Readings in plan up to which the points are placed anew without each of them: what misses most about places
that a blunder chose wrongly need not be the blunder."""
MOST_REPAIRED = 2
"""Readings, those that miss most, that are put right to place the points anew."""
SIDED = (Kind.OFFSET, Kind.ANGLE, Kind.BEARING)
"""Readings that know left from right."""
OFFSETS = (Kind.STATION, Kind.OFFSET, Kind.SLOPE_STATION, Kind.SLOPE_OFFSET)
TAPED = (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE)
FAR_M = 0.3
"""A smaller slip does not choose a mirror image."""

Meant = Callable[[int], Sequence[float]]
"""What an equation's reading may have been, metres, by its number: the likely slips undone."""


def near_the_truth(network: Network, result: NetworkResult, meant: Meant) -> NetworkResult:
    """Return the adjustment written about places that a gross blunder in plan has not dragged along.

    The equations there are linear; residuals and sums are those of the linear equations.
    """
    used = [network.equations[k] for k in result.used]
    if result.vtpv < GROSS_VARIANCE * max(result.redundancy, 1) or not any(e.kind in PLAN for e in used):
        return result
    stack = stacked(used)
    least = sum_missed(stack, np.nan_to_num(result.coordinates))
    best = None
    robust = reweighted(stack, result, np.nan_to_num(result.coordinates))
    # One gross sign outvotes several lesser ones in a sum of squares: then all stand on the other side.
    across = [reweighted(stack, result, start) for start in _mirrored(network, result)]
    tried, done = len(across) + 1, False
    for k, coordinates in enumerate(chain([robust], across, without_given(network, result, stack)), start=1):
        missed = sum_missed(stack, coordinates)
        # The other side must be contradicted by fewer readings; between equals the side taken stands.
        if missed + (FEWER if 1 < k <= tried else 0.0) < least:
            least, best = missed, coordinates
        done = k >= tried and least < _explained(network, result, stack, best)
        if done:
            break
    exchanged = None if done else exchanged_given(network, result)
    if exchanged is not None:
        # It explains all, however much of what is given then misses.
        best, done = exchanged, True
    if not done:
        best = _by_readings(network, result, stack, robust, best, meant)
    if best is None:
        return result
    try:
        return result.again(written_about(stack, best, result.free))
    except RankDeficient:
        return result


def _by_readings(
    network: Network,
    result: NetworkResult,
    stack: Stack,
    robust: Floats,
    best: Floats | None,
    meant: Meant,
) -> Floats | None:
    """Return the best of some places and of those found anew without a reading, or with one put right."""
    least = sum_missed(stack, np.nan_to_num(result.coordinates) if best is None else best)
    for coordinates in _placed_anew(network, result, stack, robust):
        missed = sum_missed(stack, coordinates)
        if missed < least:
            least, best = missed, coordinates
        if least < _explained(network, result, stack, best):
            break
    # One blunder may be left, and another mirror image: of the images of its repair one may fit better.
    # Readings that nothing checks miss nothing on any image: they do not count.
    enough = FAR_SDS**2 + ALL_BUT_ONE * max(result.redundancy, 1)
    if least < enough:
        return best
    for coordinates in _repaired(network, result, stack, robust if best is None else best, meant):
        missed = sum_missed(stack, coordinates)
        if missed < least:
            least, best = missed, coordinates
        if least < enough:
            break
    return best


def across_the_line(network: Network, result: NetworkResult, near: NetworkResult) -> NetworkResult | None:
    """Return the adjustment about the other side of the line where as few readings contradict it; else None.

    Only where readings that know one side from the other miss grossly, others here than there: tapes fit both
    sides alike.
    """
    used = [network.equations[k] for k in result.used]
    stack = stacked(used)
    here = np.nan_to_num(near.coordinates)
    far = gross_rows(stack, here)
    if not far or not all(used[row].kind in SIDED for row in far):
        return None
    for start in _mirrored(network, near):
        there = reweighted(stack, result, start)
        others = gross_rows(stack, there)
        if not others or far & others or not all(used[row].kind in SIDED for row in others):
            continue
        if abs(sum_missed(stack, there) - sum_missed(stack, here)) < FEWER:
            try:
                return result.again(written_about(stack, there, result.free))
            except RankDeficient:
                return None
    return None


def _explained(network: Network, result: NetworkResult, stack: Stack, best: Floats | None) -> float:
    """Return the sum below which no further places are tried: one blunder explains all that is left.

    In a large survey, where each trial takes long, several may be left. Readings of one row are one
    blunder: a station and its offset exchanged, a fix under another's name.
    """
    enough = FAR_SDS**2 + ALL_BUT_ONE * len(stack)
    if len(stack) > MOST_TRIED_ALL:
        return enough
    coordinates = np.nan_to_num(result.coordinates) if best is None else best
    rows = {_of_row(network.equations[result.used[row]]) for row in gross_rows(stack, coordinates)}
    return enough if len(rows) < 2 else 0.0


def _of_row(equation: Equation) -> tuple[float, ...]:
    """Return what the readings of one row have in common, and those of others do not."""
    if equation.kind is Kind.COORDINATE:
        return (equation.kind, equation.at[0] // 3)
    if equation.kind in FIXED:
        return (Kind.FIX_EAST, equation.at[0])
    if equation.kind in OFFSETS:
        return (Kind.STATION, *equation.at)
    return (equation.kind, *equation.at, equation.value)


def _mirrored(network: Network, result: NetworkResult) -> Iterator[Floats]:
    """Return the places on the other side of the line from which sides are named; nothing without one."""
    line = network.sides.line
    if line is None:
        return
    coordinates = np.nan_to_num(result.coordinates)
    points = coordinates[: 3 * network.points].reshape(-1, 3)[:, :2].copy()
    along = points[line[1]] - points[line[0]]
    length = float(np.hypot(*along))
    if length <= FAR_M:
        return
    along /= length
    off = points - points[line[0]]
    points = points[line[0]] + 2.0 * np.outer(off @ along, along) - off
    for axis in (0, 1):
        own = slice(axis, 3 * network.points, 3)
        coordinates[own] = np.where(network.held[own], coordinates[own], points[:, axis])
    yield coordinates


def _placed_anew(
    network: Network, result: NetworkResult, stack: Stack, coordinates: Floats
) -> Iterator[Floats]:
    """Return places found without one plan reading, for those whose points misfit most.

    Nothing when all but a few readings agree already.
    """
    far = misses(stack, coordinates)
    if int((far > FAR_SDS).sum()) <= 1:
        return
    # A reading that placed its point wrongly fits, and those that contradict it do not.
    worst: dict[int, float] = {}
    for k, miss in zip(result.used, far, strict=True):
        if network.equations[k].kind in PLAN:
            for point in points_of(network.equations[k]):
                worst[point] = worst.get(point, 0.0) + min(float(miss), FAR_SDS)
    order = sorted(
        (k for k in result.used if network.equations[k].kind in PLAN),
        key=lambda k: -_suspicion(network.equations[k], worst),
    )
    known = ~np.isnan(result.coordinates)
    for k in order if len(order) <= SMALL else order[:MOST_PLACED]:
        without = [e for i, e in enumerate(network.equations) if i != k]
        try:
            anew = adjusted_network(replace(network, equations=without))
        except NotSettled:
            continue
        if not np.isnan(anew.coordinates[known]).any():
            yield np.where(known, np.nan_to_num(anew.coordinates), 0.0)


def _repaired(
    network: Network, result: NetworkResult, stack: Stack, coordinates: Floats, meant: Meant
) -> Iterator[Floats]:
    """Return places found anew with one length that misses grossly put right in a likely way."""
    far = misses(stack, coordinates)
    known = ~np.isnan(result.coordinates)
    worst = sorted(
        (row for row in np.flatnonzero(far > FAR_SDS) if network.equations[result.used[row]].kind in TAPED),
        key=lambda row: -far[row],
    )
    for row in worst[:MOST_REPAIRED]:
        number = result.used[row]
        equation = network.equations[number]
        for value in dict.fromkeys(round(value, 6) for value in meant(number)):
            if value <= 0 or abs(value - equation.value) < FAR_M:
                continue
            equations = list(network.equations)
            equations[number] = replace(equation, value=value)
            try:
                anew = adjusted_network(replace(network, equations=equations))
            except NotSettled:
                continue
            if not np.isnan(anew.coordinates[known]).any():
                yield np.where(known, np.nan_to_num(anew.coordinates), 0.0)


def _suspicion(equation: Equation, worst: dict[int, float]) -> float:
    points: Sequence[int] = points_of(equation)
    return sum(worst.get(point, 0.0) for point in points) / len(points)
