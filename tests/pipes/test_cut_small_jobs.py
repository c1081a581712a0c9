"""Small random jobs: every cutting can be cut as it stands, and an exact solver finds nothing better."""

import math
import random
from dataclasses import replace

import pytest
from cut_checks import check, random_job, random_rules, random_stock, random_threads
from cut_exact import exact_joints, exact_least

from staking.book.records import Pipe
from staking.pipes.cutlist import BeamToCut, CannotCut, CutList, Piece
from staking.pipes.cutting import cut

MONEY = 1e-4
"""The exact solver's own tolerance on whole numbers, as a sum of money."""

Job = tuple[list[Piece], list[BeamToCut], Pipe]


def job_of(seed: int) -> Job:
    """Sleeve and threaded, one kind of stick and several, by turns."""
    posts, beams, pipe = random_job(seed, most_posts=4)
    if seed % 4 > 1:
        pipe = random_stock(seed, pipe)
    if seed % 2:
        pipe = random_threads(seed, pipe)
    return posts, beams, pipe


@pytest.mark.parametrize("seed", range(311, 335))
def test_no_other_cutting_is_better(seed: int) -> None:
    posts, beams, pipe = job_of(seed)
    cuts = cut(posts, beams, pipe)
    check(cuts, posts, beams, pipe)
    compare(cuts, posts, beams, pipe)


def compare(cuts: CutList, posts: list[Piece], beams: list[BeamToCut], pipe: Pipe) -> None:
    """Assert that the exact solver finds nothing better, nor anything below the bounds."""
    ones = [1.0] * len(pipe.stock)
    fewest = exact_least(posts, beams, pipe, ones, cuts.count)
    assert fewest is not None
    assert cuts.bound <= fewest + MONEY
    if cuts.cost is None:
        assert cuts.count == round(fewest)
        return
    assert cuts.cost_bound is not None
    prices = [s.price or 0.0 for s in pipe.stock]
    least = exact_least(posts, beams, pipe, prices, cuts.count + 1)
    assert least is not None
    assert cuts.cost_bound <= least + MONEY
    assert cuts.cost <= least + MONEY


@pytest.mark.parametrize("seed", range(1010, 1034))
def test_no_other_cutting_is_better_where_more_is_forbidden(seed: int) -> None:
    """A part of each bay without joints, two posts to a piece; refused just when there is no way."""
    posts, beams, pipe = job_of(seed)
    pipe = random_rules(seed, pipe)
    try:
        cuts = cut(posts, beams, pipe)
    except CannotCut:
        most = sum(10 if s.count is None else s.count for s in pipe.stock)
        assert exact_least(posts, beams, pipe, [1.0] * len(pipe.stock), min(most, 10)) is None
        return
    check(cuts, posts, beams, pipe)
    compare(cuts, posts, beams, pipe)


@pytest.mark.parametrize("seed", range(400, 416))
def test_stock_on_hand_does_or_does_not(seed: int) -> None:
    """With few sticks of every kind on hand, it is refused just when there is no way."""
    posts, beams, pipe = job_of(seed)
    chance = random.Random(seed)
    pipe = replace(pipe, stock=tuple(replace(s, count=chance.randint(0, 4)) for s in pipe.stock))
    ones = [1.0] * len(pipe.stock)
    fewest = exact_least(posts, beams, pipe, ones, sum(s.count or 0 for s in pipe.stock))
    try:
        cuts = cut(posts, beams, pipe)
    except CannotCut:
        assert fewest is None
        return
    check(cuts, posts, beams, pipe)
    assert fewest is not None
    assert cuts.bound <= fewest + MONEY


@pytest.mark.parametrize("seed", range(500, 540))
def test_larger_jobs_can_be_cut_as_they_stand(seed: int) -> None:
    posts, beams, pipe = random_job(seed, most_posts=14)
    pipe = random_stock(seed, pipe) if seed % 3 else pipe
    cuts = cut(posts, beams, pipe)
    check(cuts, posts, beams, pipe)
    room = max(s.length_m for s in pipe.stock) + pipe.kerf_m
    need = sum(p.length_m + pipe.kerf_m for p in posts) + sum(b.length_m for b in beams)
    assert cuts.bound >= math.ceil(need / (room + 1e-6) - 1e-9)


def test_the_order_of_the_pieces_does_not_matter() -> None:
    posts, beams, pipe = job_of(302)
    turned = cut(posts[::-1], beams[::-1], pipe)
    assert turned.sticks == cut(posts, beams, pipe).sticks


@pytest.mark.parametrize("seed", [*range(64), 82, 87, 92])
def test_no_cutting_as_good_has_fewer_joints(seed: int) -> None:
    """Among cuttings of equal cost, or of as many sticks as long together. 82, 87 and 92 save with three."""
    posts, beams, pipe = job_of(seed)
    cuts = cut(posts, beams, pipe)
    joints = sum(len(at) for at in cuts.joints_m.values())
    if joints == 0:
        return
    if cuts.cost is None:
        # A metre of pipe weighs so little that it only decides between equally many sticks.
        weights = [1.0 + s.length_m / 1000 for s in pipe.stock]
        most = sum(1.0 + s.stock_m / 1000 for s in cuts.sticks)
    else:
        weights, most = [s.price or 0.0 for s in pipe.stock], cuts.cost
    fewest = exact_joints(posts, beams, pipe, weights, most + 0.1 * MONEY, cuts.count)
    assert fewest is not None
    assert joints == round(fewest)
