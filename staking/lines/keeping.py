"""How far each thing keeps from each obstacle, in plan and, for overhead lines, in space."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from staking.lines.obstacles import Obstacle, ObstacleKind

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
ThingKind = Literal["hole", "hub", "modules", "stick"]

UNSURE_SDS = 2.0
"""A distance that keeps its setback by less than so many standard deviations is called close."""

CHECKED: dict[ObstacleKind, tuple[ThingKind, ...]] = {
    "boundary": ("hole", "hub", "modules"),
    "no_build": ("hole", "hub", "modules"),
    "buried": ("hole", "hub", "modules"),
    "overhead": ("stick", "modules"),
    "tree": ("hole", "modules"),
}
"""What is held against what: hubs are driven into the ground, sticks are stood up."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Thing:
    """Something that goes into the yard."""

    kind: ThingKind
    name: str
    """``hole of A3``."""
    enz_m: Floats
    """(k, 3): one place, or the corners in order of each face of a field, four a face."""
    radius_m: float = 0.0
    """Of a hole in plan; of a stick its length, the reach of its end whichever way it falls."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Distance:
    """How far one thing keeps from one obstacle."""

    obstacle: str
    obstacle_kind: ObstacleKind
    thing: str
    thing_kind: ThingKind
    distance_m: float
    """Edge to edge; negative: by so much on the wrong side of it."""
    wanted_m: float
    sd_m: float

    @property
    def short_m(self) -> float:
        """By how much it is too near; negative: to spare."""
        return self.wanted_m - self.distance_m

    @property
    def fails(self) -> bool:
        """Whether it is nearer than wanted, or reaches over where nothing was wanted but to stay off."""
        return self.short_m > 0 or self.distance_m < 0

    @property
    def close(self) -> bool:
        """Whether it keeps its distance, but by less than the obstacle's place is known."""
        return not self.fails and -self.short_m < UNSURE_SDS * self.sd_m


def distances(
    obstacles: Iterable[Obstacle], things: Sequence[Thing], ground: Callable[[Floats], Floats]
) -> tuple[Distance, ...]:
    """Return the distance of every thing from every obstacle that it is held against, nearest first in each.

    Parameters
    ----------
    obstacles, things
        Placed in the site's axes.
    ground
        Elevations (m,) of the ground at plan positions (m, 2): the foot of an overhead line whose points
        have no elevation.
    """
    found: list[Distance] = []
    for obstacle in obstacles:
        at = in_space if obstacle.kind == "overhead" else in_plan
        own = [
            Distance(
                obstacle=obstacle.name,
                obstacle_kind=obstacle.kind,
                thing=thing.name,
                thing_kind=thing.kind,
                distance_m=at(obstacle, thing, ground),
                wanted_m=obstacle.setback_m,
                sd_m=obstacle.sd_m,
            )
            for thing in things
            if thing.kind in CHECKED[obstacle.kind]
        ]
        found += sorted(own, key=lambda d: d.distance_m)
    return tuple(found)


def in_plan(obstacle: Obstacle, thing: Thing, ground: Callable[[Floats], Floats]) -> float:
    """Return the level distance between the edges of an obstacle and a thing.

    A ring of boundary must hold the thing, a ring of no-build area must not: the wrong side of either is
    negative, by the farthest that the thing reaches into it.
    """
    del ground
    from shapely import LineString, MultiPoint, Point, Polygon

    shape: BaseGeometry = MultiPoint(thing.enz_m[:, :2]).convex_hull
    if thing.radius_m:
        shape = shape.buffer(thing.radius_m, quad_segs=64)
    if obstacle.kind == "tree":
        return float(shape.distance(Point(obstacle.en_m[0]))) - obstacle.radius_m
    line = LineString(obstacle.en_m)
    if not obstacle.closed:
        return -_reach(shape, line) if shape.intersects(line) else float(shape.distance(line))
    area = Polygon(obstacle.en_m)
    if shape.area == 0.0:
        inner = 1.0 if obstacle.kind == "boundary" else -1.0
        side = inner if area.covers(shape) else -inner
        return side * float(shape.distance(area.exterior))
    if obstacle.kind == "no_build":
        inside = shape.intersection(area)
        return float(shape.distance(area)) if inside.area == 0.0 else -_depth(inside, area)
    beyond = shape.difference(area)
    if beyond.area > 0.0:
        return -max(float(area.distance(Point(xy))) for xy in _corners(beyond))
    return float(shape.distance(area.exterior))


def _reach(shape: BaseGeometry, line: BaseGeometry) -> float:
    """Return how far the lesser part of a shape that a line crosses reaches over it."""
    from shapely.ops import split

    parts = list(split(shape, line).geoms) if shape.area else []
    if len(parts) < 2:
        return 0.0
    lesser = min(parts, key=lambda part: part.area)
    return max(float(line.distance(corner)) for corner in _points(lesser))


def _depth(inside: BaseGeometry, area: BaseGeometry) -> float:
    """Return how deep a part of a shape lies within an area."""
    # Where the shape swallows the whole area, every corner lies on the area's own edge.
    places = [*_points(inside), inside.representative_point()]
    return max(float(area.boundary.distance(place)) for place in places)


def _points(shape: BaseGeometry) -> list[BaseGeometry]:
    from shapely import Point

    return [Point(xy) for xy in _corners(shape)]


def _corners(shape: BaseGeometry) -> list[tuple[float, float]]:
    from shapely import get_coordinates

    return [(float(x), float(y)) for x, y in get_coordinates(shape)]


def in_space(obstacle: Obstacle, thing: Thing, ground: Callable[[Floats], Floats]) -> float:
    """Return the distance from an overhead line to a thing's corners, less the reach of a stick.

    The line runs straight between its points, each `height` above the ground below it: give the height of
    its lowest sag.
    """
    assert obstacle.z_m is not None
    z = np.where(np.isnan(obstacle.z_m), ground(obstacle.en_m) + (obstacle.height_m or 0.0), obstacle.z_m)
    ends = np.column_stack([obstacle.en_m, z])
    nearest = min(
        _to_segment(corner, a, b) for corner in _along_edges(thing.enz_m) for a, b in pairwise(ends)
    )
    return nearest - thing.radius_m


EDGE_PARTS = 16
"""Parts of a field's edge whose ends are looked at: a line that crosses over its middle is met to a
thirty-second of the edge."""


def _along_edges(enz_m: Floats) -> Floats:
    """Return places along the edges of each face of a field, and across it; a single place as it is."""
    if len(enz_m) == 1:
        return enz_m
    return np.vstack([_over_face(face) for face in enz_m.reshape(-1, 4, 3)])


def _over_face(enz_m: Floats) -> Floats:
    share = np.linspace(0.0, 1.0, EDGE_PARTS + 1)[:, None, None]
    left = enz_m[0] + share * (enz_m[3] - enz_m[0])
    right = enz_m[1] + share * (enz_m[2] - enz_m[1])
    across = np.linspace(0.0, 1.0, EDGE_PARTS + 1)[None, :, None]
    return np.asarray((left + across * (right - left)).reshape(-1, 3))


def _to_segment(place: Floats, a: Floats, b: Floats) -> float:
    along = b - a
    square = float(along @ along)
    share = 0.0 if square == 0.0 else min(max(float((place - a) @ along) / square, 0.0), 1.0)
    return math.dist(place, a + share * along)
