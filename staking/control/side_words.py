"""Points that stand on another side of the line than was said: the readings decide, but it is told."""

from __future__ import annotations

from collections.abc import Sequence

from staking.control.network import Network, NetworkResult
from staking.control.observing import Observed

MOST_NAMES = 8
_WORDS = {-1: "left", 1: "right"}


def side_words(observed: Observed, network: Network, result: NetworkResult) -> tuple[str, ...]:
    """Return a sentence where a side of points.csv or of [control] is not that of the place taken.

    A side decides between mirror images only; whatever readings say otherwise wins, and one of them may have
    lost its sign. Of the side for all, pins alone are told of: shots may lie on both sides of the line.
    """
    sides = network.sides
    if sides.line is None:
        return ()
    line = f"{observed.names[sides.line[0]]}-{observed.names[sides.line[1]]}"
    own, pins = against_sides(network, result)
    told = [
        f"points.csv says {_WORDS[said]} of {line} for {_listed(observed, some)}, and the readings put "
        f"{'it' if len(some) == 1 else 'them'} on the other side: the side is wrong, or the sign of an "
        "offset or another reading, which may then stand for the whole site"
        for said in (-1, 1)
        if (some := [p for p in own if sides.by_point[p] == said])
    ]
    if pins and sides.default is not None:
        told.append(
            f"[control] side is {_WORDS[sides.default]} of {line}, and the readings put "
            f"{_listed(observed, pins)} on the other side: right if they lie there, else the sign of an "
            "offset or another reading is wrong; write their side in points.csv"
        )
    return tuple(told)


def against_sides(network: Network, result: NetworkResult) -> tuple[list[int], list[int]]:
    """Return the points on another side than their own that was said, and the pins than that for all."""
    sides = network.sides
    enz = result.coordinates[: 3 * network.points].reshape(-1, 3)
    placed = {p: (float(e), float(n)) for p, (e, n, _) in enumerate(enz) if e == e and n == n}

    def elsewhere(p: int, said: int | None) -> bool:
        on_line = p not in placed or p in (sides.line or ())
        return not on_line and sides.of(placed[p], placed) not in (said, None)

    own = [p for p, said in sides.by_point.items() if elsewhere(p, said)]
    pins = [] if sides.default is None else sorted(sides.pins - sides.by_point.keys())
    return own, [p for p in pins if elsewhere(p, sides.default)]


def _listed(observed: Observed, points: Sequence[int]) -> str:
    names = [observed.names[p] for p in points[:MOST_NAMES]]
    more = len(points) - len(names)
    return ", ".join(names) + (f" and {more} more" if more > 0 else "")
