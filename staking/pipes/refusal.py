"""Why a task cannot be cut, in words, before any search."""

from __future__ import annotations

from collections.abc import Sequence

from staking.pipes.chains import shortest_stick_that_does
from staking.pipes.joints import SNAP_M
from staking.pipes.remedies import Shown, joints_of, one_of, remedies
from staking.pipes.simple_bounds import needs_m
from staking.pipes.task import Task


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
        if not beam.posts_m:
            # One piece of a beam that is sawn in part.
            if beam.length_m > sticks[0] + SNAP_M:
                reasons.append(
                    f"{beam.name} must be one piece of {show(beam.length_m)}, as its beam keeps its "
                    f"joints; the longest stick of {task.pipe} for it has {show(sticks[0])}; stock of "
                    f"{show.at_least(beam.length_m)} or more would do"
                )
        elif joints_of(task, beam, task.rules, sticks) is None:
            reasons.append(
                f"{beam.name}, {show(beam.length_m)} long, {_no_joints(task, number, sticks, show)}; "
                f"{one_of(remedies(task, beam, sticks, show))} would do"
            )
    return reasons


def _no_joints(task: Task, number: int, sticks: Sequence[float], show: Shown) -> str:
    """Say why a beam has no legal joints."""
    beam, rules = task.beams[number], task.rules
    kept = ["posts and rails"]
    if rules.no_joint is not None:
        kept.append(f"the part of each bay from {rules.no_joint[0]:.3g} to {rules.no_joint[1]:.3g} of it")
    clear = " and ".join(kept)
    if task.threaded:
        text = (
            "has no legal threaded joints: every piece between two joints must be a whole stick, and with "
            f"sticks of {', '.join(show(s) for s in sticks)} no such joints keep clear of {clear}"
        )
    else:
        needed = shortest_stick_that_does(beam, task.spots[number], rules.posts_per_piece)
        text = (
            f"has no legal joints for sticks of {show(sticks[0])}: between the places where a joint keeps "
            f"clear of {clear} one piece would have to be {show(needed)} long"
        )
    if rules.posts_per_piece > 1:
        text += f", with each piece on {rules.posts_per_piece} posts"
    open_spans = {spot.span for spot in task.spots[number]}
    without = [f"{a + 1}-{a + 2}" for a in range(len(beam.posts_m) - 1) if a not in open_spans]
    return text + (f" (no legal place at all between posts {', '.join(without)})" if without else "")


def _on_hand(task: Task, show: Shown) -> list[str]:
    """Say whether the sticks on hand hold less pipe than the pieces need: the posts, the beams, or both."""
    posts, beams = needs_m(task)
    for_posts = [i for i, k in enumerate(task.kinds) if k.for_posts]
    for_beams = [i for i, k in enumerate(task.kinds) if k.for_beams]
    every = ("", posts + beams, sorted({*for_posts, *for_beams}))
    apart = [("posts", posts, for_posts), ("beams", beams, for_beams)]
    reasons: list[str] = []
    # Where all sticks are for both, what is lacking is told once, of all pieces together.
    for use, need, kinds in [every] if posts and beams and for_posts == for_beams else [*apart, every]:
        counts = [task.kinds[i].count for i in kinds]
        if need == 0 or None in counts or (use == "" and reasons):
            continue
        held = sum((task.kinds[i].count or 0) * task.room_m(i) for i in kinds)
        if need > held + SNAP_M * sum(c or 0 for c in counts):
            reasons.append(
                f"{task.pipe}: the sticks on hand{f' for {use}' if use else ''} hold {show(held)}, the "
                f"{use or 'pieces'} need {show(need)} with their kerfs; {show.at_least(need - held)} more "
                "would be the least: raise a count, or add stock that can be bought (a line without count)"
            )
    return reasons
