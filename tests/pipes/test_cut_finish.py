"""Between cuttings of equal cost, sticks and joints: longest drops, fewest cuts, set-ups repeated.

Each level against every way to share out the posts, counted here one by one.
"""

import random
from collections.abc import Iterator, Sequence

import pytest
from cut_checks import check

from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import BeamToCut, CutList, Piece
from staking.pipes.cutting import cut

STOCK_M = 6.0
KERF_M = 0.003
USEFUL_M = 0.3
"""What counts as a useful drop where nothing else is said."""
NO_CUT_M = 5e-5

Groups = list[list[float]]


def shared(lengths_m: Sequence[float], sticks: int) -> Iterator[Groups]:
    """Yield every way to share out these lengths on so many sticks of 6 m, none empty."""

    def put(n: int, groups: Groups) -> Iterator[Groups]:
        if n == len(lengths_m):
            if len(groups) == sticks:
                yield [list(g) for g in groups]
            return
        for group in [*groups, *([[]] if len(groups) < sticks else [])]:
            new = not group
            if sum(group) + len(group) * KERF_M + lengths_m[n] <= STOCK_M + 1e-6:
                group.append(lengths_m[n])
                yield from put(n + 1, [*groups, group] if new else groups)
                group.pop()

    yield from put(0, [])


def worth(groups: Groups) -> tuple[list[float], int, int]:
    """Useful drops from the longest on, made negative, then cuts, then set-ups: the least is the best."""
    rest = [STOCK_M - sum(g) - len(g) * KERF_M for g in groups]
    drops = sorted(-round(r, 5) if r >= USEFUL_M else 0.0 for r in rest)
    cuts = sum(len(g) - (r + KERF_M <= NO_CUT_M) for g, r in zip(groups, rest, strict=True))
    return drops, cuts, len({tuple(sorted(g)) for g in groups})


def groups_of(cuts: CutList) -> Groups:
    return [[p.length_m for p in stick.pieces] for stick in cuts.sticks]


def random_lengths(seed: int) -> list[float]:
    """Eight or nine posts, some alike, some that fill a stick together."""
    chance = random.Random(seed)
    few = [round(chance.uniform(0.9, 3.0), 2) for _ in range(chance.choice([3, 4, 7, 10]))]
    few.append(round(STOCK_M - few[0] - KERF_M, 6))
    return [chance.choice(few) for _ in range(chance.randint(8, 9))]


@pytest.mark.parametrize("seed", range(60))
def test_no_way_to_share_out_the_posts_is_better(seed: int) -> None:
    lengths = random_lengths(seed)
    posts = [Piece(name=f"A{n}", length_m=x, pipe="p") for n, x in enumerate(lengths)]
    pipe = Pipe(stock=(Stock(length_m=STOCK_M),), kerf_m=KERF_M)
    cuts = cut(posts, [], pipe)
    check(cuts, posts, [], pipe)
    best = min(worth(groups) for groups in shared(lengths, cuts.count))
    assert worth(groups_of(cuts)) == best


def test_joints_slide_until_one_drop_has_all_the_waste() -> None:
    """Three sticks of 6 m hold 16.4 m: a post of 3 m and two beams of 6.7 m, which need a joint each.

    Chained through the sticks the waste of 1.6 m comes together in one drop.
    """
    beams = [
        BeamToCut(name=f"beam {n}", length_m=6.7, posts_m=(0.4, 2.4, 4.4, 6.3), rails_m=(), pipe="p")
        for n in "AB"
    ]
    posts = [Piece(name="A1", length_m=3.0, pipe="p")]
    pipe = Pipe(stock=(Stock(length_m=STOCK_M),), kerf_m=0.0, joint_clear_m=0.1)
    cuts = cut(posts, beams, pipe)
    check(cuts, posts, beams, pipe)
    assert cuts.count == 3
    assert max(s.drop_m for s in cuts.sticks) == pytest.approx(1.6, abs=1e-4)


def test_drops_below_the_useful_length_count_for_nothing() -> None:
    """Posts of 3, 2.5, 2.5 and 2 m on two sticks of 6 m: 3 + 2.5 and 2.5 + 2, or 3 + 2 and 2.5 + 2.5.

    The first leaves 0.5 and 1.5 m, the second twice 1 m. Useful from 1.6 m on: both alike, the fewest
    set-ups and cuts do not tell them apart, so either will do; from 1.2 m on: the first.
    """
    posts = [Piece(name=f"A{n}", length_m=x, pipe="p") for n, x in enumerate((3.0, 2.5, 2.5, 2.0))]
    for useful in (0.2, 1.2):
        pipe = Pipe(stock=(Stock(length_m=STOCK_M),), kerf_m=0.0, useful_drop_m=useful)
        drops = sorted(s.drop_m for s in cut(posts, [], pipe).sticks)
        assert drops == pytest.approx([0.5, 1.5], abs=1e-9)


def test_fewer_cuts_come_before_drops_too_short_to_keep() -> None:
    """Posts of 4, 3.9, 2 and 1.9 m: 4 + 2 fill a stick and leave 0.2 m beside it, 4 + 1.9 leave 0.1 twice."""
    posts = [Piece(name=f"A{n}", length_m=x, pipe="p") for n, x in enumerate((4.0, 3.9, 2.0, 1.9))]
    pipe = Pipe(stock=(Stock(length_m=STOCK_M),), kerf_m=0.0, useful_drop_m=1.0)
    assert sorted(s.drop_m for s in cut(posts, [], pipe).sticks) == pytest.approx([0.0, 0.2], abs=1e-9)
