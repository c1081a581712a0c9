"""Where one reading says that a point must be, and where two of them cross."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from staking.control.equations import Equation, Kind

XY = tuple[float, float]
"""East, north."""

EXACT_M = 1e-5
"""Standard deviation of a held direction or coordinate, while points are placed."""
UNREDUCED = 0.5
"""Share of the differences of elevation by which an offset up the slope is off before it can be reduced."""
WORTH_CROSSING = 2.0
"""A crossing counts whose place has up to this many times the standard deviation of the best one's."""
LEAST_SINE = 1e-3
"""Guards a division where loci touch."""


@dataclass(frozen=True, slots=True)
class Locus:
    """A spot, a cloud, a circle, a ray or a line on which a point lies."""

    kind: Literal["spot", "cloud", "circle", "ray", "line"]
    """A cloud is a spot blurred by metres: it says which of two crossings, and places only where none is."""
    centre: XY
    size: float
    """Radius of a circle in metres, azimuth of a ray or line in radians."""
    sd: float
    """Of the reading, in metres; for a ray in radians; zero: exact."""
    seen: tuple[float, XY, XY] | None = None
    """For an angle at the point itself: the angle and its two targets; then `sd` is in radians."""

    @staticmethod
    def ray(start: XY, azimuth_rad: float, *, sd_rad: float) -> Locus:
        """Return the ray from a point."""
        return Locus("ray", start, azimuth_rad, sd_rad)

    @staticmethod
    def line(through: XY, azimuth_rad: float) -> Locus:
        """Return a line."""
        return Locus("line", through, azimuth_rad, 0.0)

    def sd_at(self, place: XY) -> float:
        """Return the reading's standard deviation across the locus at a place, in metres."""
        if self.kind == "ray":
            return self.sd * math.dist(place, self.centre)
        if self.seen is not None:
            return self.sd * min(math.dist(place, target) for target in self.seen[1:])
        return self.sd

    def misfit(self, place: XY, slack_m: float = 0.0, loose: float = 1.0) -> float:
        """Return how far a place is off the locus, in standard deviations.

        Parameters
        ----------
        place
            East and north.
        slack_m
            One standard deviation of the places from which the locus was drawn.
        loose
            Factor on the reading's own standard deviation.
        """
        e, n = place[0] - self.centre[0], place[1] - self.centre[1]
        away = math.hypot(e, n)
        if self.kind in ("spot", "cloud"):
            off = away
        elif self.seen is not None:
            value, a, b = self.seen
            turn = azimuth(place, b) - azimuth(place, a)
            off = _short(turn - value) * min(math.dist(place, a), math.dist(place, b))
        elif self.kind == "circle":
            off = away - self.size
        elif self.kind == "ray":
            off = _short(math.atan2(e, n) - self.size) * away
        else:
            off = e * math.cos(self.size) - n * math.sin(self.size)
        return off / max(math.hypot(loose * self.sd_at(place), slack_m), EXACT_M)

    def nearest(self, place: XY) -> XY:
        """Return the place on a circle, ray or line that is nearest to another place."""
        e, n = place[0] - self.centre[0], place[1] - self.centre[1]
        if self.kind == "circle":
            away = max(math.hypot(e, n), EXACT_M)
            return self.centre[0] + e * self.size / away, self.centre[1] + n * self.size / away
        u = math.sin(self.size), math.cos(self.size)
        along = e * u[0] + n * u[1]
        if self.kind == "ray":
            along = max(along, 0.0)
        return self.centre[0] + along * u[0], self.centre[1] + along * u[1]


def _short(angle_rad: float) -> float:
    return (angle_rad + math.pi) % (2 * math.pi) - math.pi


def azimuth(start: XY, to: XY) -> float:
    """Return the azimuth from one place to another, clockwise from north."""
    return math.atan2(to[0] - start[0], to[1] - start[1])


def level_length(equation: Equation, elevations: Mapping[int, float]) -> float:
    """Return a taped distance reduced to level."""
    if equation.kind is not Kind.SLOPE_TAPE:
        return equation.value
    a, b = equation.at
    drop = elevations.get(b, 0.0) - elevations.get(a, 0.0)
    # A tape shorter than its own drop is a blunder: keep a tenth of it, the adjustment will tell.
    return math.sqrt(max(equation.value**2 - drop**2, (0.1 * equation.value) ** 2))


def level_offset(
    station: Equation, offset: Equation, length_m: float | None, elevations: Mapping[int, float]
) -> XY:
    """Return station and offset reduced to level; the line's level length is None while unknown."""
    if station.kind is not Kind.SLOPE_STATION:
        return station.value, offset.value
    point, start, to = station.at
    drop = elevations.get(to, 0.0) - elevations.get(start, 0.0)
    along = station.value
    if length_m:
        along /= math.hypot(1.0, drop / length_m)
    rise = elevations.get(point, 0.0) - elevations.get(start, 0.0)
    rise -= drop * along / length_m if length_m else 0.0
    across = math.copysign(math.sqrt(max(offset.value**2 - rise**2, 0.0)), offset.value)
    return along, across


def loci_of(
    point: int, equations: Iterable[Equation], placed: Mapping[int, XY], elevations: Mapping[int, float]
) -> list[Locus]:
    """Return the loci of a point from its readings to points already placed."""
    found: list[Locus] = []
    station: Equation | None = None
    for equation in equations:
        kind, at = equation.kind, equation.at
        if kind in (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE):
            other = at[1] if at[0] == point else at[0]
            if other in placed:
                found.append(Locus("circle", placed[other], level_length(equation, elevations), equation.sd))
        elif kind is Kind.BEARING:
            if at[1] == point and at[0] in placed:
                found.append(Locus.ray(placed[at[0]], equation.value, sd_rad=equation.sd))
            elif at[0] == point and at[1] in placed:
                found.append(Locus.ray(placed[at[1]], equation.value + math.pi, sd_rad=equation.sd))
        elif kind is Kind.ANGLE:
            found += _from_angle(point, equation, placed)
        elif kind in (Kind.STATION, Kind.SLOPE_STATION):
            station = equation
        elif kind in (Kind.OFFSET, Kind.SLOPE_OFFSET):
            # A station's equation always stands right before its offset's.
            if station is not None and station.at == at:
                found += _from_offset(point, station, equation, placed, elevations)
            station = None
    return found


def _from_angle(point: int, equation: Equation, placed: Mapping[int, XY]) -> list[Locus]:
    at, start, to = equation.at
    turn = equation.value
    if point == at:
        if start not in placed or to not in placed:
            return []
        a, b = placed[start], placed[to]
        chord = math.dist(a, b)
        sine = math.sin(turn)
        if chord == 0 or abs(sine) < 1e-6:
            return []
        # The point sees the chord under the angle: it lies on a circle whose centre is half the chord's
        # cotangent to the right of the chord's middle.
        shift = chord / 2 / math.tan(turn)
        along = azimuth(a, b)
        centre = (
            (a[0] + b[0]) / 2 + shift * math.cos(along),
            (a[1] + b[1]) / 2 - shift * math.sin(along),
        )
        return [Locus("circle", centre, chord / 2 / abs(sine), equation.sd, (turn, a, b))]
    if at not in placed:
        return []
    if point == to and start in placed:
        return [Locus.ray(placed[at], azimuth(placed[at], placed[start]) + turn, sd_rad=equation.sd)]
    if point == start and to in placed:
        return [Locus.ray(placed[at], azimuth(placed[at], placed[to]) - turn, sd_rad=equation.sd)]
    return []


def _from_offset(
    point: int,
    station: Equation,
    offset: Equation,
    placed: Mapping[int, XY],
    elevations: Mapping[int, float],
) -> list[Locus]:
    foot, start, to = station.at
    if point == foot:
        if start not in placed or to not in placed:
            return []
        a, b = placed[start], placed[to]
        length = math.dist(a, b)
        if length == 0:
            return []
        along, across = level_offset(station, offset, length, elevations)
        u = (b[0] - a[0]) / length, (b[1] - a[1]) / length
        spot = (a[0] + along * u[0] + across * u[1], a[1] + along * u[1] - across * u[0])
        return [Locus("spot", spot, 0.0, offset.sd)]
    along, across = level_offset(station, offset, None, elevations)
    sd = offset.sd + _unreduced(station, elevations)
    if point == to and start in placed and foot in placed:
        # The line runs at a known angle from the sight to the offset point.
        arm = math.hypot(along, across)
        if arm == 0:
            return []
        turn = math.atan2(across, along)
        return [Locus.ray(placed[start], azimuth(placed[start], placed[foot]) - turn, sd_rad=sd / arm)]
    if point == start and foot in placed:
        return [Locus("circle", placed[foot], math.hypot(along, across), sd)]
    return []


def _unreduced(station: Equation, elevations: Mapping[int, float]) -> float:
    """Return how far an offset up the slope may be off while the line's length is not known, in metres."""
    if station.kind is not Kind.SLOPE_STATION:
        return 0.0
    heights = [elevations.get(p, 0.0) for p in station.at]
    return UNREDUCED * (max(heights) - min(heights))


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """A place where loci cross."""

    place: XY
    sine: float
    """Of the angle at which they cross."""
    sd_m: float
    """Of the place; of two crossings of the same loci the smaller."""


def crossings(loci: Sequence[Locus], slack_m: float) -> list[Crossing]:
    """Return the places where loci cross best.

    A spot counts as it is. Crossings whose place is much less sure than the best one's are left out: a
    compass bearing or a shallow angle says nothing that a good crossing does not.

    Parameters
    ----------
    loci
        What is known of the point.
    slack_m
        One standard deviation of the places from which the loci were drawn.
    """
    spots = [
        Crossing(place=locus.centre, sine=1.0, sd_m=math.hypot(locus.sd, slack_m))
        for locus in loci
        if locus.kind == "spot"
    ]
    if spots:
        return spots
    found = []
    for i, first in enumerate(loci):
        for second in loci[i + 1 :]:
            crossed = _crossed(first, second)
            # Both crossings of two loci count or neither: a ray is less sure at the far one, no less true.
            spread = min(
                (
                    math.hypot(first.sd_at(place), second.sd_at(place), slack_m) / max(sine, LEAST_SINE)
                    for place, sine in crossed
                ),
                default=0.0,
            )
            found += [Crossing(place=place, sine=sine, sd_m=spread) for place, sine in crossed]
    best = min((crossing.sd_m for crossing in found), default=0.0)
    return [crossing for crossing in found if crossing.sd_m <= WORTH_CROSSING * best]


def _crossed(first: Locus, second: Locus) -> list[tuple[XY, float]]:
    """Return crossings with the sine of the angle at which the loci cross."""
    if first.kind == "circle" and second.kind == "circle":
        return _two_circles(first, second)
    if first.kind == "circle":
        return _circle_and_line(first, second)
    if second.kind == "circle":
        return _circle_and_line(second, first)
    return _two_lines(first, second)


def _two_circles(first: Locus, second: Locus) -> list[tuple[XY, float]]:
    (e0, n0), r0, r1 = first.centre, first.size, second.size
    gap = math.dist(first.centre, second.centre)
    if gap == 0 or r0 == 0 or r1 == 0:
        return []
    u = (second.centre[0] - e0) / gap, (second.centre[1] - n0) / gap
    along = (r0**2 - r1**2 + gap**2) / (2 * gap)
    square = r0**2 - along**2
    sine = math.sqrt(max(square, 0.0)) * gap / (r0 * r1)
    if square <= 0:
        # The tapes do not reach, or reach too far: the best place is between the two circles on their axis.
        if gap >= r0 + r1:
            along = (r0 + gap - r1) / 2
        else:
            along = (r0 + gap + r1) / 2 if r0 > r1 else -(r0 + r1 - gap) / 2
        return [((e0 + along * u[0], n0 + along * u[1]), sine)]
    across = math.sqrt(square)
    return [
        ((e0 + along * u[0] + side * across * u[1], n0 + along * u[1] - side * across * u[0]), sine)
        for side in (1.0, -1.0)
    ]


def _circle_and_line(circle: Locus, line: Locus) -> list[tuple[XY, float]]:
    d = math.sin(line.size), math.cos(line.size)
    e, n = line.centre[0] - circle.centre[0], line.centre[1] - circle.centre[1]
    middle = -(e * d[0] + n * d[1])
    square = circle.size**2 - (e + middle * d[0]) ** 2 - (n + middle * d[1]) ** 2
    half = math.sqrt(max(square, 0.0))
    sine = half / circle.size if circle.size else 0.0
    found = []
    for run in {middle + half: None, middle - half: None}:
        if line.kind == "ray" and run <= 0:
            continue
        found.append(((line.centre[0] + run * d[0], line.centre[1] + run * d[1]), sine))
    return found


def _two_lines(first: Locus, second: Locus) -> list[tuple[XY, float]]:
    d0 = math.sin(first.size), math.cos(first.size)
    d1 = math.sin(second.size), math.cos(second.size)
    sine = d0[0] * d1[1] - d0[1] * d1[0]
    if abs(sine) < 1e-6:
        return []
    e, n = second.centre[0] - first.centre[0], second.centre[1] - first.centre[1]
    run = (e * d1[1] - n * d1[0]) / sine
    back = (e * d0[1] - n * d0[0]) / sine
    if (first.kind == "ray" and run <= 0) or (second.kind == "ray" and back <= 0):
        return []
    return [((first.centre[0] + run * d0[0], first.centre[1] + run * d0[1]), abs(sine))]
