"""The place in an area at which an array keeps clear of everything and its aim is least.

The room that its placed pier has is a polygon. Places on a grid over it and along its edge are looked at
coarsely first, which for level beams never says more than the truth, and exactly in that order until no other
can be better; the best ones apart are then followed, with shrinking steps and along the room's edge.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from staking.book.records import ArrayJob
from staking.ground.elevations import Ground
from staking.layout.around import Around
from staking.layout.asking import NoGround
from staking.layout.beside import sections_posed
from staking.layout.fitting import AIMS
from staking.layout.halving import halved
from staking.layout.heights import Spots, Yard, grades_of, heights_at
from staking.layout.replacing import moves_near
from staking.layout.room import (
    ROUND_PARTS,
    not_kept,
    print_of,
    room_of,
    sticks_keep,
    swing_of,
    wider,
    within_area,
)
from staking.layout.search import STEP_RAD, Found, between, bounds_of, look_at, nodes_of, searched, short_by
from staking.layout.spots import first_spots
from staking.layout.stepped import sections_of
from staking.layout.telling import outside_of
from staking.layout.words import STEP_M, outward
from staking.lines.obstacles import Obstacle

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Place = tuple[float, float]

MOST_PLACES = 500
"""Of the grid over the room: what a ground of a yard shows is seen by an array many times a grid's spacing
wide."""
LEAST_SPACING_M = 0.25
MOST_EXACT = 120
"""Places looked at exactly before the best ones are followed."""
BASINS = 3
"""So many separate places are followed to their best."""
SHRINK = 2.5
FINEST_M = 5e-4
"""Half of the finest step that a tape shows."""
EDGE_PLACES = 12
"""Of the room's edge near a place that are looked at in a round."""
INSIDE_M = 1e-3
"""Places on the room's edge are taken so far within it: polygons stand for circles."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BestPlace:
    """The place that was found."""

    placed_en_m: Place
    keys: str
    """Of [place], as they can be pasted."""
    first_m: float
    second_m: float
    """The keys' values: east and north, or station and offset."""
    value_m: float
    """What was made least there: all above-grade lengths, or the tallest post."""
    room_m2: float
    """How much room the placed pier has."""
    spacing_m: float
    """Of the places that were looked at first."""
    places: int
    """How many those were."""


class NoRoom(Exception):
    """Nowhere in the area does all of the array keep clear."""

    def __init__(self, lacking: tuple[str, ...]) -> None:
        self.lacking = lacking
        """Names of what is in the way: without any one of them there would be room; empty: without none."""


class NothingFits(Exception):
    """There is room, but no plane fits anywhere in it."""

    def __init__(self, nearest_en_m: Place) -> None:
        self.nearest_en_m = nearest_en_m
        """Where the limits miss each other by least."""


def best_place(
    job: ArrayJob, area_en_m: Floats, *, ground: Ground, around: Around, start_en_m: Place, style: str
) -> BestPlace:
    """Return the place in an area, corners (k, 2), rounded to keys that can be pasted.

    Parameters
    ----------
    job : ArrayJob
        Of one plane, or with its breaks given.
    area_en_m : (k, 2)
        Corners of the area that modules and holes stay within.
    ground : Ground
        As the array sees it.
    around : Around
        What to keep clear of.
    start_en_m : (float, float)
        Where station and offset, or east and north, count from.
    style : str
        In which the keys are told.

    Raises
    ------
    NoRoom, NothingFits
        When no place would do.
    """
    return _Search(job, area_en_m, ground, around, start_en_m, style).best()


class _Search:
    """Looks at one place after another, each once."""

    def __init__(
        self,
        job: ArrayJob,
        area_en_m: Floats,
        ground: Ground,
        around: Around,
        start_en_m: Place,
        style: str,
    ) -> None:
        from shapely import Polygon

        self.job, self.ground, self.around, self.style = job, ground, around, style
        self.start_en_m = start_en_m
        self.site = _Site(job, Polygon(area_en_m), around, style)
        self.bounds, self.aim = bounds_of(job.fit), AIMS[job.fit.least]
        self.posed = sections_posed(job, ground, style)
        self.outside = 0
        """Piers that may stand outside the shots: none, unless no place avoids it."""
        self._exact: dict[Place, tuple[float, tuple[tuple[Yard, Found], ...]]] = {}
        none = np.zeros((0, 2))
        self._spots = [Spots(under=none, over=none) for _ in self.posed]

    def _yards(self, at: Place) -> list[Yard]:
        yards = [one.yard for one in self.posed]
        return [
            replace(yard, placed_en_m=(at[0] + yard.placed_en_m[0], at[1] + yard.placed_en_m[1]))
            for yard in yards
        ]

    def best(self) -> BestPlace:
        """Return the best place."""
        room = self.site.room()
        if room.area <= 0:
            raise NoRoom(self.site.in_the_way())
        spacing = max(LEAST_SPACING_M, math.sqrt(room.area / MOST_PLACES))
        places = [*_grid(room, spacing), *_edge(room.buffer(-INSIDE_M), spacing)]
        places = [at for at in places if all(sticks_keep(y, at, self.around) for y in self._yards(at))]
        if not places:
            raise NoRoom(tuple(one.name for one in self.around.obstacles if one.kind == "overhead"))
        beyond = {at: sum(outside_of(yard) for yard in self._yards(at)) for at in places}
        self.outside = min(beyond.values())
        places = [at for at in places if beyond[at] == self.outside]
        looked = self._looked(places)
        followed = [self._followed(at, spacing) for at in _apart(looked, 2 * spacing)]
        best = min((one for one in followed if math.isfinite(self.value(one))), key=self.value, default=None)
        if best is None:
            raise NothingFits(min(places, key=self._short))
        keys, first, second, at = self._rounded(best)
        return BestPlace(
            placed_en_m=at,
            keys=keys,
            first_m=first,
            second_m=second,
            value_m=self.value(at),
            room_m2=float(room.area),
            spacing_m=spacing,
            places=len(places),
        )

    def _looked(self, places: list[Place]) -> list[Place]:
        """Return places from the best on, looked at exactly until no other can be better."""
        about = {at: self.about(at) for at in places}
        best, exact = math.inf, []
        for at in sorted(places, key=lambda at: about[at])[:MOST_EXACT]:
            if about[at] > best:
                break
            exact.append(at)
            best = min(best, self.value(at))
        fits = [at for at in exact if math.isfinite(self.value(at))]
        return sorted(fits, key=self.value)

    def about(self, at: Place) -> float:
        """Return about what the aim comes to at a place, and for level beams never more than that."""
        total = []
        for one, yard, more in zip(self.posed, self._yards(at), self._spots, strict=True):
            nodes = nodes_of(one.ranges)
            first = first_spots(yard, nodes[:: max(1, len(nodes) // 8)], over=True)
            spots = Spots(under=np.vstack([first.under, more.under]), over=np.vstack([first.over, more.over]))
            look = look_at(one.ranges)
            heights = heights_at(yard, grades_of(yard, nodes, spots), look)
            low, high = between(heights, self.bounds)
            step = STEP_RAD * yard.shape.width_m if self.site.most_rad else 0.0
            value = self.aim(heights, low, high) - heights.count * step / 4
            total.append(float(np.where(low - high <= 1e-6 + step, value, math.inf).min()))
        return math.fsum(total) if self.job.fit.least == "steel" else max(total)

    def value(self, at: Place) -> float:
        """Return what the aim comes to at a place; infinite where no plane fits or something is too near."""
        return self._known(at)[0]

    def _known(self, at: Place) -> tuple[float, tuple[tuple[Yard, Found], ...]]:
        if at not in self._exact:
            self._exact[at] = self._asked(at)
        return self._exact[at]

    def _asked(self, at: Place) -> tuple[float, tuple[tuple[Yard, Found], ...]]:
        laid: tuple[tuple[Yard, Found], ...] | None
        if self.job.fit.break_after is None:
            [one], [yard] = self.posed, self._yards(at)
            found = searched(yard, self.bounds, self.aim, one.ranges)
            laid = ((yard, found),) if found.fits else None
        else:
            laid = sections_of(self.job, placed_en_m=at, ground=self.ground, style=self.style)
        if laid is None or sum(outside_of(yard) for yard in self._yards(at)) > self.outside:
            return math.inf, ()
        if not self._within(laid) or not_kept(laid, self.around):
            return math.inf, ()
        values = [float(self.aim(f.heights, np.array([f.low_m]), np.array([f.high_m]))[0]) for _, f in laid]
        for k, (_, found) in enumerate(laid):
            if len(laid) == len(self._spots) and len(self._spots[k].under) < 8:
                under = np.vstack([self._spots[k].under, found.lowest.spot])
                over = np.vstack([self._spots[k].over, found.highest.spot])
                self._spots[k] = Spots(under=under, over=over)
        return (math.fsum(values) if self.job.fit.least == "steel" else max(values)), laid

    def _within(self, laid: tuple[tuple[Yard, Found], ...]) -> bool:
        """Return whether modules and holes stand in the area at the cross-slopes that were found."""
        from shapely import Point, Polygon

        for yard, found in laid:
            own = print_of(yard.shape, yard.placed, self.around.needs, found.cross_rad, yard.placed_en_m)
            holes = (Point(at).buffer(own.hole_m, quad_segs=ROUND_PARTS) for at in own.holes_en_m)
            if not all(self.site.area.covers(one) for one in (*map(Polygon, own.outlines_en_m), *holes)):
                return False
        return True

    def _followed(self, at: Place, step_m: float) -> Place:
        """Return the best place that is reached from one by ever smaller steps within the room."""
        from shapely import Point, box

        around = [(x, y) for x in (-1, 0, 1) for y in (-1, 0, 1) if (x, y) != (0, 0)]
        rooms: dict[float, BaseGeometry] = {}
        while step_m > FINEST_M:
            cross = self._known(at)[1][0][1].cross_rad
            if cross not in rooms:
                rooms[cross] = self.site.room(cross).buffer(-INSIDE_M)
            room = rooms[cross]
            window = box(at[0] - step_m, at[1] - step_m, at[0] + step_m, at[1] + step_m)
            near = [(at[0] + x * step_m, at[1] + y * step_m) for x, y in around]
            near = [one for one in near if room.covers(Point(one))]
            edge = _edge(room, step_m / 3, window)
            near += edge[:: max(1, len(edge) // EDGE_PLACES)]
            now = self.value(at)
            hopeful = [one for one in near if self.about(one) < now]
            best = min(hopeful, key=self.value, default=at)
            if self.value(best) < now - 1e-9:
                at = best
            else:
                step_m /= SHRINK
        return at

    def _rounded(self, at: Place) -> tuple[str, float, float, Place]:
        """Return the keys, their values and the place, rounded as a tape shows it, best of those near."""
        east, north = self.start_en_m
        shift = (at[0] - east, at[1] - north)
        ahead = self.around.ahead
        zero = (
            replace(self.job.place, station_m=0.0, offset_m=0.0)
            if ahead is not None
            else replace(self.job.place, east_m=0.0, north_m=0.0)
        )
        found = []
        for move in moves_near(zero, shift, ahead=ahead, style=self.style):
            there = (east + move.east_m, north + move.north_m)
            if math.isfinite(self.value(there)):
                found.append((self.value(there), move, there))
        if not found:
            raise NoRoom(())  # narrower than a tape's step
        _, move, there = min(found, key=lambda one: one[0])
        return move.text, move.first_m, move.second_m, there

    def _short(self, at: Place) -> float:
        looks = zip(self.posed, self._yards(at), strict=True)
        return max(short_by(yard, self.bounds, one.ranges) for one, yard in looks)


class _Site:
    """An array in plan, and what is round it."""

    def __init__(self, job: ArrayJob, area: BaseGeometry, around: Around, style: str) -> None:
        self.area, self.around = area, around
        posed = sections_posed(job, NoGround(), style)
        self.yards = [one.yard for one in posed]
        self.most_rad = max(abs(end) for one in posed for span in one.ranges for end in span)
        self.swing_m = (
            max(swing_of(yard.shape, yard.placed, around.needs, self.most_rad) for yard in self.yards)
            if self.most_rad
            else 0.0
        )

    def room(self, cross_rad: float | None = None) -> BaseGeometry:
        """Return where the placed pier may stand: with beams of a cross-slope, or whatever it comes to."""
        swing = self.swing_m if cross_rad is None else 0.0
        needs = self.around.needs
        first, *others = (
            print_of(yard.shape, yard.placed, needs, cross_rad or 0.0, yard.placed_en_m)
            for yard in self.yards
        )
        own = first.beside(*others)
        area = self.area.buffer(-swing) if swing else self.area
        return room_of(within_area(area, own), wider(self.around.obstacles, swing), own)

    def in_the_way(self) -> tuple[str, ...]:
        """Return the names of obstacles without any one of which there would be room."""
        every = self.around.obstacles
        names = sorted({one.name for one in every if one.kind != "overhead"})
        return tuple(
            name
            for name in names
            if self.among(tuple(one for one in every if one.name != name)).room().area > 0
        )

    def among(self, obstacles: tuple[Obstacle, ...]) -> _Site:
        """Return the same array among other obstacles."""
        other = copy(self)
        other.around = replace(self.around, obstacles=obstacles)
        return other

    def within(self, area: BaseGeometry) -> _Site:
        """Return the same array in another area."""
        other = copy(self)
        other.area = area
        return other


FURTHEST_M = 30.0
"""By so much an area would have to be larger at most, before it is another one."""
SETTLED_M = 1e-3


def wider_area_m(job: ArrayJob, area_en_m: Floats, around: Around, *, style: str) -> float | None:
    """Return by how much an area would have to reach further on every side; None beyond `FURTHEST_M`."""
    from shapely import Polygon

    area = Polygon(area_en_m)
    site = _Site(job, area, around, style)

    def room(by_m: float) -> bool:
        return _enough(site.within(area.buffer(by_m, join_style="mitre")), style)

    if not room(FURTHEST_M):
        return None
    return halved(room, FURTHEST_M, 0.0, within=SETTLED_M)


def _enough(site: _Site, style: str) -> bool:
    """Return whether there is room for a place that a tape shows."""
    return bool(site.room().buffer(-STEP_M[style]).area > 0)


def least_setback(job: ArrayJob, area_en_m: Floats, around: Around, name: str, *, style: str) -> float | None:
    """Return the greatest setback of an obstacle with which there is room, rounded; None: none is left."""
    from shapely import Polygon

    site = _Site(job, Polygon(area_en_m), around, style)
    now = max(one.setback_m for one in around.obstacles if one.name == name)

    def room(setback_m: float) -> bool:
        changed = tuple(
            replace(one, setback_m=setback_m) if one.name == name else one for one in around.obstacles
        )
        return _enough(site.among(changed), style)

    if now <= 0 or not room(0.0):
        return None
    value = outward(halved(room, 0.0, now, within=SETTLED_M), style, up=False)
    return value if value > 0 and room(value) else None


def _grid(room: BaseGeometry, spacing_m: float) -> Iterator[Place]:
    """Yield places on a grid within a room."""
    import shapely

    west, south, east, north = room.bounds
    x, y = np.meshgrid(
        np.arange(west + spacing_m / 2, east, spacing_m), np.arange(south + spacing_m / 2, north, spacing_m)
    )
    x, y = x.ravel(), y.ravel()
    inside = shapely.contains_xy(room, x, y)
    yield from zip(x[inside].tolist(), y[inside].tolist(), strict=True)


def _edge(room: BaseGeometry, spacing_m: float, window: BaseGeometry | None = None) -> list[Place]:
    """Return places along a room's edge, or what of it lies in a window, its corners among them."""
    import shapely

    if room.is_empty:
        return []
    edge = shapely.boundary(shapely.simplify(room, INSIDE_M / 2))  # quarter circles have many corners
    if window is not None:
        edge = edge.intersection(window)
    places = shapely.get_coordinates(shapely.segmentize(edge, spacing_m))
    return [(float(x), float(y)) for x, y in np.unique(places, axis=0)]


def _apart(places: list[Place], apart_m: float) -> list[Place]:
    """Return the first places that stand apart from each other."""
    kept: list[Place] = []
    for at in places:
        if all(math.dist(at, other) > apart_m for other in kept):
            kept.append(at)
            if len(kept) == BASINS:
                break
    return kept
