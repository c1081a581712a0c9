"""A net of readings between named points, without a field book: the same adjustment, for other callers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from staking.base.covariance import Covariance, elements, part
from staking.control.ellipses import Ellipse, Pair, ellipse_of, pair_of
from staking.control.equations import Equation, Kind
from staking.control.network import Network, adjusted_network, standardised
from staking.control.placing import Sides
from staking.control.variance_test import variance_passes

Floats = NDArray[np.float64]

KINDS = {
    "rise": Kind.RISE,
    "level distance": Kind.LEVEL_TAPE,
    "slope distance": Kind.SLOPE_TAPE,
    "angle": Kind.ANGLE,
    "bearing": Kind.BEARING,
}
AXES = {"east": 0, "north": 1, "elevation": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class NetReading:
    """One reading of a net; metres and radians."""

    kind: Literal[
        "rise", "level distance", "slope distance", "angle", "bearing", "east", "north", "elevation"
    ]
    points: tuple[str, ...]
    """From, to; for an angle at, from, to (clockwise); for a coordinate the point alone."""
    value: float
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mirror:
    """The side of the line between two points on which to take points that have mirror images."""

    start: str
    to: str
    side: Literal["left", "right"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AdjustedNet:
    """A net adjusted; standard deviations follow from those stated, never scaled."""

    names: tuple[str, ...]
    enz_m: Floats
    """(n, 3), NaN where not determined."""
    cov_m2: Covariance
    """(3n, 3n): an array, or for very many points what answers for its parts."""
    used: tuple[int, ...]
    """Numbers of the readings that took part."""
    residuals: Floats
    """Adjusted less observed, of the readings used."""
    redundancy_numbers: Floats
    w: Floats
    """Residuals over their own standard deviations, NaN where nothing checks a reading."""
    redundancy: int
    vtpv: float
    passes: bool | None

    def place(self, name: str) -> Floats:
        """Return (3,) east, north, elevation of a point."""
        place: Floats = self.enz_m[self.names.index(name)]
        return place

    def sd(self, name: str) -> Floats:
        """Return (3,) standard deviations of a point."""
        at = 3 * self.names.index(name) + np.arange(3)
        return np.sqrt(elements(self.cov_m2, at, at))

    def ellipse(self, name: str) -> Ellipse | None:
        """Return the standard error ellipse of a point in plan, None where it is not known."""
        at = 3 * self.names.index(name) + np.arange(2)
        return ellipse_of(part(self.cov_m2, at))

    def pair(self, first: str, second: str) -> Pair | None:
        """Return how sure one point is against another, None where either is not known in plan."""
        i, j = self.names.index(first), self.names.index(second)
        at = np.array([3 * i, 3 * i + 1, 3 * j, 3 * j + 1])
        return pair_of(self.enz_m[[i, j], :2], part(self.cov_m2, at))


def _refuse_wrong(readings: Sequence[NetReading]) -> None:
    """Raise ValueError with every reading that is none."""
    wrong = []
    for number, reading in enumerate(readings, start=1):
        what = f"reading {number}, {reading.kind} {'-'.join(reading.points)}"
        if reading.kind not in KINDS and reading.kind not in AXES:
            wrong.append(f"{what}: unknown kind; known are {', '.join([*KINDS, *AXES])}")
            continue
        count = 1 if reading.kind in AXES else 3 if reading.kind == "angle" else 2
        if len(reading.points) != count or len(set(reading.points)) != count:
            points = "1 point" if count == 1 else f"{count} different points"
            wrong.append(f"{what}: it needs {points}")
        if not math.isfinite(reading.value):
            wrong.append(f"{what}: its value is {reading.value}")
        elif reading.kind.endswith("distance") and reading.value <= 0.0:
            wrong.append(f"{what}: a distance of {reading.value}; expected more than 0")
        if not (math.isfinite(reading.sd) and reading.sd > 0.0):
            wrong.append(f"{what}: its sd is {reading.sd}; expected more than 0, no reading is exact")
    if wrong:
        raise ValueError("; ".join(wrong))


def equations_of(readings: Sequence[NetReading], numbers: Mapping[str, int]) -> list[Equation]:
    """Return the equations of readings between points of given numbers.

    Raises
    ------
    ValueError
        Naming every reading of an unknown kind, of a wrong number of points, without a finite value or an sd.
    """
    _refuse_wrong(readings)
    equations = []
    for reading in readings:
        kind, at = KINDS.get(reading.kind), tuple(map(numbers.__getitem__, reading.points))
        if kind is None:
            kind, at = Kind.COORDINATE, (3 * at[0] + AXES[reading.kind],)
        equations.append(Equation(kind=kind, at=at, value=reading.value, sd=reading.sd))
    return equations


def adjusted_net(
    readings: Sequence[NetReading],
    *,
    fixed: Mapping[str, tuple[float | None, float | None, float | None]],
    approximate: Mapping[str, tuple[float, float]] | None = None,
    mirror: Mirror | None = None,
) -> AdjustedNet:
    """Adjust a net of readings.

    Parameters
    ----------
    readings
        The readings.
    fixed
        East, north, elevation held fixed, None where not.
    approximate
        Places near which points are known to stand; without them the readings place the points.
    mirror
        The side for points with mirror images.

    Raises
    ------
    ValueError
        Naming every reading that is none (no sd, a value that is no number, points too few).
    NotSettled
        When the readings contradict each other beyond any settling.
    """
    names: dict[str, int] = {}
    for name in [*fixed, *(name for reading in readings for name in reading.points)]:
        names.setdefault(name, len(names))
    start = np.full(3 * len(names), np.nan)
    held = np.zeros(3 * len(names), dtype=bool)
    for name, coordinates in fixed.items():
        for axis, value in enumerate(coordinates):
            if value is not None:
                start[3 * names[name] + axis] = value
                held[3 * names[name] + axis] = True
    for reading in readings:
        if reading.kind in AXES:
            coordinate = 3 * names[reading.points[0]] + AXES[reading.kind]
            if not held[coordinate]:
                start[coordinate] = reading.value
    sides = Sides()
    if mirror is not None:
        sides = Sides(
            line=(names[mirror.start], names[mirror.to]), default=-1 if mirror.side == "left" else 1
        )
    result = adjusted_network(
        Network(
            points=len(names),
            equations=equations_of(readings, names),
            start=start,
            held=held,
            sides=sides,
            approximate={names[name]: place for name, place in (approximate or {}).items()},
        )
    )
    return AdjustedNet(
        names=tuple(names),
        enz_m=result.coordinates.reshape(-1, 3),
        cov_m2=result.cov,
        used=result.used,
        residuals=result.residuals,
        redundancy_numbers=result.redundancy_numbers,
        w=standardised(
            result.residuals, np.array([readings[k].sd for k in result.used]), result.redundancy_numbers
        ),
        redundancy=result.redundancy,
        vtpv=result.vtpv,
        passes=variance_passes(result.vtpv, result.redundancy),
    )
