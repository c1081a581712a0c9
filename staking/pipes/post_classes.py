"""What the linear program of a large job tells apart: classes of posts, and what fills a stick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.pipes.task import SAME_M, Cutting, Load, Task

HAIR_M = 1e-10
"""Far below anything a saw can do, and above the rounding of sums."""
HALVED = 40
"""Times that the most a class may lose is halved in; from kilometres to far less than a post's tolerance."""

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """One stick: its kind, its posts by number of their length in the task, and what is left for beams."""

    kind: int
    posts: tuple[int, ...]
    left_m: float

    @property
    def load(self) -> Load:
        """The stick as a load without beams."""
        return Load(kind=self.kind, posts=tuple(sorted(self.posts)), parts=())


def filled_by(cutting: Cutting) -> list[Filled]:
    """Return the sticks of a cutting without beams."""
    return [Filled(kind=load.kind, posts=load.posts, left_m=0.0) for load in cutting.loads]


@dataclass(frozen=True, slots=True, kw_only=True)
class PostClass:
    """Posts of nearly one length."""

    low_m: float
    high_m: float
    posts: tuple[int, ...]
    """Numbers of their lengths in the task, one for each post."""


def classes_of(task: Task, most: int) -> list[PostClass]:
    """Take posts of nearly one length together, so many classes at most, none of which loses much.

    What a class loses is what its posts together are shorter than its longest.
    """
    if len(task.post_lengths) <= most:
        return _classes(task, SAME_M)
    low, high = 0.0, task.post_lengths[0].length_m * sum(len(p.posts) for p in task.post_lengths)
    for _ in range(HALVED):
        middle = (low + high) / 2
        if len(_classes(task, middle)) > most:
            low = middle
        else:
            high = middle
    return _classes(task, high)


def _classes(task: Task, loss_m: float) -> list[PostClass]:
    """Return classes that lose so much each at most, from the longest posts on."""
    classes: list[PostClass] = []
    lost = 0.0
    for n, p in enumerate(task.post_lengths):
        numbers = (n,) * len(p.posts)
        lost += len(numbers) * (classes[-1].high_m - p.length_m) if classes else 0.0
        if classes and lost <= loss_m:
            last = classes[-1]
            classes[-1] = PostClass(low_m=p.length_m, high_m=last.high_m, posts=(*last.posts, *numbers))
        else:
            classes.append(PostClass(low_m=p.length_m, high_m=p.length_m, posts=numbers))
            lost = 0.0
    return classes


def most_beam_pieces(task: Task) -> int:
    """Return how many pieces of beams at most lie beside posts, or at all where joints are butted.

    A piece between two threaded joints is an uncut stick.
    """
    ends = 2 if task.threaded else task.most_pieces
    return sum(min(len(spots) + 1, ends) for spots in task.spots)


def placed(places: Sequence[int], left: Ints) -> tuple[int, ...]:
    """Return the classes of posts still left that fill these places, each the longest that fits its place."""
    taken: list[int] = []
    for place in places:
        there = np.flatnonzero(left[place:])
        here = next((place + int(n) for n in there if taken.count(place + int(n)) < left[place + n]), None)
        if here is not None:
            taken.append(here)
    return tuple(sorted(taken))
