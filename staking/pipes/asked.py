"""Questions about ``[pipe]``: values that are allowed but odd, or that nothing uses."""

from __future__ import annotations

from staking.base.units import told_small
from staking.book.records import FrameDesign, Job
from staking.pipes.cutting import same_pipe
from staking.pipes.sizes import pipe_size
from staking.pipes.stock import pipe_name

WIDEST_KERF_M = 0.010
"""No saw for pipe takes out more than 10 mm (common practice, no source)."""
MOST_MAKE_UP_M = 0.080
"""Between two pipe ends in a coupling of up to 4 in pipe less than 80 mm are left (common practice, no
source)."""

SAME_OD_M = 0.0008
"""The standard's own tolerance is 1/64 in and more (ASTM A53, from memory)."""


def pipe_remarks(job: Job) -> list[str]:
    """Return a sentence on each odd value of ``[pipe]``."""
    pipe, style = job.pipe, job.site.show
    if pipe is None:
        return []
    remarks = []
    if pipe.kerf_m > WIDEST_KERF_M:
        remarks.append(
            f"job.toml pipe.kerf is {told_small(pipe.kerf_m, style)}, wider than any saw cuts: is the unit "
            "right?"
        )
    if pipe.joint == "sleeve" and pipe.make_up_m:
        remarks.append(
            "job.toml pipe.make_up is not used: it is of threaded joints, and pipe.joint is sleeve"
        )
    elif abs(pipe.make_up_m) > MOST_MAKE_UP_M:
        remarks.append(
            f"job.toml pipe.make_up is {told_small(pipe.make_up_m, style)}, more than a coupling makes up: "
            "is the unit right?"
        )
    if any(one.price == 0 and one.count is None for one in pipe.stock):
        remarks.append(
            "job.toml pipe.stock has sticks that can be bought for nothing: a price is missing, or a count "
            "of what is on hand"
        )
    if pipe.trip_cost is not None and any(one.price is None for one in pipe.stock if one.count is None):
        remarks.append("job.toml pipe.trip_cost is not used, as not all stock that can be bought has a price")
    half_m = max((_half_od_m(array.frame) for array in job.arrays), default=0.0)
    if pipe.joint_clear_m < half_m:
        remarks.append(
            f"job.toml pipe.joint_clear is {told_small(pipe.joint_clear_m, style)}, less than half of a "
            f"post's diameter, {told_small(half_m, style)}: a joint may come to stand on a post"
        )
    return [*remarks, *_two_sizes(job), *_idle(job)]


def _half_od_m(frame: FrameDesign) -> float:
    """Return half the outside diameter of an array's posts, nought where it is not known."""
    if frame.post_od_m is not None:
        return frame.post_od_m / 2
    try:
        return pipe_size(frame.post_pipe or "").od_m / 2
    except ValueError:
        return 0.0


def _two_sizes(job: Job) -> list[str]:
    """Say where a diameter is given beside a name of the table that means another."""
    remarks = []
    for array in job.arrays:
        frame = array.frame
        given = {"post": (frame.post_pipe, frame.post_od_m), "beam": (frame.beam_pipe, frame.beam_od_m)}
        for use, (name, od_m) in given.items():
            try:
                table_m = None if name is None else pipe_size(name).od_m
            except ValueError:
                continue
            if od_m is not None and table_m is not None and abs(od_m - table_m) > SAME_OD_M:
                remarks.append(
                    f"job.toml frame.{use}_od is {told_small(od_m, job.site.show)}, and {name} of the table "
                    f"has {told_small(table_m, job.site.show)}: {use}_od is what counts; keep one of the two"
                )
    return list(dict.fromkeys(remarks))


def _idle(job: Job) -> list[str]:
    """Say which stock is of pipe that no post and no beam is of."""
    style = job.site.show
    needed = {pipe_name(array.frame, use, style=style) for array in job.arrays for use in ("post", "beam")}
    named = [one.pipe for one in (() if job.pipe is None else job.pipe.stock) if one.pipe is not None]
    return [
        f"job.toml pipe.stock: {name} is not used: posts and beams are of {', '.join(sorted(needed))}"
        for name in dict.fromkeys(named)
        if not any(same_pipe(name, other) for other in needed)
    ]
