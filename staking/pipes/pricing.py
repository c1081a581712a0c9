"""A lower bound over every legal place of the joints, by column generation.

A linear program chooses loads of sticks so that every post is cut, every beam is put together from its
left end to its right, and at each joint the piece on its left reaches to where the piece on its right
begins. Loads that would improve it are found exactly (`staking.pipes.patterns`) until there are none.
Source: Gilmore and Gomory, Operations Research 9 (1961) 849-859; from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from staking.pipes.goal import Goal
from staking.pipes.joints import SNAP_M, START, Part
from staking.pipes.patterns import Found, Search, Values
from staking.pipes.simple_bounds import up
from staking.pipes.solver import FEASIBLE, INFINITE, new_solver
from staking.pipes.task import THREADS, Cutting, Load, Task

PRICED_OUT = 1e-9
"""A load that improves the program by less than this share of the dearest stick is not looked for."""
CONVERGED = 1e-4
"""Pricing ends when the bound is within this share of a step of the program's own optimum."""
DEAR = 20.0
"""What a stand-in costs, against all pieces in the dearest stick each."""
SHORT = 0.01
"""Stand-ins used above this are taken for a want of stock."""
BUDGET = 2_000_000
"""Branches of all searches for loads together, some seconds; beyond it the gap is left open."""
ROUNDS_ROWS = 100_000
"""Rounds of pricing times rows of the program at most, far more than any yard needs.

Large programs take longer a round; the bound holds wherever they stop.
"""
AT_ONCE = 6
"""Loads taken up in one round from one kind of stick."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A load with its joints at one place each."""

    load: Load
    ends_m: tuple[tuple[float, float], ...]
    """Of each part: its left and right joint, counted from the leftmost legal place of their spots."""


class Program:
    """The linear program over loads, grown by pricing."""

    def __init__(self, task: Task, goal: Goal) -> None:
        self.task, self.goal = task, goal
        self.solver = new_solver()
        self.columns: list[Column] = []
        self.seen: set[Column] = set()
        self.low: list[float] = []
        self.high: list[float] = []
        self.post_row = [self._row(len(p.posts), INFINITE) for p in task.post_lengths]
        self.start_row = [self._row(1, 1) for _ in task.beams]
        self.flow_row = [[self._row(0, 0) for _ in spots] for spots in task.spots]
        # A butted piece may be shortened where two overlap; whole threaded sticks may not.
        self.place_row = [
            [self._row(0, 0 if task.threaded else INFINITE) for _ in spots] for spots in task.spots
        ]
        self.count_row = [self._row(0, most) for most in task.on_hand]
        self.cap_row = None if goal.cap_weights is None else self._row(-INFINITE, goal.cap)
        # So dear that they stand in for a post, a beam or a stick asked for only where nothing else can.
        self.dear = DEAR * (max(goal.weights) + goal.step) * (1 + task.most_pieces)
        # Beside sticks that cost nearly nothing the solver gives up on such prices unscaled.
        scale = -max(0, math.ceil(math.log2(max(goal.weights) + goal.step)))
        self.solver.setOptionValue("user_objective_scale", scale)
        self.stand_ins = [*self.post_row, *self.start_row, *self.count_row]
        for row in self.stand_ins:
            self.solver.addCol(self.dear, 0, INFINITE, 1, np.array([row], dtype=np.int32), np.array([1.0]))
        for column in _whole_stick_columns(task):
            self.add(column)
        self.whole = len(self.columns)
        self.bound = 0.0
        self.dual_sum = 0.0
        self.least = 0.0
        """By how much some load may still be underpriced, zero or less."""
        self.budget = BUDGET
        self.exact = False
        """Whether `bound` is the program's own optimum."""
        self.duals: list[float] = [0.0] * len(self.low)
        """By row; nought is valid where the solver finds no others."""

    def _row(self, low: float, high: float) -> int:
        self.solver.addRow(low, high, 0, np.array([], dtype=np.int32), np.array([], dtype=np.float64))
        self.low.append(low)
        self.high.append(high)
        return len(self.low) - 1

    def limit_counts(self, low: Sequence[int], high: Sequence[float]) -> None:
        """Ask for at least and at most so many sticks of each kind from now on."""
        for row, a, b in zip(self.count_row, low, high, strict=True):
            self.low[row], self.high[row] = a, b
            self.solver.changeRowBounds(row, a, b)

    def _valid(self, row: int, dual: float) -> float:
        """Return a dual with the sign that its row allows."""
        if math.isinf(self.high[row]):
            dual = max(dual, 0.0)
        return min(dual, 0.0) if math.isinf(self.low[row]) else dual

    def add(self, column: Column) -> bool:
        """Take up a column; False when it is there already."""
        if column in self.seen:
            return False
        self.seen.add(column)
        self.columns.append(column)
        entries = self._entries(column)
        self.solver.addCol(
            self.goal.weight(self.task, column.load),
            0,
            INFINITE,
            len(entries),
            np.array(list(entries), dtype=np.int32),
            np.array(list(entries.values()), dtype=np.float64),
        )
        return True

    def _entries(self, column: Column) -> dict[int, float]:
        """Return the coefficients of a column by row."""
        task, load = self.task, column.load
        entries: dict[int, float] = {}

        def put(row: int, value: float) -> None:
            entries[row] = entries.get(row, 0.0) + value

        for i in load.posts:
            put(self.post_row[i], 1.0)
        for number, (left_m, right_m) in zip(load.parts, column.ends_m, strict=True):
            part = task.parts[number]
            if part.left == START:
                put(self.start_row[part.beam], 1.0)
            else:
                put(self.flow_row[part.beam][part.left], -1.0)
                put(self.place_row[part.beam][part.left], -left_m)
            if part.right < len(task.spots[part.beam]):
                put(self.flow_row[part.beam][part.right], 1.0)
                put(self.place_row[part.beam][part.right], right_m)
        put(self.count_row[load.kind], 1.0)
        if self.cap_row is not None and self.goal.cap_weights is not None:
            put(self.cap_row, self.goal.cap_weights[load.kind])
        return entries

    def solve(self, enough: float) -> None:
        """Price until no load improves the program, or its bound rounded up reaches `enough`."""
        import highspy

        tolerance = PRICED_OUT * (max(self.goal.weights) + self.goal.step)
        self.bound, self.exact = 0.0, False
        for _ in range(ROUNDS_ROWS // len(self.low)):
            self.solver.run()
            if self.solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
                # Starting from the last basis can fail where starting afresh does not.
                self.solver.clearSolver()
                self.solver.run()
            if self.solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
                return
            # Read before columns are added: after that the solver no longer knows it.
            optimum = self.solver.getObjectiveValue()
            solution = self.solver.getSolution()
            self.duals = [self._valid(row, dual) for row, dual in enumerate(solution.row_dual)]
            values = self.values()
            least, shrink, grew, complete = 0.0, 1.0, False, True
            for kind in range(len(self.task.kinds)):
                floor = self.worth_needed(kind)
                search = Search(
                    self.task, kind, values, floor=floor + tolerance, every=False, budget=self.budget
                )
                self.budget -= search.steps
                complete &= search.complete
                top = search.found[0].value if search.found else floor + tolerance
                least = min(least, floor - top)
                shrink = self._shrunk(shrink, kind, top + self.goal.weights[kind] - floor)
                for found in search.found[:AT_ONCE]:
                    grew |= self.add(self.column(kind, found))
            for column in self.columns[: self.whole]:
                worth = sum(self.duals[r] * v for r, v in self._entries(column).items())
                least = min(least, self.goal.weight(self.task, column.load) - worth)
                shrink = self._shrunk(shrink, column.load.kind, worth)
            dual_sum = sum(
                d * (self.low[row] if d > 0 else self.high[row]) for row, d in enumerate(self.duals) if d != 0
            )
            self.dual_sum = dual_sum
            self.least = least
            if complete:
                # Two ways to make the prices valid: every load may be underpriced by `least`, or shrink all.
                self.bound = max(self.bound, dual_sum + self.task.most_pieces * least, dual_sum * shrink)
            near = CONVERGED * self.goal.step
            if not grew or (complete and optimum - self.bound < near):
                self.exact = complete
                return
            if up(self.bound, self.goal.step) >= enough - self.goal.step / 2:
                return

    def _shrunk(self, shrink: float, kind: int, worth: float) -> float:
        """Return by what all duals must be multiplied so that this load is not worth more than it costs."""
        if self.goal.joint_weight:
            return 0.0
        weight = self.goal.weights[kind]
        return min(shrink, weight / worth) if worth > weight else shrink

    def worth_needed(self, kind: int) -> float:
        """Return what the pieces in a stick of this kind must be worth for it to pay."""
        needed = self.goal.weights[kind] - self.duals[self.count_row[kind]]
        if self.cap_row is not None and self.goal.cap_weights is not None:
            needed -= self.duals[self.cap_row] * self.goal.cap_weights[kind]
        return needed

    def values(self) -> Values:
        """Return what posts and parts are worth by the duals."""
        task, duals = self.task, self.duals
        parts, left_rates, right_rates = [], [], []
        for part in task.parts:
            worth, left_rate, right_rate = 0.0, 0.0, 0.0
            if part.left == START:
                worth += duals[self.start_row[part.beam]]
            else:
                left_rate = duals[self.place_row[part.beam][part.left]]
                worth -= duals[self.flow_row[part.beam][part.left]] + left_rate * part.left_grow_m
                worth -= self.goal.joint_weight
            if part.right < len(task.spots[part.beam]):
                right_rate = duals[self.place_row[part.beam][part.right]]
                worth += duals[self.flow_row[part.beam][part.right]]
            parts.append(worth)
            left_rates.append(max(left_rate, 0.0))
            right_rates.append(max(right_rate, 0.0))
        posts = [duals[row] for row in self.post_row]
        return Values(posts=posts, parts=parts, left_rates=left_rates, right_rates=right_rates)

    def column(self, kind: int, found: Found) -> Column:
        """Return a load found as a column."""
        ends = tuple(
            (self.task.parts[p].left_grow_m - left, right)
            for p, (left, right) in zip(found.parts, found.grown_m, strict=True)
        )
        return Column(load=Load(kind=kind, posts=found.posts, parts=found.parts), ends_m=ends)

    def add_cutting(self, cutting: Cutting) -> None:
        """Take up the loads of a cutting."""
        for load in cutting.loads:
            ends = tuple(_ends_of(self.task, self.task.parts[p], cutting.places_m) for p in load.parts)
            self.add(Column(load=load, ends_m=ends))

    def short_of_stock(self) -> bool:
        """Whether the program uses stand-ins, because the stock on hand does not do."""
        values = self.solver.getSolution().col_value
        return any(values[i] > SHORT for i in range(len(self.stand_ins)))

    def loads(self, most: float, limit: int) -> tuple[list[Load], bool]:
        """List the loads that a cutting of total weight `most` may hold, and whether these are all.

        A load that costs more than its pieces are worth, by over `most` less the program's optimum, cannot
        be in such a cutting.
        """
        tolerance = PRICED_OUT * (max(self.goal.weights) + self.goal.step)
        gap = most - self.dual_sum + self.task.most_pieces * (tolerance - self.least)
        needed = [self.worth_needed(kind) - gap for kind in range(len(self.task.kinds))]
        listed, complete = _list_loads(self.task, self.values(), needed, limit)
        return listed, complete and self.exact

    def liked(self) -> list[tuple[float, Load]]:
        """Return the loads that the program uses, each with its number of sticks, rarely a whole one."""
        values = self.solver.getSolution().col_value[len(self.stand_ins) :]
        return [(v, c.load) for v, c in zip(values, self.columns, strict=True) if v > FEASIBLE]

    def sticks_used(self) -> list[float]:
        """Return how many sticks of each kind the program uses; not whole numbers as a rule."""
        used = [0.0] * len(self.task.kinds)
        for value, load in self.liked():
            used[load.kind] += value
        return used


def _list_loads(task: Task, values: Values, needed: Sequence[float], limit: int) -> tuple[list[Load], bool]:
    """List the loads worth more than `needed` (by kind), the best first, and whether these are all.

    Uncut sticks between two threaded joints are always among them.
    """
    listed: list[tuple[float, Load]] = []
    complete = True
    for kind, floor in enumerate(needed):
        search = Search(task, kind, values, floor=floor, every=True, limit=limit)
        complete &= search.complete
        listed += [(floor - f.value, Load(kind=kind, posts=f.posts, parts=f.parts)) for f in search.found]
    listed.sort(key=lambda e: e[0])
    complete &= len(listed) <= limit
    whole = [c.load for c in _whole_stick_columns(task)]
    return list(dict.fromkeys([*whole, *(load for _, load in listed[:limit])])), complete


def tight_loads(task: Task, waste_m: float, limit: int) -> tuple[list[Load], bool]:
    """List the loads that leave no more than `waste_m` of their stick, and whether these are all."""
    values = Values(
        posts=[p.length_m + task.kerf_m for p in task.post_lengths],
        parts=[p.shortest_m + task.kerf_m for p in task.parts],
        left_rates=[1.0] * len(task.parts),
        right_rates=[1.0] * len(task.parts),
    )
    needed = [task.room_m(kind) - waste_m - SNAP_M for kind in range(len(task.kinds))]
    return _list_loads(task, values, needed, limit)


def _ends_of(task: Task, part: Part, places_m: dict[tuple[int, int], float]) -> tuple[float, float]:
    """Return where a part's joints stand, from the leftmost legal place of their spots."""
    spots = task.spots[part.beam]
    left = 0.0 if part.left == START else places_m[part.beam, part.left] - spots[part.left].low_m
    at_end = part.right == len(spots)
    right = 0.0 if at_end else places_m[part.beam, part.right] - spots[part.right].low_m
    return left, right


def _whole_stick_columns(task: Task) -> list[Column]:
    """Return the uncut sticks that may stand between two threaded joints, at their extreme places."""
    columns = []
    for number, part in enumerate(task.parts):
        if task.threads(part) < THREADS:
            continue
        most = part.left_grow_m + part.right_grow_m
        for kind, stick in enumerate(task.kinds):
            grow = stick.stock_m - part.shortest_m
            if not stick.for_beams or stick.threads < 2 or not -SNAP_M <= grow <= most + SNAP_M:
                continue
            grow = min(max(grow, 0.0), most)
            for left in {
                min(grow, part.left_grow_m),
                max(0.0, grow - part.right_grow_m),
            }:
                columns.append(
                    Column(
                        load=Load(kind=kind, posts=(), parts=(number,)),
                        ends_m=((part.left_grow_m - left, grow - left),),
                    )
                )
    return columns
