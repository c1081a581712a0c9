"""Posts and beams in one linear program over whole cells of a stick's length: a bound, and a start.

Sticks give posts and pieces of beams of so many cells; a beam takes the pieces of one of its runs. A place
for a long post or piece takes a shorter one too. What sticks hold and how beams run is priced exactly by
tables over the cells, so the duals prove a bound however far the program is solved: the worth of all posts
plus the cheapest run of every beam, shrunk until no stick holds more than it costs.
Sources: Gilmore and Gomory, Operations Research 9 (1961) 849-859; Farley, Operations Research 38 (1990)
922-923; Valerio de Carvalho, INFORMS Journal on Computing 17 (2005) 175-182, for the places of longer
pieces; all from memory.
"""

from __future__ import annotations

import math
from bisect import bisect
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from staking.pipes.beam_runs import (
    HAIR,
    PAD,
    ButtedRuns,
    Floats,
    Grid,
    Ints,
    Run,
    Stretches,
    ThreadedRuns,
    Worths,
)
from staking.pipes.cell_fill import CellFill
from staking.pipes.goal import Goal
from staking.pipes.joints import SNAP_M
from staking.pipes.post_classes import classes_of
from staking.pipes.simple_bounds import up
from staking.pipes.solver import FEASIBLE, INFINITE, new_solver
from staking.pipes.stick_table import Table
from staking.pipes.task import Task

CELLS = 2400
"""Of the longest stick, about; a kerf is a whole number of them where it is neither too wide nor too fine."""
FEWEST, MOST = 1200, 4000
"""Cells of the longest stick where they follow from the kerf."""
CLASSES = 1500
"""Lengths of posts told apart at most."""
DEAR = 4.0
"""What a stand-in for a post or piece costs, in dearest sticks; one for a beam that for each metre."""
GAIN = 1e-7
"""What improves the program by less than this share of a stick is not taken up."""
AT_ONCE = 120
"""Loads taken up in one round from one kind of stick, those that gain most."""
ROUNDS = 400
"""Of pricing at most."""
STILL = 12
"""Rounds without a change that count as an end of pricing."""
NEAR = 1e-4
"""Pricing ends when the bound is within this share of the dearest stick of the program's optimum."""
LOSS = 0.03
"""What loses more than this share of the dearest stick by the duals is forgotten before a dive."""
BESIDE = 1.7
"""Cells to either side of a joint in which it may stand in a program of finer cells."""
CALM = 0.6
"""The share of the best prices so far in those that are priced next."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CellLoad:
    """What one stick holds: its kind, posts by class (whole beams after them), and pieces by cells."""

    kind: int
    posts: tuple[int, ...]
    pieces: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What everything is worth."""

    posts: Floats
    """By class of posts, then by group of beams each in one piece."""
    pieces: Floats
    """Of beams, by cells."""
    sticks: Floats
    """One more of each kind on hand, nought or less."""
    beams: Floats
    """By group of beams, put together."""

    def mixed(self, other: Prices, share: float) -> Prices:
        """Return prices with so great a share of others."""
        return Prices(
            posts=(1 - share) * self.posts + share * other.posts,
            pieces=(1 - share) * self.pieces + share * other.pieces,
            sticks=(1 - share) * self.sticks + share * other.sticks,
            beams=(1 - share) * self.beams + share * other.beams,
        )


def cell_of(task: Task) -> float:
    """Return the usual length of a cell: a whole part of the kerf, neither too wide nor too fine."""
    longest = max(task.room_m(k) for k in range(len(task.kinds)))
    for parts in (1, 2, 3, 4):
        cell = task.kerf_m / parts
        if cell > 0 and FEWEST <= longest / cell <= MOST:
            return cell
    return longest / CELLS


class CellProgram:
    """The linear program, its bound, and its loads and runs.

    Parameters
    ----------
    relaxed
        Whether joints are anywhere in their cells and pieces take no more cells than they must, for a bound.
    knots
        Cells from one length of pieces to the next that are told apart.
    finer
        Into so many the usual cells are parted; of less than one so many are put together.
    joint
        What a joint weighs, in dearest sticks; nought for a bound.
    about
        By group of beams where butted joints may stand alone, as `stretches` returns it of another program
        for the task; not for a bound.
    """

    def __init__(
        self,
        task: Task,
        goal: Goal,
        *,
        relaxed: bool,
        knots: int = 1,
        finer: float = 1,
        joint: float = 0.0,
        about: Sequence[Stretches] | None = None,
    ) -> None:
        self.task, self.goal, self.relaxed, self.knots = task, goal, relaxed, knots
        self.grid = grid = Grid(cell_m=cell_of(task) / finer, kerf_m=task.kerf_m, relaxed=relaxed)
        self.rooms = [grid.room(task.room_m(k)) for k in range(len(task.kinds))]
        self.cells = max(self.rooms)
        self.edges = sorted({cells for room in self.rooms for cells in (room, room + 1)})
        """The lengths of pieces that just fill a kind of stick, and those that are too long for it."""
        self.classes = classes_of(task, CLASSES)
        needs = [grid.need(c.low_m - SNAP_M if relaxed else c.high_m) for c in self.classes]
        self.alike: list[list[int]] = _alike(task)
        self.runs: list[ButtedRuns | ThreadedRuns] = [
            ThreadedRuns(task, beams[0], grid)
            if task.threaded
            else ButtedRuns(task, beams[0], grid, None if about is None else about[n])
            for n, beams in enumerate(self.alike)
        ]
        wholes = [r for r in self.runs if isinstance(r, ThreadedRuns)]
        self.needs = np.maximum(np.array([*needs, *(r.whole for r in wholes)], dtype=np.int64), 1)
        """Cells of each class of posts, then of each threaded beam in one piece."""
        whole_m = [task.beams[b[0]].length_m for b in self.alike] if wholes else []
        self.lies = [
            (length + grid.kerf_m) / grid.cell_m for length in (*(c.high_m for c in self.classes), *whole_m)
        ]
        """The same, not rounded."""
        self.posts = len(self.classes)
        copies = [len(c.posts) for c in self.classes]
        in_one = [0 if task.beams[b[0]].threads else len(b) for b in self.alike] if wholes else []
        self.left: Ints = np.array([*copies, *in_one], dtype=np.int64)
        self.beams_left = [len(beams) for beams in self.alike]
        least = min((p.shortest_m for p in task.parts), default=0.0)
        self.least = max(math.floor((least + grid.kerf_m) / grid.cell_m) - 1, 1)
        self.dearest = max(goal.weights)
        self.joint = joint * self.dearest
        self.bound, self.optimum = 0.0, 0.0
        self.held = False
        """Whether all beams are put together and the lengths of their pieces are those that have a row."""
        self.best: Prices | None = None
        """Those of the bound."""
        self._build()

    @property
    def complete(self) -> bool:
        """Whether every way to put each beam together is among its runs, as a bound needs."""
        return all(run.complete for run in self.runs if isinstance(run, ThreadedRuns))

    @property
    def piece_rows(self) -> list[int]:
        """The rows of pieces of beams, those of whole threaded beams among them."""
        return [*range(self.posts, len(self.left)), *self.cell_row.values()]

    def _build(self) -> None:
        """Make the rows, the stand-ins and the places that take shorter posts."""
        self.solver = new_solver()
        self.columns: list[CellLoad | tuple[int, Run] | None] = []
        self.seen: set[CellLoad | tuple[int, Run]] = set()
        self.cell_row: dict[int, int] = {}
        self.lengths: list[int] = []
        """Cells of pieces that have a row, rising."""
        self.row_count = 0
        for n, many in enumerate(self.left):
            self._row(float(many) if n < self.posts else 0.0)
        self.beam_row = [self._row(float(many)) for many in self.beams_left]
        self.stick_row = [
            self._row(0.0, INFINITE if k.count is None else float(k.count)) for k in self.task.kinds
        ]
        for n in range(len(self.left)):
            self._column(None, DEAR * self.dearest, {n: 1.0})
        for row, beams in zip(self.beam_row, self.alike, strict=True):
            length = self.task.beams[beams[0]].length_m
            self._column(None, DEAR * self.dearest * max(length, 1.0), {row: 1.0})
        for n in range(self.posts - 1):
            self._column(None, 0.0, {n: -1.0, n + 1: 1.0})

    def _row(self, low: float, high: float = INFINITE) -> int:
        self.solver.addRow(low, high, 0, np.array([], dtype=np.int32), np.array([], dtype=np.float64))
        self.row_count += 1
        return self.row_count - 1

    def _column(
        self, what: CellLoad | tuple[int, Run] | None, cost: float, entries: dict[int, float]
    ) -> None:
        self.columns.append(what)
        self.solver.addCol(
            cost,
            0.0,
            INFINITE,
            len(entries),
            np.array(list(entries), dtype=np.int32),
            np.array(list(entries.values())),
        )

    def _length_row(self, cells: int) -> int:
        """Return the row of pieces that take so many cells, made where it is not there yet."""
        if cells not in self.cell_row:
            row = self.cell_row[cells] = self._row(0.0)
            n = bisect(self.lengths, cells)
            self.lengths.insert(n, cells)
            if n > 0:
                self._column(None, 0.0, {row: -1.0, self.cell_row[self.lengths[n - 1]]: 1.0})
            if n + 1 < len(self.lengths):
                self._column(None, 0.0, {self.cell_row[self.lengths[n + 1]]: -1.0, row: 1.0})
            self._column(None, DEAR * self.dearest, {row: 1.0})
        return self.cell_row[cells]

    def hold(self, pieces: Mapping[int, int], wholes: Mapping[int, int]) -> None:
        """Ask for these pieces, by cells, and whole threaded beams, by group, in place of beams."""
        for cells, many in sorted(pieces.items()):
            self.solver.changeRowBounds(self._length_row(cells), float(many), INFINITE)
        for n in range(len(self.alike)):
            self.beams_left[n] = 0
            self.solver.changeRowBounds(self.beam_row[n], 0.0, INFINITE)
            if self.task.threaded:
                row, many = self.posts + n, wholes.get(n, 0)
                self.left[row] = many
                self.solver.changeRowBounds(row, float(many), INFINITE)
        self.least = min(self.lengths, default=self.least)
        self.held = True

    def add_load(self, load: CellLoad) -> bool:
        """Take up a load; False when it is there."""
        if load in self.seen:
            return False
        self.seen.add(load)
        entries = {self.stick_row[load.kind]: 1.0}
        for row in load.posts:
            entries[row] = entries.get(row, 0.0) + 1.0
        for cells in load.pieces:
            for row, share in self._shares(cells):
                entries[row] = entries.get(row, 0.0) + share
        self._column(load, self.goal.weights[load.kind], entries)
        return True

    def add_run(self, group: int, run: Run) -> bool:
        """Take up a run of a group of beams alike; False when it is there."""
        if (group, run) in self.seen:
            return False
        self.seen.add((group, run))
        entries = {self.beam_row[group]: 1.0}
        for row, share in self.rows_of(group, run).items():
            entries[row] = -share
        for kind in run.uncut:
            entries[self.stick_row[kind]] = entries.get(self.stick_row[kind], 0.0) + 1.0
        cost = sum(self.goal.weights[kind] for kind in run.uncut)
        self._column((group, run), cost + self.joint * len(run.spots), entries)
        return True

    def rows_of(self, group: int, run: Run) -> dict[int, float]:
        """Return the rows of the pieces that a run takes from sticks, and how much of each."""
        if self.task.threaded and run.whole:
            return {self.posts + group: 1.0}
        rows: dict[int, float] = {}
        for cells in run.cells:
            for row, share in self._shares(cells):
                rows[row] = rows.get(row, 0.0) + share
        return rows

    def _shares(self, cells: int) -> list[tuple[int, float]]:
        """Return the rows of a piece of so many cells: its own, or its share of the knots about it."""
        if self.held:
            return [(self.cell_row[self.lengths[bisect(self.lengths, cells) - 1]], 1.0)]
        low = max(self.least, cells - (cells - self.least) % self.knots)
        high = min(low + self.knots, self.cells)
        # A piece that just fills a stick and one that is too long for it are not mixed.
        n = bisect(self.edges, cells)
        low = max(low, self.edges[n - 1]) if n > 0 else low
        high = min(high, self.edges[n]) if n < len(self.edges) else high
        if cells <= low or high <= low:
            return [(self._length_row(low), 1.0)]
        share = (cells - low) / (high - low)
        return [(self._length_row(low), 1.0 - share), (self._length_row(high), share)]

    def solved(self) -> tuple[Floats, Floats]:
        """Return the solution and the duals of the program as it is."""
        self.solver.run()
        solution = self.solver.getSolution()
        self.optimum = self.solver.getObjectiveValue()
        return np.array(solution.col_value), np.array(solution.row_dual)

    def priced(self, times: int, groups: Sequence[int] | None = None) -> Floats:
        """Return the solution, priced and solved again up to so many times while there is something new."""
        values, duals = self.solved()
        for _ in range(times):
            if not self.price(self.prices(duals), groups):
                break
            values, duals = self.solved()
        return values

    def stretches(self) -> list[Stretches]:
        """Return by group of beams where joints stand in the runs used, and some cells to either side."""
        values = np.array(self.solver.getSolution().col_value)
        found: list[dict[int, list[tuple[float, float]]]] = [{} for _ in self.alike]
        beside = BESIDE * self.grid.cell_m
        for n, column in enumerate(self.columns):
            if isinstance(column, tuple) and values[n] > FEASIBLE:
                group, run = column
                for spot, at in zip(run.spots, run.places_m, strict=True):
                    found[group].setdefault(spot, []).append((at - beside, at + beside))
        return list(found)

    def trim(self) -> None:
        """Forget loads and runs that lose much by the program's duals; later solutions come faster."""
        solution = self.solver.getSolution()
        losses = np.array(solution.col_dual)
        idle = np.array(solution.col_value) <= FEASIBLE
        gone = [
            n
            for n in np.flatnonzero(idle & (losses > LOSS * self.dearest)).tolist()
            if self.columns[n] is not None
        ]
        self.solver.deleteCols(len(gone), np.array(gone, dtype=np.int32))
        self.seen.difference_update(what for n in gone if (what := self.columns[n]) is not None)
        dropped = set(gone)
        self.columns = [what for n, what in enumerate(self.columns) if n not in dropped]

    def prices(self, duals: Floats) -> Prices:
        """Return what pieces are worth by the duals, straight between the lengths that have a row."""
        at, worth = [0.0], [0.0]
        for length in self.lengths:
            at.append(float(length))
            worth.append(max(float(duals[self.cell_row[length]]), worth[-1]))
        if at[-1] < self.cells and not self.held:
            at.append(float(self.cells))
            worth.append(max(worth[-1], self.dearest))
        cells = np.arange(self.cells + 1)
        if self.held:
            of = np.array(worth)[np.searchsorted(at, cells, side="right") - 1]
        else:
            of = np.interp(cells, at, worth)
            of[: self.least] = 0.0
        return Prices(
            posts=np.maximum(duals[: len(self.left)], 0.0),
            pieces=of,
            sticks=np.minimum(duals[self.stick_row], 0.0),
            beams=duals[self.beam_row],
        )

    def price(self, prices: Prices, groups: Sequence[int] | None = None) -> bool:
        """Take up the loads worth most and the cheapest runs; whether any is new.

        With all groups of beams (None) the bound by these prices counts too.
        """
        worths, uncut = self._worths(prices)
        values = prices.posts
        grew, shrink = False, 1.0
        total = float(values[: self.posts] @ self.left[: self.posts])
        fills: dict[tuple[bool, bool, int], CellFill] = {}
        for kind, stick in enumerate(self.task.kinds):
            use = stick.for_posts, stick.for_beams, stick.threads
            if use not in fills:
                fills[use] = self._fill(values, worths, *use)
            weight, dual = self.goal.weights[kind], float(prices.sticks[kind])
            grew |= self._price_stick(kind, fills[use], values, weight - dual)
            most = float(fills[use].top[self.rooms[kind]])
            if stick.count is not None:
                total += stick.count * min(dual, weight - most)
            elif most > weight:
                shrink = min(shrink, weight / most)
        for group in range(len(self.runs)) if groups is None else groups:
            if self.beams_left[group] == 0:
                continue
            whole = float(values[self.posts + group]) if self.task.threaded else 0.0
            found = self.runs[group].cheapest(replace(worths, whole=whole))
            if not found:
                continue
            total += self.beams_left[group] * found[0][0]
            for n, (cost, run) in enumerate(found):
                if n == 0 or cost < float(prices.beams[group]) - GAIN * self.dearest:
                    kinds = tuple(uncut[kind] for kind in run.uncut)
                    grew |= self.add_run(group, replace(run, uncut=kinds))
        if groups is None and total * shrink > self.bound:
            self.bound, self.best = total * shrink, prices
        return grew

    def _worths(self, prices: Prices) -> tuple[Worths, list[int]]:
        """Return what counts for a run, and the kind left uncut for each kind: of its length the cheapest."""
        costs = [weight - float(dual) for weight, dual in zip(self.goal.weights, prices.sticks, strict=True)]
        kinds = self.task.kinds
        uncut = [
            min(
                (
                    j
                    for j, k in enumerate(kinds)
                    if k.stock_m == kind.stock_m and k.for_beams and k.threads == kind.threads
                ),
                key=lambda j: costs[j],
                default=n,
            )
            for n, kind in enumerate(kinds)
        ]
        of = np.concatenate([np.zeros(PAD), prices.pieces, np.full(1, np.inf)])
        return Worths(of=of, uncut=[costs[n] for n in uncut], joint=self.joint), uncut

    def _fill(
        self, values: Floats, worths: Worths, for_posts: bool, for_beams: bool, threads: int
    ) -> CellFill:
        """Return what fills sticks of one use."""
        worth = values.copy()
        if not for_posts:
            worth[: self.posts] = 0.0
        if not for_beams:
            worth[self.posts :] = 0.0
        table = Table(self.needs, self.left, worth, self.cells, trace=True) if worth.any() else None
        return CellFill(
            table,
            worths if for_beams else None,
            self.least,
            self.cells,
            threads=threads if self.task.threaded else None,
        )

    def _price_stick(self, kind: int, fill: CellFill, values: Floats, cost: float) -> bool:
        """Take up the best loads of a kind of stick with each post and with each piece."""
        room, stick = self.rooms[kind], self.task.kinds[kind]
        least = cost * (1 + GAIN)
        found: list[tuple[float, int, int]] = []
        """What a load is worth, its first post (or less than nought) and its first piece (or nought)."""
        if fill.top[room] > least:
            found.append((float(fill.top[room]), -1, 0))
        for n in np.flatnonzero((self.left > 0) & (self.needs <= room) & (values > 0)).tolist():
            if stick.for_posts if n < self.posts else stick.for_beams:
                worth = float(values[n] + fill.top[room - self.needs[n]])
                if worth > least:
                    found.append((worth, n, 0))
        if stick.for_beams and len(fill.levels) > 1:
            for cells in self.lengths:
                if self.least <= cells <= room:
                    worth = float(fill.piece[cells] + fill.beside[room - cells])
                    if worth > least:
                        found.append((worth, -1, cells))
        found.sort(key=lambda one: (-one[0], one[1:]))
        grew = False
        for beside in (False, True):
            these = [(n, cells) for _, n, cells in found[:AT_ONCE] if (cells > 0) == beside]
            rooms = [room - (cells if n < 0 else int(self.needs[n])) for n, cells in these]
            traced = fill.traced(rooms, beside=beside)
            for (first, cells), (posts, pieces) in zip(these, traced, strict=True):
                classes = [] if first < 0 else [first]
                for other in posts:
                    if classes.count(other) < self.left[other]:
                        classes.append(other)
                pieces = sorted([*pieces, cells] if cells else pieces)
                if pieces and not self.relaxed:
                    pieces[-1] += self._spare(kind, classes, pieces)
                grew |= self.add_load(CellLoad(kind=kind, posts=tuple(sorted(classes)), pieces=tuple(pieces)))
        return grew

    def _spare(self, kind: int, posts: Sequence[int], pieces: Sequence[int]) -> int:
        """Return the whole cells that posts of these classes, not rounded up, leave beside these pieces."""
        cells = self.task.room_m(kind) / self.grid.cell_m - sum(self.lies[n] for n in posts)
        return max(math.floor(cells + HAIR) - sum(pieces), 0)

    def solve(
        self, enough: float, rounds: int = ROUNDS, *, known: float = 0.0, near: float | None = None
    ) -> None:
        """Price until the bound, rounded up, is `enough` or as high as the program's optimum rounded up.

        Or till the optimum is down to a bound that is `known`: no better one is to be had then. With `near`
        until bound and optimum are within this share of the dearest stick, whatever they are rounded up.
        """
        step, still = self.goal.step, 0
        for _ in range(rounds):
            before = self.optimum - self.bound
            _, duals = self.solved()
            prices = self.prices(duals)
            # Prices between these and the best so far swing less, and the bound rises sooner.
            grew = self.price(prices if self.best is None else prices.mixed(self.best, CALM))
            grew = grew or self.price(prices)
            open_by = self.optimum - self.bound
            still = still + 1 if abs(open_by - before) < NEAR * self.dearest else 0
            if (
                not grew
                or still > STILL
                or open_by < (NEAR if near is None else near) * self.dearest
                or (
                    near is None
                    and up(max(self.bound, known), step) >= min(enough, up(self.optimum, step)) - step / 2
                )
            ):
                return


def _alike(task: Task) -> list[list[int]]:
    """Return the beams in groups of the same length with the same places for joints."""
    groups: dict[tuple[object, ...], list[int]] = {}
    for number, beam in enumerate(task.beams):
        key = beam.length_m, beam.threads, task.spots[number], task.ways[number], len(beam.posts_m)
        groups.setdefault(key, []).append(number)
    return list(groups.values())


def bound_by_cells(
    task: Task, goal: Goal, enough: float, known: float, *, knots: int, finer: float = 1
) -> float:
    """Return a bound by the program, rounded up to the goal's step; `known` where there is no higher one.

    `enough` and `known` as `CellProgram.solve` takes them, `knots` and `finer` as `CellProgram`.
    """
    program = CellProgram(task, goal, relaxed=True, knots=knots, finer=finer)
    if not program.complete:
        return known
    program.solve(enough, known=known)
    return max(known, up(program.bound, goal.step))
