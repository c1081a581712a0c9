"""Where an array is best parted into sections, found exactly.

A section's own best plane depends on its lines of modules and on how many gaps lie to its left, on nothing
else. So every section that can occur is fitted once, as one plane; which of them to put side by side is then
a way through layers of sections. Neighbours may differ in height by no more than `step_max` at the middle of
their gap; where they would, planes are raised, no more than that asks: all those differences being bounds
on differences of two heights, there is one lowest set of heights, and it makes every aim least at once.

The way is found by best-first search: a way's bound is its beginning as low as it may be, and the least that
the rest can come to without `step_max`; the first whole way taken is the best (P. E. Hart, N. J. Nilsson and
B. Raphael, "A formal basis for the heuristic determination of minimum cost paths", IEEE Transactions on
Systems Science and Cybernetics 4 (1968) 100-107, from memory).
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from staking.base.errors import Mistake, WrongInput
from staking.ground.elevations import Ground
from staking.layout.fitting import AIMS, posed_of
from staking.layout.heights import Yard
from staking.layout.plane import beam_height
from staking.layout.search import HOLDS_M, Bounds, Found, between, bounds_of, searched
from staking.layout.sections import Part, Parting

MOST_WAYS = 200_000
"""Beginnings of a parting that are looked at before the search gives up: a minute. Yards of 40 lines of
modules ask for hundreds."""
MOST_SECTIONS = 8
"""So many sections are tried where their number is left open: what needs more is another design (common
practice, no source)."""
STEP_SETTLED_M = 1e-7
"""The least step is settled to this: rounding outward to a tape's step must not go past the next one."""

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cell:
    """One section that can occur, fitted as one plane."""

    part: Part
    yard: Yard
    found: Found
    low_m: float
    """Elevation over the section's first pier of the lowest plane that its limits allow."""
    high_m: float
    """And of the highest."""
    left_m: tuple[float, float]
    """Of the plane in the middle of the gap to the left, above the first pier: on the lowest and the highest
    beam's line."""
    right_m: tuple[float, float]
    """And in the middle of the gap to the right."""

    @property
    def piers(self) -> int:
        """Number of piers on each beam."""
        return self.yard.shape.piers_per_beam

    @property
    def short_m(self) -> float:
        """What the section's limits miss each other by; 0 or less: it fits."""
        return self.low_m - self.high_m

    def steel_m(self, z_m: float) -> float:
        """Return the total above-grade length with the plane at a height."""
        return self.found.heights.count * z_m + float(self.found.heights.piers_m[0])

    def tallest_m(self, z_m: float) -> float:
        """Return the above-grade length of the tallest post with the plane at a height."""
        return z_m + float(self.found.heights.most_pier_m[0])


Layers = tuple[tuple[Cell, ...], ...]
"""By place from the left: the sections that may stand there."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chosen:
    """The best parting."""

    cells: tuple[Cell, ...]
    z_m: tuple[float, ...]
    """Elevation of each plane over its section's first pier."""

    @property
    def breaks(self) -> tuple[int, ...]:
        """Lines of modules after which the array is parted."""
        return tuple(cell.part.end for cell in self.cells[:-1])

    @property
    def steps_m(self) -> tuple[float, ...]:
        """At each gap the height of the right section over the left one, where it differs most."""
        found = []
        for k in range(len(self.cells) - 1):
            steps = [self.z_m[k + 1] - self.z_m[k] + d for d in _offsets(self.cells[k], self.cells[k + 1])]
            found.append(max(steps, key=abs))
        return tuple(found)

    @property
    def steel_m(self) -> float:
        """Total above-grade length."""
        return math.fsum(cell.steel_m(z) for cell, z in zip(self.cells, self.z_m, strict=True))

    @property
    def tallest_m(self) -> float:
        """Above-grade length of the tallest post."""
        return max(cell.tallest_m(z) for cell, z in zip(self.cells, self.z_m, strict=True))


class Stepper:
    """Fits sections of one array on its ground, each once, and finds the best way to part it."""

    def __init__(
        self, parting: Parting, *, placed_en_m: tuple[float, float], ground: Ground, style: str
    ) -> None:
        self.parting, self.placed_en_m, self.ground, self.style = parting, placed_en_m, ground, style
        self._bounds = bounds_of(parting.job.fit)
        self._least = parting.job.fit.least
        self._cells: dict[Part, Cell | None] = {}

    def cell(self, part: Part, *, first_pier: int | None = None, sections: int = 1) -> Cell | None:
        """Return a section fitted as one plane, the one that comes nearest where none fits.

        Parameters
        ----------
        part : Part
            Which lines of modules, with how many gaps to the left.
        first_pier : int, optional
            Number of its leftmost piers. Without it, as while the breaks are not known, the ground at a pier
            is that of whatever stake stands there.
        sections : int
            Of how many it is one.
        """
        if first_pier is None and part in self._cells:
            return self._cells[part]
        cell: Cell | None = None
        if self.parting.bays_of(part) is not None:
            job = self.parting.job_of(part, first_pier=first_pier or 1, sections=sections)
            placed = self.parting.first_at(part, self.placed_en_m)
            posed = posed_of(job, placed_en_m=placed, ground=self.ground, style=self.style)
            yard = posed.yard
            if first_pier is None:
                yard = replace(yard, names=("",) * len(yard.names))
            found = searched(yard, self._bounds, AIMS[self._least], posed.ranges)
            cell = self._celled(part, yard, found)
        if first_pier is None:
            self._cells[part] = cell
        return cell

    def _celled(self, part: Part, yard: Yard, found: Found) -> Cell:
        after = Part(place=part.place + 1, first=part.end, end=part.end + 1)
        here = self.parting.first_along_m(part)
        run = yard.shape.rail_run_m * math.cos(yard.shape.tilt_rad)
        left, right = (
            tuple(float(beam_height(yard.shape.tilt_rad, found.cross_rad, gap - here, t)) for t in (0.0, run))
            for gap in (self.parting.gap_middle_m(part), self.parting.gap_middle_m(after))
        )
        return Cell(
            part=part,
            yard=yard,
            found=found,
            low_m=found.low_m,
            high_m=found.high_m,
            left_m=(left[0], left[1]),
            right_m=(right[0], right[1]),
        )

    def known(self, part: Part) -> Cell:
        """Return a section that was fitted already."""
        cell = self._cells[part]
        assert cell is not None
        return cell

    def with_bounds(self, bounds: Bounds) -> Stepper:
        """Return the same sections of level beams under other limits; none is fitted again."""
        other = Stepper(self.parting, placed_en_m=self.placed_en_m, ground=self.ground, style=self.style)
        other._bounds = bounds
        for part, cell in self._cells.items():
            if cell is None:
                other._cells[part] = None
                continue
            low, high = between(cell.found.heights, bounds)
            other._cells[part] = replace(cell, low_m=float(low[0]), high_m=float(high[0]))
        return other

    def layers(self, sections: int) -> Layers:
        """Return the sections that can be built at each place of so many."""
        lines, after = self.parting.lines, self.parting.job.fit.break_after
        if after is not None:
            edges = (0, *after, lines)
            parts = [[Part(place=k, first=edges[k], end=edges[k + 1])] for k in range(len(edges) - 1)]
        else:
            parts = [list(_parts_at(k, sections, lines)) for k in range(sections)]
        return tuple(tuple(cell for part in some if (cell := self.cell(part)) is not None) for some in parts)

    def best(self, sections: int, step_m: float | None) -> Chosen | None:
        """Return the best parting into so many sections, None where none meets the limits.

        Raises
        ------
        WrongInput
            When more than `MOST_WAYS` beginnings would have to be looked at.
        """
        return best_way(self.layers(sections), self._least, step_m, self.parting.job.name)


def _parts_at(place: int, sections: int, lines: int) -> Iterator[Part]:
    firsts = range(place, lines) if place else (0,)
    for first in firsts:
        ends = range(first + 1, lines - (sections - place) + 2) if place < sections - 1 else (lines,)
        for end in ends:
            if end > first:
                yield Part(place=place, first=first, end=end)


def _offsets(left: Cell, right: Cell) -> tuple[float, float]:
    """Return what the right plane lies above the left one in the middle of their gap.

    Both at 0 over their first piers; on the lowest and on the highest beam's line.
    """
    return right.left_m[0] - left.right_m[0], right.left_m[1] - left.right_m[1]


def _allowed(left: Cell, right: Cell, step_m: float) -> Interval:
    """Return the least and the greatest height of the right plane over the left one, over first piers."""
    low_beam, high_beam = _offsets(left, right)
    return max(-step_m - low_beam, -step_m - high_beam), min(step_m - low_beam, step_m - high_beam)


def settled(cells: Sequence[Cell], step_m: float | None) -> tuple[float, ...] | None:
    """Return the lowest heights of these sections side by side; None where the limits leave none."""
    z = [cell.low_m for cell in cells]
    if step_m is not None:
        pairs = [_allowed(cells[k], cells[k + 1], step_m) for k in range(len(cells) - 1)]
        if any(low > high + HOLDS_M for low, high in pairs):
            return None
        for k, (low, _) in enumerate(pairs):
            z[k + 1] = max(z[k + 1], z[k] + low)
        for k, (_, high) in reversed(list(enumerate(pairs))):
            z[k] = max(z[k], z[k + 1] - high)
    if any(height - cell.high_m > HOLDS_M for height, cell in zip(z, cells, strict=True)):
        return None
    return tuple(z)


def highest_together(cells: Sequence[Cell], step_m: float | None) -> tuple[float, ...] | None:
    """Return the greatest heights of these sections side by side, lower limits apart; None: no steps do."""
    z = [cell.high_m for cell in cells]
    if step_m is not None:
        pairs = [_allowed(cells[k], cells[k + 1], step_m) for k in range(len(cells) - 1)]
        if any(low > high + HOLDS_M for low, high in pairs):
            return None
        for k, (_, high) in enumerate(pairs):
            z[k + 1] = min(z[k + 1], z[k] + high)
        for k, (low, _) in reversed(list(enumerate(pairs))):
            z[k] = min(z[k], z[k + 1] - low)
    return tuple(z)


def reach(layers: Layers, step_m: float) -> dict[Part, tuple[Interval, ...]] | None:
    """Return by section the heights from which the rest to its right can be built, None where no way can.

    Exact: at each place the heights are a union of intervals, widened by what a step allows.
    """
    found: dict[Part, tuple[Interval, ...]] = {}
    for k in reversed(range(len(layers))):
        for cell in layers[k]:
            own = (cell.low_m, cell.high_m + HOLDS_M)
            if own[0] > own[1]:
                continue
            if k == len(layers) - 1:
                found[cell.part] = (own,)
                continue
            spans = []
            for after in layers[k + 1]:
                if after.part.first != cell.part.end or after.part not in found:
                    continue
                low, high = _allowed(cell, after, step_m)
                if low > high + HOLDS_M:
                    continue
                spans += [(a - high - HOLDS_M, b - low + HOLDS_M) for a, b in found[after.part]]
            cut = [(max(a, own[0]), min(b, own[1])) for a, b in _merged(spans)]
            cut = [(a, b) for a, b in cut if a <= b]
            if cut:
                found[cell.part] = tuple(cut)
    return found if any(cell.part in found for cell in layers[0]) else None


def _merged(spans: list[Interval]) -> list[Interval]:
    merged: list[Interval] = []
    for low, high in sorted(spans):
        if merged and low <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], high))
        else:
            merged.append((low, high))
    return merged


def best_way(layers: Layers, least: str, step_m: float | None, array_name: str = "") -> Chosen | None:
    """Return the way through the layers that makes the aim least, ties to the leftmost breaks."""
    reached = reach(layers, math.inf if step_m is None else step_m)
    if reached is None:
        return None
    rest = _rest(layers)
    starts: list[dict[int, list[Cell]]] = [{} for _ in layers]
    for k, some in enumerate(layers):
        for cell in some:
            if cell.part in reached:
                starts[k].setdefault(cell.part.first, []).append(cell)
    queue: list[tuple[tuple[float, float], tuple[int, ...], tuple[Cell, ...], tuple[float, ...]]] = []

    def push(cells: tuple[Cell, ...]) -> None:
        z = settled(cells, step_m)
        last = cells[-1]
        if z is None or not any(z[-1] <= high + HOLDS_M for _, high in reached[last.part]):
            return
        steel = math.fsum(cell.steel_m(at) for cell, at in zip(cells, z, strict=True))
        tallest = max(cell.tallest_m(at) for cell, at in zip(cells, z, strict=True))
        more_steel, more_tall = rest[len(cells)].get(last.part.end, (math.inf, math.inf))
        steel, tallest = round(steel + more_steel, 9), round(max(tallest, more_tall), 9)
        if not math.isfinite(steel):
            return
        key = (tallest, steel) if least == "tallest" else (steel, tallest)
        heapq.heappush(queue, (key, tuple(cell.part.end for cell in cells), cells, z))

    for cell in starts[0].get(0, []):
        push((cell,))
    looked = 0
    while queue:
        _, _, cells, z = heapq.heappop(queue)
        if len(cells) == len(layers):
            return Chosen(cells=cells, z_m=z)
        looked += 1
        if looked > MOST_WAYS:
            raise WrongInput([_too_many(array_name)])
        for cell in starts[len(cells)].get(cells[-1].part.end, []):
            push((*cells, cell))
    return None


def _rest(layers: Layers) -> list[dict[int, tuple[float, float]]]:
    """Return, by place and first line, least steel and tallest post of all from there on, each by itself."""
    end = max((cell.part.end for cell in layers[-1]), default=0)
    rest: list[dict[int, tuple[float, float]]] = [{} for _ in layers] + [{end: (0.0, -math.inf)}]
    for k in reversed(range(len(layers))):
        for cell in layers[k]:
            if cell.short_m > HOLDS_M or cell.part.end not in rest[k + 1]:
                continue
            steel, tallest = rest[k + 1][cell.part.end]
            steel += cell.steel_m(cell.low_m)
            tallest = max(tallest, cell.tallest_m(cell.low_m))
            before = rest[k].get(cell.part.first, (math.inf, math.inf))
            rest[k][cell.part.first] = (min(before[0], steel), min(before[1], tallest))
    return rest


def least_step(layers: Layers) -> float | None:
    """Return the least `step_max` with which some way through the layers fits, metres; None: not with any."""
    free = best_way(layers, "steel", None)
    if free is None:
        return None
    fits, misses = max((abs(step) for step in free.steps_m), default=0.0), -STEP_SETTLED_M
    while fits - misses > STEP_SETTLED_M:
        middle = (fits + misses) / 2
        if reach(layers, middle) is not None:
            fits = middle
        else:
            misses = middle
    return max(fits, 0.0)


def nearest_way(layers: Layers) -> tuple[Cell, ...]:
    """Return the way whose worst section misses its limits by least; empty where none can be built."""
    best: list[dict[int, tuple[float, tuple[Cell, ...]]]] = [{} for _ in layers]
    end = max((cell.part.end for cell in layers[-1]), default=0)
    best.append({end: (-math.inf, ())})
    for k in reversed(range(len(layers))):
        for cell in layers[k]:
            if cell.part.end not in best[k + 1]:
                continue
            worst, cells = best[k + 1][cell.part.end]
            worst = max(worst, cell.short_m)
            if worst < best[k].get(cell.part.first, (math.inf, ()))[0]:
                best[k][cell.part.first] = (worst, (cell, *cells))
    return best[0].get(0, (math.inf, ()))[1]


def _too_many(array_name: str) -> Mistake:
    return Mistake(
        file="job.toml",
        column="fit.sections" + (f" of array {array_name}" if array_name else ""),
        problem=f"more than {MOST_WAYS} ways to part the array would have to be looked at",
        remedy="Give break_after, fewer sections, or a greater step_max",
    )


def raised(found: Found, z_m: float) -> Found:
    """Return a section's plane at a height that a neighbour's asks for."""
    return replace(found, low_m=z_m)
