"""Approximate elevations, and which points the height readings reach at all, by the graph of the readings."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence

from staking.control.equations import Equation, Kind


def reached(equations: Sequence[Equation], known: Mapping[int, float]) -> dict[int, float]:
    """Return the elevations that rods and rises reach, by coordinate.

    Rod readings and rises are differences of two coordinates; other readings are skipped.

    Parameters
    ----------
    equations
        All equations.
    known
        Elevation coordinates known beforehand, by coordinate.
    """
    steps: dict[int, list[tuple[int, float]]] = {}
    for equation in equations:
        if equation.kind is Kind.ROD:
            low, high = 3 * equation.at[1] + 2, equation.at[0]
        elif equation.kind is Kind.RISE:
            low, high = 3 * equation.at[0] + 2, 3 * equation.at[1] + 2
        else:
            continue
        steps.setdefault(low, []).append((high, equation.value))
        steps.setdefault(high, []).append((low, -equation.value))
    found = dict(known)
    queue = deque(known)
    while queue:
        here = queue.popleft()
        for there, rise_m in steps.get(here, ()):
            if there not in found:
                found[there] = found[here] + rise_m
                queue.append(there)
    return found
