"""Quick cuttings without any search: best fit for posts, beams threaded through what is left."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from staking.pipes.chains import chain_of
from staking.pipes.joints import SNAP_M, START
from staking.pipes.laying import farthest
from staking.pipes.task import THREADS, Cutting, Load, Task, load_m

TRIES = 40
"""Shuffled tries after the plain ones; more of them seldom help."""
SEED = 1
"""Any fixed number: the same pieces are always cut in the same way."""
SHARES = (2.0, 0.6, 0.4, 0.25, 0.0)
"""Least pieces that beams take from opened sticks, of the longest stick; with the first none but its end."""


@dataclass(slots=True)
class _Open:
    """A stick being filled; its room counts one kerf more than its length."""

    kind: int
    room_m: float
    posts: list[int] = field(default_factory=list)
    parts: list[int] = field(default_factory=list)
    threads: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Habit:
    """How one try goes about it."""

    beams_first: bool
    share: float
    """A beam takes a piece from an opened stick when it is at least this share of the longest stick."""
    kinds: tuple[int, ...]
    """Order in which kinds of stick are opened."""
    shuffle: float = 0.0
    """How much the order of the posts is disturbed, as a share of their length."""


class _Bench:
    """The sticks opened so far, and where joints stand."""

    def __init__(self, task: Task, habit: _Habit, chance: random.Random) -> None:
        self.task = task
        self.habit = habit
        self.chance = chance
        self.on_hand = [k.count for k in task.kinds]
        self.sticks: list[_Open] = []
        self.places: dict[tuple[int, int], float] = {}
        self.part_at = task.part_numbers()

    def new_kind(self, length_m: float, *, beam: bool, threads: int = 0) -> int | None:
        """Return the first kind of stick, by habit, that holds this length and is on hand."""
        for number in self.habit.kinds:
            kind = self.task.kinds[number]
            fits = (kind.for_beams if beam else kind.for_posts) and threads <= kind.threads
            if fits and self.on_hand[number] != 0 and kind.stock_m + SNAP_M >= length_m:
                return number
        return None

    def open(self, kind: int) -> _Open:
        """Take a new stick."""
        count = self.on_hand[kind]
        if count is not None:
            self.on_hand[kind] = count - 1
        stick = _Open(kind=kind, room_m=self.task.room_m(kind))
        self.sticks.append(stick)
        return stick

    def best_fit(self, length_m: float, *, beam: bool, threads: int = 0) -> _Open | None:
        """Return the opened stick in which least is left over, else a new one."""
        need = length_m + self.task.kerf_m
        fitting = [
            s
            for s in self.sticks
            if s.room_m + SNAP_M >= need
            and s.threads + threads <= self.task.kinds[s.kind].threads
            and (self.task.kinds[s.kind].for_beams if beam else self.task.kinds[s.kind].for_posts)
        ]
        if fitting:
            return min(fitting, key=lambda s: s.room_m)
        kind = self.new_kind(length_m, beam=beam, threads=threads)
        return None if kind is None else self.open(kind)

    def put_posts(self) -> bool:
        """Cut every post, the longest first; False when stock runs out."""
        order = self.task.each_post
        if self.habit.shuffle:
            order.sort(
                key=lambda i: (
                    -self.task.post_lengths[i].length_m * (1 + self.habit.shuffle * self.chance.random())
                )
            )
        for i in order:
            length = self.task.post_lengths[i].length_m
            stick = self.best_fit(length, beam=False)
            if stick is None:
                return False
            stick.room_m -= length + self.task.kerf_m
            stick.posts.append(i)
        return True

    def put_part(self, stick: _Open, beam: int, left: int, right: int, length_m: float) -> None:
        """Cut one part of a beam from a stick."""
        number = self.part_at[beam, left, right]
        stick.room_m -= length_m + self.task.kerf_m
        stick.threads += self.task.threads(self.task.parts[number])
        stick.parts.append(number)

    def put_chain(self, beam: int) -> bool:
        """Cut a beam with the fewest joints, whatever is left over in the sticks."""
        task = self.task
        chain = chain_of(task, beam)
        if chain is None:
            return False
        self.places.update({(beam, spot): at for spot, at in chain})
        ends = [START, *(spot for spot, _ in chain), len(task.spots[beam])]
        at = [0.0, *(at for _, at in chain), task.beams[beam].length_m]
        for k in range(len(ends) - 1):
            part = task.parts[self.part_at[beam, ends[k], ends[k + 1]]]
            length = at[k + 1] - at[k] - part.joints * task.make_up_m / 2
            stick = self.best_fit(length, beam=True, threads=task.threads(part))
            if stick is None or (
                task.threads(part) == THREADS and abs(task.kinds[stick.kind].stock_m - length) > SNAP_M
            ):
                return False
            self.put_part(stick, beam, ends[k], ends[k + 1], length)
        return True

    def put_through(self, beam: int) -> bool:
        """Cut a beam from the left, from opened sticks where a piece is worth it, else from new ones."""
        task = self.task
        spots, length_m = task.spots[beam], task.beams[beam].length_m
        longest = max(k.stock_m for k in task.kinds if k.for_beams)
        at, left = 0.0, START
        before: _Open | None = None
        while left != len(spots):
            choices: list[tuple[bool, float, int, float, _Open]] = []
            for stick in self.sticks:
                room = stick.room_m - task.kerf_m
                if stick is before or room <= 0 or not task.kinds[stick.kind].for_beams:
                    continue
                reach = farthest(task, beam, at, left, room)
                if reach is None:
                    continue
                right, place = reach
                ends = right == len(spots)
                if ends or place - at >= self.habit.share * longest:
                    choices.append((not ends, room - (place - at), right, place, stick))
            if choices:
                _, _, right, place, stick = min(choices, key=lambda c: c[:4])
            else:
                kind = self.new_kind(length_m - at, beam=True)
                if kind is None:
                    kind = self.new_kind(0.0, beam=True)
                reach = None if kind is None else farthest(task, beam, at, left, task.kinds[kind].stock_m)
                if kind is None or reach is None:
                    return False
                right, place = reach
                stick = self.open(kind)
            self.put_part(stick, beam, left, right, place - at)
            if right != len(spots):
                self.places[beam, right] = place
            at, left, before = place, right, stick
        return True

    def cutting(self) -> Cutting:
        """Return what is on the bench."""
        loads = tuple(
            Load(kind=s.kind, posts=tuple(sorted(s.posts)), parts=tuple(sorted(s.parts))) for s in self.sticks
        )
        return Cutting(loads=loads, places_m=dict(self.places))


def _attempt(task: Task, habit: _Habit, chance: random.Random) -> Cutting | None:
    """Cut the whole task by one habit."""
    bench = _Bench(task, habit, chance)
    if habit.beams_first and not all(bench.put_chain(beam) for beam in range(len(task.beams))):
        return None
    if not bench.put_posts():
        return None
    if not habit.beams_first and not all(bench.put_through(beam) for beam in range(len(task.beams))):
        return None
    return bench.cutting()


def beams_through(
    task: Task, weights: tuple[float, ...], sticks: Sequence[tuple[int, Sequence[int]]]
) -> Iterator[Cutting]:
    """Yield quick cuttings in which beams go through what these sticks (kind, posts) leave, then new ones."""
    chance = random.Random(SEED)
    rate = sorted(range(len(task.kinds)), key=lambda i: (weights[i] / task.room_m(i), i))
    for share in (2.0,) if task.threaded else SHARES:
        bench = _Bench(task, _Habit(beams_first=task.threaded, share=share, kinds=tuple(rate)), chance)
        for kind, posts in sticks:
            stick = bench.open(kind)
            stick.posts = list(posts)
            stick.room_m -= task.posts_take_m(posts)
        lay = bench.put_chain if task.threaded else bench.put_through
        if all(lay(beam) for beam in range(len(task.beams))):
            yield cheaper_kinds(task, bench.cutting(), weights)


def cheaper_kinds(task: Task, cutting: Cutting, weights: tuple[float, ...]) -> Cutting:
    """Return the cutting with each load on the kind of stick that weighs least and still holds it."""
    left = [k.count for k in task.kinds]
    for load in cutting.loads:
        count = left[load.kind]
        if count is not None:
            left[load.kind] = count - 1
    loads = []
    for load in cutting.loads:
        need = load_m(task, load, cutting.places_m)
        threads = sum(task.threads(task.parts[p]) for p in load.parts)
        better = [
            i
            for i, kind in enumerate(task.kinds)
            if not task.is_uncut(load)
            and threads <= kind.threads
            and weights[i] < weights[load.kind]
            and task.room_m(i) + SNAP_M >= need
            and (not load.posts or kind.for_posts)
            and (not load.parts or kind.for_beams)
            and left[i] != 0
        ]
        chosen = min(better, key=lambda i: (weights[i], i)) if better else load.kind
        for kind_number, change in ((load.kind, 1), (chosen, -1)):
            count = left[kind_number]
            if count is not None:
                left[kind_number] = count + change
        loads.append(Load(kind=chosen, posts=load.posts, parts=load.parts))
    return Cutting(loads=tuple(loads), places_m=cutting.places_m)


def greedy_cuttings(task: Task, weights: tuple[float, ...], *, shuffled: bool) -> Iterator[Cutting]:
    """Yield quick cuttings, those with the fewest joints first, or those of shuffled posts."""
    chance = random.Random(SEED)
    rate = sorted(range(len(task.kinds)), key=lambda i: (weights[i] / task.room_m(i), i))
    orders = [(first, *(k for k in rate if k != first)) for first in rate]
    shares = (2.0,) if task.threaded else SHARES
    if shuffled:
        habits = [
            _Habit(
                beams_first=task.threaded or not task.beams or n % 4 == 0,
                share=shares[n % len(shares)],
                kinds=orders[n % len(orders)],
                shuffle=0.15 + 0.25 * (n % 3),
            )
            for n in range(TRIES if len(task.post_lengths) > 1 else 0)
        ]
    else:
        habits = [_Habit(beams_first=True, share=2.0, kinds=order) for order in orders]
        if task.beams and not task.threaded:
            habits += [_Habit(beams_first=False, share=s, kinds=order) for s in shares for order in orders]
    for habit in habits:
        cutting = _attempt(task, habit, chance)
        if cutting is not None:
            yield cheaper_kinds(task, cutting, weights)
