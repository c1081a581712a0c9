"""Approximate plan positions by the graph of the readings: no coordinates are asked of the user.

Known points first; then every point that two readings cross at, in whatever order the readings allow; then
groups with mirror images, which further readings decide, or a side that the user named. The result only has
to be near enough for the adjustment to settle, and on the right side of every mirror.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from staking.control.clouds import Fixes
from staking.control.equations import Equation, points_of
from staking.control.loci import XY, Locus, azimuth, crossings, loci_of
from staking.control.settling import HeldDirection

DECIDES = 13.8
"""Difference of two weighted sums of squares that decides between mirror images: odds of 1000 to 1."""
LOOSE = 5.0
"""Factor on the readings' sds while points are placed one by one, for the error of the points before them."""
SHALLOW = 0.05
"""Sine of the least angle at which a crossing places a point while better ones may come."""
BLURRED_SDS = 4.0
"""Crossings nearer than so many standard deviations of a place are one place, blurred by the readings."""
MOST_BLURRED = 0.05
"""But never those further apart than this share of the longest reach: they are mirror images."""
SLACK_M = 0.03
"""Standard deviation of places from which others are placed, until they are adjusted."""
ON_LINE_M = 0.05
"""A point nearer to the line from which sides are named lies on neither side."""
BLUR_M = 0.05
"""Crossings nearer to each other than this are one place, blurred by the errors of the points before it; a
point that near to its mirror image is on the mirror for all that tapes can tell."""


MOST_CROSSED = 40
"""Loci of one point that are crossed with each other at most. The pins at the ends of a line have as many as
there are points measured from it, and the pairs grow with the square."""
MOST_FROM_ONE = 4
"""Of more than that those from one centre that are kept: they do not cross each other."""


def _few(loci: Sequence[Locus]) -> Sequence[Locus]:
    """Return the loci to cross with each other: all of a few, of many the surest from each centre."""
    if len(loci) <= MOST_CROSSED:
        return loci
    spots = [locus for locus in loci if locus.kind == "spot"]
    if spots:
        return spots
    by_centre: dict[tuple[str, XY], list[Locus]] = {}
    for locus in loci:
        by_centre.setdefault((locus.kind, locus.centre), []).append(locus)
    kept = [
        locus for same in by_centre.values() for locus in sorted(same, key=lambda one: one.sd)[:MOST_FROM_ONE]
    ]
    step = max(1.0, len(kept) / MOST_CROSSED)
    return [kept[int(k * step)] for k in range(min(len(kept), MOST_CROSSED))]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sides:
    """What the user said of mirror images: left is -1, right is +1 of the line through two points."""

    line: tuple[int, int] | None = None
    by_point: Mapping[int, int] = field(default_factory=dict)
    default: int | None = None
    pins: frozenset[int] = frozenset()
    """Points set for the survey: of these a side for all is meant first."""

    def of(self, point: XY, placed: Mapping[int, XY]) -> int | None:
        """Return the side of the line on which a place lies; None on it, or when the line is not placed."""
        if self.line is None or self.line[0] not in placed or self.line[1] not in placed:
            return None
        (e0, n0), (e1, n1) = placed[self.line[0]], placed[self.line[1]]
        across = (point[0] - e0) * (n1 - n0) - (point[1] - n0) * (e1 - e0)
        if abs(across) <= ON_LINE_M * math.hypot(e1 - e0, n1 - n0):
            return None
        return 1 if across > 0 else -1


@dataclass(slots=True, kw_only=True)
class Placing:
    """The graph of the plan readings and where its points are so far."""

    equations: Sequence[Equation]
    """Plan readings, reduced to level as far as the elevations allow."""
    directions: Sequence[HeldDirection]
    partly: Mapping[int, tuple[float | None, float | None]]
    """Points of which one coordinate is known."""
    elevations: Mapping[int, float]
    sides: Sides
    placed: dict[int, XY]
    fixes: Fixes = field(default_factory=Fixes)
    sure: set[int] = field(default_factory=set)
    """Points placed by good crossings with known ones alone."""
    adrift: set[int] = field(default_factory=set)
    """Points that no crossings with known ones placed: built about one and turned in, or searched for."""
    looked_at: dict[frozenset[int], Sequence[Mapping[int, XY]]] = field(default_factory=dict)
    """Places that a group of points was compared at already."""
    mirrored: dict[int, tuple[XY, ...]] = field(default_factory=dict)
    """Points that stay at two or more places because nothing decides."""
    telling: dict[int, int] = field(default_factory=dict)
    """For such a point, a point whose side of the azimuth's line would decide."""
    _by_point: dict[int, list[int]] | None = None

    @property
    def by_point(self) -> dict[int, list[int]]:
        """Return the numbers of each point's equations; made when first asked for."""
        if self._by_point is None:
            self._by_point = {}
            for number, equation in enumerate(self.equations):
                for point in points_of(equation):
                    self._by_point.setdefault(point, []).append(number)
        return self._by_point

    def loci(self, point: int, placed: Mapping[int, XY]) -> list[Locus]:
        """Return what is known of a point from points already placed."""
        cloud = self.fixes.cloud(point, placed)
        return self._firm(point, placed) + ([] if cloud is None else [cloud])

    def _firm(self, point: int, placed: Mapping[int, XY]) -> list[Locus]:
        """Return what readings other than fixes say of a point."""
        found = loci_of(
            point, (self.equations[k] for k in self.by_point.get(point, ())), placed, self.elevations
        )
        for held in self.directions:
            if held.to == point and held.start in placed:
                found.append(Locus.ray(placed[held.start], held.azimuth_rad, sd_rad=0.0))
            elif held.start == point and held.to in placed:
                found.append(Locus.ray(placed[held.to], held.azimuth_rad + math.pi, sd_rad=0.0))
        east, north = self.partly.get(point, (None, None))
        if east is not None:
            found.append(Locus.line((east, 0.0), 0.0))
        if north is not None:
            found.append(Locus.line((0.0, north), math.pi / 2))
        return found

    def places(self, point: int, placed: Mapping[int, XY]) -> tuple[list[tuple[XY, float]], bool]:
        """Return the places where a point may stand with their misfits, best first, and if they cross well.

        Empty when fewer than two readings cross there. Places whose misfit says no by `DECIDES` are dropped,
        and those that are one place blurred by the readings' errors are told once; but mirror images so near
        to their mirror do not cross well, for what hangs on them may hang on the wrong one.
        """
        firm = self._firm(point, placed)
        if len(firm) < 2 and not any(locus.kind == "spot" for locus in firm):
            return [], True
        # Circles on which a point sees others under an angle cross at what it sees, too: it stands elsewhere.
        seen = [target for locus in firm if locus.seen is not None for target in locus.seen[1:]]
        crossed = [
            c
            for c in crossings(_few(firm), SLACK_M)
            if all(math.dist(c.place, target) > BLUR_M for target in seen)
        ]
        if not crossed:
            return [], True
        cloud = self.fixes.cloud(point, placed)
        found = firm if cloud is None else [*firm, cloud]
        scored = [
            (c.place, sum(locus.misfit(c.place, SLACK_M, LOOSE) ** 2 for locus in found)) for c in crossed
        ]
        scored.sort(key=lambda item: item[1])
        reach = max(math.dist(scored[0][0], locus.centre) for locus in firm)
        blur = max(BLUR_M, min(BLURRED_SDS * min(c.sd_m for c in crossed), MOST_BLURRED * reach))
        options: list[tuple[XY, float]] = []
        well = max(c.sine for c in crossed) > SHALLOW
        for place, misfit in scored:
            if misfit - scored[0][1] >= DECIDES:
                break
            if all(math.dist(place, other) > blur for other, _ in options):
                options.append((place, misfit))
            elif all(math.dist(place, other) > BLUR_M for other, _ in options):
                well = False
        return options, well

    def grow(
        self, placed: dict[int, XY], points: Iterable[int], limit: float = math.inf, *, shallow: bool = True
    ) -> tuple[dict[int, list[tuple[XY, float]]], float]:
        """Place, in place, every point that the readings decide; return those with mirror images.

        Also returns the misfit that the points placed here leave; once it passes a limit, no more is placed.
        Points that only shallow crossings place wait until nothing better is left, and are left out unless
        asked for.
        """
        waiting = {point: None for point in points if point not in placed}
        total = 0.0
        unsure: dict[int, list[tuple[XY, float]]] = {}
        weak: dict[int, tuple[XY, float]] = {}
        again = list(waiting)
        while again and total <= limit:
            touched: set[int] = set()
            for point in again:
                if total > limit:
                    break
                options, well = self.places(point, placed)
                unsure.pop(point, None)
                weak.pop(point, None)
                if len(options) == 1 and well:
                    placed[point], misfit = options[0]
                    total += misfit
                    del waiting[point]
                    touched |= self.neighbours(point)
                elif len(options) == 1:
                    weak[point] = options[0]
                elif options:
                    unsure[point] = options
            if not touched and weak and shallow:
                point, (place, misfit) = weak.popitem()
                placed[point] = place
                total += misfit
                del waiting[point]
                touched = self.neighbours(point)
            again = [point for point in waiting if point in touched]
            if not again and weak and shallow:
                again = list(weak)
        return unsure, total

    def by_fix(self, points: Iterable[int]) -> bool:
        """Place, in place, the point of which fixes tell most, and all that hang on fixes alone.

        For points that no readings to placed ones cross at; on a circle or line that is known it stands
        where that comes nearest to the fix.
        """
        clouds: dict[int, Locus] = {}
        for point in points:
            cloud = self.fixes.cloud(point, self.placed)
            if cloud is not None:
                clouds[point] = cloud
        if not clouds:
            return False
        best = min(clouds, key=lambda point: clouds[point].sd)
        alone = [point for point in clouds if not self.neighbours(point)]
        before = dict(self.placed)
        for point in dict.fromkeys([best, *alone]):
            firm = [locus for locus in self.loci(point, before) if locus.kind in ("circle", "ray", "line")]
            self.placed[point] = firm[0].nearest(clouds[point].centre) if firm else clouds[point].centre
        # What no other reading joins has no other place.
        self.sure |= set(alone)
        return True

    def forward(self, placed: Mapping[int, XY]) -> bool:
        """Return whether held directions point where they say, not the other way along their line."""
        for held in self.directions:
            if held.start in placed and held.to in placed:
                off = azimuth(placed[held.start], placed[held.to]) - held.azimuth_rad
                if math.cos(off) < 0:
                    return False
        return True

    def equations_at(self, points: Iterable[int]) -> list[Equation]:
        """Return the equations that join any of the points, in the order of the book."""
        return [self.equations[k] for k in sorted({k for p in points for k in self.by_point.get(p, ())})]

    def neighbours(self, point: int) -> set[int]:
        """Return the points that some reading or held direction joins to one."""
        near = {other for k in self.by_point.get(point, ()) for other in points_of(self.equations[k])}
        for held in self.directions:
            if point in (held.start, held.to):
                near |= {held.start, held.to}
        return near - {point}

    def groups(self, points: Iterable[int]) -> list[list[int]]:
        """Return the points parted into groups that hang together by readings among themselves."""
        left = dict.fromkeys(points)
        groups = []
        while left:
            first = next(iter(left))
            del left[first]
            group, queue = [first], [first]
            while queue:
                for other in sorted(self.neighbours(queue.pop())):
                    if other in left:
                        del left[other]
                        group.append(other)
                        queue.append(other)
            groups.append(group)
        return groups
