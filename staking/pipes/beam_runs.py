"""How a beam may be put together, in whole cells of a stick's length: the cheapest way for given worths.

A *run* is a beam with its joints placed. A piece takes its length and one kerf. With `relaxed` cells
each joint is anywhere in its cell and a piece takes the whole cells that it takes at least; so every legal
run is one of these, and what is proven of them holds for all. Otherwise joints stand at the cells' edges,
or where a threaded end piece with its kerf ends with a cell, and pieces take the cells that they touch.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.pipes.joining import Way, ways_to_join
from staking.pipes.joints import SNAP_M, START
from staking.pipes.task import Task

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Stretches = Mapping[int, Sequence[tuple[float, float]]]
"""Of a beam: by spot from where to where, in metres."""

HAIR = 1e-9
"""Of a cell: rounding of a quotient."""
PAD = 2
"""Worths begin with so many noughts: joints in one cell leave a piece of a cell less than nothing."""
MANY = 6
"""So many runs are found at once for given worths, at most: one by one programs take thrice as long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Cells along a stick."""

    cell_m: float
    kerf_m: float
    relaxed: bool

    def need(self, length_m: float) -> int:
        """Return the cells that a piece of this very length takes."""
        cells = (length_m + self.kerf_m) / self.cell_m
        return max(math.floor(cells + HAIR) if self.relaxed else math.ceil(cells - HAIR), 0)

    def room(self, room_m: float) -> int:
        """Return the cells of a stick that holds so much, a kerf with every piece."""
        return math.floor((room_m + (SNAP_M if self.relaxed else 0.0)) / self.cell_m + HAIR)

    @property
    def kerf_cells(self) -> int:
        """The cells that a kerf adds between two joints at their cells."""
        cells = self.kerf_m / self.cell_m
        return math.floor(cells + HAIR) - 1 if self.relaxed else math.ceil(cells - HAIR)

    def within(self, low_m: float, high_m: float) -> tuple[int, int]:
        """Return the first and the last cell for a joint between these; none where the last is less."""
        first, last = low_m / self.cell_m, high_m / self.cell_m
        return math.floor(first + HAIR) if self.relaxed else math.ceil(first - HAIR), math.floor(last + HAIR)


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A beam put together."""

    spots: tuple[int, ...]
    """In which spans its joints stand."""
    places_m: tuple[float, ...]
    """Where; of relaxed cells an example that need not fit."""
    cells: tuple[int, ...]
    """What each piece takes that is cut from a stick: butted all, threaded the two ends."""
    uncut: tuple[int, ...] = ()
    """Kinds of the uncut sticks between them."""
    threads: int = 0
    """Of a beam in one piece: how many of its ends must be threaded."""

    @property
    def whole(self) -> bool:
        """Whether the beam is one piece that needs no thread."""
        return not self.spots and not self.threads


@dataclass(frozen=True, slots=True, kw_only=True)
class Worths:
    """What pieces are worth by their cells, and what else counts for a run."""

    of: Floats
    """By cells, with `PAD` noughts before and infinity from what no stick holds on."""
    uncut: Sequence[float]
    """What an uncut stick of each kind costs."""
    joint: float
    """What every joint costs."""
    whole: float = 0.0
    """What the beam in one piece is worth where joints are threaded, as it needs no thread."""

    def __getitem__(self, cells: Ints | int) -> Floats:
        """Return the worths of pieces that take so many cells."""
        found: Floats = self.of[np.minimum(np.asarray(cells) + PAD, len(self.of) - 1)]
        return found


class ButtedRuns:
    """Runs of one beam whose pieces butt: shortest ways over the cells in which joints may stand.

    With `about` joints stand in these stretches alone, given by spot in metres.
    """

    def __init__(self, task: Task, beam: int, grid: Grid, about: Stretches | None = None) -> None:
        self.grid, self.ways = grid, task.ways[beam]
        self.gapless = about is None
        self.length_m = task.beams[beam].length_m
        self.end = len(task.spots[beam])
        self.at: list[Ints] = []
        """Of each spot: the cells in which its joint may stand, rising."""
        self.legal: list[NDArray[np.bool_]] = []
        """Of each spot: which of them are legal."""
        self.stretches: list[list[slice]] = []
        """Of each spot: its stretches without a gap."""
        for number, spot in enumerate(task.spots[beam]):
            cells = [grid.within(low, high) for low, high in spot.intervals]
            first, last = min(a for a, _ in cells), max(b for _, b in cells)
            at = np.arange(first, last + 1)
            legal = np.zeros(len(at), dtype=bool)
            for a, b in cells:
                legal[a - first : max(b - first + 1, 0)] = True
            if about is not None:
                within = np.zeros(len(at), dtype=bool)
                for low, high in about.get(number, ()):
                    within |= (at * grid.cell_m >= low) & (at * grid.cell_m <= high)
                at, legal = at[legal & within], legal[legal & within]
            self.at.append(at)
            self.legal.append(legal)
            parts = [np.flatnonzero((at >= a) & (at <= b)) for a, b in cells]
            self.stretches.append([slice(int(p[0]), int(p[-1]) + 1) for p in parts if len(p)])

    def _between(self, worths: Worths, left: int, right: int) -> NDArray[np.float64]:
        """Return the worths of the pieces between two spots, by cell of the left and of the right joint."""
        here, there = len(self.legal[left]), len(self.legal[right])
        if not self.gapless or here == 0 or there == 0:
            return worths[self.at[right][None, :] - self.at[left][:, None] + self.grid.kerf_cells]
        off = int(self.at[right][0] - self.at[left][0]) + self.grid.kerf_cells + PAD
        line = worths.of[off - here + 1 : off + there]
        line = np.concatenate([line, np.full(here + there - 1 - len(line), np.inf)])
        found: Floats = np.lib.stride_tricks.sliding_window_view(line, there)[::-1]
        return found

    def _to_end(self, left: int) -> Ints:
        """Return what the last piece takes, by cell of its joint."""
        grid = self.grid
        at = self.at[left]
        beyond = (self.length_m + grid.kerf_m) / grid.cell_m - at
        cells = np.floor(beyond - 1 + HAIR) if grid.relaxed else np.ceil(beyond - HAIR)
        found: Ints = np.maximum(cells.astype(np.int64), 0)
        return found

    def _from_start(self, right: int) -> Ints:
        """Return what the first piece takes, by cell of its joint."""
        grid = self.grid
        found: Ints = np.maximum(self.at[right] + grid.kerf_cells + (1 if grid.relaxed else 0), 0)
        return found

    def cheapest(self, worths: Worths) -> list[tuple[float, Run]]:
        """Return the cheapest run and what it costs, and others, one of each stretch for the last joint."""
        cost: list[Floats | None] = [None] * self.end
        found: list[tuple[float, int, int]] = []
        """What a run costs, the spot of its last joint, and in which cell from the spot's first."""
        for left in range(START, self.end):
            so_far = None if left == START else cost[left]
            if left != START and so_far is None:
                continue
            for right in self.ways[left + 1]:
                if right == self.end:
                    found += self._ended(worths, left, so_far)
                    continue
                if so_far is None:
                    here = worths[self._from_start(right)]
                else:
                    between = self._between(worths, left, right)
                    here = np.min(so_far[:, None] + between, axis=0, initial=np.inf)
                here = np.where(self.legal[right], here + worths.joint, np.inf)
                before = cost[right]
                cost[right] = here if before is None else np.minimum(before, here)
        return [(least, self._traced(worths, cost, last, at)) for least, last, at in sorted(found)[:MANY]]

    def _ended(self, worths: Worths, last: int, so_far: Floats | None) -> list[tuple[float, int, int]]:
        """Return the cheapest runs that end with a piece from this spot, one of each stretch."""
        if so_far is None:
            ended = [(float(worths[self.grid.need(self.length_m)]), last, 0)]
        else:
            costs = so_far + worths[self._to_end(last)]
            at = [int(np.argmin(costs[s])) + s.start for s in self.stretches[last]]
            ended = [(float(costs[n]), last, n) for n in at]
        return [one for one in ended if math.isfinite(one[0])]

    def _traced(self, worths: Worths, cost: Sequence[Floats | None], last: int, at: int) -> Run:
        """Return the run that ends with a piece from this cell of a spot, or from the start."""
        if last == START:
            return Run(spots=(), places_m=(), cells=(self.grid.need(self.length_m),))
        cells, spots = [int(self._to_end(last)[at])], [last]
        places = [float(self.at[last][at]) * self.grid.cell_m]
        while True:
            right = spots[-1]
            least, left, before = math.inf, START, 0
            for other in range(START, right):
                if right not in self.ways[other + 1]:
                    continue
                there = None if other == START else cost[other]
                if other == START:
                    value, n = float(worths[self._from_start(right)][at]), 0
                elif there is None or len(there) == 0:
                    continue
                else:
                    costs = there + self._between(worths, other, right)[:, at]
                    n = int(np.argmin(costs))
                    value = float(costs[n])
                if value < least:
                    least, left, before = value, other, n
            if left == START:
                cells.append(int(self._from_start(right)[at]))
                return Run(
                    spots=tuple(reversed(spots)),
                    places_m=tuple(reversed(places)),
                    cells=tuple(reversed(cells)),
                )
            cells.append(int(self.at[right][at] - self.at[left][before]) + self.grid.kerf_cells)
            spots.append(left)
            places.append(float(self.at[left][before]) * self.grid.cell_m)
            at = before


@dataclass(frozen=True, slots=True, kw_only=True)
class _Slide:
    """A way to join a beam, and the cells of its two ends as its first joint slides."""

    way: Way
    first: Ints
    last: Ints


class ThreadedRuns:
    """Runs of one beam with threaded joints: an end piece, uncut sticks, an end piece, or one piece."""

    def __init__(self, task: Task, beam: int, grid: Grid) -> None:
        self.grid, self.half_m = grid, task.make_up_m / 2
        length_m = task.beams[beam].length_m
        self.threads = task.beams[beam].threads
        self.whole = grid.need(length_m)
        self.in_one = False
        self.slides: list[_Slide] = []
        ways, self.complete = ways_to_join(task, beam)
        for way in ways:
            if not way.spots:
                self.in_one = True
                continue
            shift = grid.kerf_m - self.half_m
            # What both ends take together; the first is taken as the one that fills its cells.
            both = (length_m - way.run_m - 2 * self.half_m + 2 * grid.kerf_m) / grid.cell_m
            low, high = grid.within(way.low_m + shift, way.high_m + shift)
            first = np.arange(low, high + 1)
            if len(first) == 0:
                first = np.array([grid.need(way.low_m - self.half_m)])
                both += first[0] - (way.low_m + shift) / grid.cell_m
            rest = both - first
            last = np.floor(rest - 1 + HAIR) if grid.relaxed else np.ceil(rest - HAIR)
            fits = (first >= 0) & (last >= (-1 if grid.relaxed else 0))
            if fits.any():
                last = np.maximum(last[fits].astype(np.int64), 0)
                self.slides.append(_Slide(way=way, first=first[fits], last=last))

    def cheapest(self, worths: Worths) -> list[tuple[float, Run]]:
        """Return the cheapest run and what it costs, and others, one of each way to join the beam."""
        found: list[tuple[float, int, int]] = []
        """What a run costs, which slide it is, and where in it."""
        if self.in_one:
            found.append((float(worths[self.whole]) if self.threads else worths.whole, -1, 0))
        for which, slide in enumerate(self.slides):
            costs = worths[slide.first] + worths[slide.last]
            n = int(np.argmin(costs))
            here = float(costs[n]) + sum(worths.uncut[k] for k in slide.way.uncut)
            found.append((here + worths.joint * len(slide.way.spots), which, n))
        found = [one for one in found if math.isfinite(one[0])]
        return [(least, self._at(which, n)) for least, which, n in sorted(found)[:MANY]]

    def _at(self, which: int, n: int) -> Run:
        """Return the run of a slide, at this place of it, or in one piece."""
        if which < 0:
            return Run(spots=(), places_m=(), cells=(self.whole,), threads=self.threads)
        slide = self.slides[which]
        way, first = slide.way, int(slide.first[n])
        at = first * self.grid.cell_m - self.grid.kerf_m + self.half_m
        at = min(max(at, way.low_m), way.high_m)
        places = [at + run for run in way.runs_m]
        return Run(
            spots=way.spots,
            places_m=tuple(places),
            cells=(first, int(slide.last[n])),
            uncut=way.uncut,
        )
