"""What must be kept clear of, placed in the yard: from `lines.csv` and the trees of `points.csv`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from staking.base.units import from_unit
from staking.book.records import FieldBook
from staking.control.adjustment import Points

Floats = NDArray[np.float64]
ObstacleKind = Literal["boundary", "no_build", "buried", "overhead", "tree"]

OVERHEAD_LEAST_M = from_unit(10.0, "ft")
"""From any part of a load or a pipe to a line of up to 50 kV: 29 CFR 1926.1408 Table A. Never less, whatever
setback is given; higher voltages ask for more."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Obstacle:
    """One line, area or tree."""

    name: str
    kind: ObstacleKind
    en_m: Floats
    """(k, 2) places in order; one for a tree."""
    closed: bool
    """Whether it rings an area."""
    setback_m: float
    """Distance to keep; a tree's radius is not part of it."""
    setback_given: bool
    radius_m: float = 0.0
    """A tree's own."""
    z_m: Floats | None = None
    """(k,) elevations of an overhead line, NaN where the ground's elevation at its foot is not known."""
    height_m: float | None = None
    """Of an overhead line above the ground."""
    sd_m: float = 0.0
    """Of its places in plan, of an overhead line in height too, the worst of them."""
    points: tuple[str, ...] = ()
    """Names of its places; of a tree none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacles:
    """All that could be placed, and a sentence for each that could not."""

    placed: tuple[Obstacle, ...]
    unplaced: tuple[str, ...]


def obstacles_of(book: FieldBook, points: Points) -> Obstacles:
    """Return everything to keep clear of; breaks of the ground are none of these.

    Parameters
    ----------
    book
        With `lines.csv` and `points.csv`.
    points
        From the adjustment.
    """
    placed: list[Obstacle] = []
    unplaced: list[str] = []
    sd_m = points.sd_m()
    for row in book.lines:
        if row.kind == "break":
            continue
        found = [_index(points, name) for name in row.points]
        lacking = [name for name, i in zip(row.points, found, strict=True) if i is None]
        if lacking or len(found) < 2:
            problem = f"{', '.join(lacking)} has no place" if lacking else "it has fewer than two points"
            unplaced.append(f"{row.line} ({row.table}, row {row.row}) is NOT CHECKED: {problem}")
            continue
        index = np.array(found, dtype=np.int64)
        ring = len(index) > 2 and (row.kind == "no_build" or index[0] == index[-1])
        if ring and not _rings(points.enz_m[index, :2]):
            unplaced.append(
                f"{row.line} ({row.table}, row {row.row}) is NOT CHECKED: its sides cross or lie on one "
                "another; write its points in the order in which one walks round"
            )
            continue
        least = OVERHEAD_LEAST_M if row.kind == "overhead" else 0.0
        elevations = None
        if row.kind == "overhead":
            elevations = points.enz_m[index, 2] + (row.height_m or 0.0)
        placed.append(
            Obstacle(
                name=row.line,
                kind=row.kind,
                en_m=points.enz_m[index, :2],
                closed=ring,
                setback_m=max(row.setback_m or 0.0, least),
                setback_given=row.setback_m is not None,
                z_m=elevations,
                height_m=row.height_m,
                sd_m=_worst(sd_m[index, :2])
                if elevations is None
                else math.hypot(_worst(sd_m[index, :2]), _worst(sd_m[index, 2])),
                points=tuple(row.points),
            )
        )
    for tree in book.points:
        if tree.kind != "tree":
            continue
        if tree.radius_m is None:
            unplaced.append(
                f"tree {tree.point} is NOT CHECKED: points.csv gives it no radius, how far its crown and "
                "roots reach"
            )
            continue
        i = _index(points, tree.point)
        if i is None:
            unplaced.append(f"tree {tree.point} is NOT CHECKED: it has no place")
            continue
        placed.append(
            Obstacle(
                name=tree.point,
                kind="tree",
                en_m=points.enz_m[i : i + 1, :2],
                closed=False,
                setback_m=0.0,
                setback_given=True,
                radius_m=tree.radius_m,
                sd_m=_worst(sd_m[i : i + 1, :2]),
            )
        )
    return Obstacles(placed=tuple(placed), unplaced=tuple(unplaced))


def _index(points: Points, name: str) -> int | None:
    try:
        i = points.index(name)
    except KeyError:
        return None
    return i if np.isfinite(points.enz_m[i, :2]).all() else None


def _rings(en_m: Floats) -> bool:
    """Return whether places in this order ring one area."""
    from shapely import Polygon

    ring = Polygon(en_m)
    return bool(ring.is_valid and ring.area > 0.0)


def _worst(sd_m: Floats) -> float:
    """Return the largest sd of any coordinate; a given place has none."""
    worst = float(np.nanmax(sd_m, initial=0.0))
    return worst if math.isfinite(worst) else 0.0
