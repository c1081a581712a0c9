"""A cutting with its joints held where they stand: all pieces are posts then, and shared out anew."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

from staking.pipes.cutlist import Piece
from staking.pipes.task import SAME_M, Cutting, Load, PostLength, Task, part_length_m

Shared = Callable[[Task, Cutting], Cutting | None]
"""How pieces are shared out: a task of posts alone and a cutting of it, to a better cutting."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Held:
    """A post, or a part of a beam, as long as it is now."""

    length_m: float
    post: int = -1
    part: int = -1


def shared_anew(task: Task, cutting: Cutting, shared: Shared) -> Cutting | None:
    """Return a cutting with the same parts and joints in other sticks; None where it cannot be cut so.

    Uncut sticks between two threaded joints stay. Only where every stick serves posts and beams alike.
    """
    if not all(kind.for_posts and kind.for_beams for kind in task.kinds):
        return None
    stay = [load for load in cutting.loads if task.is_uncut(load)]
    moved = [load for load in cutting.loads if load not in stay]
    if not moved:
        return None
    held, loads = _held(task, cutting, moved)
    post_lengths: list[PostLength] = []
    queues: list[list[_Held]] = []
    number: dict[_Held, int] = {}
    for n, one in enumerate(held):
        piece = Piece(name=str(n), length_m=one.length_m, pipe=task.pipe)
        if post_lengths and post_lengths[-1].length_m - one.length_m <= SAME_M:
            last = post_lengths[-1]
            post_lengths[-1] = replace(last, posts=(*last.posts, piece))
            queues[-1].append(one)
        else:
            post_lengths.append(PostLength(length_m=one.length_m, posts=(piece,)))
            queues.append([one])
        number[one] = len(post_lengths) - 1
    alone = replace(
        task,
        kinds=task.less(Counter(load.kind for load in stay)),
        post_lengths=tuple(post_lengths),
        beams=(),
        spots=(),
        parts=(),
        ways=(),
        threaded=False,
    )
    start = Cutting(
        loads=tuple(
            Load(kind=kind, posts=tuple(sorted(number[one] for one in pieces)), parts=())
            for kind, pieces in loads
        ),
        places_m={},
    )
    found = shared(alone, start)
    if found is None:
        return None
    sticks = [(load.kind, [queues[i].pop() for i in load.posts]) for load in found.loads]
    if not _threads_apart(task, sticks):
        return None
    made = [
        Load(
            kind=kind,
            posts=tuple(sorted(one.post for one in pieces if one.post >= 0)),
            parts=tuple(sorted(one.part for one in pieces if one.part >= 0)),
        )
        for kind, pieces in sticks
    ]
    return Cutting(loads=(*stay, *made), places_m=cutting.places_m)


def _threads_apart(task: Task, sticks: list[tuple[int, list[_Held]]]) -> bool:
    """Exchange end pieces for others until no stick needs more threads than it has; whether that goes."""

    def threads(pieces: list[_Held]) -> int:
        return sum(task.threads(task.parts[one.part]) for one in pieces if one.part >= 0)

    def room(kind: int, pieces: list[_Held]) -> float:
        return task.room_m(kind) - sum(one.length_m + task.kerf_m for one in pieces)

    for kind, pieces in sticks:
        while threads(pieces) > task.kinds[kind].threads:
            left = room(kind, pieces)
            swaps = [
                (abs(one.length_m - other.length_m), pieces.index(one), n, there.index(other))
                for n, (k, there) in enumerate(sticks)
                if there is not pieces and threads(there) < task.kinds[k].threads
                for one in pieces
                if threads([one])
                for other in there
                if not threads([other])
                and other.length_m - one.length_m <= left
                and one.length_m - other.length_m <= room(k, there)
            ]
            if not swaps:
                return False
            _, here, n, there = min(swaps)
            others = sticks[n][1]
            pieces[here], others[there] = others[there], pieces[here]
    return True


def _held(
    task: Task, cutting: Cutting, loads: list[Load]
) -> tuple[list[_Held], list[tuple[int, list[_Held]]]]:
    """Return the pieces of these loads, the longest first, and again by load with its kind."""
    by_load = []
    for load in loads:
        pieces = [_Held(length_m=task.post_lengths[i].length_m, post=i) for i in load.posts]
        pieces += [
            _Held(length_m=part_length_m(task, task.parts[p], cutting.places_m), part=p) for p in load.parts
        ]
        by_load.append((load.kind, pieces))
    held = [one for _, pieces in by_load for one in pieces]
    held.sort(key=lambda one: (-one.length_m, one.post, one.part))
    return held, by_load
