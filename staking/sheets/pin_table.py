"""From pin to pin: how far, how high and which way, to see on any day whether one of them moved."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np

from staking.base.axes import azimuth_of
from staking.control.adjustment import Points
from staking.plan import Plan
from staking.sheets.names import north_name
from staking.sheets.notation import Notation, degrees
from staking.sheets.table import Column, Table

MOST_PAIRS = 10
"""All of five pins; of more the first so many pairs, the shortest."""
_NOT_KNOWN = "–"


def between_pins(plan: Plan, *, notation: Notation) -> Table | None:
    """Return the lines between the pins, None of fewer than two that are placed."""
    points = plan.adjustment.points
    lost = {row.point.strip().casefold() for row in plan.book.lost}
    pins = [
        i
        for i, (name, kind) in enumerate(zip(points.names, points.kinds, strict=True))
        if kind == "pin" and name.strip().casefold() not in lost and np.isfinite(points.enz_m[i, :2]).all()
    ]
    pairs = sorted(combinations(pins, 2), key=lambda pair: _level_m(points, *pair))[:MOST_PAIRS]
    if not pairs:
        return None
    unit = notation.unit
    return Table(
        title="From pin to pin",
        columns=(
            Column(heading="From–to", name="between", align="left", strong=True),
            Column(heading="Level", name="level", unit=unit),
            Column(heading="±", name="sd", unit=unit),
            Column(heading="On slope", name="slope", unit=unit),
            Column(heading="Rise", name="rise", unit=unit),
            Column(heading="Direction", name="azimuth"),
        ),
        rows=tuple(_row(points, i, j, notation) for i, j in sorted(pairs)),
        notes=(
            f"Directions run clockwise from {north_name(plan).lower()}. Tape one or two of these on any day: "
            "a pin that moved shows.",
        ),
    )


def _level_m(points: Points, i: int, j: int) -> float:
    return float(np.hypot(*(points.enz_m[j, :2] - points.enz_m[i, :2])))


def _direction(east: float, north: float) -> str:
    """Return a direction to thousandths, due north as nought and never as 360."""
    return degrees(math.radians(round(math.degrees(azimuth_of(east, north)), 3) % 360.0), 3)


def _row(points: Points, i: int, j: int, notation: Notation) -> tuple[str, ...]:
    east, north, rise = (float(value) for value in points.enz_m[j] - points.enz_m[i])
    level = math.hypot(east, north)
    name = f"{points.names[i]}-{points.names[j]}"
    if not level:
        return (name, notation.length(0.0), _NOT_KNOWN, _NOT_KNOWN, _NOT_KNOWN, _NOT_KNOWN)
    at = np.array([3 * i, 3 * i + 1, 3 * j, 3 * j + 1])
    along = np.array([-east, -north, east, north]) / level
    sd = math.sqrt(max(0.0, float(along @ points.cov_of(at) @ along)))
    known = math.isfinite(rise)
    return (
        name,
        notation.length(level),
        notation.sd(sd),
        notation.length(math.hypot(level, rise)) if known else _NOT_KNOWN,
        notation.length(rise) if known else _NOT_KNOWN,
        _direction(east, north),
    )
