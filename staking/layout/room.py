"""Where an array may stand so that all of it keeps clear: the room that its placed pier has.

Turned about: instead of asking at every place how far each hole, hub and edge keeps from each line, every
line is grown by the thing's own shape, mirrored; what is left between the grown lines is the room (the
Minkowski sum; T. Lozano-Pérez, "Spatial planning: a configuration space approach", IEEE Transactions on
Computers C-32 (1983) 108-120, from memory). An overhead line is in space and is held at each place instead.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from staking.base.axes import facing_axes
from staking.base.units import told
from staking.layout.around import Around, Needs
from staking.layout.field import both_faces, edges_of, plan_outline
from staking.layout.fitting import plane_of
from staking.layout.frame import ArrayPlane
from staking.layout.heights import Yard
from staking.layout.piers import a1_places, piers_at
from staking.layout.search import Found
from staking.layout.shape import FrameShape
from staking.lines.keeping import CHECKED, UNSURE_SDS, Distance, Thing, distances
from staking.lines.obstacles import Obstacle

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Place = tuple[float, float]

ROUND_PARTS = 64
"""Segments of a quarter circle, as `staking.lines.keeping` has them."""
UNDER_M = 1e-4
"""Rails and beams that reach out by less from under the modules are not spoken of."""
FAR_M = 1e5
"""Half the side of a square that no yard fills."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Print:
    """An array's shape in plan about the place of its placed pier, at one cross-slope."""

    holes_en_m: Floats
    """(m, 2)."""
    hubs_en_m: Floats
    """(k, 2)."""
    faces_en_m: tuple[Floats, ...]
    """Corners (16, 2) of the modules' faces, rails and beams, of each section."""
    hole_m: float

    @property
    def outlines_en_m(self) -> tuple[Floats, ...]:
        """Rings (k, 2) round modules, rails and beams in plan, of each section."""
        return tuple(map(plan_outline, self.faces_en_m))

    def beside(self, *others: Print) -> Print:
        """Return this shape and others as one."""
        every = (self, *others)
        return replace(
            self,
            holes_en_m=np.vstack([one.holes_en_m for one in every]),
            hubs_en_m=np.vstack([one.hubs_en_m for one in every]),
            faces_en_m=tuple(faces for one in every for faces in one.faces_en_m),
        )


def print_of(
    shape: FrameShape,
    placed: int,
    needs: Needs,
    cross_rad: float = 0.0,
    at_en_m: Place = (0.0, 0.0),
) -> Print:
    """Return the shape in plan of a frame whose pier number `placed` of the order stands at a place."""
    plane = _plane(shape, placed, cross_rad, at_en_m, 0.0)
    piers = piers_at(shape, cross_rad, plane.a1_en_m).en_m
    return Print(
        holes_en_m=piers,
        hubs_en_m=_hubs(shape, piers, needs),
        faces_en_m=(edges_of(shape, plane)[:, :2],),
        hole_m=needs.hole_m,
    )


def _plane(
    shape: FrameShape, placed: int, cross_rad: float, at_en_m: tuple[float, float], z_a1_m: float
) -> ArrayPlane:
    a1 = a1_places(shape, cross_rad, placed, at_en_m)
    return ArrayPlane(
        azimuth_rad=shape.azimuth_rad,
        tilt_rad=shape.tilt_rad,
        cross_slope_rad=cross_rad,
        a1_en_m=(float(a1[0]), float(a1[1])),
        z_a1_m=z_a1_m,
        axes_north_rad=shape.axes_north_rad,
    )


def _hubs(shape: FrameShape, piers_en_m: Floats, needs: Needs) -> Floats:
    """Return two hubs (2m, 2) a pier, left then right, level along the beam."""
    if needs.hub_m is None:
        return np.zeros((0, 2))
    e = facing_axes(shape.azimuth_rad)[0][:2]
    step = np.array([-needs.hub_m, needs.hub_m])
    return np.asarray((piers_en_m[:, None, :] + step[None, :, None] * e).reshape(-1, 2))


def swing_of(shape: FrameShape, placed: int, needs: Needs, most_rad: float) -> float:
    """Return the most by which a cross-slope within ±`most_rad` moves a hole, hub or corner in plan."""
    level = print_of(shape, placed, needs)
    found = 0.0
    for cross in (-most_rad, most_rad):
        other = print_of(shape, placed, needs, cross)
        for a, b in (
            (level.holes_en_m, other.holes_en_m),
            (level.hubs_en_m, other.hubs_en_m),
            (level.faces_en_m[0], other.faces_en_m[0]),
        ):
            found = max(found, float(np.hypot(*(a - b).T).max(initial=0.0)))
    return found


def wider(obstacles: Iterable[Obstacle], by_m: float = 0.0) -> tuple[Obstacle, ...]:
    """Return obstacles to be kept from by more: by what makes the call sure, and by `by_m`."""
    return tuple(
        replace(one, setback_m=one.setback_m + UNSURE_SDS * one.sd_m + by_m, setback_given=True)
        for one in obstacles
    )


def room_of(start: BaseGeometry, obstacles: Iterable[Obstacle], own: Print) -> BaseGeometry:
    """Return the part of `start` in which the placed pier may stand, overhead lines apart."""
    import shapely

    closed: list[BaseGeometry] = []
    for obstacle in obstacles:
        if obstacle.kind != "overhead":
            closed += _closed(obstacle, own)
    return start.difference(shapely.union_all(closed)) if closed else start


def within_area(area: BaseGeometry, own: Print) -> BaseGeometry:
    """Return where the placed pier may stand so that modules and holes lie within an area."""
    import shapely

    narrow = _narrowed(area, own.hole_m)
    inside = [_shifted(area, outline[0]) for outline in own.outlines_en_m]
    inside += [_shifted(narrow, at) for at in own.holes_en_m]
    closed = [_grown(edge, outline, 0.0) for edge in _rings(area) for outline in own.outlines_en_m]
    return shapely.intersection_all(inside).difference(shapely.union_all(closed))


def _closed(obstacle: Obstacle, own: Print) -> list[BaseGeometry]:
    """Return where the placed pier may not stand for an obstacle's sake."""
    from shapely import LineString, Point, Polygon, box

    setback = obstacle.setback_m
    kinds = CHECKED[obstacle.kind]
    places = [(at, own.hole_m) for at in own.holes_en_m if "hole" in kinds]
    places += [(at, 0.0) for at in own.hubs_en_m if "hub" in kinds]
    if obstacle.kind == "tree":
        trunk = Point(obstacle.en_m[0])
        closed = [_shifted(_round(trunk, obstacle.radius_m + setback + r), at) for at, r in places]
        crown = obstacle.radius_m + setback
        return closed + [_grown(obstacle.en_m[:1], outline, crown) for outline in own.outlines_en_m]
    if not obstacle.closed:
        line = LineString(obstacle.en_m)
        closed = [_shifted(_round(line, setback + r), at) for at, r in places]
        return closed + [_grown(obstacle.en_m, outline, setback) for outline in own.outlines_en_m]
    area = Polygon(obstacle.en_m)
    closed = [_grown(obstacle.en_m, outline, setback) for outline in own.outlines_en_m]
    if obstacle.kind == "no_build":
        closed += [_shifted(_round(area, setback + r), at) for at, r in places]
        return closed + [_shifted(area, outline[0]) for outline in own.outlines_en_m]
    everywhere = box(-FAR_M, -FAR_M, FAR_M, FAR_M)
    closed += [_shifted(everywhere.difference(_narrowed(area, setback + r)), at) for at, r in places]
    return closed + [_shifted(everywhere.difference(area), outline[0]) for outline in own.outlines_en_m]


def _round(shape: BaseGeometry, by_m: float) -> BaseGeometry:
    """Return a shape grown on every side, never less than true circles would be."""
    return shape.buffer(by_m / math.cos(math.pi / (4 * ROUND_PARTS)), quad_segs=ROUND_PARTS)


def _narrowed(area: BaseGeometry, by_m: float) -> BaseGeometry:
    return area.buffer(-by_m, quad_segs=ROUND_PARTS)


def _shifted(shape: BaseGeometry, at: Floats) -> BaseGeometry:
    from shapely.affinity import translate

    return translate(shape, -float(at[0]), -float(at[1]))


def _grown(line: Floats, outline: Floats, by_m: float) -> BaseGeometry:
    """Return where a reference point may not stand lest an outline about it come within `by_m` of a line."""
    import shapely

    segments = list(pairwise(line)) or [(line[0], line[0])]
    hulls = [shapely.MultiPoint(np.vstack([a - outline, b - outline])).convex_hull for a, b in segments]
    grown = shapely.union_all(hulls)
    return _round(grown, by_m) if by_m > 0 else grown


def _rings(area: BaseGeometry) -> list[Floats]:
    """Return the corners of every ring of an area."""
    import shapely

    rings = shapely.get_parts(shapely.boundary(area))
    return [shapely.get_coordinates(ring) for ring in rings]


def things_of(
    shape: FrameShape,
    plane: ArrayPlane,
    *,
    names: Sequence[str],
    grade_m: Floats,
    needs: Needs,
    title: str = "",
    prefix: str = "",
    style: str = "metric",
) -> list[Thing]:
    """Return all of an array that is held against lines and trees.

    Parameters
    ----------
    shape, plane
        The frame as it stands.
    names, grade_m
        Of the piers in order, and the ground's elevation there.
    needs
        Hole, hubs and stick.
    title, prefix
        The array's name for its modules, and before a pier's name.
    style
        In which the stick's length is told.
    """
    piers = piers_at(shape, plane.cross_slope_rad, plane.a1_en_m).en_m
    feet = np.column_stack([piers, grade_m])
    found = [
        Thing(
            kind="modules",
            name=_edge_words(shape, plane) + (f" of {title}" if title else ""),
            enz_m=edges_of(shape, plane),
        )
    ]
    stick = f"stick of {told(needs.stick_m, style)} stood up at {prefix}"
    for name, foot in zip(names, feet[:, None, :], strict=True):
        found.append(Thing(kind="hole", name=f"hole of {prefix}{name}", enz_m=foot, radius_m=needs.hole_m))
        if needs.stick_m > 0:
            found.append(Thing(kind="stick", name=f"{stick}{name}", enz_m=foot, radius_m=needs.stick_m))
    hubs = _hubs(shape, piers, needs)
    for k, at in enumerate(hubs):
        where = f"{prefix}{names[k // 2]} {'left' if k % 2 == 0 else 'right'}"
        place = np.array([[*at, grade_m[k // 2]]])
        found.append(Thing(kind="hub", name=f"hub {where}", enz_m=place))
    return found


def _edge_words(shape: FrameShape, plane: ArrayPlane) -> str:
    """Return what is outermost: the modules alone, where no rail or beam reaches out under them."""
    from shapely import Polygon

    modules = Polygon(plan_outline(both_faces(shape, plane)))
    every = Polygon(plan_outline(edges_of(shape, plane)))
    frame = every.difference(modules.buffer(UNDER_M)).area > 0.0
    return "edge of modules, rails and beams" if frame else "edge of the modules"


def not_kept(laid: Iterable[tuple[Yard, Found]], around: Around) -> tuple[Distance, ...]:
    """Return the distances that sections laid out, or an only one, do not surely keep."""
    things: list[Thing] = []
    ground = None
    for yard, found in laid:
        plane, ground = plane_of(yard, found), yard.ground.z
        grade = yard.ground.z_at_piers(yard.names, piers_at(yard.shape, found.cross_rad, plane.a1_en_m).en_m)
        things += things_of(yard.shape, plane, names=yard.names, grade_m=grade, needs=around.needs)
    if ground is None:
        return ()
    return tuple(one for one in distances(wider(around.obstacles), things, ground) if one.fails)


def sticks_keep(yard: Yard, at_en_m: tuple[float, float], around: Around) -> bool:
    """Return whether sticks stood up at the piers keep clear of overhead lines, level beams."""
    overhead = wider(one for one in around.obstacles if one.kind == "overhead")
    if not overhead or around.needs.stick_m <= 0:
        return True
    plane = _plane(yard.shape, yard.placed, 0.0, at_en_m, 0.0)
    piers = piers_at(yard.shape, 0.0, plane.a1_en_m).en_m
    feet = np.column_stack([piers, yard.ground.z_at_piers(yard.names, piers)])
    sticks = [
        Thing(kind="stick", name="stick", enz_m=foot[None, :], radius_m=around.needs.stick_m) for foot in feet
    ]
    return not any(one.fails for one in distances(overhead, sticks, yard.ground.z))
