"""Where the placed pier stands: by station and offset from a line, or by east and north."""

from __future__ import annotations

import math

import numpy as np

from staking.base.errors import Mistake, WrongInput
from staking.book.records import Place
from staking.control.adjustment import Points

SAME_PLACE_M = 1e-3
"""Two points nearer than a millimetre give a line no direction."""


def placed_position(place: Place, points: Points) -> tuple[float, float]:
    """Return (east, north) of the placed pier, metres.

    The station runs from the line's first point toward its second, level; the offset is square to it,
    positive to the right looking along the line.

    Raises
    ------
    WrongInput
        When a point of the line is unknown, has no place, or both stand at one place; when the place is
        given twice or not at all.
    """
    if place.area is not None:
        problem = "an area is given: where the array stands in it is found by planning it"
        raise _wrong("place.area", problem, "Plan it, and write the keys that it tells instead")
    by_line = (place.line, place.station_m, place.offset_m)
    by_axes = (place.east_m, place.north_m)
    given_line = any(x is not None for x in by_line)
    given_axes = any(x is not None for x in by_axes)
    if given_line and given_axes:
        raise _wrong("place", "given twice, by a line and by east and north", "Keep one of the two")
    if given_axes:
        if place.east_m is None or place.north_m is None:
            missing = "place.east" if place.east_m is None else "place.north"
            raise _wrong(missing, "missing", "Give both east and north")
        return place.east_m, place.north_m
    if place.line is None or place.station_m is None or place.offset_m is None:
        given = {"place.line": place.line, "place.station": place.station_m, "place.offset": place.offset_m}
        missing = next(key for key, value in given.items() if value is None)
        raise _wrong(missing, "missing", "Give line, station and offset, or east and north")
    start = point_place(place.line[0], points)
    ahead = np.array(_ahead(place.line, points))
    right = np.array([ahead[1], -ahead[0]])
    east, north = start + place.station_m * ahead + place.offset_m * right
    return float(east), float(north)


def place_ahead(place: Place, points: Points) -> tuple[float, float] | None:
    """Return the unit vector (east, north) along the place's line; None of a place by east and north."""
    return None if place.line is None else _ahead(place.line, points)


def _ahead(line: tuple[str, str], points: Points) -> tuple[float, float]:
    start, end = (point_place(name, points) for name in line)
    run = end - start
    length = math.hypot(run[0], run[1])
    if length < SAME_PLACE_M:
        problem = f"{line[0]} and {line[1]} stand at one place and give no direction"
        raise _wrong("place.line", problem, "Choose two points that stand apart")
    return float(run[0] / length), float(run[1] / length)


def point_place(
    name: str, points: Points, *, key: str = "place.line"
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return (east, north) of a point that a key names, metres.

    Raises
    ------
    WrongInput
        When it is unknown or has no place.
    """
    try:
        at = points.enz_m[points.index(name), :2]
    except KeyError:
        known = ", ".join(points.names)
        raise _wrong(key, f"no point {name}", f"The survey has {known}") from None
    if not np.isfinite(at).all():
        raise _wrong(key, f"no reading places {name}", f"Tape to {name}, or choose another point")
    return np.asarray(at, dtype=np.float64)


def _wrong(column: str, problem: str, remedy: str) -> WrongInput:
    return WrongInput([Mistake(file="job.toml", column=column, problem=problem, remedy=remedy)])
