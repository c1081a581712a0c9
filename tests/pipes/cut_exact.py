"""The least sum of weights for small jobs, by one integer program that shares nothing with the cutting.

Each beam chooses a chain of parts from joint to joint; the joints' places, the lengths of the parts and
the stick of each part are variables of the program.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from cut_checks import legal_intervals
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix

from staking.book.records import Pipe
from staking.pipes.cutlist import BeamToCut, Piece

SLACK_M = 1e-7
SECONDS = 60.0


class OutOfTimeError(Exception):
    """The exact program was not done in its time."""


class _Program:
    def __init__(self) -> None:
        self.cost: list[float] = []
        self.upper: list[float] = []
        self.whole: list[int] = []
        self.rows: list[tuple[dict[int, float], float, float]] = []
        self.joined: list[int] = []
        """Of parts that begin at a joint: whether they are used."""

    def variable(self, cost: float, upper: float, *, whole: bool) -> int:
        self.cost.append(cost)
        self.upper.append(upper)
        self.whole.append(int(whole))
        return len(self.cost) - 1

    def choice(self, upper: float = 1) -> int:
        return self.variable(0, upper, whole=True)

    def row(self, row: dict[int, float], low: float = -np.inf, high: float = np.inf) -> None:
        self.rows.append((row, low, high))

    def solve(self) -> float | None:
        entries = [(r, c, x) for r, (row, _, _) in enumerate(self.rows) for c, x in row.items()]
        matrix = csr_matrix(
            ([e[2] for e in entries], ([e[0] for e in entries], [e[1] for e in entries])),
            shape=(len(self.rows), len(self.cost)),
        )
        done = milp(
            self.cost,
            integrality=self.whole,
            bounds=Bounds(0, self.upper),
            constraints=LinearConstraint(matrix, [r[1] for r in self.rows], [r[2] for r in self.rows]),
            options={"time_limit": SECONDS, "mip_rel_gap": 0.0},
        )
        if done.status == 1:
            raise OutOfTimeError(done.message)
        assert done.status in (0, 2), done.message
        return None if done.status == 2 else float(done.fun)


class _Sticks:
    """The sticks, what they hold and how many threaded ends it needs."""

    def __init__(self, program: _Program, pipe: Pipe, weights: Sequence[float], number: int) -> None:
        self.program, self.pipe = program, pipe
        self.all = range(number)
        self.kind = [[program.variable(w, 1, whole=True) for w in weights] for _ in self.all]
        self.load: list[dict[int, float]] = [
            {v: -(s.length_m + pipe.kerf_m) for v, s in zip(self.kind[n], pipe.stock, strict=True)}
            for n in self.all
        ]
        self.pieces: list[list[int]] = [[] for _ in self.all]
        self.threads: list[dict[int, float]] = [{} for _ in self.all]
        for n in self.all:
            program.row(dict.fromkeys(self.kind[n], 1.0), 0, 1)
        for k, stock in enumerate(pipe.stock):
            if stock.count is not None:
                program.row({self.kind[n][k]: 1.0 for n in self.all}, 0, stock.count)

    def put(self, stick: int, piece: int, use: str) -> None:
        """Only a stick that is used, and for this, holds the piece."""
        fit = {
            v: -1.0 for v, s in zip(self.kind[stick], self.pipe.stock, strict=True) if s.use in (use, "both")
        }
        self.program.row({piece: 1.0, **fit}, high=0)
        self.load[stick][piece] = self.pipe.kerf_m
        self.pieces[stick].append(piece)

    def uncut(self, stick: int, piece: int, length: int) -> None:
        """A piece with two threaded ends is the whole stick."""
        longest = max(s.length_m for s in self.pipe.stock)
        stock = {v: -s.length_m for v, s in zip(self.kind[stick], self.pipe.stock, strict=True)}
        self.program.row({length: 1.0, piece: -longest, **stock}, low=-longest - SLACK_M)

    def close(self, uncut: list[tuple[int, int]], most: int) -> None:
        """Write what fits."""
        for stick, piece in uncut:
            alone = dict.fromkeys(self.pieces[stick], 1.0) | {piece: float(most)}
            self.program.row(alone, high=most)
        for load, threads in zip(self.load, self.threads, strict=True):
            self.program.row(load, high=SLACK_M)
            if threads:
                self.program.row(threads, high=2)


def exact_least(
    posts: list[Piece], beams: list[BeamToCut], pipe: Pipe, weights: Sequence[float], most_sticks: int
) -> float | None:
    """Return the least sum of weights over at most `most_sticks` sticks; None when there is no way."""
    return _whole(posts, beams, pipe, weights, most_sticks).solve()


def exact_joints(
    posts: list[Piece],
    beams: list[BeamToCut],
    pipe: Pipe,
    weights: Sequence[float],
    most: float,
    most_sticks: int,
) -> float | None:
    """Return the fewest joints where the sticks' sum of weights is at most `most`."""
    program = _whole(posts, beams, pipe, weights, most_sticks)
    program.row({i: c for i, c in enumerate(program.cost) if c}, high=most)
    program.cost = [0.0] * len(program.cost)
    for used in program.joined:
        program.cost[used] = 1.0
    return program.solve()


def _whole(
    posts: list[Piece], beams: list[BeamToCut], pipe: Pipe, weights: Sequence[float], most_sticks: int
) -> _Program:
    program = _Program()
    sticks = _Sticks(program, pipe, weights, most_sticks)
    uncut: list[tuple[int, int]] = []
    for n, post in enumerate(posts):
        # The first post lies in the first stick, and so on: sticks are alike.
        lies = [program.choice(1 if s <= n else 0) for s in sticks.all]
        program.row(dict.fromkeys(lies, 1.0), 1, 1)
        for s in sticks.all:
            sticks.put(s, lies[s], "post")
            sticks.load[s][lies[s]] += post.length_m
    for beam in beams:
        _beam(program, sticks, beam, uncut)
    sticks.close(uncut, len(posts) + sum(len(b.posts_m) for b in beams))
    return program


def _beam(program: _Program, sticks: _Sticks, beam: BeamToCut, uncut: list[tuple[int, int]]) -> None:
    threaded = sticks.pipe.joint == "threaded"
    make_up = sticks.pipe.make_up_m if threaded else 0.0
    far = beam.length_m + 2 * abs(make_up)
    place: list[int] = []
    arrive: list[dict[int, float]] = []
    leave: list[dict[int, float]] = []
    for spans in legal_intervals(beam, sticks.pipe):
        in_it = [program.choice() for _ in spans]
        at = program.variable(0, beam.length_m, whole=False)
        program.row({at: 1.0} | {v: -low for v, (low, _) in zip(in_it, spans, strict=True)}, low=0)
        program.row({at: 1.0} | {v: -high for v, (_, high) in zip(in_it, spans, strict=True)}, high=0)
        program.row(dict.fromkeys(in_it, 1.0), 0, 1)
        place.append(at)
        arrive.append(dict.fromkeys(in_it, -1.0))
        leave.append(dict.fromkeys(in_it, -1.0))
    end = len(place)
    first: dict[int, float] = {}
    last: dict[int, float] = {}
    for left in range(-1, end):
        for right in range(left + 1, end + 1):
            joints = (left >= 0) + (right < end)
            # Span n lies between posts n and n + 1, so a part holds the posts after its left span.
            posts = min(right, len(beam.posts_m) - 1) - left
            if joints and posts < sticks.pipe.posts_per_piece:
                continue
            used = program.choice()
            if left >= 0:
                program.joined.append(used)
            (first if left < 0 else leave[left])[used] = 1.0
            (last if right == end else arrive[right])[used] = 1.0
            lies = [program.choice() for _ in sticks.all]
            length = [program.variable(0, far, whole=False) for _ in sticks.all]
            program.row(dict.fromkeys(lies, 1.0) | {used: -1.0}, 0, 0)
            # Where the part is used, its length is that from joint to joint.
            sum_m = dict.fromkeys(length, 1.0)
            if right < end:
                sum_m[place[right]] = -1.0
            if left >= 0:
                sum_m[place[left]] = 1.0
            fixed = (0.0 if right < end else beam.length_m) - joints * make_up / 2
            program.row(sum_m | {used: -2 * far}, low=fixed - 2 * far)
            program.row(sum_m | {used: 2 * far}, high=fixed + 2 * far)
            for s in sticks.all:
                sticks.put(s, lies[s], "beam")
                sticks.load[s][length[s]] = 1.0
                program.row({length[s]: 1.0, lies[s]: -far}, high=0)
                if threaded and joints + beam.threads == 1:
                    sticks.threads[s][lies[s]] = 1.0
                if threaded and joints + beam.threads == 2:
                    sticks.uncut(s, lies[s], length[s])
                    uncut.append((s, lies[s]))
    for row in (*arrive, *leave):
        program.row(row, 0, 0)
    program.row(first, 1, 1)
    program.row(last, 1, 1)
