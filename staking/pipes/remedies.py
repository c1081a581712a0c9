"""What would let a beam be joined that has no legal joints: each change alone, as small as it may be."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from staking.base.units import SIXTEENTH_M, Style, format_length, from_unit, unit_label
from staking.pipes.chains import fewest_pieces, shortest_stick_that_does
from staking.pipes.cutlist import BeamToCut
from staking.pipes.joints import SNAP_M, Rules, legal_spots
from staking.pipes.task import Task

HALVINGS = 40
"""Of a range in which a limit is looked for."""
LENGTHS = 400
"""Stock lengths tried for threaded joints, at most."""
SHARE_STEP = 0.01
"""To which a share of the bay is told."""

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

    def at_most(self, length_m: float) -> str:
        """Return the length rounded down, so that what is printed does."""
        step = STEPS_M[self.style]
        return self(math.floor((length_m + SNAP_M) / step) * step)


def one_of(ways: Sequence[str]) -> str:
    """Return alternatives as one phrase."""
    return " or ".join(part for part in (", ".join(ways[:-1]), ways[-1]) if part)


def joints_of(
    task: Task, beam: BeamToCut, rules: Rules, sticks_m: Sequence[float], *, threaded: bool | None = None
) -> tuple[float, ...] | None:
    """Return the joints of the fewest pieces by these rules and sticks, None when there are none."""
    make_up_m = task.make_up_m if (task.threaded if threaded is None else threaded) else None
    return fewest_pieces(beam, legal_spots(beam, rules), sticks_m, make_up_m, rules.posts_per_piece)


def remedies(task: Task, beam: BeamToCut, sticks_m: Sequence[float], show: Shown) -> list[str]:
    """Return which changes do, each alone; a longer stick always does."""
    rules = task.rules

    def does(changed: Rules) -> bool:
        return joints_of(task, beam, changed, sticks_m) is not None

    ways = [_stock(task, beam, sticks_m, show)]
    if rules.posts_per_piece > 1 and does(replace(rules, posts_per_piece=1)):
        ways.append("posts_per_piece = 1")
    if rules.no_joint is not None and does(replace(rules, no_joint=None)):
        ways.append(_no_joint(rules.no_joint, lambda shares: does(replace(rules, no_joint=shares))))
    if rules.clear_m > 0 and does(replace(rules, clear_m=0.0)):
        most = _largest(lambda part: does(replace(rules, clear_m=part * rules.clear_m))) * rules.clear_m
        if most >= STEPS_M[show.style]:  # Nought would be on a post.
            ways.append(f"a joint_clear of {show.at_most(most)} or less")
    if task.threaded and joints_of(task, beam, rules, sticks_m, threaded=False) is not None:
        ways.append("sleeve joints")
    return ways


def _largest(does: Callable[[float], bool]) -> float:
    """Return the largest share that does, where none at all does and all of it does not."""
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if does(middle) else (low, middle)
    return low


def _no_joint(shares: tuple[float, float], does: Callable[[tuple[float, float]], bool]) -> str:
    """Return how small the part of the bay without joints must be, shrunk toward its own middle."""
    centre, half = (shares[0] + shares[1]) / 2, (shares[1] - shares[0]) / 2
    part = _largest(lambda p: does((centre - p * half, centre + p * half)))
    low = math.ceil((centre - part * half) / SHARE_STEP - SNAP_M) * SHARE_STEP
    high = math.floor((centre + part * half) / SHARE_STEP + SNAP_M) * SHARE_STEP
    return f"no_joint = [{low:.2f}, {high:.2f}]" if high > low else "no no_joint"


def _stock(task: Task, beam: BeamToCut, sticks_m: Sequence[float], show: Shown) -> str:
    """Return the least stock length that does: for threaded joints of those a step apart."""
    rules = task.rules
    if not task.threaded:
        needed = shortest_stick_that_does(beam, legal_spots(beam, rules), rules.posts_per_piece)
        return f"stock of {show.at_least(needed)} or more"
    step = max(STEPS_M[show.style], (beam.length_m - max(sticks_m)) / LENGTHS)
    step = math.ceil(step / STEPS_M[show.style] - SNAP_M) * STEPS_M[show.style]
    length = math.ceil(max(sticks_m) / step) * step
    while length < beam.length_m and joints_of(task, beam, rules, (*sticks_m, length)) is None:
        length += step
    return f"stock of {show(length)}"
