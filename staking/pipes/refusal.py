"""Why a task cannot be cut, in words, before any search."""

from __future__ import annotations

import math
from dataclasses import dataclass

from staking.base.units import SIXTEENTH_M, Style, format_length, from_unit, unit_label
from staking.pipes.joints import SNAP_M, farthest_chain, shortest_stick_that_does, whole_stick_chain
from staking.pipes.simple_bounds import needs_m
from staking.pipes.task import Task

STEPS_M = {
    "feet-inches": float(SIXTEENTH_M),
    "inches": float(SIXTEENTH_M),
    "decimal feet": from_unit(0.01, "ft"),
    "metric": 0.001,
    "metres": 0.001,
}
"""The last place that each notation prints."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """Prints lengths in one notation."""

    style: Style

    def __call__(self, length_m: float) -> str:
        """Return the length as text."""
        text = format_length(length_m, style=self.style)
        return text if self.style == "feet-inches" else f"{text} {unit_label(self.style)}"

    def at_least(self, length_m: float) -> str:
        """Return the length rounded up, so that what is printed does."""
        step = STEPS_M[self.style]
        return self(math.ceil((length_m - SNAP_M) / step) * step)


def why_not(task: Task, show: Shown) -> list[str]:
    """Return every reason found, an empty list when nothing forbids a cutting at first sight."""
    reasons = [*_posts(task, show), *_beams(task, show)]
    return reasons or _on_hand(task, show)


def _posts(task: Task, show: Shown) -> list[str]:
    """Say which posts are longer than any stick that posts may use."""
    if not task.post_lengths:
        return []
    sticks = [k.stock_m for k in task.kinds if k.for_posts]
    if not sticks:
        return [f"no stock of {task.pipe} may be used for posts; add a stock line for it"]
    longest = max(sticks)
    reasons = []
    for length in task.post_lengths:
        if length.length_m > longest + SNAP_M:
            names = ", ".join(p.name for p in length.posts)
            reasons.append(
                f"post {names} needs {show(length.length_m)}, the longest stick of {task.pipe} for posts "
                f"has {show(longest)}; stock of {show.at_least(length.length_m)} or more would do"
            )
    return reasons


def _beams(task: Task, show: Shown) -> list[str]:
    """Say which beams have no legal joints."""
    if not task.beams:
        return []
    sticks = sorted({k.stock_m for k in task.kinds if k.for_beams}, reverse=True)
    if not sticks:
        return [f"no stock of {task.pipe} may be used for beams; add a stock line for it"]
    reasons = []
    for number, beam in enumerate(task.beams):
        spots = task.spots[number]
        if task.threaded:
            if whole_stick_chain(beam, spots, sticks, task.make_up_m) is None:
                reasons.append(
                    f"{beam.name}, {show(beam.length_m)} long, has no legal threaded joints: every piece "
                    "between two joints must be a whole stick, and with sticks of "
                    f"{', '.join(show(s) for s in sticks)} no such joints keep clear of posts and rails; "
                    "another stock length, sleeve joints or a smaller joint_clear would do"
                )
        elif farthest_chain(beam, spots, sticks[0]) is None:
            without = [
                f"{a + 1}-{a + 2}"
                for a in range(len(beam.posts_m) - 1)
                if a not in {spot.span for spot in spots}
            ]
            needed = shortest_stick_that_does(beam, spots)
            text = (
                f"{beam.name}, {show(beam.length_m)} long, has no legal joints for sticks of "
                f"{show(sticks[0])}: between the places where a joint keeps clear of posts and rails "
                f"one piece would have to be {show(needed)} long"
            )
            if without:
                text += f" (no legal place at all between posts {', '.join(without)})"
            reasons.append(
                f"{text}; stock of {show.at_least(needed)} or more, or a smaller joint_clear, would do"
            )
    return reasons


def _on_hand(task: Task, show: Shown) -> list[str]:
    """Say whether the sticks on hand hold less pipe than the pieces need: the posts, the beams, or both."""
    posts, beams = needs_m(task)
    reasons: list[str] = []
    for use, need, kinds in (
        ("posts", posts, [i for i, k in enumerate(task.kinds) if k.for_posts]),
        ("beams", beams, [i for i, k in enumerate(task.kinds) if k.for_beams]),
        ("pieces", posts + beams, range(len(task.kinds))),
    ):
        counts = [task.kinds[i].count for i in kinds]
        if need == 0 or None in counts or (use == "pieces" and (reasons or 0 in (posts, beams))):
            continue
        held = sum((task.kinds[i].count or 0) * task.room_m(i) for i in kinds)
        if need > held + SNAP_M * sum(c or 0 for c in counts):
            reasons.append(
                f"{task.pipe}: the sticks on hand for {use} hold {show(held)}, the {use} need {show(need)} "
                f"with their kerfs; {show.at_least(need - held)} more would be the least"
            )
    return reasons
