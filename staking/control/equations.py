"""The observation equations: what each kind of reading should be, and how it changes with the coordinates.

Coordinates stand in one vector: east, north and elevation of point 0, of point 1, … and after the points any
extra unknowns (the height of instrument of each setup; the shift shared by magnetic bearings). Metres and
radians. Every formula is in `docs/control.md`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from staking.base.triplets import Triplets

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WRONG_SIDE_M = 0.1
"""A point may come so far to the wrong side of the line of an offset up the slope while it settles."""
LEAST_LENGTH_M = 1e-9
"""Guards a division where two points coincide."""


class Kind(IntEnum):
    """Kinds of reading; the comment names what `at` holds (points by number, extras by coordinate)."""

    ROD = 0  # coordinate of the height of instrument, point, coordinate of the level's rise or -1
    RISE = 1  # from, to
    LEVEL_TAPE = 2  # from, to
    SLOPE_TAPE = 3  # from, to
    STATION = 4  # point, from, to
    OFFSET = 5  # point, from, to
    SLOPE_STATION = 6  # point, from, to
    SLOPE_OFFSET = 7  # point, from, to
    ANGLE = 8  # at, from, to
    BEARING = 9  # from, to, coordinate of a shared shift or -1
    COORDINATE = 10  # coordinate
    FIX_EAST = 11  # point, coordinate of the session's shift, coordinate of the site's tie or -1
    FIX_NORTH = 12  # the same
    FIX_HEIGHT = 13  # the same


ANGULAR = (Kind.ANGLE, Kind.BEARING)
FIXED = {Kind.FIX_EAST: 0, Kind.FIX_NORTH: 1, Kind.FIX_HEIGHT: 2}
"""Axis of each part of a fix."""
PLAN = frozenset(
    {
        Kind.LEVEL_TAPE,
        Kind.SLOPE_TAPE,
        Kind.STATION,
        Kind.OFFSET,
        Kind.SLOPE_STATION,
        Kind.SLOPE_OFFSET,
        Kind.ANGLE,
        Kind.BEARING,
        Kind.FIX_EAST,
        Kind.FIX_NORTH,
    }
)
SLOPED = frozenset({Kind.SLOPE_TAPE, Kind.SLOPE_STATION, Kind.SLOPE_OFFSET})


@dataclass(frozen=True, slots=True, kw_only=True)
class Equation:
    """One observation equation."""

    kind: Kind
    at: tuple[int, ...]
    value: float
    sd: float
    factor: float = 0.0
    """How the third unknown counts: of a rod, the length of the sight, for the level's rise; of a bearing, 1
    for what magnetic ones share, and for a clock what the shadow turns while the sun goes round by 1."""


def points_of(equation: Equation) -> tuple[int, ...]:
    """Return the numbers of the points that an equation joins."""
    if equation.kind is Kind.ROD:
        return equation.at[1:2]
    if equation.kind is Kind.BEARING:
        return equation.at[:2]
    if equation.kind is Kind.COORDINATE:
        return ()
    if equation.kind in FIXED:
        return equation.at[:1]
    return equation.at


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stack:
    """Equations as arrays, so that each kind is evaluated at once."""

    kind: Ints
    at: Ints
    """(m, 3), padded with -1."""
    value: Floats
    sd: Floats
    factor: Floats

    def __len__(self) -> int:
        return len(self.value)

    def rows_at(self, rows: Ints) -> Stack:
        """Return some of the equations."""
        return Stack(
            kind=self.kind[rows],
            at=self.at[rows],
            value=self.value[rows],
            sd=self.sd[rows],
            factor=self.factor[rows],
        )


def coordinates_held(stack: Stack) -> Ints:
    """Return the coordinates that each equation holds, (m, 9), padded with -1."""
    held = np.full((len(stack), 9), -1, dtype=np.int64)
    a, b, c = stack.at.T
    for kind in Kind:
        rows = np.flatnonzero(stack.kind == kind)
        if not len(rows):
            continue
        if kind is Kind.COORDINATE:
            held[rows, 0] = a[rows]
        elif kind is Kind.ROD:
            held[rows, :3] = np.column_stack([a[rows], 3 * b[rows] + 2, c[rows]])
        elif kind is Kind.RISE:
            held[rows, :2] = 3 * stack.at[rows, :2] + 2
        elif kind in FIXED:
            held[rows, :3] = np.column_stack([3 * a[rows] + FIXED[kind], b[rows], c[rows]])
        else:
            points = stack.at[rows, :2] if kind is Kind.BEARING else stack.at[rows]
            points = points[:, points[0] >= 0]
            axes = np.arange(3 if kind in SLOPED else 2)
            found = (3 * points[:, :, None] + axes).reshape(len(rows), -1)
            if kind is Kind.BEARING:
                found = np.column_stack([found, c[rows]])
            held[rows, : found.shape[1]] = found
    return held


def stacked(equations: Sequence[Equation]) -> Stack:
    """Return the equations as arrays."""
    return Stack(
        kind=np.array([e.kind for e in equations], dtype=np.int64),
        at=np.array([(*e.at, -1, -1)[:3] for e in equations], dtype=np.int64).reshape(-1, 3),
        value=np.array([e.value for e in equations], dtype=np.float64),
        sd=np.array([e.sd for e in equations], dtype=np.float64),
        factor=np.array([e.factor for e in equations], dtype=np.float64),
    )


def wrapped(angle_rad: Floats) -> Floats:
    """Return angles in [-π, π)."""
    return (angle_rad + math.pi) % (2 * math.pi) - math.pi


def misfits(stack: Stack, predicted: Floats) -> Floats:
    """Return observed less predicted, angles by the short way round."""
    difference = stack.value - predicted
    angular = np.isin(stack.kind, ANGULAR)
    difference[angular] = wrapped(difference[angular])
    return difference


def evaluated(stack: Stack, coordinates: Floats) -> tuple[Floats, Triplets]:
    """Return what each reading should be, and its derivatives by every coordinate.

    Parameters
    ----------
    stack
        m equations.
    coordinates
        (n,) vector; see the module.

    Returns
    -------
    predicted, jacobian
        (m,) and (m, n).
    """
    predicted = np.zeros(len(stack))
    jacobian = Triplets((len(stack), len(coordinates)))
    for kind in Kind:
        rows = np.flatnonzero(stack.kind == kind)
        if len(rows):
            _EVALUATE[kind](kind, rows, stack, coordinates, predicted, jacobian)
    return predicted, jacobian


def _linear(
    kind: Kind, rows: Ints, stack: Stack, coordinates: Floats, predicted: Floats, jacobian: Triplets
) -> None:
    a, b = stack.at[rows, 0], stack.at[rows, 1]
    if kind is Kind.COORDINATE:
        predicted[rows] = coordinates[a]
        jacobian[rows, a] = 1.0
        return
    # A rod reads height of instrument less elevation; a rise is the far end less the near end.
    plus, minus = (a, 3 * b + 2) if kind is Kind.ROD else (3 * b + 2, 3 * a + 2)
    predicted[rows] = coordinates[plus] - coordinates[minus]
    jacobian[rows, plus] = 1.0
    jacobian[rows, minus] = -1.0
    if kind is Kind.ROD:
        # A line of sight that rises reads high, more so the farther.
        rising = rows[stack.at[rows, 2] >= 0]
        rise = stack.at[rising, 2]
        predicted[rising] += stack.factor[rising] * coordinates[rise]
        jacobian[rising, rise] = stack.factor[rising]


def _fix(
    kind: Kind, rows: Ints, stack: Stack, coordinates: Floats, predicted: Floats, jacobian: Triplets
) -> None:
    # The receiver shows the point, shifted with its session, on axes shifted against the site's.
    parts = (3 * stack.at[rows, 0] + FIXED[kind], stack.at[rows, 1], stack.at[rows, 2])
    for part in parts:
        there = part >= 0
        predicted[rows[there]] += coordinates[part[there]]
        jacobian[rows[there], part[there]] = 1.0


def _tape(
    kind: Kind, rows: Ints, stack: Stack, coordinates: Floats, predicted: Floats, jacobian: Triplets
) -> None:
    a, b = 3 * stack.at[rows, 0], 3 * stack.at[rows, 1]
    axes = 3 if kind is Kind.SLOPE_TAPE else 2
    delta = np.stack([coordinates[b + k] - coordinates[a + k] for k in range(axes)])
    length = np.maximum(np.sqrt((delta**2).sum(axis=0)), LEAST_LENGTH_M)
    predicted[rows] = length
    for k in range(axes):
        jacobian[rows, b + k] = delta[k] / length
        jacobian[rows, a + k] = -delta[k] / length


def _offset(
    kind: Kind, rows: Ints, stack: Stack, coordinates: Floats, predicted: Floats, jacobian: Triplets
) -> None:
    p, f, t = (3 * stack.at[rows, k] for k in range(3))
    line = coordinates[t] - coordinates[f], coordinates[t + 1] - coordinates[f + 1]
    length = np.maximum(np.hypot(*line), LEAST_LENGTH_M)
    u = line[0] / length, line[1] / length
    right = u[1], -u[0]
    arm = coordinates[p] - coordinates[f], coordinates[p + 1] - coordinates[f + 1]
    station = arm[0] * u[0] + arm[1] * u[1]
    offset = arm[0] * right[0] + arm[1] * right[1]
    # Turning the line by its far end moves the foot: by offset/length along, by station/length across.
    by_station = {"p": u, "t": tuple(offset / length * right[k] for k in range(2))}
    by_offset = {"p": right, "t": tuple(-station / length * right[k] for k in range(2))}
    for by in (by_station, by_offset):
        by["f"] = tuple(-by["p"][k] - by["t"][k] for k in range(2))
    where = {"p": p, "f": f, "t": t}
    if kind in (Kind.STATION, Kind.OFFSET):
        predicted[rows] = station if kind is Kind.STATION else offset
        by = by_station if kind is Kind.STATION else by_offset
        for end, coordinate in where.items():
            for k in range(2):
                jacobian[rows, coordinate + k] = by[end][k]
        return
    # On the slope: q is the grade of the line, rise the point's elevation above the line's foot.
    drop = coordinates[t + 2] - coordinates[f + 2]
    q = drop / length
    by_length = {"p": (0.0, 0.0), "t": u, "f": (-u[0], -u[1])}
    if kind is Kind.SLOPE_STATION:
        stretch = np.sqrt(1 + q**2)
        predicted[rows] = station * stretch
        by_q = station * q / stretch
        for end, coordinate in where.items():
            for k in range(2):
                jacobian[rows, coordinate + k] = (
                    stretch * by_station[end][k] - by_q * q / length * by_length[end][k]
                )
        jacobian[rows, t + 2] = by_q / length
        jacobian[rows, f + 2] = -by_q / length
        return
    rise = coordinates[p + 2] - coordinates[f + 2] - station * q
    # Up the slope an offset never vanishes: near the line its side is the one read, far off the point's.
    side = np.where(np.abs(offset) > WRONG_SIDE_M, offset, stack.value[rows])
    sign = np.sign(side)
    slant = np.maximum(np.hypot(offset, rise), LEAST_LENGTH_M)
    predicted[rows] = sign * slant
    for end, coordinate in where.items():
        for k in range(2):
            d_rise = -q * by_station[end][k] + station * q / length * by_length[end][k]
            jacobian[rows, coordinate + k] = sign * (offset * by_offset[end][k] + rise * d_rise) / slant
    jacobian[rows, p + 2] = sign * rise / slant
    jacobian[rows, t + 2] = -sign * rise / slant * station / length
    jacobian[rows, f + 2] = sign * rise / slant * (station / length - 1)


def _direction(at: Ints, to: Ints, coordinates: Floats) -> tuple[Floats, Floats, Floats]:
    """Return azimuths clockwise from north, and their derivatives by east and north of the far end."""
    east = coordinates[3 * to] - coordinates[3 * at]
    north = coordinates[3 * to + 1] - coordinates[3 * at + 1]
    square = np.maximum(east**2 + north**2, LEAST_LENGTH_M**2)
    return np.arctan2(east, north), north / square, -east / square


def _angle(
    kind: Kind, rows: Ints, stack: Stack, coordinates: Floats, predicted: Floats, jacobian: Triplets
) -> None:
    at, start, to = (stack.at[rows, k] for k in range(3))
    if kind is Kind.BEARING:
        near, far, shift = at, start, to
        azimuth, by_east, by_north = _direction(near, far, coordinates)
        shifted = shift >= 0
        predicted[rows] = azimuth
        factor = stack.factor[rows[shifted]]
        predicted[rows[shifted]] += factor * coordinates[shift[shifted]]
        jacobian[rows[shifted], shift[shifted]] = factor
        ends = ((far, 1.0), (near, -1.0))
        for point, sign in ends:
            jacobian[rows, 3 * point] = sign * by_east
            jacobian[rows, 3 * point + 1] = sign * by_north
        return
    first, first_east, first_north = _direction(at, start, coordinates)
    second, second_east, second_north = _direction(at, to, coordinates)
    predicted[rows] = second - first
    jacobian[rows, 3 * to] = second_east
    jacobian[rows, 3 * to + 1] = second_north
    jacobian[rows, 3 * start] = -first_east
    jacobian[rows, 3 * start + 1] = -first_north
    jacobian[rows, 3 * at] = first_east - second_east
    jacobian[rows, 3 * at + 1] = first_north - second_north


_EVALUATE = {
    Kind.ROD: _linear,
    Kind.RISE: _linear,
    Kind.COORDINATE: _linear,
    Kind.LEVEL_TAPE: _tape,
    Kind.SLOPE_TAPE: _tape,
    Kind.STATION: _offset,
    Kind.OFFSET: _offset,
    Kind.SLOPE_STATION: _offset,
    Kind.SLOPE_OFFSET: _offset,
    Kind.ANGLE: _angle,
    Kind.BEARING: _angle,
    **dict.fromkeys(FIXED, _fix),
}
