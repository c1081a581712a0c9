"""Names, weights and prices of the pipe that a job cuts: table sizes, a person's own, sticks on hand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from staking.base.units import Style, in_unit
from staking.book.records import FrameDesign, Job, Pipe
from staking.pipes.sizes import kg_per_m_of, pipe_size


def pipe_name(frame: FrameDesign, use: str, *, style: Style) -> str:
    """Return what the pipe of posts or beams is called; one that is only measured goes by its measures.

    Parameters
    ----------
    frame : FrameDesign
    use : str
        ``post`` or ``beam``.
    style : str
        Notation of lengths.
    """
    name, od_m, wall_m = _given(frame, use)
    if name is not None or od_m is None:
        return name or f"{use} pipe"
    wall = "" if wall_m is None else f", wall {_measure(wall_m, style)}"
    return f"pipe {_measure(od_m, style)} outside{wall}"


def _measure(value_m: float, style: Style) -> str:
    """Return a diameter or wall in decimals, as pipe is named: inches to a thousandth, or millimetres."""
    if style in ("metric", "metres"):
        return f"{in_unit(value_m, 'mm'):.5g} mm"
    return f"{in_unit(value_m, 'in'):.5g} in"


def weights_kg_per_m(job: Job) -> dict[str, float | None]:
    """Return what a metre of each pipe of the job weighs, by name; None where its wall is not known."""
    weights: dict[str, float | None] = {}
    for array in job.arrays:
        for use in ("post", "beam"):
            name = pipe_name(array.frame, use, style=job.site.show)
            weights[name] = weights.get(name) or _kg_per_m(array.frame, use)
    return weights


def _kg_per_m(frame: FrameDesign, use: str) -> float | None:
    name, od_m, wall_m = _given(frame, use)
    if od_m is not None:
        return None if wall_m is None else kg_per_m_of(od_m, wall_m)
    try:
        return pipe_size(name or "").kg_per_m
    except ValueError:
        return None


def _given(frame: FrameDesign, use: str) -> tuple[str | None, float | None, float | None]:
    if use == "post":
        return frame.post_pipe, frame.post_od_m, frame.post_wall_m
    return frame.beam_pipe, frame.beam_od_m, frame.beam_wall_m


def with_sticks_on_hand_paid(pipe: Pipe) -> Pipe:
    """Return the pipe with sticks on hand at no cost where what can be bought has its price."""
    if not pipe.stock or not all(stock.price is not None for stock in pipe.stock if stock.count is None):
        return pipe
    if all(stock.price is None for stock in pipe.stock):
        return pipe
    return replace(
        pipe,
        stock=tuple(
            replace(stock, price=0.0) if stock.count is not None and stock.price is None else stock
            for stock in pipe.stock
        ),
    )


def weight_kg(lengths_m: Iterable[tuple[str, float]], job: Job) -> float | None:
    """Return what pieces, each a pipe's name and a length, weigh together; None where one is not known."""
    weights = weights_kg_per_m(job)
    total = 0.0
    for name, length_m in lengths_m:
        kg_per_m = weights.get(name)
        if kg_per_m is None:
            return None
        total += kg_per_m * length_m
    return total
