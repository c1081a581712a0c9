"""Large jobs: the bound of posts of nearly one length together, and cuttings filled from it."""

import math
import random

import pytest
from cut_checks import check, random_job, random_rules, random_stock, random_threads
from cut_exact import exact_least

from benchmarks import bench_cut
from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import BeamToCut, Piece
from staking.pipes.cutting import cut
from staking.pipes.filling import filled_sticks
from staking.pipes.goal import Goal
from staking.pipes.large import many_cut
from staking.pipes.many import ManyPosts
from staking.pipes.parting import Parting
from staking.pipes.post_classes import Filled
from staking.pipes.rolling import _Rolling, rolled
from staking.pipes.simple_bounds import mix_bound
from staking.pipes.task import make_task

ROUND = 1e-4


def row_of_arrays(number: int, seed: int) -> tuple[list[Piece], list[BeamToCut]]:
    """So many posts of different lengths, and a beam on five posts for every ten."""
    chance = random.Random(seed)
    posts = [Piece(name=f"A{n}", length_m=chance.uniform(1.7, 3.9), pipe="p") for n in range(number)]
    beams = []
    for n in range(number // 10):
        bay = chance.uniform(2.5, 2.9)
        beams.append(
            BeamToCut(
                name=f"beam {n}",
                length_m=4 * bay + 1.2,
                posts_m=tuple(0.6 + bay * k for k in range(5)),
                rails_m=tuple(0.35 + 1.7 * k for k in range(7)),
                pipe="p",
            )
        )
    return posts, beams


@pytest.mark.parametrize("classes", [2, 1500])
@pytest.mark.parametrize("seed", range(800, 824))
def test_the_bound_is_never_above_an_exact_answer(seed: int, classes: int) -> None:
    """With every length told apart, and with posts taken together in two classes, which is a poor bound."""
    posts, beams, pipe = random_job(seed, most_posts=4)
    if not posts:
        return
    pipe = random_stock(seed, pipe) if seed % 2 else pipe
    pipe = random_threads(seed, pipe) if seed % 3 == 0 else random_rules(seed, pipe)
    task = make_task("p", posts, beams, pipe.stock, pipe)
    weights = [k.price if k.price is not None else 1.0 for k in task.kinds]
    goal = Goal(weights=tuple(weights), step=1e-6)
    program = ManyPosts(task, goal, classes=classes)
    program.solve(0.0)
    program.prove(float("inf"))
    by_stock = [s.price if s.price is not None else 1.0 for s in pipe.stock]
    exact = exact_least(posts, beams, pipe, by_stock, 8)
    assert program.bound > 0
    assert exact is None or program.bound <= exact + ROUND


def test_its_program_alone_proves_a_cutting_by_hand() -> None:
    """Posts of 3, 2 and 1 m, four each: four sticks of 6 m, each cut 3 + 2 + 1, no kerf."""
    posts = [Piece(name=f"A{n}", length_m=x, pipe="p") for n, x in enumerate([3.0, 2.0, 1.0] * 4)]
    pipe = Pipe(stock=(Stock(length_m=6.0),), kerf_m=0.0)
    task = make_task("p", posts, (), pipe.stock, pipe)
    cutting, bound = many_cut(task, Goal(weights=(1.0,), step=1.0), None, 1.0)
    assert cutting is not None
    assert (len(cutting.loads), bound) == (4, 4.0)


def test_sticks_that_are_too_few_are_no_cutting_and_no_crash() -> None:
    """Found 2026-11-28: pieces with joints chosen for the sticks of a cutting, one stick too few."""
    posts = [Piece(name=f"A{n}", length_m=4.0, pipe="p") for n in range(2)]
    pipe = Pipe(stock=(Stock(length_m=6.0, count=1),))
    task = make_task("p", posts, (), pipe.stock, pipe)
    cutting, bound = many_cut(task, Goal(weights=(1.0,), step=1.0), None, 1.0)
    assert cutting is None
    assert math.isinf(bound)


@pytest.mark.parametrize("seed", [1, 2])
def test_several_hundred_posts_are_proven(seed: int) -> None:
    posts, _ = row_of_arrays(300, seed)
    pipe = Pipe(stock=(Stock(length_m=6.4),))
    cuts = cut(posts, [], pipe)
    check(cuts, posts, [], pipe)
    assert cuts.proven


def test_posts_of_which_three_hardly_fill_a_stick_come_within_a_stick() -> None:
    """Found 2026-11-28: 1000 posts of 2.0 to 2.4 m took 402 sticks of 6.4 m, where 384 are the bound."""
    chance = random.Random(9)
    posts = [Piece(name=f"A{n}", length_m=round(chance.uniform(2.0, 2.4), 4), pipe="p") for n in range(640)]
    pipe = Pipe(stock=(Stock(length_m=6.4),), kerf_m=0.003)
    cuts = cut(posts, [], pipe)
    check(cuts, posts, [], pipe)
    assert cuts.count - cuts.bound <= 1


def test_sticks_on_hand_at_no_cost_leave_a_bound() -> None:
    """Found 2026-11-28: with a free kind of stick the linear program of a large job proved nothing at all."""
    posts, _ = row_of_arrays(160, 5)
    stock = (Stock(length_m=6.4, price=118.0), Stock(length_m=4.1, price=0.0, count=5))
    task = make_task("p", posts, [], stock, Pipe(stock=stock))
    goal = Goal(weights=tuple(k.price or 0.0 for k in task.kinds), step=118.0)
    program = ManyPosts(task, goal)
    program.prove(1e9)
    # Five sticks the fewer, of so much pipe, at the very most.
    room = 6.4 + task.kerf_m
    need = sum(post.length_m + task.kerf_m for post in posts) - 5 * (4.1 + task.kerf_m)
    assert program.bound >= 118.0 * need / room - 1.0


@pytest.mark.parametrize("priced", [False, True])
def test_several_hundred_pieces_with_beams_come_within_a_stick(priced: bool) -> None:
    posts, beams = row_of_arrays(200, 3)
    stock = (Stock(length_m=6.4, price=96.0 if priced else None),)
    pipe = Pipe(stock=(*stock, Stock(length_m=3.2, price=51.0)) if priced else stock)
    cuts = cut(posts, beams, pipe)
    check(cuts, posts, beams, pipe)
    if priced:
        assert cuts.cost is not None
        assert cuts.cost_bound is not None
        assert cuts.cost - cuts.cost_bound <= 96.0
    else:
        assert cuts.count - cuts.bound <= 1


def test_200_posts_with_20_beams_are_proven() -> None:
    """Found 2026-11-28: 125 sticks and a bound of 124, where a day before it was 124, proven."""
    posts, beams = bench_cut.posts(200), bench_cut.beams(200)
    pipe = Pipe(stock=(Stock(length_m=bench_cut.STOCK_M),), kerf_m=bench_cut.KERF_M)
    cuts = cut(posts, beams, pipe)
    check(cuts, posts, beams, pipe)
    assert cuts.proven


def test_threaded_beams_have_two_end_pieces_beside_posts() -> None:
    """By hand: ten posts of 4 m leave 2 m of ten sticks, but a beam of 8 m takes that twice at most."""
    posts = [Piece(name=f"A{n}", length_m=4.0, pipe="p") for n in range(10)]
    beam = BeamToCut(name="beam A", length_m=8.0, posts_m=(1.0, 7.0), rails_m=(), pipe="p")
    pipe = Pipe(stock=(Stock(length_m=6.0),), kerf_m=0.0, joint="threaded")
    task = make_task("p", posts, [beam], pipe.stock, pipe)
    program = ManyPosts(task, Goal(weights=(1.0,), step=1.0))
    program.prove(float("inf"))
    assert program.bound == pytest.approx(10 + 4 / 6, abs=1e-3)
    cuts = cut(posts, [beam], pipe)
    check(cuts, posts, [beam], pipe)
    assert (cuts.count, cuts.proven) == (11, True)


def test_a_hundred_posts_with_threaded_beams_come_within_a_stick() -> None:
    """Found 2026-11-28: 71 sticks and a bound of 67, for each beam's first piece was as long as may be."""
    posts, beams = row_of_arrays(100, 3)
    pipe = Pipe(stock=(Stock(length_m=6.4),), joint="threaded", make_up_m=-0.02)
    cuts = cut(posts, beams, pipe)
    check(cuts, posts, beams, pipe)
    assert cuts.count - cuts.bound <= 1


def test_few_sticks_on_hand_are_not_overdrawn_in_large_jobs() -> None:
    posts, beams = row_of_arrays(160, 4)
    pipe = Pipe(
        stock=(
            Stock(length_m=6.4, price=96.0),
            Stock(length_m=6.4, price=10.0, count=7),
            Stock(length_m=4.1, price=0.0, count=3, use="post"),
        )
    )
    cuts = cut(posts, beams, pipe)
    check(cuts, posts, beams, pipe)
    task = make_task("p", posts, beams, pipe.stock, pipe)
    assert cuts.cost_bound is not None
    assert cuts.cost_bound >= mix_bound(task, [k.price or 0.0 for k in task.kinds]) - ROUND


def test_one_beam_does_not_overdraw_what_is_on_hand() -> None:
    """Found 2026-11-28: a beam went through three cheap sticks of which two were on hand."""
    beam = BeamToCut(name="beam A", length_m=4.2, posts_m=(0.4, 1.5, 2.7, 3.8), rails_m=(), pipe="p")
    posts = [Piece(name="A1", length_m=1.4, pipe="p"), Piece(name="A2", length_m=3.3, pipe="p")]
    pipe = Pipe(stock=(Stock(length_m=6.4, price=97.0), Stock(length_m=1.5, price=18.0, count=2)))
    for job in ((posts, [beam], pipe), ([], [beam], pipe)):
        check(cut(*job), *job)
    for seed in (2018, 2026, 2034, 2042):
        one, two, of_job = random_job(seed, most_posts=5)
        of_job = random_stock(seed, of_job)
        check(cut(one, two, of_job), one, two, of_job)


def test_where_many_posts_go_into_a_stick_few_sticks_are_mended_at_a_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Found 2026-11-28: a hundred sticks of twelve short posts, a whole job, were filled anew 24 times."""
    posts = [Piece(name=f"A{n}", length_m=0.3 + n / 2000, pipe="p") for n in range(960)]
    pipe = Pipe(stock=(Stock(length_m=6.4),), kerf_m=0.002)
    task = make_task("p", posts, [], pipe.stock, pipe)
    parting = Parting(task, Goal(weights=(1.0,), step=1.0), [0.08] * len(task.post_lengths))
    sticks = [Filled(kind=0, posts=tuple(range(n, n + 8)), left_m=0.0) for n in range(0, 960, 8)]
    anew: list[int] = []

    def filled(self: Parting, posts: list[int], kept: list[Filled]) -> None:
        anew.append(len(posts))

    monkeypatch.setattr(Parting, "filled", filled)
    assert sorted(parting.mended(sticks, 100.0), key=lambda f: f.posts) == sticks
    assert 250 < max(anew) <= 310


def test_what_is_left_in_many_sticks_is_gathered_in_one() -> None:
    """Posts in pairs, each pair 2 to 9 mm short of its stick: together that is more than the last post."""
    chance = random.Random(5)
    pairs = []
    for _ in range(2000):
        long = chance.uniform(3.2, 4.2)
        pairs.append((long, 6.4 - long - chance.uniform(0.002, 0.009)))
    posts = [Piece(name=f"A{n}", length_m=m, pipe="p") for n, m in enumerate([*sum(pairs, ()), 1.0])]
    pipe = Pipe(stock=(Stock(length_m=6.4),), kerf_m=0.0)
    task = make_task("p", posts, [], pipe.stock, pipe)
    number = {post.name: i for i, p in enumerate(task.post_lengths) for post in p.posts}
    sticks = [
        Filled(kind=0, posts=(number[f"A{2 * n}"], number[f"A{2 * n + 1}"]), left_m=0.0) for n in range(2000)
    ]
    sticks.append(Filled(kind=0, posts=(number["A4000"],), left_m=0.0))
    fewer = rolled(task, Goal(weights=(1.0,), step=1.0), sticks, 2000.0)
    assert len(fewer) == 2000
    assert sorted(i for f in fewer for i in f.posts) == sorted(i for f in sticks for i in f.posts)
    assert max(sum(task.post_lengths[i].length_m for i in f.posts) for f in fewer) <= 6.4 + 1e-6
    assert rolled(task, Goal(weights=(1.0,), step=1.0), sticks, 2001.0) == sticks


@pytest.mark.parametrize(("low", "high", "waste"), [(0.15, 0.3, 0.0), (0.4, 0.8, 0.001), (0.15, 0.8, 0.01)])
def test_hundreds_of_short_posts_with_hardly_any_waste_are_proven(
    low: float, high: float, waste: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Found 2026-11-28: 532 posts of 0.15 to 0.3 m from 20 sticks had no end within 120 s.

    They need no linear program, which is seen by taking it away.
    """
    chance = random.Random(7)
    lengths = [chance.uniform(low, high) for _ in range(400)]
    sticks = round(sum(lengths) / 6.0)
    share = (sticks * 6.002 * (1 - waste) - 400 * 0.002) / sum(lengths)
    posts = [Piece(name=f"A{n}", length_m=x * share - 1e-6, pipe="p") for n, x in enumerate(lengths)]
    pipe = Pipe(stock=(Stock(length_m=6.0),), kerf_m=0.002)
    monkeypatch.setattr(ManyPosts, "solve", None)
    cuts = cut(posts, [], pipe)
    check(cuts, posts, [], pipe)
    assert (cuts.count, cuts.proven) == (sticks, True)


def test_sticks_of_several_kinds_are_filled_to_the_end() -> None:
    """Posts sawn from 20 sticks of 6 m and 12 of 4 m, 3 mm lost of each, go on these sticks again."""
    chance = random.Random(4)
    posts, kerf = list[Piece](), 0.003
    for stock in [6.0] * 20 + [4.0] * 12:
        left = stock - 0.003
        while left > 1.6:
            length = round(chance.uniform(0.3, 1.0), 4)
            posts.append(Piece(name=f"A{len(posts)}", length_m=length, pipe="p"))
            left -= length + kerf
        posts += [Piece(name=f"A{len(posts) + n}", length_m=left / 2 - kerf, pipe="p") for n in range(2)]
    pipe = Pipe(stock=(Stock(length_m=6.0), Stock(length_m=4.0)), kerf_m=kerf)
    task = make_task("p", posts, [], pipe.stock, pipe)
    filled = filled_sticks(task, [0] * 20 + [1] * 12)
    assert filled is not None
    assert sorted(i for f in filled for i in f.posts) == [
        i for i, p in enumerate(task.post_lengths) for _ in p.posts
    ]
    for f in filled:
        need = sum(task.post_lengths[i].length_m + kerf for i in f.posts)
        assert need <= task.kinds[f.kind].stock_m + kerf + 1e-6
    assert filled_sticks(task, [0] * 20 + [1] * 11) is None


def test_a_bound_that_cannot_rise_is_left() -> None:
    """Where the program's optimum lies below what is known, it is not priced to the end."""
    posts, _ = row_of_arrays(160, 5)
    pipe = Pipe(stock=(Stock(length_m=6.4),))
    task = make_task("p", posts, [], pipe.stock, pipe)
    program = ManyPosts(task, Goal(weights=(1.0,), step=1.0))
    program.solve(0.0)
    loads = len(program.loads)
    program.prove(float("inf"), known=float(len(posts)))
    assert len(program.loads) == loads


def test_what_was_given_away_does_not_come_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """Found 2026-11-28: among few sticks pieces were exchanged in a circle until the turns were over."""
    chance = random.Random(3)
    threes = [[chance.uniform(1.5, 2.3), chance.uniform(1.5, 2.3)] for _ in range(22)]
    lengths = [x for two in threes for x in (*two, 6.4 - sum(two) - chance.uniform(0.0, 0.02))]
    lengths.append(22 * 0.0085)
    posts = [Piece(name=f"A{n}", length_m=x, pipe="p") for n, x in enumerate(lengths)]
    pipe = Pipe(stock=(Stock(length_m=6.4),), kerf_m=0.0)
    task = make_task("p", posts, [], pipe.stock, pipe)
    at = {x.name: i for i, p in enumerate(task.post_lengths) for x in p.posts}
    names = [at[f"A{n}"] for n in range(67)]
    sticks = [Filled(kind=0, posts=tuple(names[n : n + 3]), left_m=0.0) for n in range(0, 67, 3)]
    given: list[tuple[int, int]] = []
    exchange = _Rolling._rolled_on

    def rolled_on(self: _Rolling, stick: int, last: list[int], before: int) -> int | None:
        was = list(self.stick)
        to = exchange(self, stick, last, before)
        moved = [n for n in range(67) if self.stick[n] != was[n]]
        assert not any((n, self.stick[n]) in given for n in moved)
        given.extend((n, was[n]) for n in moved)
        return to

    monkeypatch.setattr(_Rolling, "_rolled_on", rolled_on)
    _Rolling(task, sticks).gathered()
    assert given


@pytest.mark.parametrize("priced", [False, True])
def test_dozens_of_offcuts_of_lengths_of_their_own_have_an_end(priced: bool) -> None:
    """Found 2026-11-28: with 40 offcuts on hand every mix of them was listed, of which there is no end."""
    chance = random.Random(1)
    posts = [Piece(name=f"A{n}", length_m=round(chance.uniform(1.2, 2.6), 3), pipe="p") for n in range(60)]
    offcuts = [round(chance.uniform(1.3, 5.8), 3) for _ in range(40)]
    new = Stock(length_m=6.4, price=96.0 if priced else None)
    stock = (new, *(Stock(length_m=x, price=0.0 if priced else None, count=1) for x in offcuts))
    pipe = Pipe(stock=stock, kerf_m=0.003)
    cuts = cut(posts, [], pipe)
    assert sorted(p.piece for s in cuts.sticks for p in s.pieces) == sorted(p.name for p in posts)
    assert all(sum(p.length_m for p in s.pieces) <= s.stock_m + 1e-6 for s in cuts.sticks)
    on_hand = [s.stock_m for s in cuts.sticks if s.on_hand]
    assert all(on_hand.count(x) <= offcuts.count(x) for x in on_hand)
    assert cuts.bound <= cuts.count
