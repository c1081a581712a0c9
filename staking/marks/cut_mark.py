"""The cut mark on a standing post, from the line of sight: up, down, or by the rod alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum


class CutCase(Enum):
    """Where the line of sight stands against the cut and the uncut top."""

    UP = "up"
    """Below the cut: mark the line on the post and measure up."""
    DOWN = "down"
    """At the cut or between it and the uncut top: mark the line and measure down."""
    ROD = "rod"
    """Above the uncut top, so no line on the pipe: hold the rod's foot at the mark and read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutMark:
    """How one cut is marked."""

    case: CutCase
    amount_m: float
    """What to measure from the line, or what the rod reads; never negative."""

    def sentence(self, show: Callable[[float], str]) -> str:
        """Return the instruction in words, lengths written by `show`."""
        if self.case is CutCase.ROD:
            return (
                "No line on the post: slide the rod's foot along it "
                f"until the rod reads {show(self.amount_m)}, mark the foot"
            )
        if self.amount_m == 0.0:
            return "Mark the line on the post: it is the cut"
        return f"Mark the line on the post, measure {self.case.name} {show(self.amount_m)}"


def cut_mark(*, cut_m: float, hi_m: float, uncut_top_m: float) -> CutMark:
    """Return how to mark a cut from a height of instrument.

    Parameters
    ----------
    cut_m : float
        Elevation of the cut: of the post's top end when done.
    hi_m : float
        Height of instrument: elevation of the line of sight.
    uncut_top_m : float
        Elevation of the post's top end as it stands.

    Raises
    ------
    ValueError
        When the post as it stands ends below the cut.
    """
    if uncut_top_m < cut_m:
        raise ValueError("the post ends below its cut: it is too short, there is nothing to cut")
    if hi_m < cut_m:
        return CutMark(case=CutCase.UP, amount_m=cut_m - hi_m)
    if hi_m <= uncut_top_m:
        return CutMark(case=CutCase.DOWN, amount_m=hi_m - cut_m)
    return CutMark(case=CutCase.ROD, amount_m=hi_m - cut_m)
