"""Beams threaded through what posts leave over, with a budget of waste: a short search with way back.

When the sticks to be used are given, all waste together is known beforehand: what the sticks hold less
what the pieces need. So a beam is cut piece by piece from what is left in some stick, each joint as far
right as it may stand, and a choice is taken back when the waste so far is more than that.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Iterator, Sequence

from staking.pipes.goal import Goal
from staking.pipes.joints import SNAP_M, START
from staking.pipes.simple_bounds import ROUND, needs_m
from staking.pipes.task import Cutting, Load, Task

PACKINGS = 60
"""Ways to share out the posts that are tried."""
FIRST_PACKINGS = 12
"""Those tried before the bound is searched for."""
STEPS = 400
"""Pieces laid in one try, those taken back included."""
SEED = 2
"""Any fixed number: the same pieces are always cut in the same way."""
ENOUGH = 20_000
"""Mixes that are listed, at most."""
LOOKED_AT = 200_000
"""Mixes and parts of mixes that are looked at, at most: with dozens of offcuts there is no end of them."""
COARSE_M = 0.02
"""Choices whose waste differs by less than this are equal; the longer piece goes first."""


def laid_cuttings(
    task: Task, kinds: Sequence[int], packings: int = PACKINGS, liked: Sequence[tuple[float, Load]] = ()
) -> Iterator[Cutting]:
    """Yield cuttings that use at most these sticks, given by their kinds.

    `liked` are loads with a share each, as a linear program uses them: every other packing begins with
    the posts of some of these.
    """
    if task.threaded:
        return
    chance = random.Random(SEED)
    posts = task.each_post
    for n in range(packings):
        shuffle = 0.0 if n == 0 else (0.1, 0.3, 0.8)[n % 3]
        order = sorted(posts, key=lambda i: -task.post_lengths[i].length_m * (1 + shuffle * chance.random()))
        first = (
            sorted(liked, key=lambda s: -s[0] * (1 - n / packings * chance.random())) if n % 2 == 0 else ()
        )
        packed = _pack(task, kinds, order, [load for _, load in first], spread=n % 4 == 1)
        if packed is None:
            continue
        laying = _Laying(task, kinds, packed, chance if n else None)
        if laying.lay(0, 0.0, START):
            yield laying.cutting()


def _pack(
    task: Task, kinds: Sequence[int], order: Sequence[int], first: Sequence[Load], *, spread: bool
) -> list[list[int]] | None:
    """Share out posts over the sticks: into the fullest that holds one, or where least is left in the end.

    The posts of the loads in `first` go together as long as posts and sticks of their kind are left.
    """
    rooms = [task.room_m(k) if task.kinds[k].for_posts else 0.0 for k in kinds]
    packed: list[list[int]] = [[] for _ in kinds]
    left = Counter(order)
    for load in first:
        stick = next((s for s, k in enumerate(kinds) if k == load.kind and not packed[s]), None)
        posts = Counter(load.posts)
        if posts and stick is not None and posts <= left:
            left -= posts
            packed[stick] = list(load.posts)
            rooms[stick] -= task.posts_take_m(load.posts)
    for i in order:
        if left[i] == 0:
            continue
        left[i] -= 1
        need = task.post_lengths[i].length_m + task.kerf_m
        fits = [s for s, room in enumerate(rooms) if room + SNAP_M >= need]
        if not fits:
            return None
        # Spread: the rest comes nearest to a whole number of further posts of this length.
        best = min(fits, key=lambda s: ((rooms[s] - need) % need if spread else rooms[s], s))
        rooms[best] -= need
        packed[best].append(i)
    return packed


def mixes(task: Task, goal: Goal, low: float, high: float) -> list[tuple[int, ...]]:
    """Return numbers of sticks by kind whose sum of weights is from `low` to below `high`, least first.

    Only those that hold the pieces by length.
    """
    posts, beams = needs_m(task)
    need = posts + beams - SNAP_M * task.most_pieces
    found: list[tuple[float, int, tuple[int, ...]]] = []
    rates = [w / task.room_m(kind) for kind, w in enumerate(goal.weights)]
    pieces, looked = task.most_pieces, 0

    def extend(counts: tuple[int, ...], weight: float, cap: float, room: float) -> None:
        nonlocal looked
        looked += 1
        kind = len(counts)
        if kind == len(task.kinds):
            if weight >= low - goal.step / 2 and room >= need:
                found.append((round(weight, 9), sum(counts), counts))
            return
        rest = max(need - room, 0.0)
        if weight + rest * min(rates[kind:]) > high - goal.step / 2:
            return
        # Of the last kind as many as are needed.
        last = kind == len(task.kinds) - 1
        first = math.ceil(rest / task.room_m(kind) - ROUND) if last else 0
        on_hand = task.kinds[kind].count
        most = pieces if on_hand is None else on_hand
        capped = 0.0 if goal.cap_weights is None else goal.cap_weights[kind]
        for n in range(first, min(most, pieces - sum(counts)) + 1):
            more, more_cap = weight + n * goal.weights[kind], cap + n * capped
            if (
                more > high - goal.step / 2
                or more_cap > goal.cap
                or len(found) >= ENOUGH
                or looked > LOOKED_AT
            ):
                break
            extend((*counts, n), more, more_cap, room + n * task.room_m(kind))

    extend((), 0.0, 0.0, 0.0)
    return [counts for _, _, counts in sorted(found)]


class _Laying:
    """Beams laid piece by piece; every step can be taken back."""

    def __init__(
        self,
        task: Task,
        kinds: Sequence[int],
        packed: Sequence[Sequence[int]],
        chance: random.Random | None,
    ) -> None:
        self.task, self.kinds, self.packed, self.chance = task, kinds, packed, chance
        self.rooms = [
            task.room_m(kind) - task.posts_take_m(posts) if task.kinds[kind].for_beams else 0.0
            for kind, posts in zip(kinds, packed, strict=True)
        ]
        self.parts: list[list[tuple[int, int, int]]] = [[] for _ in packed]
        self.places: dict[tuple[int, int], float] = {}
        self.need = sum(b.length_m for b in task.beams)
        self.steps = 0
        self.last = -1

    def lay(self, beam: int, at: float, left: int) -> bool:
        """Lay what is left of this beam from `at` on, and all later beams."""
        if beam == len(self.task.beams):
            return True
        self.steps += 1
        if self.steps > STEPS:
            return False
        task, kerf = self.task, self.task.kerf_m
        spots = task.spots[beam]
        if self.need > sum(r - kerf for r in self.rooms if r > kerf) + SNAP_M:
            return False
        choices: list[tuple[float, float, int, int, float]] = []
        seen: set[float] = set()
        for stick, room in enumerate(self.rooms):
            size = round(room, 7)
            if room <= kerf or stick == self.last or size in seen:
                continue
            seen.add(size)
            reach = farthest(task, beam, at, left, room - kerf)
            if reach is None:
                continue
            right, place = reach
            waste = 0.0 if right == len(spots) else room - kerf - (place - at)
            noise = self.chance.random() if self.chance is not None else 0.0
            choices.append((round(waste / COARSE_M) + 3 * noise, -(place - at), stick, right, place))
        choices.sort()
        before = self.last
        for _, _, stick, right, place in choices:
            piece = place - at
            ends = right == len(spots)
            room = self.rooms[stick]
            self.rooms[stick] = room - piece - kerf
            self.parts[stick].append((beam, left, right))
            self.need -= piece
            if not ends:
                self.places[beam, right] = place
            self.last = -1 if ends else stick
            if self.lay(beam + ends, 0.0 if ends else place, START if ends else right):
                return True
            self.rooms[stick] = room
            self.parts[stick].pop()
            self.need += piece
            self.last = before
            if not ends:
                del self.places[beam, right]
            if self.steps > STEPS:
                return False
        return False

    def cutting(self) -> Cutting:
        """Return what is laid."""
        part_at = self.task.part_numbers()
        loads = tuple(
            Load(kind=kind, posts=tuple(sorted(posts)), parts=tuple(sorted(part_at[p] for p in parts)))
            for kind, posts, parts in zip(self.kinds, self.packed, self.parts, strict=True)
            if posts or parts
        )
        return Cutting(loads=loads, places_m=dict(self.places))


def farthest(task: Task, beam: int, at: float, left: int, room_m: float) -> tuple[int, float] | None:
    """Return the spot and place of the farthest end of a piece of at most `room_m` that starts at `at`.

    The number of spots stands for the beam's right end. None when no end is within reach.
    """
    spots = task.spots[beam]
    for number in task.ways[beam][left + 1]:
        if number == len(spots):
            if task.beams[beam].length_m - at <= room_m + SNAP_M:
                return number, task.beams[beam].length_m
            continue
        for low, high in reversed(spots[number].intervals):
            if low <= at + room_m:
                return number, min(high, at + room_m)
    return None
