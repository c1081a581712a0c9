"""A cutting of equal worth with longer drops: pieces and joints moved until waste gathers in few sticks."""

from __future__ import annotations

from staking.pipes.joints import START
from staking.pipes.task import Cutting, Load, Task, load_m

LOOKS = 200_000
"""Moves looked at, at most."""
GAIN_M2 = 1e-7
"""A smaller gain in the sum of squared drops is not worth a move."""
OVERFULL = 1e3
"""What a metre too much in a stick weighs, against squared drops in square metres."""


class _Bench:
    """Sticks with their rooms, as pieces are moved about."""

    def __init__(self, task: Task, cutting: Cutting) -> None:
        self.task = task
        self.kinds = [load.kind for load in cutting.loads]
        self.posts = [list(load.posts) for load in cutting.loads]
        self.parts = [load.parts for load in cutting.loads]
        self.places = dict(cutting.places_m)
        self.rooms = [task.room_m(load.kind) - load_m(task, load, cutting.places_m) for load in cutting.loads]
        self.looks = 0

    def worth(self, room_m: float) -> float:
        """Return the squared drop of a stick, or the penalty for too much in it."""
        if room_m < 0:
            return OVERFULL * room_m
        return max(room_m - self.task.kerf_m, 0.0) ** 2

    def gain(self, a: int, b: int, to_b_m: float) -> float:
        """Return what it gains to take this length from stick `a` to stick `b`."""
        self.looks += 1
        before = self.worth(self.rooms[a]) + self.worth(self.rooms[b])
        return self.worth(self.rooms[a] + to_b_m) + self.worth(self.rooms[b] - to_b_m) - before

    def shift(self, a: int, b: int, to_b_m: float) -> None:
        """Book a length as taken from stick `a` to stick `b`."""
        self.rooms[a] += to_b_m
        self.rooms[b] -= to_b_m

    def move_posts(self, a: int, b: int) -> bool:
        """Move a post from `a` to `b`, or change two posts over, where that gains."""
        task = self.task
        self.looks += 1
        if not task.kinds[self.kinds[a]].for_posts or not task.kinds[self.kinds[b]].for_posts:
            return False
        for i in dict.fromkeys(self.posts[a]):
            for j in (None, *dict.fromkeys(self.posts[b])):
                if i == j:
                    continue
                length = task.post_lengths[i].length_m
                length += task.kerf_m if j is None else -task.post_lengths[j].length_m
                if self.rooms[b] >= length and -self.rooms[a] <= length and self.gain(a, b, length) > GAIN_M2:
                    self.shift(a, b, length)
                    self.posts[a].remove(i)
                    self.posts[b].append(i)
                    if j is not None:
                        self.posts[b].remove(j)
                        self.posts[a].append(j)
                    return True
        return False

    def slide_joints(self) -> bool:
        """Slide each joint to where the drops gain most."""
        task, moved = self.task, False
        ends: dict[tuple[int, int], tuple[int, int]] = {}
        begins: dict[tuple[int, int], tuple[int, int]] = {}
        for stick, parts in enumerate(self.parts):
            for number in parts:
                part = task.parts[number]
                if part.left != START:
                    begins[part.beam, part.left] = (stick, task.threads(part))
                if part.right < len(task.spots[part.beam]):
                    ends[part.beam, part.right] = (stick, task.threads(part))
        for key, at in sorted(self.places.items()):
            (a, a_threads), (b, b_threads) = begins[key], ends[key]
            if a == b or 2 in (a_threads, b_threads):
                continue
            # Moving the joint right by x takes x from stick a, whose part begins there, to stick b.
            least, most = min(-self.rooms[a], 0.0), max(self.rooms[b], 0.0)
            if self.rooms[a] < 0:
                least = -self.rooms[a]
            if self.rooms[b] < 0:
                most = self.rooms[b]
            choices = {
                min(max(target, low - at), high - at)
                for low, high in task.spots[key[0]][key[1]].intervals
                for target in (least, most)
                if low - at <= most and high - at >= least
            }
            best = max(choices, key=lambda x: (self.gain(a, b, x), -abs(x), x), default=0.0)
            if self.gain(a, b, best) > GAIN_M2:
                self.shift(a, b, best)
                self.places[key] = at + best
                moved = True
        return moved

    def cutting(self) -> Cutting:
        """Return what has come of it, without sticks that are no longer needed."""
        loads = tuple(
            Load(kind=k, posts=tuple(sorted(posts)), parts=parts)
            for k, posts, parts in zip(self.kinds, self.posts, self.parts, strict=True)
            if posts or parts
        )
        return Cutting(loads=loads, places_m=self.places)


def with_longer_drops(task: Task, cutting: Cutting) -> Cutting:
    """Return a cutting with the same sticks and the same parts whose squared drops sum to more."""
    bench = _Bench(task, cutting)
    moved = True
    while moved and bench.looks < LOOKS:
        moved = bench.slide_joints()
        for a in range(len(bench.rooms)):
            for b in range(len(bench.rooms)):
                if a != b and bench.looks < LOOKS:
                    moved |= bench.move_posts(a, b)
    return bench.cutting()
