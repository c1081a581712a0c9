"""How many piers a beam has and how far apart they stand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from staking.base.errors import Mistake
from staking.base.units import told
from staking.book.records import FrameDesign

FEWEST_PIERS = 2
"""A beam on one post would tip: geometry, not strength."""
FIT = 1e-9
"""Relative: a bay that fills its limit exactly is not over it."""
MORE_PIERS = 4
"""As many piers more than the fewest are tried before rails are left on posts."""
CLEAR_M = 1e-6
"""A rail nearer to a post than it may be by a thousandth of a millimetre keeps clear: rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bays:
    """Piers per beam and the bay along the beam, metres."""

    piers: int
    bay_m: float


def bays_of(
    frame: FrameDesign, *, beam_m: float, shift_m: float, style: str, rails_m: Sequence[float] = ()
) -> Bays | Mistake:
    """Return the piers and the bay that the frame gives, or what is wrong with it.

    Where `max_bay` and `max_overhang` stand instead of the bay: the fewest piers that keep to both. What the
    beam then leaves free is shared so that bay and overhang use the same part of what each is allowed; where
    a rail would meet a post, the nearest bay that keeps clear.

    Parameters
    ----------
    frame : FrameDesign
        As given.
    beam_m : float
        What a beam must carry: from `beam_end` beyond its leftmost rail to `beam_end` beyond its rightmost.
    shift_m : float
        The most by which a cross-slope within the limits shifts a beam along itself past its posts: one
        overhang grows by it, the other shrinks.
    style : str
        In which the message tells lengths.
    rails_m : sequence of float
        From the middle of the beam: rails that posts must keep `rail_clear` from where the bay is chosen.
    """
    piers, bay = frame.piers_per_beam, frame.bay_m
    if piers is not None and piers < FEWEST_PIERS:
        return Mistake(
            file="job.toml",
            column="frame.piers_per_beam",
            read=str(piers),
            problem="a beam on fewer than two posts would tip",
            expected="2 or more",
        )
    if bay is not None and bay <= 0:
        return _wrong("frame.bay", bay, "not more than zero", style)
    if piers is not None and bay is not None:
        return _within(frame, Bays(piers=piers, bay_m=bay), beam_m=beam_m, shift_m=shift_m, style=style)
    if frame.max_overhang_m is None or (frame.max_bay_m is None and bay is None):
        missing = "bay" if bay is None else "piers_per_beam"
        return Mistake(
            file="job.toml",
            column=f"frame.{missing}",
            problem="missing",
            remedy="Give piers_per_beam and bay, or max_bay and max_overhang",
        )
    overhang = frame.max_overhang_m - shift_m
    if overhang < 0:
        return _wrong(
            "frame.max_overhang",
            frame.max_overhang_m,
            f"less than the {told(shift_m, style)} by which max_cross_slope may shift a beam past its posts",
            style,
        )
    if bay is not None:
        between = beam_m - 2 * overhang
        return Bays(piers=1 + max(1, math.ceil(between / bay * (1 - FIT))), bay_m=bay)
    assert frame.max_bay_m is not None
    if frame.max_bay_m <= 0:
        return _wrong("frame.max_bay", frame.max_bay_m, "not more than zero", style)
    fewest = 1 + max(1, math.ceil((beam_m - 2 * overhang) / frame.max_bay_m * (1 - FIT)))
    if piers is None:
        piers = fewest
    elif piers < fewest:
        return Mistake(
            file="job.toml",
            column="frame.piers_per_beam",
            read=str(piers),
            problem=f"too few for max_bay and max_overhang on a beam of {told(beam_m, style)}",
            expected=f"{fewest} or more",
        )

    def shared(count: int) -> float:
        assert frame.max_bay_m is not None
        return beam_m / ((count - 1) * frame.max_bay_m + 2 * overhang) * frame.max_bay_m

    for count in range(piers, piers + 1 + (MORE_PIERS if frame.piers_per_beam is None else 0)):
        least = max(0.0, beam_m - 2 * overhang) / (count - 1)
        most = min(frame.max_bay_m, beam_m / (count - 1))
        for bay_m in clear_bays(rails_m, frame.rail_clear_m, count, wanted_m=shared(count)):
            if least * (1 - FIT) <= bay_m <= most * (1 + FIT):
                return Bays(piers=count, bay_m=bay_m)
    return Bays(piers=piers, bay_m=shared(piers))


def clear_bays(rails_m: Sequence[float], clear_m: float, piers: int, *, wanted_m: float) -> list[float]:
    """Return the bays, nearest to the one wanted first, from which on posts keep clear of all rails.

    The one wanted alone, where it does; else the ends of what is free from half of it to half as much again.
    Level beams: the posts stand evenly about the middle.

    Parameters
    ----------
    rails_m
        From the middle of the beam.
    clear_m, piers
        Least distance from a rail to a post, and the posts.
    wanted_m
        The bay to stay near to.
    """
    need_m = clear_m - CLEAR_M
    if not len(rails_m) or need_m <= 0.0:
        return [wanted_m]
    off_m = np.unique(np.abs(rails_m))
    if piers % 2 and off_m[0] < need_m:
        return []
    nearest, farthest = wanted_m / 2, wanted_m * 3 / 2
    forbidden = [(-math.inf, nearest), (farthest, math.inf)]
    for k in range(1, piers, 2) if piers % 2 == 0 else range(2, piers, 2):
        times = k / 2
        first, last = np.searchsorted(off_m, (nearest * times - clear_m, farthest * times + clear_m))
        here = off_m[first:last]
        forbidden += zip(((here - need_m) / times).tolist(), ((here + need_m) / times).tolist(), strict=True)
    free, reached = [], -math.inf
    for low, high in sorted(forbidden):
        if low >= reached > -math.inf:
            free.append((reached, low))
        reached = max(reached, high)
    if any(low <= wanted_m <= high for low, high in free):
        return [wanted_m]
    return sorted((end for pair in free for end in pair), key=lambda end: abs(end - wanted_m))


def _within(frame: FrameDesign, bays: Bays, *, beam_m: float, shift_m: float, style: str) -> Bays | Mistake:
    """Hold given piers and bay against `max_bay` and `max_overhang`, where those are given too."""
    if frame.max_bay_m is not None and bays.bay_m > frame.max_bay_m * (1 + FIT):
        over = told(bays.bay_m - frame.max_bay_m, style)
        return _wrong("frame.bay", bays.bay_m, f"{over} over max_bay", style)
    overhang = (beam_m - (bays.piers - 1) * bays.bay_m) / 2 + shift_m
    if frame.max_overhang_m is not None and overhang > frame.max_overhang_m * (1 + FIT):
        over = told(overhang - frame.max_overhang_m, style)
        problem = f"leaves the beams {told(overhang, style)} past their end posts, {over} over max_overhang"
        return _wrong("frame.bay", bays.bay_m, problem, style)
    return bays


def _wrong(column: str, value_m: float, problem: str, style: str) -> Mistake:
    return Mistake(file="job.toml", column=column, read=told(value_m, style), problem=problem)
