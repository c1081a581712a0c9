"""Which pieces lie together, once sticks and joints are settled.

Longest drops first, then fewest cuts, then set-ups repeated. An integer program over all loads of the
sticks used, its goals one after the other, each kept while the next is sought. Only where the loads are
few enough to list; else the cutting stays as it is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from staking.pipes.joints import SNAP_M
from staking.pipes.rows import Rows
from staking.pipes.solver import has_solution, new_solver
from staking.pipes.task import Cutting, Load, Task, part_length_m

LISTED = 1500
"""Loads in the program at most."""
LOOKS = 60_000
"""Branches of the listing at most."""
NODES = 100
"""Nodes of one integer program at most."""
SAME_M = 1e-5
"""Drops nearer than this are equal."""
NO_CUT_M = 5e-5
"""Less than this past the last piece is the stick's own end: no saw takes so little."""
USEFUL_M = 0.3
"""Where the job does not say which drops are worth keeping: from 300 mm on, common practice, no source."""
MOST_GOALS = 12
"""Drops that are made longest one after the other, at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Piece:
    """Pieces of one length that may change places; a part of a beam is one of its kind."""

    length_m: float
    many: int
    post: int = -1
    part: int = -1
    threads: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Full:
    """One way to load a kind of stick."""

    kind: int
    pieces: tuple[int, ...]
    drop_m: float
    cuts: int


def well_laid(task: Task, cutting: Cutting, useful_m: float) -> Cutting:
    """Return a cutting of the same pieces from the same sticks that is laid better, or the one given."""
    kept = [n for n, load in enumerate(cutting.loads) if task.is_uncut(load)]
    moved = [load for n, load in enumerate(cutting.loads) if n not in kept]
    if len(moved) < 2:
        return cutting
    pieces = _pieces(task, cutting, moved)
    counts = Counter(load.kind for load in moved)
    listed = _listed(task, pieces, counts)
    if listed is None:
        return cutting
    start = Counter(_index(load, pieces) for load in moved)
    now = [start[full.kind, full.pieces] for full in listed]
    if sum(now) != len(moved):
        return cutting
    model = _Model(pieces, listed, counts, now)
    chosen = model.best(useful_m)
    laid = [_load(listed[n], pieces) for n, times in enumerate(chosen) for _ in range(times)]
    return Cutting(loads=(*(cutting.loads[n] for n in kept), *laid), places_m=cutting.places_m)


def _pieces(task: Task, cutting: Cutting, loads: Sequence[Load]) -> list[_Piece]:
    """Return the pieces of these loads, the longest first."""
    posts = Counter(i for load in loads for i in load.posts)
    found = [_Piece(length_m=task.post_lengths[i].length_m, many=n, post=i) for i, n in posts.items()]
    for part in (p for load in loads for p in load.parts):
        length = part_length_m(task, task.parts[part], cutting.places_m)
        found.append(_Piece(length_m=length, many=1, part=part, threads=task.threads(task.parts[part])))
    return sorted(found, key=lambda p: (-p.length_m, p.post, p.part))


def _listed(task: Task, pieces: Sequence[_Piece], counts: Counter[int]) -> list[_Full] | None:
    """List every load of the kinds of stick used, None where there are too many."""
    listed: list[_Full] = []
    looks = 0

    def extend(kind: int, first: int, room_m: float, taken: tuple[int, ...], threads: int) -> bool:
        nonlocal looks
        looks += 1
        if looks > LOOKS or len(listed) > LISTED:
            return False
        if taken:
            rest = room_m - task.kerf_m
            listed.append(
                _Full(
                    kind=kind,
                    pieces=taken,
                    drop_m=rest if rest > SNAP_M else 0.0,
                    # The last cut is the stick's own end where pieces and kerfs between them fill it.
                    cuts=len(taken) - (room_m <= NO_CUT_M),
                )
            )
        for n in range(first, len(pieces)):
            piece = pieces[n]
            stick = task.kinds[kind]
            fits = stick.for_posts if piece.post >= 0 else stick.for_beams
            need = piece.length_m + task.kerf_m
            if fits and need <= room_m + SNAP_M and threads + piece.threads <= stick.threads:
                again = taken.count(n) + 1 < piece.many
                if not extend(
                    kind, n if again else n + 1, room_m - need, (*taken, n), threads + piece.threads
                ):
                    return False
        return True

    for kind in sorted(counts):
        if not extend(kind, 0, task.room_m(kind), (), 0):
            return None
    return listed


def _index(load: Load, pieces: Sequence[_Piece]) -> tuple[int, tuple[int, ...]]:
    """Return a load as its kind and the numbers of its pieces."""
    by_post = {p.post: n for n, p in enumerate(pieces) if p.post >= 0}
    by_part = {p.part: n for n, p in enumerate(pieces) if p.part >= 0}
    return load.kind, tuple(sorted([*(by_post[i] for i in load.posts), *(by_part[p] for p in load.parts)]))


def _load(full: _Full, pieces: Sequence[_Piece]) -> Load:
    """Return a load from the numbers of its pieces."""
    taken = [pieces[n] for n in full.pieces]
    return Load(
        kind=full.kind,
        posts=tuple(sorted(p.post for p in taken if p.post >= 0)),
        parts=tuple(sorted(p.part for p in taken if p.part >= 0)),
    )


class _Model:
    """The integer program, goal after goal."""

    def __init__(
        self, pieces: Sequence[_Piece], listed: Sequence[_Full], counts: Counter[int], start: list[int]
    ) -> None:
        self.listed, self.chosen, self.sticks = listed, start, sum(counts.values())
        rows = self.rows = Rows()
        once = [rows.limit(p.many, p.many) for p in pieces]
        of_kind = {kind: rows.limit(n, n) for kind, n in counts.items()}
        for full in listed:
            x = rows.variable(0.0, counts[full.kind], whole=True)
            rows.put(of_kind[full.kind], x, 1.0)
            for n in full.pieces:
                rows.put(once[n], x, 1.0)
        self.lasting = len(rows.low)

    def best(self, useful_m: float) -> list[int]:
        """Return how often each load is taken."""
        drops: list[float] = []
        while len(drops) < min(self.sticks, MOST_GOALS):
            found = self._drops(drops)
            if found < useful_m:
                break
            drops.append(found)
        if drops:
            self._keep(drops)
        cuts = [float(full.cuts) for full in self.listed]
        fewest = self._solve(cuts)
        row = self.rows.limit(-float("inf"), fewest + 0.5)
        for x, n in enumerate(cuts):
            self.rows.put(row, x, n)
        once = []
        for x in range(len(self.listed)):
            used = self.rows.variable(0.0, 1.0, whole=True)
            only = self.rows.limit(-float("inf"), 0.0)
            self.rows.put(only, x, 1.0)
            self.rows.put(only, used, -self.rows.upper[x])
            once.append(used)
        self._solve([0.0] * len(self.listed), dict.fromkeys(once, 1.0))
        return self.chosen

    def _longest(self, number: int) -> list[float]:
        """Return the longest drops of what is chosen, the longest first."""
        drops = [full.drop_m for full, n in zip(self.listed, self.chosen, strict=True) for _ in range(n)]
        return sorted(drops, reverse=True)[:number]

    def _keep(self, drops: Sequence[float]) -> None:
        """Ask for at least so many drops of at least these lengths."""
        for many, drop in enumerate(drops, start=1):
            row = self.rows.limit(many, float("inf"))
            for x, full in enumerate(self.listed):
                if full.drop_m >= drop - SAME_M:
                    self.rows.put(row, x, 1.0)

    def _drops(self, before: Sequence[float]) -> float:
        """Return the longest drop that can follow those before it, in order of length."""
        rows, many = self.rows, len(before) + 1
        mark = (len(rows.cost), len(rows.low), len(rows.value))
        self._keep(before)
        total = rows.limit(many, many)
        objective = {}
        for x, full in enumerate(self.listed):
            y = rows.variable(0.0, rows.upper[x])
            only = rows.limit(-float("inf"), 0.0)
            rows.put(only, y, 1.0)
            rows.put(only, x, -1.0)
            rows.put(total, y, 1.0)
            objective[y] = -full.drop_m
        self._solve([0.0] * len(self.listed), objective)
        rows.back_to(*mark)
        return self._longest(many)[-1]

    def _solve(self, cost: Sequence[float], more: dict[int, float] | None = None) -> float:
        """Take up the best choice found by this cost; return its cost."""
        import numpy as np

        rows = self.rows
        rows.cost = [*cost, *([0.0] * (len(rows.cost) - len(cost)))]
        for i, c in (more or {}).items():
            rows.cost[i] = c
        solver = new_solver()
        solver.setOptionValue("mip_max_nodes", NODES)
        solver.setOptionValue("mip_rel_gap", 0.0)
        solver.passModel(rows.program())
        solver.setSolution(
            len(self.chosen),
            np.arange(len(self.chosen), dtype=np.int32),
            np.array(self.chosen, dtype=np.float64),
        )
        solver.run()
        if has_solution(solver):
            values = solver.getSolution().col_value
            self.chosen = [round(values[x]) for x in range(len(self.listed))]
        return sum(c * n for c, n in zip(cost, self.chosen, strict=True))
