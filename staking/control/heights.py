"""Approximate elevations, and which points the height readings reach at all, by the graph of the readings.

Rods and rises first; then one point at a time that only fixes reach, the best fix first, and rods from there.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence

from staking.control.clouds import started
from staking.control.equations import Equation, Kind


def reached(equations: Sequence[Equation], known: Mapping[int, float]) -> dict[int, float]:
    """Return the elevations that rods, rises and fixes reach, and the ties of the fixes, by coordinate.

    Parameters
    ----------
    equations
        All equations.
    known
        Elevation coordinates known beforehand, by coordinate.
    """
    found = _by_steps(equations, known)
    heights = sorted((e for e in equations if e.kind is Kind.FIX_HEIGHT), key=lambda e: e.sd)
    while heights:
        found |= started(heights, found)
        new = next((e for e in heights if 3 * e.at[0] + 2 not in found and e.at[2] in found), None)
        if new is None:
            break
        found[3 * new.at[0] + 2] = new.value - found[new.at[2]]
        found = _by_steps(equations, found)
    return found


def _by_steps(equations: Sequence[Equation], known: Mapping[int, float]) -> dict[int, float]:
    """Return the elevations that rods and rises reach, differences of two coordinates, by coordinate."""
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
