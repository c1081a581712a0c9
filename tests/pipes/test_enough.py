"""Whether sticks are enough: against every way tried, against the proven cutter, against the normal law."""

import itertools
import math
import random
from dataclasses import replace

import numpy as np
import pytest
from cut_checks import random_job

from staking.book.records import Pipe, Stock
from staking.pipes.certainty import certainty_of
from staking.pipes.cutlist import BeamToCut, CannotCut, Piece
from staking.pipes.cutting import cut
from staking.pipes.enough import Sticks, enough_for, layout_of, stock_used
from staking.pipes.sharing import shared_out

KERF = 0.003
ROUND = 2e-6


def posts_of(number):
    return tuple(Piece(name=f"A{k + 1}", length_m=1.0, pipe="p") for k in range(number))


def sticks_of(number, stock, **pipe):
    return Sticks(posts=posts_of(number), beams=(), stock=stock, pipe=Pipe(stock=stock, kerf_m=KERF, **pipe))


def fits_by_trying(lengths, rooms):
    """Every assignment of posts to sticks."""
    for way in itertools.product(range(len(rooms)), repeat=len(lengths)):
        loads = [0.0] * len(rooms)
        for length, stick in zip(lengths, way, strict=True):
            loads[stick] += length + KERF
        if all(load <= room + ROUND for load, room in zip(loads, rooms, strict=True)):
            return True
    return False


@pytest.mark.parametrize("seed", range(6))
def test_posts_alone_are_settled_as_by_trying_every_way(seed):
    chance = np.random.default_rng(seed)
    stock = (Stock(length_m=6.0, count=2), Stock(length_m=4.5, count=1))
    rooms = [6.0 + KERF, 6.0 + KERF, 4.5 + KERF]
    now = chance.uniform(1.2, 3.4, 6)
    now *= 15.4 / now.sum()
    lengths = now + chance.standard_normal((60, 6)) * 0.15
    found = enough_for(sticks_of(6, stock), lengths, np.zeros(60, dtype=bool))
    truth = np.array([fits_by_trying(row, rooms) for row in lengths])
    assert 0 < truth.sum() < 60
    assert not (found.enough & ~truth).any()
    assert not (found.short & truth).any()
    # So few posts are all settled.
    assert (found.enough == truth).all()
    assert (found.short == ~truth).mean() > 0.8


@pytest.mark.parametrize("seed", range(8))
def test_with_beams_nothing_is_promised_that_the_cutter_cannot_cut(seed):
    posts, beams, pipe = random_job(seed + 60, most_posts=4)
    posts = posts or [Piece(name="A1", length_m=1.9, pipe=beams[0].pipe)]
    plain = replace(pipe.stock[0], use="both", count=None, price=None)
    pipe = replace(pipe, stock=(plain,))
    now = cut(posts, beams, pipe)
    chance = np.random.default_rng(seed)
    draws = np.array([p.length_m for p in posts]) + chance.standard_normal((8, len(posts))) * 0.1
    held = replace(plain, count=now.count)
    sticks = Sticks(
        posts=tuple(posts),
        beams=tuple(beams),
        stock=(held,),
        pipe=pipe,
        list_of=now,
        list_beams=tuple(beams),
    )
    found = enough_for(sticks, draws, np.zeros(8, dtype=bool))
    for row, enough, short in zip(draws, found.enough, found.short, strict=True):
        drawn = [replace(post, length_m=float(length)) for post, length in zip(posts, row, strict=True)]
        try:
            best = cut(drawn, beams, pipe)
        except CannotCut:
            assert not enough
            continue
        if enough:
            assert best.bound <= now.count
        if short and best.proven:
            assert best.count > now.count


def test_a_list_that_gathers_its_drop_in_one_stick_has_its_joints_slid():
    """2026-11-28: one stick had 591 mm to drop and its neighbour none, so every second draw was "short".

    Two posts of 7.0 m together and 5.2 m of end pieces have 0.6 m to share in two sticks of 6.4 m; with the
    longest posts drawn the proven cutter does with as many sticks.
    """
    at = (0.6, 3.2, 5.8, 8.4, 11.0)
    beam = BeamToCut(name="beam A", length_m=11.6, posts_m=at, rails_m=(1.9, 4.5, 7.1, 9.7), pipe="p")
    posts = tuple(replace(post, length_m=x) for post, x in zip(posts_of(2), (3.4, 3.6), strict=True))
    pipe = Pipe(stock=(Stock(length_m=6.4),), kerf_m=KERF, joint_clear_m=0.1, joint="threaded")
    cuts = cut(posts, [beam], pipe)
    assert sorted(stick.drop_m for stick in cuts.sticks)[:2] == pytest.approx([0.0, 0.0], abs=1e-6)
    stock = (Stock(length_m=6.4, count=cuts.count),)
    listed = layout_of(cuts.sticks, posts, KERF)
    sticks = Sticks(posts=posts, beams=(beam,), stock=stock, pipe=replace(pipe, stock=stock), listed=listed)
    draws = np.array([3.4, 3.6]) + 0.01 * np.random.default_rng(3).standard_normal((300, 2))
    none = np.zeros(300, dtype=bool)
    assert enough_for(sticks, draws, none).enough.mean() < 0.6
    slid = replace(sticks, list_of=cuts, list_beams=(beam,))
    assert enough_for(slid, draws, none).enough.all()
    longest = [replace(post, length_m=float(x)) for post, x in zip(posts, draws.max(axis=0), strict=True)]
    assert cut(longest, [beam], sticks.pipe).count == cuts.count


@pytest.mark.parametrize("seed", range(30))
def test_sharing_out_finds_a_way_just_when_there_is_one(seed):
    chance = random.Random(seed)
    needs = sorted((chance.uniform(0.8, 3.5) for _ in range(chance.randint(1, 6))), reverse=True)
    rooms = [chance.uniform(2.0, 6.0) for _ in range(chance.randint(1, 3))]
    way = shared_out(needs, rooms)
    truth = fits_by_trying([need - KERF for need in needs], rooms)
    assert bool(way) == truth
    if way:
        assert sorted(post for stick in way for post in stick) == list(range(len(needs)))
        for room, stick in zip(rooms, way, strict=True):
            assert sum(needs[post] for post in stick) <= room + ROUND


def test_what_is_liquid_needs_room_too():
    assert shared_out([2.0, 2.0], [3.0, 3.0], 1.9)
    assert shared_out([2.0, 2.0], [3.0, 3.0], 2.1) is False


def certain(sticks, lengths, **more):
    given = {"pipe": "p", "seed": 1, "trip_cost": None, "within": 1.0}
    return certainty_of(sticks, [replace(s, count=None) for s in sticks.stock], lengths, **(given | more))


def test_one_post_in_one_stick_follows_the_normal_law():
    """P(length ≤ 6.0) of a post of 5.98 ± 0.02 is Φ(1) = 0.8413; 20,000 draws leave 0.0026."""
    lengths = 5.98 + 0.02 * np.random.default_rng(5).standard_normal((20_000, 1))
    one = certain(sticks_of(1, (Stock(length_m=6.0, count=1),)), lengths)
    phi = 0.5 * (1 + math.erf(1 / math.sqrt(2)))
    assert one.steps[0].certain == pytest.approx(phi, abs=4 * math.sqrt(phi * (1 - phi) / 20_000))
    assert one.steps[0].at_most == pytest.approx(one.steps[0].certain)
    # A post longer than any stick is not helped by more of them.
    assert one.enough_95 is None
    assert one.steps[-1].certain == one.steps[0].certain


def test_two_posts_in_one_stick_follow_the_normal_law_of_their_sum():
    """Two posts that err half together: the sum's variance is 2·(1 + 0.5)·0.01²; 2 · 2.98 + kerf in 6."""
    chance = np.random.default_rng(8)
    shared, own = chance.standard_normal((20_000, 1)), chance.standard_normal((20_000, 2))
    lengths = 2.98 + 0.01 * (math.sqrt(0.5) * shared + math.sqrt(0.5) * own)
    one = certain(sticks_of(2, (Stock(length_m=6.0, count=1, price=50.0),)), lengths)
    phi = 0.5 * (1 + math.erf((6.0 - 5.96 - KERF) / math.sqrt(3) / 0.01 / math.sqrt(2)))
    assert one.steps[0].certain == pytest.approx(phi, abs=4 * math.sqrt(phi * (1 - phi) / 20_000))
    assert one.steps[1].certain == 1.0
    assert one.enough_99 == (one.steps[0] if phi > 0.99 else one.steps[1])


def half_sure(price=40.0, trip_cost=None):
    """Three posts of which the third goes into the one stick in half of the draws."""
    lengths = np.full((100, 3), 2.0 - KERF)
    lengths[:50, 2] += 0.1
    return certain(sticks_of(3, (Stock(length_m=6.0, count=1, price=price),)), lengths, trip_cost=trip_cost)


def test_what_a_stick_more_costs_against_the_second_trip():
    """Without it 0.5 · (trip + 40), with it 40: it pays from a trip of 40 on."""
    one = half_sure()
    assert [step.certain for step in one.steps] == [0.5, 1.0]
    assert one.pays_from == pytest.approx(40.0)
    assert one.cheapest is None
    for trip, extra in ((39.0, 0), (41.0, 1)):
        two = half_sure(trip_cost=trip)
        assert [step.expected for step in two.steps] == pytest.approx([0.5 * (trip + 40), 40.0])
        assert two.cheapest.extra == extra


def test_the_cheapest_is_told_where_no_more_is_looked_at_and_not_without_prices():
    """2026-11-28: enough with 99.95 % had no cheapest order; stock without a price had one."""
    lengths = np.full((2000, 3), 2.0 - KERF)
    lengths[0, 2] += 0.1
    told = [
        certain(sticks_of(3, (Stock(length_m=6.0, count=1, price=price),)), lengths, trip_cost=60.0)
        for price in (40.0, None)
    ]
    assert [len(one.steps) for one in told] == [1, 1]
    assert told[0].cheapest.expected == pytest.approx(0.0005 * (60 + 40))
    assert told[1].cheapest is None


def test_the_expected_cost_is_what_many_jobs_pay_on_the_average():
    """Played out: each job pays its sticks more, and where short the trip and a stick."""
    chance = random.Random(4)
    trip, price = 75.0, 40.0
    one = half_sure(price=price, trip_cost=trip)
    for step in one.steps:
        paid = [
            step.extra * price + (0.0 if chance.random() < step.certain else trip + price)
            for _ in range(20_000)
        ]
        assert step.expected == pytest.approx(sum(paid) / len(paid), abs=1.0)


def test_without_prices_fewest_then_shortest_sticks():
    lengths = np.full((100, 3), 2.0)
    stock = (Stock(length_m=6.0, count=1),)
    sticks = sticks_of(3, stock)
    buyable = [Stock(length_m=6.0), Stock(length_m=3.0)]
    one = certainty_of(sticks, buyable, lengths, pipe="p", seed=1, trip_cost=None, within=1.0)
    assert one.steps[0].certain == 0.0
    assert (one.enough_99.extra, one.enough_99.stock_m) == (1, 3.0)
    assert one.pays_from is None


def test_what_was_taken_of_each_stock():
    stock = (
        Stock(length_m=6.0, price=50.0),
        Stock(length_m=4.0, count=2, price=0.0),
        Stock(length_m=6.0, price=50.0, use="beam"),
        Stock(length_m=3.0),
    )
    taken = stock_used([(6.0, False, True), (6.0, False, False), (4.0, True, True)], stock)
    assert [(one.length_m, one.use, one.count) for one in taken] == [(6.0, "both", 2), (4.0, "both", 1)]
