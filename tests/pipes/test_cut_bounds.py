"""Bounds that need no solver: by hand, and never above what a cutting does."""

import math
import random
from itertools import product

import pytest

from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import Piece
from staking.pipes.simple_bounds import halves_bound, mix_bound, sticks_bound, weighted_bound
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
