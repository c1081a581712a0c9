"""Threaded beams through what posts leave over: every way to join one, its joints slid to fill two drops.

A threaded beam is an end piece, uncut sticks, and an end piece; so it is settled by which spans its joints
stand in, by the kinds of its uncut sticks, and by one length: where the first joint stands.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from staking.pipes.joining import Way, ways_to_join
from staking.pipes.joints import SNAP_M, START
from staking.pipes.rack import JOINT_M, Rack, some_of
from staking.pipes.task import THREADS, Cutting, Load, Task

ROOMS = 80
"""Different rooms looked at for one end piece."""
NEW = (0.3, 0.15, 0.6, 0.0)
"""What a new stick counts, as a share of its length: drops that are there are used first."""
WAYS = 400
"""Ways to join one beam that are tried, those of few joints first."""

Floats = NDArray[np.float64]


@dataclass(slots=True)
class _Stick:
    """A stick as it is filled."""

    kind: int
    room_m: float
    posts: tuple[int, ...] = ()
    parts: list[int] = field(default_factory=list)
    threads: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Best:
    """The best found for one beam."""

    cost: float
    way: Way
    first: int
    """Stick of the first end piece; a new one of kind `k` is ``-1 - k``."""
    last: int
    at_m: float


class _Rack(Rack):
    """Sticks with what is left of them, and beams laid so far."""

    def __init__(
        self,
        task: Task,
        weights: Sequence[float],
        sticks: Sequence[tuple[int, Sequence[int]]],
        ways: Sequence[Sequence[Way]],
        new: float,
    ) -> None:
        super().__init__(task, weights, new)
        self.ways = ways
        self.sticks: list[_Stick] = []
        for kind, posts in sticks:
            self.open(kind, tuple(posts))

    def open(self, kind: int, posts: tuple[int, ...] = ()) -> int:
        """Take a new stick; return its number."""
        self.take(kind)
        self.sticks.append(_Stick(kind=kind, room_m=self.beside(kind, posts), posts=posts))
        return len(self.sticks) - 1

    def idle(self, room_m: Floats) -> Floats:
        """Return how much of each drop will go to waste as a rule."""
        room = np.maximum(room_m, 0.0)
        return np.where(room < self.least, room, room * np.maximum(0.0, 1 - room / self.ready))

    def free(self, stick: _Stick) -> int:
        """Return how many threads of a stick are still free."""
        return self.task.kinds[stick.kind].threads - stick.threads

    def rooms(self) -> tuple[list[int], list[int], Floats]:
        """Return sticks of different rooms, how many threads each has free, and its room; new ones last."""
        by_size: dict[tuple[int, int], int] = {}
        for number, stick in enumerate(self.sticks):
            free = self.free(stick)
            if self.task.kinds[stick.kind].for_beams and free > 0 and stick.room_m >= self.least:
                by_size.setdefault((round(stick.room_m * 1000), -free), number)
        found = some_of([number for _, number in sorted(by_size.items())], ROOMS)
        threads = [self.free(self.sticks[n]) for n in found]
        room = [self.sticks[n].room_m for n in found]
        for kind, stock in enumerate(self.task.kinds):
            if stock.for_beams and stock.threads and self.on_hand[kind] != 0:
                found.append(-1 - kind)
                threads.append(stock.threads)
                room.append(self.task.room_m(kind))
        return found, threads, np.array(room)

    def new_cost(self, stick: int) -> float:
        """Return what it counts to open this one."""
        return self.dear[-1 - stick] if stick < 0 else 0.0

    def there(self, way: Way, more: Sequence[int]) -> bool:
        """Whether there is stock for the uncut sticks and the new ones among `more`."""
        wanted = [*way.uncut, *(-1 - n for n in more if n < 0)]
        return all(count is None or wanted.count(kind) <= count for kind, count in enumerate(self.on_hand))

    def best_way(self, beam: int) -> _Best | None:
        """Return the best way to lay one beam; None when there is none."""
        task, kerf, half = self.task, self.task.kerf_m, self.task.make_up_m / 2
        length = task.beams[beam].length_m
        sticks, threads_free, room = self.rooms()
        if not sticks:
            return None
        opening = np.array([self.new_cost(n) for n in sticks])
        now = self.idle(room)
        free = np.array(threads_free)
        best: _Best | None = None
        for way in self.ways[beam]:
            count = JOINT_M * len(way.spots) + sum(self.dear[k] for k in way.uncut)
            if not way.spots:
                rest = room - length - kerf
                threads = task.threads(task.parts[self.part_at[beam, START, len(task.spots[beam])]])
                fits = (rest >= -SNAP_M) & (threads <= free) & (threads < THREADS)
                cost = np.where(fits, opening + self.idle(rest) - now, np.inf)
                n = int(np.argmin(cost))
                if np.isfinite(cost[n]) and (best is None or cost[n] < best.cost):
                    best = _Best(cost=float(cost[n]), way=way, first=sticks[n], last=sticks[n], at_m=0.0)
                continue
            # The last piece is as long as this less where the first joint stands.
            beyond = length - way.run_m - half
            far = np.minimum(way.high_m, room - kerf + half)
            near = np.maximum(way.low_m, beyond - (room - kerf))
            ok = near[None, :] <= far[:, None] + SNAP_M
            np.fill_diagonal(ok, False)
            for at in (np.broadcast_to(far[:, None], ok.shape), np.broadcast_to(near[None, :], ok.shape)):
                rest_a = room[:, None] - kerf - (at - half)
                rest_b = room[None, :] - kerf - (beyond - at)
                cost = self.idle(rest_a) + self.idle(rest_b) - now[:, None] - now[None, :]
                cost = np.where(ok, cost + opening[:, None] + opening[None, :] + count, np.inf)
                a, b = np.unravel_index(int(np.argmin(cost)), cost.shape)
                least = float(cost[a, b])
                first, last = sticks[int(a)], sticks[int(b)]
                better = np.isfinite(least) and (best is None or least < best.cost)
                if better and self.there(way, (first, last)):
                    best = _Best(cost=least, way=way, first=first, last=last, at_m=float(at[a, b]))
            # Both ends from one stick.
            rest = room - 2 * kerf - (beyond - half)
            fits = (rest >= -SNAP_M) & (free == THREADS)
            cost = np.where(fits, self.idle(rest) - now + opening + count, np.inf)
            n = int(np.argmin(cost))
            better = np.isfinite(cost[n]) and (best is None or cost[n] < best.cost)
            if better and self.there(way, (sticks[n],)):
                best = _Best(cost=float(cost[n]), way=way, first=sticks[n], last=sticks[n], at_m=way.high_m)
        return best

    def lay(self, beam: int) -> bool:
        """Lay one beam with little waste; False when it does not go."""
        best = self.best_way(beam)
        if best is None:
            return False
        task, way = self.task, best.way
        end = len(task.spots[beam])
        first = best.first if best.first >= 0 else self.open(-1 - best.first)
        last = first if best.last == best.first else best.last
        last = last if last >= 0 else self.open(-1 - last)
        half, length = task.make_up_m / 2, task.beams[beam].length_m
        if not way.spots:
            self.put(first, beam, START, end, length)
            return True
        at = best.at_m
        self.put(first, beam, START, way.spots[0], at - half)
        self.places[beam, way.spots[0]] = at
        for n, kind in enumerate(way.uncut):
            stock_m = task.kinds[kind].stock_m
            at += stock_m + task.make_up_m
            self.places[beam, way.spots[n + 1]] = at
            self.put(self.open(kind), beam, way.spots[n], way.spots[n + 1], stock_m)
        self.put(last, beam, way.spots[-1], end, length - at - half)
        return True

    def put(self, stick: int, beam: int, left: int, right: int, length_m: float) -> None:
        """Cut one part from a stick."""
        one, part = self.sticks[stick], self.part_at[beam, left, right]
        one.room_m -= length_m + self.task.kerf_m
        one.threads += self.task.threads(self.task.parts[part])
        one.parts.append(part)

    def cutting(self) -> Cutting:
        """Return what is laid."""
        loads = tuple(
            Load(kind=s.kind, posts=tuple(sorted(s.posts)), parts=tuple(sorted(s.parts)))
            for s in self.sticks
            if s.posts or s.parts
        )
        return Cutting(loads=loads, places_m=self.places)


def joined(
    task: Task, weights: Sequence[float], sticks: Sequence[tuple[int, Sequence[int]]]
) -> Iterator[Cutting]:
    """Yield cuttings with posts on these sticks (kind, posts), beams on what they leave and new sticks.

    For threaded joints; none when the stock does not do.
    """
    ways = [ways_to_join(task, beam)[0][:WAYS] for beam in range(len(task.beams))]
    for new in NEW:
        rack = _Rack(task, weights, sticks, ways, new)
        if all(rack.lay(beam) for beam in range(len(task.beams))):
            yield rack.cutting()
