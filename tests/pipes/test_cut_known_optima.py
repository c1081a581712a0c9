"""Packings in the classes of published ones: triplets, made from their optimum, and uniform lengths.

Triplets: sticks of 1000 parted in three, the first part from 380 to 490, the others from 250 on, so no stick
holds four and every stick must be full. Uniform: lengths from 20 to 100 in sticks of 150. Classes after
E. Falkenauer, Journal of Heuristics 2 (1996) 5-30, from memory; the numbers are made here, seeds stated.
"""

import random

import pytest

from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import Piece
from staking.pipes.cutting import cut


def posts_of(lengths: list[int]) -> list[Piece]:
    return [Piece(name=f"A{n}", length_m=float(x), pipe="p") for n, x in enumerate(lengths)]


@pytest.mark.parametrize(
    ("sticks", "seed"), [(20, 1), (20, 2), (20, 3), (40, 1), (40, 2), (40, 3), (83, 1), (83, 2)]
)
def test_triplets_go_into_full_sticks(sticks: int, seed: int) -> None:
    chance = random.Random(seed)
    lengths = []
    for _ in range(sticks):
        first = chance.randint(380, 490)
        second = chance.randint(250, (1000 - first) // 2)
        lengths += [first, second, 1000 - first - second]
    cuts = cut(posts_of(lengths), [], Pipe(stock=(Stock(length_m=1000.0),), kerf_m=0.0))
    assert (cuts.count, cuts.bound, cuts.proven) == (sticks, sticks, True)


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("number", [120, 250, 500, 1000])
def test_uniform_lengths_are_proven(number: int, seed: int) -> None:
    chance = random.Random(seed)
    lengths = [chance.randint(20, 100) for _ in range(number)]
    cuts = cut(posts_of(lengths), [], Pipe(stock=(Stock(length_m=150.0),), kerf_m=0.0))
    assert cuts.proven
    assert all(sum(p.length_m for p in s.pieces) <= 150 for s in cuts.sticks)
    assert sorted(p.length_m for s in cuts.sticks for p in s.pieces) == sorted(map(float, lengths))
