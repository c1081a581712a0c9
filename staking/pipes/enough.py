"""Whether given sticks are enough for posts of many possible lengths: cuttings found, or pipe that is short.

A cutting found for some lengths does for all that are no longer, rank by rank: the longest post in the place
of the longest. So few cuttings answer for thousands of draws. One is looked for with the lengths that most
draws stay below, then for what is left, draw by draw. What is found can be cut; what is not found may still
be possible, unless the sticks hold less pipe than the pieces need.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import BeamToCut, CutList, Piece, Stick
from staking.pipes.greedy import greedy_cuttings
from staking.pipes.joints import SNAP_M
from staking.pipes.laying import FIRST_PACKINGS, laid_cuttings
from staking.pipes.listed import evenly_slid
from staking.pipes.sharing import shared_out
from staking.pipes.simple_bounds import needs_m
from staking.pipes.task import SAME_M, Cutting, Task, make_task, part_length_m

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SHARES = (1.0, 0.99, 0.95, 0.9, 0.8, 0.65, 0.5)
"""First cuttings are looked for with lengths that this share of the draws stays below, rank by rank."""
LOOKS = 150
"""Draws looked at one by one, at most."""
IN_VAIN = 25
"""Looks in a row that found nothing, after which no more are made."""

Layout = tuple[tuple[float, float, tuple[int, ...]], ...]
"""Of each stick: its room, what parts of beams take of it, and the ranks of its posts, 0 for the longest."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sticks:
    """Sticks at hand or ordered, and what is to be cut from them."""

    posts: tuple[Piece, ...]
    """Their lengths do not matter here."""
    beams: tuple[BeamToCut, ...]
    stock: tuple[Stock, ...]
    """Each with its count."""
    pipe: Pipe
    listed: Layout = ()
    """A way to cut these beams and posts of some lengths from these sticks; empty where none is known."""
    list_of: CutList | None = None
    """The same way as a list, whose joints may be slid for other beams and posts."""
    list_beams: tuple[BeamToCut, ...] = ()
    """The beams as they were listed."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Group:
    """Draws that have the same beams."""

    draws: Bools
    """(N,)."""
    beams: tuple[BeamToCut, ...]
    as_listed: bool
    """Whether these are the beams of the sticks as listed."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answers:
    """Of each draw (N,)."""

    enough: Bools
    """A cutting was found."""
    short: Bools
    """No cutting exists: the sticks hold too little, or no way to share out the posts is left untried."""


def enough_for(sticks: Sticks, lengths_m: Floats, known: Bools, groups: Sequence[Group] = ()) -> Answers:
    """Return for which draws of the posts' lengths the sticks are enough.

    Parameters
    ----------
    sticks : Sticks
    lengths_m : (N, n)
        Lengths of the posts in each draw.
    known : (N,)
        Draws already known to go, which are not looked at again.
    groups : sequence of Group
        Each draw in one of them, where draws differ in their beams.
    """
    if not groups:
        return _enough(sticks, lengths_m, known)
    enough, short = known.copy(), np.zeros(len(known), dtype=bool)
    for group in groups:
        these = group.draws
        listed = sticks.listed if group.as_listed else ()
        found = _enough(replace(sticks, beams=group.beams, listed=listed), lengths_m[these], known[these])
        enough[these], short[these] = found.enough, found.short
    return Answers(enough=enough, short=short)


def _enough(sticks: Sticks, lengths_m: Floats, known: Bools) -> Answers:
    """Return the same where all draws have the beams of the sticks."""
    ranked = -np.sort(-lengths_m, axis=1)
    asked = _Asked(sticks, ranked, known)
    for share in SHARES:
        if not asked.open.any():
            break
        asked.look(np.quantile(ranked[asked.open], share, axis=0))
    in_vain = 0
    for turn in range(LOOKS):
        left = np.flatnonzero(asked.open)
        if not len(left) or in_vain == IN_VAIN:
            break
        # By turns from the draws with least pipe, which are likely to go, and those with most, which are not.
        by_pipe = left[np.argsort(ranked[left].sum(axis=1), kind="stable")]
        before = len(left)
        pick = by_pipe[(len(by_pipe) - 1) * (turn % 4) // 3]
        asked.look(ranked[pick])
        asked.open[pick] = False
        in_vain = 0 if int(asked.open.sum()) < before - 1 else in_vain + 1
    return Answers(enough=asked.enough, short=asked.short)


class _Asked:
    """The draws still open, as more becomes known of them."""

    def __init__(self, sticks: Sticks, ranked_m: Floats, known: Bools) -> None:
        self.sticks, self.ranked_m = sticks, ranked_m
        self.enough = known.copy()
        self.short = _short(sticks, ranked_m) & ~known
        self.open = ~known & ~self.short
        if sticks.listed:
            self._take(sticks.listed)
        if sticks.list_of is not None and sticks.beams and self.open.any():
            for layout in _slid(sticks, sticks.list_of):
                self._take(layout)
        self.liquid_m = needs_m(_task(sticks, ranked_m[0]))[1]
        self.rooms_m = [
            one.length_m + sticks.pipe.kerf_m
            for one in sticks.stock
            if one.use != "beam"
            for _ in range(one.count or 0)
        ]

    def look(self, lengths_m: Floats) -> None:
        """Look for a way to cut posts of these lengths, and see which draws it settles."""
        kerf_m = self.sticks.pipe.kerf_m
        layout = next(_layouts(self.sticks, lengths_m), None)
        if layout is None:
            needs = [float(length) + kerf_m for length in lengths_m]
            all_for_beams = not self.sticks.beams or all(one.use != "beam" for one in self.sticks.stock)
            way = shared_out(needs, self.rooms_m, self.liquid_m if all_for_beams else 0.0)
            if way is False:
                # Nor is there a way for posts that are longer, rank by rank.
                none = self.open & (self.ranked_m >= lengths_m - SAME_M).all(axis=1)
                self.short |= none
                self.open &= ~none
            if way is True or way is False or self.sticks.beams:
                return
            layout = tuple((room, 0.0, ranks) for room, ranks in zip(self.rooms_m, way, strict=True) if ranks)
        self._take(layout)

    def _take(self, layout: Layout) -> None:
        """Settle the draws that can be cut this way."""
        goes = self.open & _goes(layout, self.ranked_m, self.sticks.pipe.kerf_m)
        self.enough |= goes
        self.open &= ~goes


def _task(sticks: Sticks, lengths_m: Floats) -> Task:
    posts = [
        replace(post, length_m=float(length)) for post, length in zip(sticks.posts, lengths_m, strict=True)
    ]
    return make_task("pipe", posts, sticks.beams, sticks.stock, sticks.pipe)


def _layouts(sticks: Sticks, lengths_m: Floats) -> Iterator[Layout]:
    """Yield ways to cut posts of these lengths that keep to the sticks there are, quick ones first."""
    task = _task(sticks, lengths_m)
    kinds = [number for number, kind in enumerate(task.kinds) for _ in range(kind.count or 0)]
    ones = tuple(1.0 for _ in task.kinds)
    quick = [laid_cuttings(task, kinds, FIRST_PACKINGS), greedy_cuttings(task, ones, shuffled=False)]
    if task.threaded:
        quick.append(greedy_cuttings(task, ones, shuffled=True))
    for cutting in chain.from_iterable(quick):
        yield _layout(task, cutting)


def _slid(sticks: Sticks, listed: CutList) -> Iterator[Layout]:
    """Yield the list with its joints slid for room beside posts, where that can be."""
    task = make_task("pipe", sticks.posts, sticks.beams, sticks.stock, sticks.pipe)
    cutting = evenly_slid(task, sticks.posts, sticks.list_beams, listed.sticks, listed.joints_m)
    if cutting is not None:
        yield _layout(task, cutting)


def _layout(task: Task, cutting: Cutting) -> Layout:
    """Return what each stick of a cutting holds."""
    first, at = [], 0
    for one in task.post_lengths:
        first.append(at)
        at += len(one.posts)
    layout = []
    for load in cutting.loads:
        parts_m = [part_length_m(task, task.parts[part], cutting.places_m) for part in load.parts]
        ranks = []
        for number in load.posts:
            ranks.append(first[number])
            first[number] += 1
        layout.append(
            (task.room_m(load.kind), float(sum(parts_m) + len(parts_m) * task.kerf_m), tuple(ranks))
        )
    return tuple(layout)


def _goes(layout: Layout, ranked_m: Floats, kerf_m: float) -> Bools:
    """Return which draws (N,) can be cut this way, the longest post in the place of the longest."""
    goes = np.ones(len(ranked_m), dtype=bool)
    for room_m, parts_m, ranks in layout:
        need = ranked_m[:, list(ranks)].sum(axis=1) + len(ranks) * kerf_m + parts_m
        goes &= need <= room_m + SNAP_M
    return goes


def _short(sticks: Sticks, ranked_m: Floats) -> Bools:
    """Return the draws (N,) whose pieces need more pipe than the sticks hold, or a longer stick."""
    task = _task(sticks, ranked_m[0])
    _, beams_m = needs_m(task)
    posts_m = ranked_m.sum(axis=1) + ranked_m.shape[1] * task.kerf_m
    rooms = [(task.room_m(n) + SNAP_M, kind) for n, kind in enumerate(task.kinds)]
    both = sum((kind.count or 0) * room for room, kind in rooms)
    for_posts = sum((kind.count or 0) * room for room, kind in rooms if kind.for_posts)
    longest = max((room for room, kind in rooms if kind.for_posts and kind.count), default=0.0)
    return np.asarray(
        (posts_m + beams_m > both) | (posts_m > for_posts) | (ranked_m[:, 0] + task.kerf_m > longest)
    )


def layout_of(sticks: Sequence[Stick], posts: Sequence[Piece], kerf_m: float) -> Layout:
    """Return what each stick of a list holds, its posts by rank of their length among `posts`."""
    longest_first = sorted(posts, key=lambda post: (-post.length_m, post.name))
    rank = {post.name: k for k, post in enumerate(longest_first)}
    return tuple(
        (
            stick.stock_m + kerf_m,
            sum(piece.length_m + kerf_m for piece in stick.pieces if piece.piece not in rank),
            tuple(rank[piece.piece] for piece in stick.pieces if piece.piece in rank),
        )
        for stick in sticks
    )


def stock_used(sticks: Sequence[tuple[float, bool, bool]], stock: Sequence[Stock]) -> tuple[Stock, ...]:
    """Return what was taken of each kind of stock, each with its count.

    Parameters
    ----------
    sticks : sequence of (length, on hand, has a post)
        The sticks of a cut list.
    stock : sequence of Stock
        All that may be cut from.
    """
    counts = [0] * len(stock)
    for length_m, on_hand, has_post in sticks:
        fitting = [
            k
            for k, one in enumerate(stock)
            if one.length_m == length_m
            and (one.count is not None) == on_hand
            and one.use != ("beam" if has_post else "post")
            and (one.count is None or counts[k] < one.count)
        ]
        if fitting:
            counts[fitting[0]] += 1
    return tuple(replace(one, count=n) for one, n in zip(stock, counts, strict=True) if n)
