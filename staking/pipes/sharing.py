"""Whether posts can be shared out over given sticks at all: every way is tried, within a limit of steps."""

from __future__ import annotations

from collections.abc import Sequence

from staking.pipes.joints import SNAP_M

STEPS = 4000
"""Placings tried, at most; twenty posts in eight sticks take some hundred as a rule."""


class _TooMany(Exception):
    """The limit of steps is reached: nothing is known."""


def shared_out(
    needs_m: Sequence[float], rooms_m: Sequence[float], liquid_m: float = 0.0
) -> tuple[tuple[int, ...], ...] | bool:
    """Return which posts go into which stick; False where no way exists, True where that is not known.

    Parameters
    ----------
    needs_m : sequence of float
        What each post takes with its kerf, falling.
    rooms_m : sequence of float
        What each stick holds, a kerf more than its length.
    liquid_m : float
        What else must find room, in any pieces; a way is then not an answer, but no way is.
    """
    left = [room + SNAP_M for room in rooms_m]
    held: list[list[int]] = [[] for _ in rooms_m]
    spare = sum(left) - sum(needs_m) - liquid_m
    steps = 0

    def place(post: int, spare_m: float) -> bool:
        nonlocal steps
        if spare_m < -SNAP_M:
            return False
        if post == len(needs_m):
            return True
        steps += 1
        if steps > STEPS:
            raise _TooMany
        need, seen = needs_m[post], set()
        last = needs_m[-1]
        for stick in sorted(range(len(left)), key=lambda s: left[s]):
            before = left[stick]
            if before < need or before in seen:
                continue
            seen.add(before)
            left[stick] = before - need
            held[stick].append(post)
            # Room that the shortest post does not fill is lost, unless something liquid can fill it.
            lost = left[stick] if not liquid_m and left[stick] < last else 0.0
            if place(post + 1, spare_m - lost):
                return True
            left[stick] = before
            held[stick].pop()
        return False

    try:
        return tuple(tuple(posts) for posts in held) if place(0, spare) else False
    except _TooMany:
        return True
