"""One cutting task: the pieces and the stock of one pipe size, ready for the search."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import BeamToCut, Piece
from staking.pipes.joints import (
    SNAP_M,
    START,
    Part,
    Rules,
    Spot,
    legal_spots,
    possible_parts,
    rules_of,
    ways_on,
)

SAME_M = 1e-9
"""Posts nearer in length than this are cut to one length in the search."""
THREADS = 2
"""Of a stick, one at each end: an end piece takes one, an uncut stick between two joints both."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SawnStock(Stock):
    """What is left of sticks of which some was sawn."""

    threads: int
    """How many of its ends have a thread, where joints are threaded."""


def threads_on(stock: Stock) -> int:
    """Return how many ends of such a stick have a thread, where joints are threaded."""
    return stock.threads if isinstance(stock, SawnStock) else THREADS


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of stick."""

    stock_m: float
    price: float | None
    count: int | None
    """How many are on hand; None where they can be bought."""
    for_posts: bool
    for_beams: bool
    threads: int = THREADS
    """How many of its ends have a thread, where joints are threaded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PostLength:
    """Posts of one length."""

    length_m: float
    posts: tuple[Piece, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Task:
    """Everything that is cut from the same sticks; posts and beams from long to short."""

    pipe: str
    kinds: tuple[Kind, ...]
    kerf_m: float
    post_lengths: tuple[PostLength, ...]
    beams: tuple[BeamToCut, ...]
    spots: tuple[tuple[Spot, ...], ...]
    parts: tuple[Part, ...]
    """Of all beams."""
    threaded: bool
    make_up_m: float
    rules: Rules
    ways: tuple[tuple[tuple[int, ...], ...], ...]
    """Of each beam: where a part may run to (`ways_on`)."""
    useful_drop_m: float | None = None
    """A drop from this length on is worth keeping; None: not said."""

    def room_m(self, kind: int) -> float:
        """Return what a stick of this kind holds when every piece counts with one kerf."""
        return self.kinds[kind].stock_m + self.kerf_m

    @property
    def on_hand(self) -> list[float]:
        """How many sticks there are of each kind; infinite where they can be bought."""
        return [math.inf if kind.count is None else float(kind.count) for kind in self.kinds]

    def less(self, taken: Mapping[int, int]) -> tuple[Kind, ...]:
        """Return the kinds of stick when so many of some are taken."""
        return tuple(
            kind if kind.count is None else replace(kind, count=kind.count - taken.get(n, 0))
            for n, kind in enumerate(self.kinds)
        )

    def of_mix(self, counts: Sequence[int]) -> Task:
        """Return the task with so many sticks of each kind and no more."""
        kinds = zip(self.kinds, counts, strict=True)
        return replace(self, kinds=tuple(replace(kind, count=n) for kind, n in kinds))

    @property
    def each_post(self) -> list[int]:
        """The number of its length for every post, the longest first."""
        return [number for number, length in enumerate(self.post_lengths) for _ in length.posts]

    def posts_take_m(self, posts: Iterable[int]) -> float:
        """Return what posts, by the numbers of their lengths, take of a stick, a kerf with each."""
        return sum(self.post_lengths[i].length_m + self.kerf_m for i in posts)

    def part_numbers(self) -> dict[tuple[int, int, int], int]:
        """Return the number of each part by its beam, its left end and its right end."""
        return {(part.beam, part.left, part.right): number for number, part in enumerate(self.parts)}

    def threads(self, part: Part) -> int:
        """Return how many threaded ends this part needs."""
        return part.joints + self.beams[part.beam].threads if self.threaded else 0

    def is_uncut(self, load: Load) -> bool:
        """Whether a load is one uncut stick between two threaded joints."""
        return any(self.threads(self.parts[part]) == THREADS for part in load.parts)

    def merges(self) -> bool:
        """Whether two neighbouring parts in one stick are never better than one piece in their stead."""
        return not self.threaded or self.make_up_m <= self.kerf_m

    @property
    def most_pieces(self) -> int:
        """No cutting has more pieces than this."""
        return sum(len(p.posts) for p in self.post_lengths) + sum(len(s) + 1 for s in self.spots)


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """One stick's load: numbers of post lengths (repeated) and of parts."""

    kind: int
    posts: tuple[int, ...]
    parts: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """A way to cut a task: the loads and, for each used spot (beam, number), where its joint stands."""

    loads: tuple[Load, ...]
    places_m: dict[tuple[int, int], float]


def part_length_m(task: Task, part: Part, places_m: dict[tuple[int, int], float]) -> float:
    """Return the length of a part with the joints where they stand."""
    left = 0.0 if part.left < 0 else places_m[part.beam, part.left]
    at_end = part.right == len(task.spots[part.beam])
    right = task.beams[part.beam].length_m if at_end else places_m[part.beam, part.right]
    return right - left - part.joints * task.make_up_m / 2


def load_m(task: Task, load: Load, places_m: dict[tuple[int, int], float]) -> float:
    """Return what a load takes of its stick's room, a kerf with every piece."""
    lengths = [task.post_lengths[i].length_m for i in load.posts]
    lengths += [part_length_m(task, task.parts[i], places_m) for i in load.parts]
    return sum(lengths) + len(lengths) * task.kerf_m


def joints_in(task: Task, cutting: Cutting) -> int:
    """Return how many joints a cutting has."""
    return sum(task.parts[p].left != START for load in cutting.loads for p in load.parts)


def make_task(
    name: str, posts: Sequence[Piece], beams: Sequence[BeamToCut], stock: Sequence[Stock], pipe: Pipe
) -> Task:
    """Gather one task; the order of the pieces given does not matter."""
    kinds = tuple(
        Kind(
            stock_m=s.length_m,
            price=s.price,
            count=s.count,
            for_posts=s.use != "beam" and bool(posts),
            for_beams=s.use != "post" and bool(beams),
            threads=threads_on(s),
        )
        for s in sorted(
            stock,
            key=lambda s: (
                -s.length_m,
                s.price is None,
                s.price or 0.0,
                s.use,
                s.count is None,
                s.count or 0,
                threads_on(s),
            ),
        )
    )
    post_lengths: list[PostLength] = []
    for post in sorted(posts, key=lambda p: (-p.length_m, p.name)):
        if post_lengths and post_lengths[-1].length_m - post.length_m <= SAME_M:
            last = post_lengths[-1]
            post_lengths[-1] = PostLength(length_m=last.length_m, posts=(*last.posts, post))
        else:
            post_lengths.append(PostLength(length_m=post.length_m, posts=(post,)))
    in_order = tuple(sorted(beams, key=lambda b: (-b.length_m, b.name)))
    rules = rules_of(pipe)
    spots = tuple(legal_spots(beam, rules) for beam in in_order)
    make_up = pipe.make_up_m if pipe.joint == "threaded" else 0.0
    longest = max((k.stock_m for k in kinds if k.for_beams), default=0.0) + SNAP_M
    parts = tuple(
        part
        for number, beam in enumerate(in_order)
        for part in possible_parts(
            number,
            beam,
            spots[number],
            longest_m=longest,
            make_up_m=make_up,
            posts_per_piece=rules.posts_per_piece,
        )
    )
    return Task(
        pipe=name,
        kinds=kinds,
        kerf_m=pipe.kerf_m,
        post_lengths=tuple(post_lengths),
        beams=in_order,
        spots=spots,
        parts=parts,
        threaded=pipe.joint == "threaded",
        make_up_m=make_up,
        rules=rules,
        useful_drop_m=pipe.useful_drop_m,
        ways=tuple(ways_on(parts, number, spots[number]) for number in range(len(in_order))),
    )
