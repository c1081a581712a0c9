"""Lower bounds that need no solver: what the pipe itself, and posts longer than half a stick, demand."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import accumulate

from staking.pipes.joints import SNAP_M
from staking.pipes.task import Task

ROUND = 1e-6
"""A bound of 22.9999999 or 23.0000001 sticks is 23: rounding of the sums is far smaller than this."""

MIXES = 50_000
"""Mixes of sticks looked at for a bound, at most."""


def up(value: float, step: float = 1.0) -> float:
    """Return the least multiple of `step` that is not below `value`, but for rounding.

    Infinite is infinite: what no sticks at all would do.
    """
    return math.ceil(value / step - ROUND) * step if step > 0 and math.isfinite(value) else value


def beam_need_m(task: Task, number: int, longest_m: float) -> float:
    """Return the least room that a beam's pieces take, a kerf with every piece."""
    length = task.beams[number].length_m
    most = len(task.spots[number]) + 1
    reach = longest_m + SNAP_M
    fewest = min(most, max(1, math.ceil((length - most * max(task.make_up_m, 0.0)) / reach)))
    return min(length - (n - 1) * task.make_up_m + n * task.kerf_m for n in (fewest, most))


def needs_m(task: Task) -> tuple[float, float]:
    """Return the room that all posts take and the least room that all beams take."""
    posts = sum(len(p.posts) * (p.length_m + task.kerf_m) for p in task.post_lengths)
    longest = max((k.stock_m for k in task.kinds if k.for_beams), default=1.0)
    return posts, sum(beam_need_m(task, number, longest) for number in range(len(task.beams)))


def halves_bound(weights: Sequence[float], room_m: float, liquid_m: float) -> int:
    """Return a bound from posts of which no two fit one stick together.

    `weights` are the posts' lengths with a kerf each, `liquid_m` what may be cut into any pieces.
    For each threshold, long posts cannot share with posts above it, so their drops do not count.
    Source: Martello and Toth, Knapsack Problems (Wiley 1990), section 8.3.2, bound L2; from memory.
    """
    falling = sorted(weights, reverse=True)
    sums = [0.0, *accumulate(falling)]
    rising = [-w for w in falling]
    half = bisect_left(rising, -room_m / 2)  # So many are longer than half a stick.
    best = 0
    for threshold in {0.0, *falling[half:]}:
        alone = min(bisect_left(rising, threshold - room_m), half)
        end = bisect_right(rising, -threshold)
        small = sums[end] - sums[half]
        free = (half - alone) * room_m - (sums[half] - sums[alone])
        free_alone = alone * room_m - sums[alone]
        more = max(0.0, small - free, small + liquid_m - free - free_alone)
        best = max(best, half + math.ceil(more / room_m - ROUND))
    return best


def sticks_bound(task: Task) -> int:
    """Return a number of sticks that no cutting of `task` can go below."""
    posts, beams = needs_m(task)
    rooms_posts = [task.room_m(i) + SNAP_M for i, k in enumerate(task.kinds) if k.for_posts]
    rooms_beams = [task.room_m(i) + SNAP_M for i, k in enumerate(task.kinds) if k.for_beams]
    bound = up((posts + beams) / max(rooms_posts + rooms_beams))
    if task.beams:
        bound = max(bound, up(beams / max(rooms_beams)))
    if task.post_lengths:
        weights = [p.length_m + task.kerf_m for p in task.post_lengths for _ in p.posts]
        liquid = beams if rooms_beams and max(rooms_beams) <= max(rooms_posts) else 0.0
        bound = max(bound, halves_bound(weights, max(rooms_posts), liquid))
    return round(bound)


def weighted_bound(task: Task, weights: Sequence[float]) -> float:
    """Return a bound of the sum of `weights` (one per kind of stick) over the sticks of any cutting.

    As if sticks could be bought in parts.
    """
    posts, beams = needs_m(task)
    rate = [w / (task.room_m(i) + SNAP_M) for i, w in enumerate(weights)]
    cheapest_post = min((r for r, k in zip(rate, task.kinds, strict=True) if k.for_posts), default=0.0)
    cheapest_beam = min((r for r, k in zip(rate, task.kinds, strict=True) if k.for_beams), default=0.0)
    return max(posts * cheapest_post + beams * cheapest_beam, sticks_bound(task) * min(weights))


def mix_bound(
    task: Task, weights: Sequence[float], *, cap_weights: Sequence[float] | None = None, cap: float = math.inf
) -> float:
    """Return the least sum of `weights` of whole sticks that hold all that is needed, by length alone.

    Every cutting's sticks hold what the posts need in sticks for posts, what the beams need in sticks for
    beams, and both together; they are at least `sticks_bound`, and of each kind no more than on hand. So
    no cutting weighs less. Among mixes whose sum of `cap_weights` is not above `cap`; infinite when there
    is none. Where there are very many mixes, `weighted_bound` stands in.
    """
    posts, beams = needs_m(task)
    kinds = sorted(range(len(task.kinds)), key=lambda i: (weights[i] / task.room_m(i), i))
    rooms = [task.room_m(i) + SNAP_M for i in kinds]
    rates = [weights[i] / room for i, room in zip(kinds, rooms, strict=True)]
    best, steps = math.inf, 0

    def extend(
        place: int, weight: float, capped: float, sticks: int, both: float, post: float, beam: float
    ) -> None:
        """Add sticks of the kinds from `place` on; the last three are the room still needed."""
        nonlocal best, steps
        steps += 1
        if sticks <= 0 and max(both, post, beam) <= ROUND:
            best = min(best, weight)
            return
        # Kinds go from the cheapest by length, so the rest costs at least this.
        if place == len(kinds) or weight + max(both, 0.0) * rates[place] >= best or steps > MIXES:
            return
        number, room = kinds[place], rooms[place]
        kind = task.kinds[number]
        useful = max(
            sticks,
            math.ceil(both / room),
            math.ceil(post / room) if kind.for_posts else 0,
            math.ceil(beam / room) if kind.for_beams else 0,
        )
        most = int(useful if kind.count is None else min(useful, kind.count))
        extra = 0.0 if cap_weights is None else cap_weights[number]
        for n in range(most, -1, -1):
            if capped + n * extra <= cap:
                extend(
                    place + 1,
                    weight + n * weights[number],
                    capped + n * extra,
                    sticks - n,
                    both - n * room,
                    post - n * room * kind.for_posts,
                    beam - n * room * kind.for_beams,
                )

    extend(0, 0.0, 0.0, sticks_bound(task), posts + beams, posts, beams)
    return weighted_bound(task, weights) if steps > MIXES else best
