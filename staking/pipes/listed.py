"""A cut list as a cutting of its task again, its joints slid so that each stick has room beside its posts.

A list gathers what drops in few sticks, and leaves others full to a hair: with its joints slid the same
pieces from the same sticks take posts that come out longer.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence

from staking.pipes.cutlist import BeamToCut, Piece, Stick
from staking.pipes.joints import START
from staking.pipes.sliding import slid_evenly
from staking.pipes.task import Cutting, Load, Task


def evenly_slid(
    task: Task,
    posts: Sequence[Piece],
    beams: Sequence[BeamToCut],
    sticks: Sequence[Stick],
    joints_m: Mapping[str, Sequence[float]],
) -> Cutting | None:
    """Return the list in this task, whose posts and beams may be of other lengths; None where it cannot be.

    Parameters
    ----------
    task
        With the same beams by name, in the same bays.
    posts, beams, sticks, joints_m
        As listed; of joints, distances from each beam's left end by its name.
    """
    number = {post.name: n for n, one in enumerate(task.post_lengths) for post in one.posts}
    if any(post.name not in number for post in posts):
        return None
    kinds = {kind.stock_m: k for k, kind in enumerate(task.kinds)}
    part_at = {(part.beam, part.left, part.right): n for n, part in enumerate(task.parts)}
    listed = {beam.name: beam for beam in beams}
    part_of: dict[str, int] = {}
    places_m: dict[tuple[int, int], float] = {}
    for b, beam in enumerate(task.beams):
        spot_of = {spot.span: n for n, spot in enumerate(task.spots[b])}
        joints = joints_m.get(beam.name, ())
        spans = [bisect_left(listed[beam.name].posts_m, at) - 1 for at in joints]
        if any(span not in spot_of for span in spans):
            return None
        ends = [START, *(spot_of[span] for span in spans), len(task.spots[b])]
        for n in range(len(ends) - 1):
            part = part_at.get((b, ends[n], ends[n + 1]))
            if part is None:
                return None
            part_of[f"{beam.name} {n + 1}"] = part
        places_m |= {(b, spot_of[span]): at for span, at in zip(spans, joints, strict=True)}
    loads = []
    for stick in sticks:
        if stick.stock_m not in kinds or any(
            p.piece not in number and p.piece not in part_of for p in stick.pieces
        ):
            return None
        loads.append(
            Load(
                kind=kinds[stick.stock_m],
                posts=tuple(sorted(number[p.piece] for p in stick.pieces if p.piece in number)),
                parts=tuple(part_of[p.piece] for p in stick.pieces if p.piece in part_of),
            )
        )
    return slid_evenly(task, Cutting(loads=tuple(loads), places_m=places_m))
