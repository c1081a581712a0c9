"""What one stick can hold: the most valuable loads, found exactly by branch and bound.

Each post length and each part of a beam has a value. A part's value grows with its length, at one rate
for its left joint and one for its right. The search goes through posts and parts by value per metre,
and leaves a branch when filling the rest of the stick at the best rates still to come is not enough.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from staking.pipes.joints import SNAP_M
from staking.pipes.task import THREADS, Task

TINY_M = 1e-9
"""Stands for no length at all where a value per metre is asked for."""
STEPS = 400_000
"""Branches of one search at most, about a second; beyond it nothing is claimed."""
ENOUGH = 2000
"""Branches after which a search for better loads stops if it has found one."""
EPSILON = 1e-12
"""Two values nearer than this are the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Values:
    """What pieces are worth in a stick."""

    posts: Sequence[float]
    """By post length."""
    parts: Sequence[float]
    """By part, at its shortest."""
    left_rates: Sequence[float]
    """By part, per metre that its left joint moves outward; not negative."""
    right_rates: Sequence[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A load, what it is worth, and how far each part's joints are moved outward."""

    value: float
    posts: tuple[int, ...]
    parts: tuple[int, ...]
    grown_m: tuple[tuple[float, float], ...]
    """For each part: left joint, right joint."""


@dataclass(slots=True)
class _Item:
    """A post length or a part on the list that the search goes through."""

    post: int = -1
    part: int = -1
    weight: float = 0.0
    value: float = 0.0
    copies: int = 1
    mask: int = 0
    threads: int = 0
    grow: tuple[tuple[float, float, int], ...] = ()
    """(rate, width, side): how it may grow, best rate first."""


class Search:
    """The loads of one kind of stick that are worth more than `floor`."""

    def __init__(
        self,
        task: Task,
        kind: int,
        values: Values,
        *,
        floor: float,
        every: bool,
        limit: int = 0,
        budget: int = STEPS,
    ) -> None:
        self.task = task
        self.ends = task.kinds[kind].threads
        self.floor = floor
        self.every = every
        """Find every load above the floor; else only ever better ones, raising the floor."""
        self.limit = limit
        """So many are found at most where every one is asked for."""
        self.budget = min(STEPS, budget)
        """Branches at most."""
        self.found: list[Found] = []
        self.complete = True
        """Whether no limit was met."""
        self.steps = 0
        self._list(kind, values)
        self._go(0, task.room_m(kind) + SNAP_M, 0.0, (), (), 0, 0)
        self.found.sort(key=lambda f: -f.value)

    def _list(self, kind: int, values: Values) -> None:
        """Put posts and parts in order of value per metre, with what the rest can be worth at most."""
        task, stick = self.task, self.task.kinds[kind]
        room = task.room_m(kind) + SNAP_M
        entries: list[tuple[float, float, float, _Item | None]] = []
        if stick.for_posts:
            for i, (length, value) in enumerate(zip(task.post_lengths, values.posts, strict=True)):
                weight = length.length_m + task.kerf_m
                copies = min(len(length.posts), int(room / weight))
                if copies and (value > EPSILON or self.every):
                    item = _Item(post=i, weight=weight, value=value, copies=copies)
                    entries.append((value / weight, weight * copies, value * copies, item))
        if stick.for_beams:
            bits = _cell_bits(task)
            for i, part in enumerate(task.parts):
                threads = task.threads(part)
                weight = part.shortest_m + task.kerf_m
                if threads >= THREADS or weight > room:
                    continue
                grow = sorted(
                    (
                        (rate, width, side)
                        for side, (rate, width) in enumerate(
                            (
                                (values.left_rates[i], part.left_grow_m),
                                (values.right_rates[i], part.right_grow_m),
                            )
                        )
                        if rate > EPSILON and width > 0
                    ),
                    reverse=True,
                )
                item = _Item(
                    part=i,
                    weight=weight,
                    value=values.parts[i],
                    mask=bits[i],
                    threads=threads,
                    grow=tuple(grow),
                )
                heavy, worth = max(weight, TINY_M), values.parts[i]
                rest = list(grow)
                while rest and (worth < 0 or rest[0][0] > worth / heavy):
                    rate, width, _ = rest.pop(0)
                    heavy, worth = heavy + width, worth + rate * width
                if worth > EPSILON or self.every:
                    entries.append((worth / heavy, heavy, worth, item))
                    entries += [(rate, width, rate * width, None) for rate, width, _ in rest]
        entries.sort(key=lambda e: -e[0])
        self.items = [e[3] for e in entries]
        self.rates = [max(e[0], 0.0) for e in entries]
        self.room_sum, self.value_sum = [0.0], [0.0]
        for rate, weight, value, _ in entries:
            self.room_sum.append(self.room_sum[-1] + (weight if rate > 0 else 0.0))
            self.value_sum.append(self.value_sum[-1] + (value if rate > 0 else 0.0))
        self.positive = sum(1 for r in self.rates if r > 0)
        self.weights = [math.inf if i is None else i.weight for i in self.items]
        self.values = [-math.inf if i is None else i.value for i in self.items]
        self.lightest = [*accumulate(reversed(self.weights), min)][::-1]
        """Of the entries from here on."""
        self.plain = all(i is not None and i.post >= 0 for i in self.items)

    def _rest(self, k: int, room: float) -> float:
        """Return what entries from `k` on are worth at most in this room."""
        if k >= self.positive:
            return 0.0
        target = self.room_sum[k] + room
        last = bisect_right(self.room_sum, target, k, self.positive + 1) - 1
        value = self.value_sum[last] - self.value_sum[k]
        if last < self.positive:
            value += (target - self.room_sum[last]) * self.rates[last]
        return value

    def _go(
        self,
        start: int,
        room: float,
        value: float,
        chosen: tuple[tuple[_Item, int], ...],
        grow: Sequence[tuple[float, float, int]],
        mask: int,
        threads: int,
    ) -> None:
        """Take up the load `chosen` with `room` left, then all that adds entries from `start` on.

        `grow` is how the chosen parts may grow, best rate first.
        """
        self.steps += 1
        if self.steps > self.budget or (self.steps > ENOUGH and self.found and not self.every):
            self.complete = False
            return
        grown = _fill(grow, room) if grow else 0.0
        if chosen and value + grown > self.floor + EPSILON:
            self._report(chosen, room, value + grown)
        if start >= len(self.items):
            return
        if self.plain and not self.every and room < 2 * self.lightest[start]:
            self._last(start, room, value, chosen)
            return
        passed, passed_room, passed_value = 0, 0.0, 0.0
        weights, rates = self.weights, self.rates
        for k in range(start, len(self.items)):
            if weights[k] > room:
                if self.lightest[k] > room:
                    return
                continue
            if self.every and len(self.found) >= self.limit:
                self.complete = False
                return
            # Growth at a better rate than entry k comes first; growth at a worse one has its own entry.
            while passed < len(grow) and grow[passed][0] >= rates[k]:
                passed_room += grow[passed][1]
                passed_value += grow[passed][0] * grow[passed][1]
                passed += 1
            if passed_room > room:
                best = value + grown
            else:
                best = value + passed_value + self._rest(k, room - passed_room)
            if best <= self.floor + EPSILON:
                return
            item = self.items[k]
            if item is None:
                continue
            if item.post >= 0:
                for copies in range(min(item.copies, int(room / item.weight)), 0, -1):
                    self._go(
                        k + 1,
                        room - copies * item.weight,
                        value + copies * item.value,
                        (*chosen, (item, copies)),
                        grow,
                        mask,
                        threads,
                    )
            elif not mask & item.mask and threads + item.threads <= self.ends:
                self._go(
                    k + 1,
                    room - item.weight,
                    value + item.value,
                    (*chosen, (item, 1)),
                    sorted((*grow, *item.grow), reverse=True),
                    mask | item.mask,
                    threads + item.threads,
                )

    def _last(self, start: int, room: float, value: float, chosen: tuple[tuple[_Item, int], ...]) -> None:
        """Add the best single post where no more than one fits."""
        worths = [
            v if w <= room else 0.0 for v, w in zip(self.values[start:], self.weights[start:], strict=True)
        ]
        best = max(worths)
        if best > 0 and value + best > self.floor + EPSILON:
            item = self.items[start + worths.index(best)]
            assert item is not None
            self._report((*chosen, (item, 1)), room - item.weight, value + best)

    def _report(self, chosen: tuple[tuple[_Item, int], ...], room: float, value: float) -> None:
        """Keep a load that is worth more than the floor."""
        order = sorted(
            ((g, number) for number, (item, _) in enumerate(chosen) for g in item.grow),
            key=lambda e: -e[0][0],
        )
        grown: dict[tuple[int, int], float] = {}
        for (_, width, side), number in order:
            step = min(width, max(room, 0.0))
            grown[number, side] = step
            room -= step
        parts = [(item.part, number) for number, (item, _) in enumerate(chosen) if item.part >= 0]
        parts.sort()
        self.found.append(
            Found(
                value=value,
                posts=tuple(sorted(item.post for item, n in chosen if item.post >= 0 for _ in range(n))),
                parts=tuple(part for part, _ in parts),
                grown_m=tuple((grown.get((n, 0), 0.0), grown.get((n, 1), 0.0)) for _, n in parts),
            )
        )
        if not self.every:
            self.floor = value


def _fill(grow: Sequence[tuple[float, float, int]], room: float) -> float:
    """Return what growing, best rate first, is worth in this room."""
    value = 0.0
    for rate, width, _ in grow:
        step = min(width, max(room, 0.0))
        value += rate * step
        room -= step
    return value


def _cell_bits(task: Task) -> list[int]:
    """Return a bit mask for each part: two parts that share a bit must not come from one stick.

    Overlapping parts of a beam exclude each other. So do neighbours where one piece in their stead
    is never worse: it saves a joint and a kerf.
    """
    base, first = 0, []
    for spots in task.spots:
        first.append(base)
        base += 2 * len(spots) + 1
    masks = []
    for part in task.parts:
        # Bit 2 i + 1 is the spot i, bit 2 i the stretch before it.
        low = 2 * (part.left + 1)
        high = 2 * part.right
        if task.merges():
            low = max(low - 1, 0)
            high = min(high + 1, 2 * len(task.spots[part.beam]))
        mask = ((1 << (high - low + 1)) - 1) << low
        masks.append(mask << first[part.beam])
    return masks
