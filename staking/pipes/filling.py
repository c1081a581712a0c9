"""Posts on given sticks, filled one by one to the end, from all sums of the pieces of a few sticks.

All posts are first shared out over the sticks as evenly as may be. Then each stick in turn keeps, of its own
pieces and those of the sticks next to it, the ones that fill it best: two halves of them have all their sums
listed, and for each of the one half the greatest of the other is looked up that still goes in. Hardly
anything stays behind, so what the sticks hold more than the posts take is handed on to the last ones. With
short posts, of which many go into a stick, that leaves micrometres where a linear program takes minutes.
Source for the two halves: Horowitz and Sahni, Journal of the ACM 21 (1974) 277-292, from memory.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from staking.pipes.joints import SNAP_M
from staking.pipes.post_classes import HAIR_M, Filled
from staking.pipes.task import Task

TOGETHER, MORE_TOGETHER = 26, 30
"""Pieces of which all sums are looked through at a time, at first and later: 2^13 of each half, or 2^15."""
NEXT = (3, 5, 9)
"""Sticks whose pieces are taken together, by turns: few where many pieces go into one."""
TRIES, MORE_TRIES = 9, 60
"""Times that all is shared out, another way each time; more where many pieces go into a stick."""
MANY = 8
"""So many pieces to a stick are many: with fewer the last sticks often have no sums that would do."""
SHUFFLE = 0.3
"""By this share at most a post is taken later by chance when they are first shared out."""
SEED = 3
"""Any fixed number: the same pieces are always cut in the same way."""

Floats = NDArray[np.float64]


def filled_sticks(task: Task, kinds: Sequence[int]) -> list[Filled] | None:
    """Return all posts of a task without beams on sticks of these kinds; None where no way was found.

    Sticks that stay empty are left out.
    """
    numbers = task.each_post
    needs = [task.post_lengths[i].length_m + task.kerf_m for i in numbers]
    # Short sticks hold few pieces, so they are filled while there are many to choose from.
    rising = sorted((k for k in kinds if task.kinds[k].for_posts), key=lambda k: (task.kinds[k].stock_m, k))
    rooms = [task.room_m(k) for k in rising]
    if not rooms or sum(needs) > sum(rooms) + SNAP_M or max(needs) > rooms[-1] + SNAP_M:
        return None
    chance = random.Random(SEED)
    for turn in range(TRIES if len(needs) < MANY * len(rooms) else MORE_TRIES):
        sticks = _spread(needs, rooms, chance, SHUFFLE if turn else 0.0)
        together = TOGETHER if turn < TRIES else MORE_TOGETHER
        last = _handed_on(needs, rooms, sticks, (NEXT[turn % len(NEXT)], together), chance)
        if last <= rooms[-1] + SNAP_M / 2:
            return [
                Filled(kind=k, posts=tuple(sorted(numbers[p] for p in pieces)), left_m=0.0)
                for k, pieces in zip(rising, sticks, strict=True)
                if pieces
            ]
    return None


def _spread(
    needs: Sequence[float], rooms: Sequence[float], chance: random.Random, shuffle: float
) -> list[list[int]]:
    """Return all pieces shared out, the long ones first, each where most is left; sticks may be overfull."""
    left, sticks = list(rooms), [list[int]() for _ in rooms]
    for piece in sorted(range(len(needs)), key=lambda p: -needs[p] * (1 + shuffle * chance.random())):
        stick = max(range(len(left)), key=left.__getitem__)
        sticks[stick].append(piece)
        left[stick] -= needs[piece]
    return sticks


def _handed_on(
    needs: Sequence[float],
    rooms: Sequence[float],
    sticks: list[list[int]],
    together: tuple[int, int],
    chance: random.Random,
) -> float:
    """Fill each stick but the last as well as may be, and return what the last one is to hold then.

    `together` are the sticks, and the pieces of them, that are looked at for one. What lies in `sticks`
    changes; infinite where a stick holds too much and gets rid of nothing.
    """
    for stick in range(len(rooms) - 1):
        near = range(stick, min(stick + together[0], len(rooms)))
        pool = [piece for n in near for piece in sticks[n]]
        if len(pool) > together[1]:
            pool = chance.sample(pool, together[1])
        free = set(pool)
        for n in near:
            sticks[n] = [piece for piece in sticks[n] if piece not in free]
        taken = _fullest(
            [needs[piece] for piece in pool], rooms[stick] + HAIR_M - sum(needs[p] for p in sticks[stick])
        )
        if taken is None:
            return float("inf")
        sticks[stick] += [pool[n] for n in taken]
        left = {n: rooms[n] - sum(needs[p] for p in sticks[n]) for n in near[1:]}
        for piece in sorted(free.difference(sticks[stick]), key=lambda p: (-needs[p], p)):
            most = max(left, key=left.__getitem__)
            sticks[most].append(piece)
            left[most] -= needs[piece]
    return sum(needs[piece] for piece in sticks[-1])


def _fullest(needs: Sequence[float], room: float) -> list[int] | None:
    """Return the numbers of the pieces that fill a room best; None when it is less than nothing."""
    if room < 0:
        return None
    half = len(needs) // 2
    ones, others = _sums(needs[:half]), _sums(needs[half:])
    order = np.argsort(others, kind="stable")
    at = np.searchsorted(others[order], room - ones, side="right") - 1
    sums = np.where(at >= 0, ones + others[order[np.maximum(at, 0)]], -1.0)
    one = int(np.argmax(sums))
    other = int(order[at[one]])
    first = [n for n in range(half) if one >> n & 1]
    return first + [half + n for n in range(len(needs) - half) if other >> n & 1]


def _sums(needs: Sequence[float]) -> Floats:
    """Return the sum of every choice; bit n of its place says whether the nth is in it."""
    sums = np.zeros(1)
    for need in needs:
        sums = np.concatenate([sums, sums + need])
    return sums
