"""An independent check of a cut list, and an independent exact count for small jobs."""

from __future__ import annotations

import math
import random
from itertools import pairwise

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix

from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import BeamToCut, CutList, Piece

FULL_M = 1e-6
"""What the program calls full."""
NEAR_M = 1e-7


def legal_intervals(beam: BeamToCut, clear_m: float) -> list[list[tuple[float, float]]]:
    """By span: the intervals of legal joints, from the sorted ends of all forbidden stretches."""
    spans = []
    for left, right in pairwise(beam.posts_m):
        low, high = left + clear_m, right - clear_m
        edges = sorted(
            (max(r - clear_m, low), min(r + clear_m, high))
            for r in beam.rails_m
            if r + clear_m > low and r - clear_m < high
        )
        at, found = low, []
        for a, b in edges:
            if a >= at:
                found.append((at, a))
            at = max(at, b)
        if high >= at:
            found.append((at, high))
        spans.append([(a, b) for a, b in found if b >= a])
    return spans


def check(cuts: CutList, posts: list[Piece], beams: list[BeamToCut], pipe: Pipe) -> None:
    """Assert that the list can be cut as it stands and that its totals are its own."""
    made = {p.piece: p.length_m for s in cuts.sticks for p in s.pieces}
    assert len(made) == sum(len(s.pieces) for s in cuts.sticks)
    for post in posts:
        assert made.pop(post.name) == post.length_m
    of_beam: dict[str, str] = {}
    threads: dict[str, int] = {}
    make_up = pipe.make_up_m if pipe.joint == "threaded" else 0.0
    for beam in beams:
        joints = cuts.joints_m[beam.name]
        ends = [0.0, *joints, beam.length_m]
        assert list(ends) == sorted(ends)
        total = 0.0
        for n, (a, b) in enumerate(pairwise(ends), start=1):
            name = f"{beam.name} {n}"
            length = made.pop(name)
            total += length
            joined = (n > 1) + (n <= len(joints))
            assert abs(length - (b - a - joined * make_up / 2)) < NEAR_M
            assert length > 0
            assert not beam.posts_m or any(a <= p <= b for p in beam.posts_m)
            of_beam[name] = beam.pipe
            threads[name] = joined if pipe.joint == "threaded" else 0
        assert abs(total + len(joints) * make_up - beam.length_m) < NEAR_M
        for joint in joints:
            for thing in (*beam.posts_m, *beam.rails_m):
                assert abs(joint - thing) >= pipe.joint_clear_m
        for left, right in pairwise(beam.posts_m):
            assert sum(left <= j <= right for j in joints) <= 1
        if beam.posts_m:
            assert all(beam.posts_m[0] <= j <= beam.posts_m[-1] for j in joints)
    assert not made
    left = [s.count for s in pipe.stock]
    post_pipe = {p.name: p.pipe for p in posts}
    for stick in cuts.sticks:
        assert stick.pieces
        need = math.fsum(p.length_m for p in stick.pieces)
        assert need + (len(stick.pieces) - 1) * pipe.kerf_m <= stick.stock_m + FULL_M
        rest = stick.stock_m - need - len(stick.pieces) * pipe.kerf_m
        assert abs(stick.drop_m - max(rest, 0.0)) <= FULL_M
        assert all({**post_pipe, **of_beam}[p.piece] == stick.pipe for p in stick.pieces)
        uses = {"post" if p.piece in post_pipe else "beam" for p in stick.pieces}
        for i, stock in enumerate(pipe.stock):
            if (
                stock.length_m == stick.stock_m
                and stock.price == stick.price
                and stock.pipe in (None, stick.pipe)
                and (stock.use == "both" or uses == {stock.use})
                and left[i] != 0
            ):
                count = left[i]
                left[i] = None if count is None else count - 1
                break
        else:
            raise AssertionError(f"no such stock: {stick}")
        wanted = [threads.get(p.piece, 0) for p in stick.pieces]
        uncut = len(wanted) == 1 and abs(need - stick.stock_m) <= FULL_M
        given = [2] if uncut else [0] * len(wanted)
        if not uncut:
            given[0] += 1
            if len(given) > 1:
                given[-1] += 1
        assert all(w <= g for w, g in zip(wanted, given, strict=True)), (wanted, given)
    assert cuts.count == len(cuts.sticks)
    assert cuts.bound <= cuts.count
    if cuts.cost is not None:
        assert cuts.cost_bound is not None
        assert abs(cuts.cost - sum(s.price or 0.0 for s in cuts.sticks)) < 1e-6
        assert cuts.cost_bound <= cuts.cost + 1e-9
        assert cuts.proven == (cuts.cost == cuts.cost_bound)
    else:
        assert cuts.proven == (cuts.count == cuts.bound)


def exact_least(
    posts: list[Piece], beams: list[BeamToCut], pipe: Pipe, weights: list[float], sticks: int
) -> float | None:
    """Least sum of weights over at most `sticks` sticks, by one assignment program; butted joints.

    Every stretch of beam round a post lies in one stick; the pipe of a span is parted between the sticks
    of its two posts, and where these differ the parting is a joint. None when there is no way.
    """
    cost: list[float] = []
    upper: list[float] = []
    whole: list[int] = []
    rows: list[tuple[dict[int, float], float, float]] = []

    def variable(c: float, up: float, integer: int) -> int:
        cost.append(c)
        upper.append(up)
        whole.append(integer)
        return len(cost) - 1

    everything = range(sticks)
    kind = [[variable(w, 1, 1) for w in weights] for _ in everything]
    load: list[dict[int, float]] = [
        {kind[s][k]: -(st.length_m + pipe.kerf_m) for k, st in enumerate(pipe.stock)} for s in everything
    ]
    for s in everything:
        rows.append((dict.fromkeys(kind[s], 1.0), 0, 1))
    for k, stock in enumerate(pipe.stock):
        if stock.count is not None:
            rows.append(({kind[s][k]: 1.0 for s in everything}, 0, stock.count))

    def only(v: int, s: int, use: str) -> None:
        rows.append(
            (
                {v: 1.0, **{kind[s][k]: -1.0 for k, st in enumerate(pipe.stock) if st.use in (use, "both")}},
                -9,
                0,
            )
        )

    for n, post in enumerate(posts):
        w = [variable(0, 1 if s <= n else 0, 1) for s in everything]
        rows.append((dict.fromkeys(w, 1.0), 1, 1))
        for s in everything:
            load[s][w[s]] = post.length_m + pipe.kerf_m
            only(w[s], s, "post")
    for beam in beams:
        spans = legal_intervals(beam, pipe.joint_clear_m)
        y = [[variable(0, 1, 1) for _ in everything] for _ in beam.posts_m]
        for cell in y:
            rows.append((dict.fromkeys(cell, 1.0), 1, 1))
        for s in everything:
            load[s][y[0][s]] = load[s].get(y[0][s], 0) + beam.posts_m[0] + pipe.kerf_m
            load[s][y[-1][s]] = load[s].get(y[-1][s], 0) + beam.length_m - beam.posts_m[-1]
            for cell in y:
                only(cell[s], s, "beam")
        for i, (a, b) in enumerate(pairwise(beam.posts_m)):
            joint = variable(0, 1, 1)
            f = [variable(0, b - a, 0) for _ in everything]
            g = [variable(0, b - a, 0) for _ in everything]
            rows.append((dict.fromkeys((*f, *g), 1.0), b - a, b - a))
            v = [variable(0, 1, 1) for _ in spans[i]]
            rows.append(({**dict.fromkeys(v, 1.0), joint: -1.0}, 0, 0))
            low = dict.fromkeys(f, 1.0) | {x: -(lo - a) for x, (lo, _) in zip(v, spans[i], strict=True)}
            rows.append((low, 0, np.inf))
            high = dict.fromkeys(f, 1.0) | {x: -(hi - a) for x, (_, hi) in zip(v, spans[i], strict=True)}
            high[joint] = b - a
            rows.append((high, -np.inf, b - a))
            for s in everything:
                rows.append(({f[s]: 1.0, y[i][s]: a - b}, -np.inf, 0))
                rows.append(({g[s]: 1.0, y[i + 1][s]: a - b}, -np.inf, 0))
                rows.append(({joint: 1.0, y[i][s]: -1.0, y[i + 1][s]: 1.0}, 0, np.inf))
                begins = variable(0, 1, 0)
                rows.append(({begins: 1.0, y[i + 1][s]: -1.0, y[i][s]: 1.0}, 0, np.inf))
                load[s][f[s]] = load[s][g[s]] = 1.0
                load[s][begins] = pipe.kerf_m
    rows += [(row, -np.inf, 1e-7) for row in load]
    entries = [(r, c, x) for r, (row, _, _) in enumerate(rows) for c, x in row.items()]
    matrix = csr_matrix(
        ([e[2] for e in entries], ([e[0] for e in entries], [e[1] for e in entries])),
        shape=(len(rows), len(cost)),
    )
    result = milp(
        cost,
        integrality=whole,
        bounds=Bounds(0, upper),
        constraints=LinearConstraint(matrix, [r[1] for r in rows], [r[2] for r in rows]),
        options={"time_limit": 60},
    )
    assert result.status in (0, 2), result.message
    return None if result.status == 2 else float(result.fun)


def random_job(seed: int, *, most_posts: int = 6) -> tuple[list[Piece], list[BeamToCut], Pipe]:
    """A small job: some posts, one or two beams on two to four posts with rails, one stock length."""
    chance = random.Random(seed)
    posts = [
        Piece(name=f"A{n}", length_m=chance.uniform(0.8, 3.6), pipe="p")
        for n in range(chance.randint(0, most_posts))
    ]
    beams = []
    for n in range(chance.randint(0 if posts else 1, 2)):
        bay, over = chance.uniform(1.2, 2.6), chance.uniform(0.2, 0.7)
        count = chance.randint(2, 4)
        at = tuple(over + bay * i for i in range(count))
        length = 2 * over + bay * (count - 1)
        rails = tuple(sorted(chance.uniform(0.05, length - 0.05) for _ in range(chance.randint(0, 8))))
        beams.append(BeamToCut(name=f"beam {'AB'[n]}", length_m=length, posts_m=at, rails_m=rails, pipe="p"))
    kerf = chance.choice([0.0, 0.003175])
    clear = chance.choice([0.1, 0.2])
    stock = chance.choice([4.0, 5.0, 6.4])
    return posts, beams, Pipe(stock=(Stock(length_m=stock),), kerf_m=kerf, joint_clear_m=clear)


def random_stock(seed: int, pipe: Pipe) -> Pipe:
    """The same job with two or three kinds of stick, priced or not, some for one use or few on hand."""
    chance = random.Random(seed)
    priced = chance.random() < 0.7
    first = pipe.stock[0].length_m
    stock = [Stock(length_m=first, price=round(first * chance.uniform(15, 20), 2) if priced else None)]
    for _ in range(chance.randint(1, 2)):
        length = chance.choice([1.5, 2.5, 3.0, 4.5, 6.0, 7.3])
        stock.append(
            Stock(
                length_m=length,
                price=round(length * chance.uniform(12, 22), 2) if priced else None,
                use=chance.choice(["both", "both", "post", "beam"]),  # type: ignore[arg-type]
                count=chance.choice([None, None, 1, 2]),
            )
        )
    return Pipe(stock=tuple(stock), kerf_m=pipe.kerf_m, joint_clear_m=pipe.joint_clear_m)
