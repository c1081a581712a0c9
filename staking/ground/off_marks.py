"""Pins, benchmarks and corners that stand far above or below the ground round them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from staking.base.units import from_unit
from staking.control.adjustment import Points

if TYPE_CHECKING:
    from staking.ground.yard import YardGround

KINDS = ("pin", "benchmark", "corner")
STANDS_UP_M = from_unit(1.0, "ft")
"""What a pin's head, a hub or a low kerb may stand above the ground (common practice, no source)."""
OFF_SDS = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OffMark:
    """A mark that does not stand on the ground that was shot round it."""

    name: str
    kind: str
    above_m: float
    """The mark less the ground; negative: below."""
    sd_m: float
    """Of that difference."""


def off_marks(points: Points, ground: YardGround) -> tuple[OffMark, ...]:
    """Return the marks that stand off the ground by more than a foot and three of its sds, the worst first.

    Only marks inside the shots are looked at: outside them the ground is a guess. What a mark's own error
    shares with the shots' is not taken off, so that the standard deviation is on the safe side.

    Parameters
    ----------
    points
        From the adjustment.
    ground
        Fitted to shots; a mark that shapes it itself is not looked at.
    """
    asked = [
        i
        for i, kind in enumerate(points.kinds)
        if kind in KINDS and bool(np.isfinite(points.enz_m[i]).all()) and not points.shapes_ground[i]
    ]
    if not asked:
        return ()
    en_m = points.enz_m[asked, :2]
    outside = ground.outside(en_m)
    there, slope = ground.at(en_m), ground.gradient(en_m)
    found = []
    for k, i in enumerate(asked):
        carry = np.array([*-slope[k], 1.0])
        var = there.cov_m2[k, k] + carry @ points.cov_of(3 * i + np.arange(3)) @ carry
        above_m, sd_m = float(points.enz_m[i, 2] - there.z_m[k]), float(np.sqrt(var))
        if not outside[k] and np.isfinite(sd_m) and abs(above_m) > STANDS_UP_M + OFF_SDS * sd_m:
            found.append(OffMark(name=points.names[i], kind=points.kinds[i], above_m=above_m, sd_m=sd_m))
    return tuple(sorted(found, key=lambda mark: -abs(mark.above_m)))
