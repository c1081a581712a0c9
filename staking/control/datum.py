"""What is held fixed: ``[control]`` and `control.csv` as coordinates and a direction."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.errors import Mistake
from staking.book.records import FieldBook
from staking.book.site_north import place_told
from staking.control.directions import Norths
from staking.control.equations import Equation, Kind
from staking.control.observing import Observed, Source
from staking.control.settling import LEAST_SHARE, HeldDirection

Floats = NDArray[np.float64]

FAR_OFF_RAD = math.radians(5.0)
"""No compass and no shadow errs so much (common practice, no source)."""
SAME_DIRECTION_RAD = 1e-3
"""Azimuth and control points that differ by more are told: 0.06°, 1 mm in 1 m."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Datum:
    """The coordinates known beforehand, by coordinate of the points."""

    start: Floats
    held: NDArray[np.bool_]
    directions: tuple[HeldDirection, ...]
    warnings: tuple[str, ...]


def datum_of(book: FieldBook, observed: Observed, norths: Norths) -> Datum:
    """Return the datum; adds weighted control coordinates to the equations, and points that it alone names.

    A coordinate in `control.csv` replaces the same one of ``[control]``; a blank sd holds it fixed, an sd
    makes it an observation.
    """
    control = book.job.control
    fixed: dict[tuple[int, int], float] = {}
    warnings: list[str] = []
    if control.origin is not None:
        p = observed.point(control.origin.point)
        fixed[p, 0], fixed[p, 1] = control.origin.east_m, control.origin.north_m
    if control.benchmark is not None:
        fixed[observed.point(control.benchmark.point), 2] = control.benchmark.elevation_m
    approximate: dict[tuple[int, int], float] = {}
    seen: dict[int, int] = {}
    for row in book.control_points:
        p = observed.point(row.point)
        if p in seen:
            observed.mistakes.append(
                Mistake(
                    file=row.table,
                    row=row.row,
                    column="point",
                    read=row.point,
                    problem=f"the point stands in row {seen[p]} already",
                    remedy="Keep one row for each control point.",
                )
            )
            continue
        seen[p] = row.row
        coordinates = (
            ("east", row.east_m, row.sd_east_m),
            ("north", row.north_m, row.sd_north_m),
            ("elevation", row.elevation_m, row.sd_elevation_m),
        )
        for axis, (column, value, sd) in enumerate(coordinates):
            if value is None:
                continue
            if sd is None:
                fixed[p, axis] = value
                continue
            fixed.pop((p, axis), None)
            approximate[p, axis] = value
            observed.add(
                Equation(kind=Kind.COORDINATE, at=(3 * p + axis,), value=value, sd=sd),
                Source(
                    table=row.table,
                    row=row.row,
                    column=column,
                    kind="control",
                    what=f"{column} of {row.point}",
                    read=row.read.get(column, ""),
                ),
            )
    directions: list[HeldDirection] = []
    if control.azimuth is not None:
        start, to = observed.point(control.azimuth.start), observed.point(control.azimuth.to)
        turn = norths.turn(control.azimuth.north, file="job.toml", row=None, column="control.azimuth")
        if start == to:
            observed.mistakes.append(
                Mistake(
                    file="job.toml",
                    column="control.azimuth",
                    read=control.azimuth.to,
                    problem="an azimuth needs two different points",
                )
            )
        elif turn is not None:
            azimuth_rad = control.azimuth.azimuth_rad + turn.angle_rad
            if turn.sd_rad > 0:
                warnings.append(
                    f"the azimuth {control.azimuth.start}-{control.azimuth.to} is magnetic: "
                    f"{math.degrees(turn.angle_rad):+.2f}° was added to bring it to the site's axes; the "
                    f"whole site may be turned by its uncertainty, {math.degrees(turn.sd_rad):.2f}°, and by "
                    "iron near the compass"
                )
            ends = [(p, axis) for p in (start, to) for axis in (0, 1)]
            same = all(end in fixed for end in ends) and all(
                fixed[start, axis] == fixed[to, axis] for axis in (0, 1)
            )
            if same:
                observed.mistakes.append(
                    Mistake(
                        file="job.toml",
                        column="control.azimuth",
                        read=f"{control.azimuth.start}, {control.azimuth.to}",
                        problem="both points of the azimuth are given the same east and north",
                        remedy="Correct the coordinates of one in control.csv.",
                    )
                )
            elif all(end in fixed for end in ends):
                by_control = math.atan2(fixed[to, 0] - fixed[start, 0], fixed[to, 1] - fixed[start, 1])
                off = math.remainder(azimuth_rad - by_control, 2 * math.pi)
                if abs(off) > SAME_DIRECTION_RAD:
                    exchanged = math.atan2(fixed[to, 1] - fixed[start, 1], fixed[to, 0] - fixed[start, 0])
                    off_exchanged = math.remainder(azimuth_rad - exchanged, 2 * math.pi)
                    warnings.append(
                        f"[control] azimuth {control.azimuth.start}-{control.azimuth.to} is not used: both "
                        f"points are fixed by coordinates, whose direction is {math.degrees(off):+.3f}° off"
                        f"{_far_off(off, off_exchanged)}"
                    )
            else:
                free = [(p, axis) for p, axis in ends if (p, axis) not in fixed]
                share = {0: math.cos(azimuth_rad), 1: math.sin(azimuth_rad)}
                if all(abs(share[axis]) < LEAST_SHARE for _, axis in free):
                    # It still says which way along the line the far end lies.
                    axis_name = "north" if free[0][1] == 0 else "east"
                    warnings.append(
                        f"[control] azimuth {control.azimuth.start}-{control.azimuth.to} turns nothing: "
                        f"control.csv fixes the {axis_name} of both points, and their direction follows "
                        "from that. Take one of the two out of control.csv to use the azimuth"
                    )
                directions.append(HeldDirection(start=start, to=to, azimuth_rad=azimuth_rad))
    size = 3 * len(observed.names) + len(observed.extras)
    begin = np.full(size, np.nan)
    held = np.zeros(size, dtype=bool)
    for (p, axis), value in approximate.items():
        begin[3 * p + axis] = value
    for (p, axis), value in fixed.items():
        begin[3 * p + axis] = value
        held[3 * p + axis] = True
    begin[3 * len(observed.names) :] = [extra.start for extra in observed.extras]
    told = (*place_told(book), *dict.fromkeys(norths.told))
    return Datum(start=begin, held=held, directions=tuple(directions), warnings=(*warnings, *told))


def _far_off(off_rad: float, off_exchanged_rad: float) -> str:
    """Return what may be wrong where given coordinates and a given azimuth contradict each other grossly."""
    if abs(off_rad) < FAR_OFF_RAD:
        return ""
    if abs(off_exchanged_rad) < FAR_OFF_RAD:
        return (
            f"; with EAST AND NORTH EXCHANGED in control.csv {math.degrees(off_exchanged_rad):+.3f}° off: if "
            "they are, the whole yard stands mirrored. Look before a stake is set"
        )
    return ": one of the two is wrong, and the whole yard is turned if it is the coordinates"
