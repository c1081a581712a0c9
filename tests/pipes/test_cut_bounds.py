"""Bounds that need no solver: by hand, and never above what a cutting does."""

import math
import random
from itertools import product

import pytest
from cut_checks import random_job, random_stock, random_threads

from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import BeamToCut, Piece
from staking.pipes.goal import Goal
from staking.pipes.patterns import Search
from staking.pipes.pricing import Program
from staking.pipes.simple_bounds import beam_need_m, halves_bound, mix_bound, sticks_bound, weighted_bound
from staking.pipes.task import Task, make_task


def task_of(lengths_m: list[float], stock: list[Stock], kerf_m: float = 0.0) -> Task:
    posts = [Piece(name=f"A{n}", length_m=x, pipe="p") for n, x in enumerate(lengths_m)]
    return make_task("p", posts, (), stock, Pipe(stock=tuple(stock), kerf_m=kerf_m))


def test_posts_longer_than_half_a_stick_share_none() -> None:
    """Three of 0.6 need three sticks of 1, though they are 1.8 long together."""
    assert halves_bound([0.6, 0.6, 0.6], 1.0, 0.0) == 3


def test_pipe_for_any_pieces_fills_the_drops_first() -> None:
    """Three drops of 0.4 take 1.2; what is more needs a stick."""
    assert halves_bound([0.6, 0.6, 0.6], 1.0, 1.2) == 3
    assert halves_bound([0.6, 0.6, 0.6], 1.0, 1.3) == 4


def test_whole_sticks_bound_more_than_parts_of_sticks() -> None:
    """10 m from sticks of 6 m at 60 and 4.5 m at 46: 100 if sticks could be parted, 106 whole."""
    task = task_of([2.0] * 5, [Stock(length_m=6.0, price=60.0), Stock(length_m=4.5, price=46.0)])
    assert weighted_bound(task, (60.0, 46.0)) == pytest.approx(100.0, abs=0.01)
    assert mix_bound(task, (60.0, 46.0)) == 106.0


def test_kerfs_count_in_the_bound() -> None:
    """Four posts of 1.5 m fill a stick of 6 m but for their kerfs."""
    assert sticks_bound(task_of([1.5] * 4, [Stock(length_m=6.0)])) == 1
    assert sticks_bound(task_of([1.5] * 4, [Stock(length_m=6.0)], kerf_m=0.003)) == 2


def test_no_mix_where_too_little_is_on_hand() -> None:
    task = task_of([2.0] * 5, [Stock(length_m=6.0, count=1)])
    assert mix_bound(task, (1.0,)) == math.inf


@pytest.mark.parametrize("seed", range(40))
def test_every_mix_is_looked_at(seed: int) -> None:
    """Against all mixes of up to six sticks a kind, with and without a cap and sticks on hand."""
    chance = random.Random(seed)
    stock = [
        Stock(
            length_m=chance.uniform(2.0, 7.0),
            price=float(chance.randint(20, 120)),
            count=chance.choice([None, 1, 3]),
        )
        for _ in range(chance.randint(1, 3))
    ]
    stock.append(Stock(length_m=chance.uniform(3.0, 7.0), price=float(chance.randint(20, 120))))
    task = task_of([chance.uniform(0.5, 2.0) for _ in range(8)], stock, kerf_m=0.003)
    prices = [k.price or 0.0 for k in task.kinds]
    need = sum(len(p.posts) * (p.length_m + task.kerf_m) for p in task.post_lengths)
    fewest = sticks_bound(task)
    most = [range(min(7, 7 if k.count is None else k.count + 1)) for k in task.kinds]

    def costs(cap: float) -> list[float]:
        return [
            sum(n * p for n, p in zip(mix, prices, strict=True))
            for mix in product(*most)
            if sum(mix) >= fewest
            and sum(n * task.room_m(i) for i, n in enumerate(mix)) >= need
            and sum(n * k.stock_m for n, k in zip(mix, task.kinds, strict=True)) <= cap
        ]

    lengths = [k.stock_m for k in task.kinds]
    assert mix_bound(task, prices) == pytest.approx(min(costs(math.inf)), abs=1e-9)
    cap = need + 2.0
    capped = mix_bound(task, prices, cap_weights=lengths, cap=cap)
    assert capped == pytest.approx(min(costs(cap), default=math.inf), abs=1e-9)


@pytest.mark.parametrize(("make_up_m", "need_m"), [(0.3, 8.72), (0.0, 9.02), (-0.3, 9.32)])
def test_what_a_beam_in_two_pieces_needs(make_up_m: float, need_m: float) -> None:
    """9 m from sticks of 6 m, two kerfs of 10 mm, one joint."""
    beam = BeamToCut(name="beam A", length_m=9.0, posts_m=(0.5, 8.5), rails_m=(), pipe="p")
    pipe = Pipe(stock=(Stock(length_m=6.0),), kerf_m=0.01, joint="threaded", make_up_m=make_up_m)
    task = make_task("p", (), (beam,), pipe.stock, pipe)
    assert beam_need_m(task, 0, 6.0) == pytest.approx(need_m, abs=1e-9)


def test_sticks_for_beams_hold_no_posts() -> None:
    """10 m of posts and 5 m of beam: two sticks for both at 60, and one for beams at 1."""
    stock = [Stock(length_m=6.0, price=60.0), Stock(length_m=6.0, price=1.0, use="beam")]
    posts = [Piece(name=f"A{n}", length_m=2.0, pipe="p") for n in range(5)]
    beam = BeamToCut(name="beam A", length_m=5.0, posts_m=(0.5, 4.5), rails_m=(), pipe="p")
    task = make_task("p", posts, (beam,), stock, Pipe(stock=tuple(stock), kerf_m=0.0))
    assert mix_bound(task, [k.price or 0.0 for k in task.kinds]) == 121.0


@pytest.mark.parametrize("seed", range(600, 612))
def test_a_load_is_worth_what_its_column_is(seed: int) -> None:
    """The search for loads and the linear program value pieces alike, wherever the joints stand."""
    posts, beams, pipe = random_job(seed)
    pipe = random_stock(seed, pipe)
    pipe = random_threads(seed, pipe) if seed % 2 else pipe
    task = make_task("p", posts, beams, pipe.stock, pipe)
    program = Program(task, Goal(weights=tuple(1.0 for _ in task.kinds), step=1.0))
    program.solve(math.inf)
    chance = random.Random(seed)
    program.duals = [d + chance.uniform(-0.3, 0.3) for d in program.duals]
    for row in (r for rows in program.place_row for r in rows):
        program.duals[row] = abs(program.duals[row])
    seen = 0
    for kind in range(len(task.kinds)):
        for found in Search(task, kind, program.values(), floor=0.0, every=True, limit=200).found:
            entries = program._entries(program.column(kind, found))
            worth = sum(program.duals[row] * x for row, x in entries.items())
            assert worth - program.duals[program.count_row[kind]] == pytest.approx(found.value, abs=1e-9)
            seen += 1
    assert seen


def test_the_linear_program_knows_two_neighbours_from_one_stick() -> None:
    """With a make-up of 0.3 m, one stick of 6 m makes a beam of 6.2 m, in two pieces."""
    pipe = Pipe(stock=(Stock(length_m=6.0),), kerf_m=0.0, joint="threaded", make_up_m=0.3)
    beam = BeamToCut(name="beam A", length_m=6.2, posts_m=(0.5, 3.1, 5.7), rails_m=(), pipe="p")
    program = Program(make_task("p", (), (beam,), pipe.stock, pipe), Goal(weights=(1.0,), step=1.0))
    program.solve(math.inf)
    assert program.bound == pytest.approx(1.0, abs=1e-3)
