"""What laying beams through the drops of a large job starts from, for butted and for threaded joints."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from staking.pipes.task import Task

JOINT_M = 0.02
"""What a joint counts, against waste."""
READY = 0.4
"""A drop of this share of the longest stick will surely be used; shorter ones the less the shorter."""

T = TypeVar("T")


class Rack:
    """What new sticks count, what is on hand, and where joints stand so far."""

    def __init__(self, task: Task, weights: Sequence[float], new: float) -> None:
        self.task = task
        rooms = [task.room_m(k) for k in range(len(task.kinds))]
        rate = min(w / r for w, r, k in zip(weights, rooms, task.kinds, strict=True) if k.for_beams)
        self.dear = [
            new * room + (weight / rate - room if rate > 0 else 0.0)
            for room, weight in zip(rooms, weights, strict=True)
        ]
        """What a new stick of each kind counts: its share, and what it is dearer than the cheapest."""
        self.on_hand = [k.count for k in task.kinds]
        self.places: dict[tuple[int, int], float] = {}
        self.part_at = task.part_numbers()
        self.least = min((p.shortest_m for p in task.parts), default=0.0) + task.kerf_m
        """No piece takes less."""
        self.ready = READY * max(rooms)

    def take(self, kind: int) -> None:
        """Count a stick as taken."""
        count = self.on_hand[kind]
        if count is not None:
            self.on_hand[kind] = count - 1

    def beside(self, kind: int, posts: Sequence[int]) -> float:
        """Return what a stick has left beside posts."""
        return self.task.room_m(kind) - self.task.posts_take_m(posts)


def some_of(found: list[T], most: int) -> list[T]:
    """Return these, or as many of them as may be, spread evenly."""
    return found if len(found) <= most else [found[n * len(found) // most] for n in range(most)]
