"""The best cutting from a list of loads, its joints standing anywhere legal: one integer program."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from staking.pipes.goal import Goal
from staking.pipes.joints import SNAP_M, START
from staking.pipes.rows import Rows, with_least
from staking.pipes.solver import FEASIBLE, INFINITE, has_solution, new_solver
from staking.pipes.task import Cutting, Load, Task

NODES = 300
"""Nodes of one integer program at most."""
JOINT_SHARE = 1e-3
"""All joints together weigh less than this share of a step, so that they only decide between equals."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What came of it."""

    cutting: Cutting | None
    done: bool
    """The list has nothing better; without a cutting: nothing at all."""


class _Model:
    """The integer program over loads: how many sticks of each, and where their parts end."""

    def __init__(
        self,
        task: Task,
        goal: Goal,
        loads: Sequence[Load],
        at_most: float,
        counts: Sequence[int] | None,
    ) -> None:
        self.task, self.loads = task, loads
        rows = self.rows = Rows()
        post = [rows.limit(len(p.posts), INFINITE) for p in task.post_lengths]
        start = [rows.limit(1, 1) for _ in task.beams]
        flow = [[rows.limit(0, 0) for _ in spots] for spots in task.spots]
        count = [rows.limit(0, n) for n in counts or task.on_hand]
        best = rows.limit(-INFINITE, at_most)
        cap = None if goal.cap_weights is None else rows.limit(-INFINITE, goal.cap)
        self._joints(flow)
        joint_weight = JOINT_SHARE * goal.step / (1 + task.most_pieces)
        self.used: list[int] = []
        self.missed: list[int] = []
        """By how much a stick is overfull, or an uncut one not filled, as `SNAP_M` allows."""
        self.ends: dict[tuple[int, int], tuple[int | None, int | None]] = {}
        for number, load in enumerate(loads):
            copies = 1.0 if load.parts else max(len(task.post_lengths[i].posts) for i in load.posts)
            weight = goal.weight(task, load)
            z = rows.variable(weight + joint_weight * len(load.parts), copies, whole=True)
            self.used.append(z)
            for i in load.posts:
                rows.put(post[i], z, 1.0)
            rows.put(count[load.kind], z, 1.0)
            rows.put(best, z, weight)
            if cap is not None and goal.cap_weights is not None:
                rows.put(cap, z, goal.cap_weights[load.kind])
            if load.parts:
                self._parts(number, z, start, flow)

    def _joints(self, flow: list[list[int]]) -> None:
        """Write where each joint may stand: in one of its spot's intervals."""
        rows, task = self.rows, self.task
        self.place: dict[tuple[int, int], int] = {}
        self.reaches: dict[tuple[int, int], int] = {}
        self.begins: dict[tuple[int, int], int] = {}
        self.taken: dict[tuple[int, int], int] = {}
        for beam, spots in enumerate(task.spots):
            for number, spot in enumerate(spots):
                key = (beam, number)
                place = self.place[key] = rows.variable(0.0, spot.width_m)
                # The part on the left reaches the joint, the one on the right begins at it.
                self.reaches[key] = rows.limit(0, 0 if task.threaded else INFINITE)
                self.begins[key] = rows.limit(0, 0 if task.threaded else INFINITE)
                rows.put(self.reaches[key], place, -1.0)
                rows.put(self.begins[key], place, 1.0)
                taken = self.taken[key] = rows.limit(0, 0)
                low, high = rows.limit(-INFINITE, 0), rows.limit(0, INFINITE)
                rows.put(low, place, -1.0)
                rows.put(high, place, -1.0)
                for a, b in spot.intervals:
                    v = rows.variable(0.0, 1.0, whole=len(spot.intervals) > 1)
                    rows.put(taken, v, 1.0)
                    rows.put(low, v, a - spot.low_m)
                    rows.put(high, v, b - spot.low_m)

    def _parts(self, number: int, z: int, start: list[int], flow: list[list[int]]) -> None:
        """Write the parts of one load: their ends, and that they fit the stick together."""
        rows, task, load = self.rows, self.task, self.loads[number]
        whole = task.is_uncut(load)
        room = task.room_m(load.kind) - task.posts_take_m(load.posts)
        fits = rows.limit(0 if whole else -INFINITE, 0)
        over = rows.variable(0.0, SNAP_M)
        rows.put(fits, over, -1.0)
        self.missed.append(over)
        if whole:
            under = rows.variable(0.0, SNAP_M)
            rows.put(fits, under, 1.0)
            self.missed.append(under)
        for p in load.parts:
            part = task.parts[p]
            room -= part.shortest_m + task.kerf_m
            left: int | None = None
            right: int | None = None
            if part.left == START:
                rows.put(start[part.beam], z, 1.0)
            else:
                key = (part.beam, part.left)
                rows.put(flow[part.beam][part.left], z, -1.0)
                left = self._grow(z, part.left_grow_m)
                rows.put(fits, left, 1.0)
                # The part begins at its spot's rightmost place less what it has grown.
                rows.put(self.begins[key], z, -part.left_grow_m)
                rows.put(self.begins[key], left, 1.0)
            if part.right < len(task.spots[part.beam]):
                key = (part.beam, part.right)
                rows.put(flow[part.beam][part.right], z, 1.0)
                rows.put(self.taken[key], z, -1.0)
                right = self._grow(z, part.right_grow_m)
                rows.put(fits, right, 1.0)
                rows.put(self.reaches[key], right, 1.0)
            self.ends[number, p] = (left, right)
        rows.put(fits, z, -room)

    def _grow(self, z: int, width_m: float) -> int:
        """Write how much a part has grown at one end: nothing unless its load is used."""
        grown = self.rows.variable(0.0, width_m)
        only = self.rows.limit(-INFINITE, 0)
        self.rows.put(only, grown, 1.0)
        self.rows.put(only, z, -width_m)
        return grown


def choose(
    task: Task, goal: Goal, loads: Sequence[Load], at_most: float, *, counts: Sequence[int] | None = None
) -> Choice:
    """Return the best cutting made of `loads` whose sum of weights is not above `at_most`.

    `counts` limits the sticks of each kind further than those on hand.
    """
    import highspy

    solver = new_solver()
    model = _Model(task, goal, loads, at_most + goal.step * 1e-6, counts)
    solver.setOptionValue("mip_max_nodes", NODES)
    solver.setOptionValue("mip_rel_gap", 0.0)
    solver.setOptionValue("mip_abs_gap", 0.5 * goal.step)
    solver.passModel(model.rows.program())
    solver.run()
    status = solver.getModelStatus()
    if status == highspy.HighsModelStatus.kInfeasible:
        return Choice(cutting=None, done=True)
    if not has_solution(solver):
        return Choice(cutting=None, done=False)
    values = list(solver.getSolution().col_value)
    if any(values[i] > FEASIBLE for i in model.missed):
        values = with_least(model.rows, values, model.missed)
    return Choice(
        cutting=_cutting(task, loads, model, values),
        done=status == highspy.HighsModelStatus.kOptimal,
    )


def _cutting(task: Task, loads: Sequence[Load], model: _Model, value: Sequence[float]) -> Cutting:
    """Return the cutting that the values of the integer program stand for."""
    left = [len(p.posts) for p in task.post_lengths]
    chosen: list[Load] = []
    places: dict[tuple[int, int], float] = {}
    for number, load in enumerate(loads):
        for _ in range(round(value[model.used[number]])):
            posts = []
            for i in load.posts:
                if left[i] > 0:
                    left[i] -= 1
                    posts.append(i)
            if posts or load.parts:
                chosen.append(Load(kind=load.kind, posts=tuple(posts), parts=load.parts))
        if load.parts and value[model.used[number]] > 0.5:
            for p in load.parts:
                part = task.parts[p]
                if part.right < len(task.spots[part.beam]):
                    key = (part.beam, part.right)
                    spot = task.spots[part.beam][part.right]
                    at = spot.low_m + value[model.place[key]]
                    low, high = min(spot.intervals, key=lambda i: max(i[0] - at, at - i[1], 0.0))
                    places[key] = min(max(at, low), high)
    return Cutting(loads=tuple(chosen), places_m=places)
