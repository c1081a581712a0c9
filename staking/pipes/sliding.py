"""Joints slid so that the longest drop is as long as can be, then the next: one linear program for each."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from staking.pipes.joints import SNAP_M, START
from staking.pipes.rows import Rows
from staking.pipes.solver import INFINITE, new_solver
from staking.pipes.task import Cutting, Task, load_m

Floats = NDArray[np.float64]

MOST_STICKS = 60
"""Larger jobs are left as they are."""
MOST_DROPS = 6
"""Drops that are made longest one after the other, at most."""
KEPT_M = 1e-8
"""Left in a stick, where it is there, when joints are slid for what is beside posts."""
EVEN = ((0.003, 100.0), (0.007, 10.0), (0.04, 1.0))
"""Room for each post of a stick, metre by metre worth less: a few of its standard deviations in all."""
GAIN_M = 1e-5
"""A smaller gain is none."""


def _drops_m(task: Task, cutting: Cutting) -> list[float]:
    """Return the drops, the longest first."""
    rooms = (task.room_m(load.kind) - load_m(task, load, cutting.places_m) for load in cutting.loads)
    return sorted((max(room - task.kerf_m, 0.0) for room in rooms), reverse=True)


def well_slid(task: Task, cutting: Cutting, useful_m: float) -> Cutting:
    """Return the cutting with its joints where the useful drops are longest, the longest first.

    Each joint stays in the interval between rails and posts in which it stands.
    """
    if not cutting.places_m or len(cutting.loads) > MOST_STICKS:
        return cutting
    model = _Model(task, cutting)
    best, fixed = cutting, dict[int, float]()
    while len(fixed) < min(len(cutting.loads), MOST_DROPS):
        tries = [
            (*model.longest(stick, fixed), stick) for stick in range(len(cutting.loads)) if stick not in fixed
        ]
        rest, values, stick = max(tries, key=lambda t: (round(t[0], 7), -t[2]))
        if values is None or rest < useful_m + task.kerf_m:
            break
        fixed[stick] = rest
        best = model.cutting(values)
    return best if _drops_m(task, best) > [d + GAIN_M for d in _drops_m(task, cutting)] else cutting


def slid_evenly(task: Task, cutting: Cutting) -> Cutting | None:
    """Return the cutting with its joints where sticks have room beside posts, each some before any much.

    None in large jobs, without joints, and where the joints have no such places.
    """
    if not cutting.places_m or len(cutting.loads) > MOST_STICKS:
        return None
    model = _Model(task, cutting)
    values = model.evened([len(load.posts) for load in cutting.loads])
    return None if values is None else model.cutting(values)


def slid_to_posts(task: Task, cutting: Cutting) -> Cutting:
    """Return the cutting with its joints where most is left beside posts, for others to take their place."""
    model = _Model(task, cutting)
    values = model.spread([float(len(load.posts)) for load in cutting.loads])
    return cutting if values is None else model.cutting(values)


class _Model:
    """The linear program: where each joint stands, and what each stick has left."""

    def __init__(self, task: Task, cutting: Cutting) -> None:
        self.task, self.before = task, cutting
        rows = self.rows = Rows()
        self.low: dict[tuple[int, int], float] = {}
        self.place: dict[tuple[int, int], int] = {}
        for key, at in cutting.places_m.items():
            spot = task.spots[key[0]][key[1]]
            low, high = min(spot.intervals, key=lambda i: max(i[0] - at, at - i[1]))
            self.low[key] = low
            self.place[key] = rows.variable(0.0, high - low)
        self.rest: list[int] = []
        self.have: list[float] = []
        self.lower: dict[int, float] = {}
        for load in cutting.loads:
            have = task.room_m(load.kind) - load_m(task, load, cutting.places_m)
            rest = rows.variable(0.0, max(have, task.room_m(load.kind)) + SNAP_M)
            if task.is_uncut(load):
                # An uncut stick keeps its length.
                rows.upper[rest] = self.lower[rest] = max(have, 0.0) + SNAP_M
            else:
                # A stick that is overfull by a hair is not filled further.
                self.lower[rest] = SNAP_M + min(have, 0.0)
            self.rest.append(rest)
            self.have.append(have)
            # What is left now, and how it changes as joints move.
            total = have + SNAP_M
            row = rows.limit(0.0, 0.0)
            rows.put(row, rest, 1.0)
            for part in (task.parts[p] for p in load.parts):
                for spot_number, sign in ((part.left, -1.0), (part.right, 1.0)):
                    key = (part.beam, spot_number)
                    if spot_number != START and key in self.place:
                        rows.put(row, self.place[key], sign)
                        total += sign * (cutting.places_m[key] - self.low[key])
            rows.low[row] = rows.high[row] = total

    def longest(self, stick: int, fixed: dict[int, float]) -> tuple[float, list[float] | None]:
        """Return the most that can be left of a stick, and the values; none where nothing is found."""
        lower, cost = self._lower(), np.zeros(len(self.rows.cost))
        for other, least in fixed.items():
            rest = self.rest[other]
            lower[rest] = max(least + SNAP_M - GAIN_M / 10, lower[rest])
        cost[self.rest[stick]] = -1.0
        values = self._solved(cost, lower)
        return (-INFINITE, None) if values is None else (values[self.rest[stick]] - SNAP_M, values)

    def spread(self, weights: Sequence[float]) -> list[float] | None:
        """Return values with the greatest weighted sum of what sticks have left; None if none is found."""
        lower, cost = self._lower(), np.zeros(len(self.rows.cost))
        # Again and again, the solver's tolerance must not add up.
        lower[self.rest] += np.clip(self.have, 0.0, KEPT_M)
        cost[self.rest] = -np.array(weights)
        return self._solved(cost, lower)

    def evened(self, posts: Sequence[int]) -> list[float] | None:
        """Return values with room beside so many posts in each stick, what is scarce worth most."""
        rows, worth = self.rows, {}
        for stick, number in enumerate(posts):
            row = rows.limit(0.0)
            rows.put(row, self.rest[stick], 1.0)
            for room_m, weight in EVEN if number else ():
                some = rows.variable(0.0, room_m * number)
                rows.put(row, some, -1.0)
                worth[some] = weight
        lower, cost = self._lower(), np.zeros(len(rows.cost))
        lower[self.rest] = np.where(np.array(posts) > 0, 0.0, lower[self.rest])
        for some, weight in worth.items():
            cost[some] = -weight
        return self._solved(cost, lower)

    def _lower(self) -> Floats:
        """Return the least value of each variable."""
        lower = np.zeros(len(self.rows.cost))
        for number, least in self.lower.items():
            lower[number] = max(least, 0.0)
        return lower

    def _solved(self, cost: Floats, lower: Floats) -> list[float] | None:
        """Return the values with the least cost; None where none is found."""
        import highspy

        program = self.rows.program()
        program.col_cost_, program.col_lower_ = cost, lower
        program.integrality_ = []
        solver = new_solver()
        solver.passModel(program)
        solver.run()
        if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        values: list[float] = list(solver.getSolution().col_value)
        return values

    def cutting(self, values: Sequence[float]) -> Cutting:
        """Return the cutting with its joints there."""
        places = {}
        for key in self.before.places_m:
            width = self.rows.upper[self.place[key]]
            places[key] = self.low[key] + min(max(values[self.place[key]], 0.0), width)
        return Cutting(loads=self.before.loads, places_m=places)
