"""Misclosures of the level book and the rises: closed loops, and lines between known elevations."""

from __future__ import annotations

import math
from collections import Counter, deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from staking.control.adjustment import Misclosure
from staking.control.equations import Kind
from staking.control.network import Network
from staking.control.variance_test import SIGNIFICANCE, largest_passed

ALLOWED_SDS = 3.0
"""A misclosure may be three times its own standard deviation; where there are many, see `allowed_sds`."""
DATUM = -1
"""The node that all known elevations hang on."""


def allowed_sds(loops: int) -> float:
    """Return how many of its own standard deviations a misclosure may be.

    Of many good loops a few are off by more than three: from four on as much more is allowed as leaves all
    within it in 99 of 100 good books.
    """
    return max(ALLOWED_SDS, largest_passed(loops, SIGNIFICANCE))


@dataclass(frozen=True, slots=True)
class _Leg:
    """One difference of height between two nodes, up from the first to the second."""

    low: int
    high: int
    rise_m: float
    variance_m2: float
    lever: tuple[int, float] = (-1, 0.0)
    """Coordinate of the level's rise, and how the leg grows with it."""


def misclosures(
    names: Sequence[str],
    network: Network,
    used: frozenset[int],
    rises: Mapping[int, tuple[float, float]] | None = None,
    places: Mapping[int, str] | None = None,
) -> tuple[Misclosure, ...]:
    """Return an independent set of misclosures, in the order in which the book closes them.

    Each reading that joins two places the book has joined before closes one circuit, by the way of fewest
    readings (so every circuit holds a reading that no earlier one holds: the set is independent and
    complete). A circuit through known elevations is a line from one to the other.

    Parameters
    ----------
    names
        Point names by number.
    network
        The readings, in the order of the book.
    used
        Numbers of the equations that took part.
    rises
        Rise of each level's line of sight and its variance, by coordinate: taken out of the readings.
    places
        Where a reading stands, by equation: tells loops apart that pass the same points.
    """
    known_rises = rises or {}
    legs: list[_Leg] = []
    at: dict[int, list[int]] = {}
    joined: dict[int, int] = {}

    def root(node: int) -> int:
        while joined.setdefault(node, node) != node:
            joined[node] = joined[joined[node]]
            node = joined[node]
        return node

    def lay(leg: _Leg) -> None:
        for node in (leg.low, leg.high):
            at.setdefault(node, []).append(len(legs))
        legs.append(leg)

    last = 3 * network.points
    for z in range(2, last, 3):
        if network.held[z]:
            lay(_Leg(DATUM, z, float(network.start[z]), 0.0))
            joined[root(z)] = root(DATUM)
    found: list[Misclosure] = []
    closed_by: list[int] = []
    for k, equation in enumerate(network.equations):
        if k not in used:
            continue
        if equation.kind is Kind.ROD:
            # Sighted from the instrument: the point lies the reading below it.
            level, below = equation.at[0], 3 * equation.at[1] + 2
            rise_at = equation.at[2] if len(equation.at) > 2 else -1
            reading_m = equation.value - equation.factor * known_rises.get(rise_at, (0.0, 0.0))[0]
            leg = _Leg(level, below, -reading_m, equation.sd**2, (rise_at, equation.factor))
        elif equation.kind is Kind.RISE:
            leg = _Leg(3 * equation.at[0] + 2, 3 * equation.at[1] + 2, equation.value, equation.sd**2)
        elif equation.kind is Kind.COORDINATE and equation.at[0] < last and equation.at[0] % 3 == 2:
            leg = _Leg(DATUM, equation.at[0], equation.value, equation.sd**2)
        else:
            continue
        if root(leg.low) == root(leg.high):
            found.append(_closed(names, last, leg, _way(leg.high, leg.low, legs, at), known_rises))
            closed_by.append(k)
        else:
            joined[root(leg.low)] = root(leg.high)
        lay(leg)
    many = allowed_sds(len(found))
    tested = [
        replace(one, allowed_m=many * one.sd_m, passes=abs(one.value_m) <= many * one.sd_m) for one in found
    ]
    return _told_apart(tested, closed_by, places or {})


def _told_apart(
    found: Sequence[Misclosure], closed_by: Sequence[int], places: Mapping[int, str]
) -> tuple[Misclosure, ...]:
    """Return loops of which those named alike say which reading closes them."""
    alike = Counter(one.loop for one in found)
    return tuple(
        replace(one, loop=f"{one.loop}, closed by {places[k]}")
        if alike[one.loop] > 1 and k in places
        else one
        for one, k in zip(found, closed_by, strict=True)
    )


def _way(start: int, end: int, legs: Sequence[_Leg], at: dict[int, list[int]]) -> list[tuple[int, _Leg]]:
    """Return the way of fewest legs from one node to another, as (node left, leg)."""
    came: dict[int, tuple[int, _Leg]] = {}
    queue, seen = deque([start]), {start}
    while queue:
        here = queue.popleft()
        if here == end:
            break
        for k in at.get(here, ()):
            leg = legs[k]
            there = leg.high if leg.low == here else leg.low
            if there not in seen:
                seen.add(there)
                came[there] = here, leg
                queue.append(there)
    way = []
    while end != start:
        here, leg = came[end]
        way.append((here, leg))
        end = here
    return way[::-1]


def _closed(
    names: Sequence[str],
    last: int,
    closing: _Leg,
    way: list[tuple[int, _Leg]],
    rises: Mapping[int, tuple[float, float]],
) -> Misclosure:
    """Return the misclosure of a way that one more leg closes; a line starts and ends at known points."""
    ring = [*way, (closing.low, closing)]
    places = [k for k, (node, _) in enumerate(ring) if node == DATUM]
    if places:
        # Begin at the datum; its two legs are the known elevations, whose difference is what is required.
        ring = ring[places[0] :] + ring[: places[0]]
    total = math.fsum(leg.rise_m if leg.low == node else -leg.rise_m for node, leg in ring)
    levers: dict[int, float] = {}
    for node, leg in ring:
        at, length_m = leg.lever
        levers[at] = levers.get(at, 0.0) + (length_m if leg.low == node else -length_m)
    shared = math.fsum(length_m**2 * rises[at][1] for at, length_m in levers.items() if at in rises)
    sd = math.sqrt(math.fsum(leg.variance_m2 for _, leg in ring) + shared)
    stops = [names[node // 3] for node, _ in ring if 0 <= node < last]
    if not places:
        # The way starts at the point whose reading closes the loop.
        stops.append(stops[0])
    return Misclosure(
        loop=" - ".join(stops),
        value_m=total,
        sd_m=sd,
        allowed_m=ALLOWED_SDS * sd,
        passes=abs(total) <= ALLOWED_SDS * sd,
    )
