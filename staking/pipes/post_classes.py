"""What the linear program of a large job tells apart: classes of posts, and what fills a stick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.pipes.task import Task

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """One stick: its kind, its posts by number of their length in the task, and what is left for beams."""

    kind: int
    posts: tuple[int, ...]
    left_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PostClass:
    """Posts of nearly one length."""

    low_m: float
    high_m: float
    posts: tuple[int, ...]
    """Numbers of their lengths in the task, one for each post."""


def classes_of(task: Task, most: int) -> list[PostClass]:
    """Take posts of nearly one length together, so many classes at most."""
    posts = [(p.length_m, i) for i, p in enumerate(task.post_lengths) for _ in p.posts]
    if not posts:
        return []
    longest, shortest = posts[0][0], posts[-1][0]
    width = (longest - shortest) / most if len(task.post_lengths) > most else 0.0
    classes: list[list[tuple[float, int]]] = []
    for length, i in posts:
        if classes and classes[-1][0][0] - length <= width:
            classes[-1].append((length, i))
        else:
            classes.append([(length, i)])
    return [PostClass(low_m=c[-1][0], high_m=c[0][0], posts=tuple(i for _, i in c)) for c in classes]


def most_pieces(task: Task) -> int:
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
