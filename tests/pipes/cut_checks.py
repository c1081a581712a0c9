"""An independent check of a cut list, and small random jobs."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from itertools import pairwise

from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import BeamToCut, CutList, Piece

FULL_M = 1e-6
"""What the program calls full."""
NEAR_M = 1e-7


def forbidden_shares(pipe: Pipe) -> tuple[float, float] | None:
    """What the key no_joint says: one share lies round the bay's middle."""
    if pipe.no_joint is None:
        return None
    if len(pipe.no_joint) == 2:
        return pipe.no_joint[0], pipe.no_joint[1]
    return 0.5 - pipe.no_joint[0] / 2, 0.5 + pipe.no_joint[0] / 2


def legal_intervals(beam: BeamToCut, pipe: Pipe) -> list[list[tuple[float, float]]]:
    """By span: the intervals of legal joints, from the sorted ends of all forbidden stretches."""
    spans = []
    clear_m, shares = pipe.joint_clear_m, forbidden_shares(pipe)
    for left, right in pairwise(beam.posts_m):
        low, high = left + clear_m, right - clear_m
        stretches = [(r - clear_m, r + clear_m) for r in beam.rails_m]
        if shares is not None:
            stretches.append((left + shares[0] * (right - left), left + shares[1] * (right - left)))
        edges = sorted((a, b) for a, b in stretches if b > low and a < high and b > a)
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
            joined = (n > 1) + (n <= len(joints)) + beam.threads
            assert abs(length - (b - a - (joined - beam.threads) * make_up / 2)) < NEAR_M
            assert length > 0
            rests_on = sum(a <= p <= b for p in beam.posts_m)
            assert not joints or rests_on >= pipe.posts_per_piece
            assert not beam.posts_m or rests_on
            of_beam[name] = beam.pipe
            threads[name] = joined if pipe.joint == "threaded" else 0
        assert abs(total + len(joints) * make_up - beam.length_m) < NEAR_M
        for joint in joints:
            for thing in (*beam.posts_m, *beam.rails_m):
                assert abs(joint - thing) >= pipe.joint_clear_m
        shares = forbidden_shares(pipe)
        for left, right in pairwise(beam.posts_m):
            inside = [j for j in joints if left <= j <= right]
            assert len(inside) <= 1
            for joint in inside:
                share = (joint - left) / (right - left)
                assert shares is None or not shares[0] < share < shares[1]
        if beam.posts_m:
            assert all(beam.posts_m[0] <= j <= beam.posts_m[-1] for j in joints)
    assert not made
    post_pipe = {p.name: p.pipe for p in posts}
    from_stock: list[set[int]] = []
    for stick in cuts.sticks:
        assert stick.pieces
        need = math.fsum(p.length_m for p in stick.pieces)
        assert need + (len(stick.pieces) - 1) * pipe.kerf_m <= stick.stock_m + FULL_M
        rest = stick.stock_m - need - len(stick.pieces) * pipe.kerf_m
        assert abs(stick.drop_m - max(rest, 0.0)) <= FULL_M
        assert all({**post_pipe, **of_beam}[p.piece] == stick.pipe for p in stick.pieces)
        uses = {"post" if p.piece in post_pipe else "beam" for p in stick.pieces}
        from_stock.append(
            {
                i
                for i, stock in enumerate(pipe.stock)
                if stock.length_m == stick.stock_m
                and stock.price == stick.price
                and stock.pipe in (None, stick.pipe)
                and (stock.use == "both" or uses == {stock.use})
            }
        )
        wanted = [threads.get(p.piece, 0) for p in stick.pieces]
        uncut = len(wanted) == 1 and abs(need - stick.stock_m) <= FULL_M
        given = [2] if uncut else [0] * len(wanted)
        if not uncut:
            given[0] += 1
            if len(given) > 1:
                given[-1] += 1
        assert all(w <= g for w, g in zip(wanted, given, strict=True)), (wanted, given)
    # A line that names no pipe holds its sticks of each size of pipe.
    sizes = len({stick.pipe for stick in cuts.sticks})
    on_hand = [
        len(cuts.sticks) if s.count is None else s.count * (sizes if s.pipe is None else 1)
        for s in pipe.stock
    ]
    for some in range(2 ** len(on_hand)):
        # Hall's theorem: sticks that only these stock lines can give are no more than they hold.
        these = {i for i in range(len(on_hand)) if some >> i & 1}
        assert sum(lines <= these for lines in from_stock) <= sum(on_hand[i] for i in these)
    assert cuts.count == len(cuts.sticks)
    assert cuts.bound <= cuts.count
    if cuts.cost is not None:
        assert cuts.cost_bound is not None
        assert abs(cuts.cost - sum(s.price or 0.0 for s in cuts.sticks)) < 1e-6
        assert cuts.cost_bound <= cuts.cost + 1e-9
        assert cuts.proven == (cuts.cost == cuts.cost_bound)
    else:
        assert cuts.proven == (cuts.count == cuts.bound)


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


def random_rules(seed: int, pipe: Pipe) -> Pipe:
    """The same job with a part of each bay forbidden, two posts to a piece, or both."""
    chance = random.Random(seed)
    low = round(chance.uniform(0.0, 0.5), 3)
    return replace(
        pipe,
        no_joint=chance.choice([None, (round(chance.uniform(0.1, 0.7), 3),), (low, round(low + 0.4, 3))]),
        posts_per_piece=chance.choice([1, 2]),
    )


def random_threads(seed: int, pipe: Pipe) -> Pipe:
    """The same job with threaded joints whose pipe gets longer, shorter or neither."""
    make_up = random.Random(seed).choice([0.0, 0.02, -0.03, -0.05])
    return replace(pipe, joint="threaded", make_up_m=make_up)


def middling_job(seed: int, pieces: int, *, threaded: bool) -> tuple[list[Piece], list[BeamToCut], Pipe]:
    """Return posts and beams of lengths of their own, from five to twelve beams to a hundred pieces."""
    chance = random.Random(seed * 1000 + pieces)
    count = max(1, round(pieces * chance.uniform(0.05, 0.12)))
    low = chance.uniform(1.2, 2.0)
    high = low + chance.uniform(0.5, 2.2)
    bay, bays, rail = chance.uniform(2.0, 3.2), chance.randint(3, 6), chance.uniform(1.0, 1.9)
    beams = []
    for n in range(count):
        this, posts = bay * chance.uniform(0.9, 1.1), max(2, bays + chance.choice([-1, 0, 0, 1]))
        length = 1.0 + this * (posts - 1)
        first = chance.uniform(0.1, 0.4)
        beams.append(
            BeamToCut(
                name=f"beam {n}",
                length_m=length,
                posts_m=tuple(0.5 + this * i for i in range(posts)),
                rails_m=tuple(first + rail * i for i in range(math.ceil((length - first) / rail))),
                pipe="p",
            )
        )
    single = [
        Piece(name=f"A{i}", length_m=round(chance.uniform(low, high), 4), pipe="p")
        for i in range(max(1, pieces - round(2.3 * count)))
    ]
    pipe = Pipe(
        stock=(Stock(length_m=chance.choice([6.0, 6.4, 6.401])),),
        kerf_m=chance.choice([0.002, 0.003175]),
        joint_clear_m=chance.choice([0.1, 0.15, 0.3]),
        no_joint=chance.choice([None, (0.4,)]),
        joint="threaded" if threaded else "sleeve",
        make_up_m=chance.choice([0.0, 0.02, -0.03]) if threaded else 0.0,
    )
    return single, beams, pipe
