"""The statistical or the triangulated surface: whichever predicts left-out shots better."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from staking.ground.surface import Surface
from staking.ground.triangle_surface import TriangulatedSurface

Floats = NDArray[np.float64]
Kind = Literal["statistical", "triangulated", "table"]

CLEARLY = 0.9
"""The triangulated surface is taken where its error at left-out shots is less than this share of the
statistical one's: where they are near to each other the statistical one mostly is the better away from the
shots (measured in docs/ground.md)."""
LEAST_SHOTS = 8
"""With fewer, left-out shots say next to nothing of which is better."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Which surface is used, and how well each predicts shots that it was not given."""

    used: Kind
    asked: bool
    """Whether the job names it; otherwise the left-out shots decided."""
    shots: int
    """How many were left out in turn."""
    rms_statistical_m: float | None
    """Root mean square of left-out shots less what the others predict; None where every shot is needed."""
    rms_triangulated_m: float | None
    rms_table_m: float | None = None
    """Of the same shots less the table's ground; None without a table or where no such shot stands in it."""

    @property
    def rms_used_m(self) -> float | None:
        """Return the figure of the surface that is used."""
        return {
            "statistical": self.rms_statistical_m,
            "triangulated": self.rms_triangulated_m,
            "table": self.rms_table_m,
        }[self.used]


def chosen(
    statistical: Surface,
    triangulated: TriangulatedSurface,
    asked: Kind | None = None,
    *,
    over_table_m: Floats | None = None,
) -> Choice:
    """Choose between surfaces; each left-out shot is told by all.

    Parameters
    ----------
    statistical, triangulated
        Of the same shots.
    asked
        The surface that the job names.
    over_table_m
        Where a table is given: every shot (n,) less the table's ground, NaN outside it. Shots are no part of
        a table, so it is always without them.
    """
    one, other = statistical.left_out.above_m, triangulated.left_out.above_m
    told = np.isfinite(one) & np.isfinite(other)
    if over_table_m is not None:
        told &= np.isfinite(over_table_m)
    shots = int(told.sum())
    rms_one, rms_other = (_rms(above[told]) for above in (one, other))
    rms_table = None if over_table_m is None else _rms(over_table_m[told])
    better: Kind = "statistical"
    if rms_one is not None and rms_other is not None:
        better = "triangulated" if shots >= LEAST_SHOTS and rms_other < CLEARLY * rms_one else better
    if over_table_m is not None:
        own = rms_other if better == "triangulated" else rms_one
        # Few shots say nothing against a table that the person named.
        if shots < LEAST_SHOTS or own is None or rms_table is None or rms_table <= own:
            better = "table"
    return Choice(
        used=asked or better,
        asked=asked is not None,
        shots=shots,
        rms_statistical_m=rms_one,
        rms_triangulated_m=rms_other,
        rms_table_m=rms_table,
    )


def _rms(above_m: Floats) -> float | None:
    return float(np.sqrt(np.mean(above_m**2))) if len(above_m) else None
