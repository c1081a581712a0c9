"""The bound mix by mix: never above what an exact solver finds, and one that settles a small array."""

import pytest
from cut_checks import check, random_job, random_stock, random_threads
from cut_exact import exact_least

from staking.book.records import Pipe, Stock
from staking.pipes.cell_program import bound_by_cells
from staking.pipes.cutlist import BeamToCut, Piece
from staking.pipes.cutting import cut
from staking.pipes.goal import Goal
from staking.pipes.mix_proof import KNOTS, bound_by_mixes, lighter_mixes
from staking.pipes.task import make_task

MONEY = 1e-4
"""The exact solver's own tolerance on whole numbers, as a sum of money."""
SIXTEENTH_M = 0.0254 / 16


@pytest.mark.parametrize("seed", [314, 315, 318, 319, 327])
def test_the_bound_is_never_above_what_an_exact_solver_finds(seed: int) -> None:
    """Told of a cutting far worse than the best, as it is in the middle of a search."""
    posts, beams, pipe = random_job(seed, most_posts=4)
    pipe = random_stock(seed, pipe)
    pipe = random_threads(seed, pipe) if seed % 2 else pipe
    cuts = cut(posts, beams, pipe)
    task = make_task("p", posts, beams, pipe.stock, pipe)
    goal = Goal(weights=tuple(1.0 if k.price is None else k.price for k in task.kinds), step=0.01)
    weights = [1.0 if s.price is None else s.price for s in pipe.stock]
    least = exact_least(posts, beams, pipe, weights, cuts.count + 1)
    assert least is not None
    known = bound_by_cells(task, goal, 1.3 * least, 0.0, knots=KNOTS) if beams else 0.0
    bound = bound_by_mixes(task, goal, 1.3 * least, known)
    assert 0.3 * least * bool(beams) <= bound <= least + MONEY


def test_an_array_of_ten_posts_and_two_threaded_beams_from_two_lengths() -> None:
    """Found 2026-11-28: 820 where 794 was all that was proven, after 38 s; 21 ft at 96 and 24 ft at 122."""
    lengths = [1515, 1465, 1498, 1410, 1496, 1823, 1846, 1845, 1839, 1917]
    posts = [Piece(name=f"A{n}", length_m=x * SIXTEENTH_M, pipe="p") for n, x in enumerate(lengths)]
    at = tuple(x * SIXTEENTH_M for x in (501, 2218, 3935, 5652, 7369))
    rails = [96, 632, 1176, 1712, 2257, 2793, 3337, 3873, 4417, 4953, 5498, 6034, 6578, 7114]
    beams = [
        BeamToCut(
            name=f"beam {n}",
            length_m=7870 * SIXTEENTH_M,
            posts_m=at,
            rails_m=tuple(x * SIXTEENTH_M for x in rails),
            pipe="p",
        )
        for n in (1, 2)
    ]
    pipe = Pipe(
        stock=(Stock(length_m=6.4008, price=96.0), Stock(length_m=7.3152, price=122.0)),
        kerf_m=0.003175,
        joint_clear_m=0.0762,
        joint="threaded",
        make_up_m=0.0127,
    )
    cuts = cut(posts, beams, pipe)
    check(cuts, posts, beams, pipe)
    assert cuts.proven
    assert cuts.cost == pytest.approx(820.0)


def test_lighter_mixes_are_all_that_hold_the_pieces_or_none() -> None:
    """Counted by hand: five posts of 3 m; 6 m at 10, 9 m at 16, of these one on hand; a kerf of 0."""
    posts = [Piece(name=f"A{n}", length_m=3.0, pipe="p") for n in range(5)]
    stock = (Stock(length_m=6.0, price=10.0), Stock(length_m=9.0, price=16.0, count=1))
    task = make_task("p", posts, (), stock, Pipe(stock=stock, kerf_m=0.0))
    goal = Goal(weights=tuple(k.price or 0.0 for k in task.kinds), step=1.0)
    listed = [
        (weight, {k.stock_m: k.count for k in task.of_mix(counts).kinds})
        for weight, counts in lighter_mixes(task, goal, 0.0, 45.0)
    ]
    by_hand = [(26.0, 1, 1), (30.0, 3, 0), (36.0, 2, 1), (40.0, 4, 0)]
    assert listed == [(weight, {6.0: n, 9.0: m}) for weight, n, m in by_hand]
    # Of so dear a best cutting there would be more mixes than are listed: none rather than some.
    assert lighter_mixes(task, goal, 0.0, 1e6) == []
