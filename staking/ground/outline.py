"""The convex outline of the shots: beyond it the ground is guessed, not interpolated."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

OUTSIDE_TOLERANCE_M = 0.05
"""A place this near the outline still counts as inside: twice what a stake may stand off its pier, so a pier
whose own stake is on the outline is not called outside."""


def convex_outline(en_m: Floats) -> Floats:
    """Return the corners (k, 2) of the convex hull of places (n, 2), counter-clockwise from the leftmost.

    Andrew's monotone chain: A. M. Andrew, Information Processing Letters 9 (1979) 216-219, from memory.
    """
    places = [(float(e), float(n)) for e, n in en_m[np.lexsort((en_m[:, 1], en_m[:, 0]))]]

    def chain(sequence: list[tuple[float, float]]) -> list[tuple[float, float]]:
        corners: list[tuple[float, float]] = []
        for e, n in sequence:
            while len(corners) > 1:
                (e0, n0), (e1, n1) = corners[-2], corners[-1]
                if (e1 - e0) * (n - n0) > (n1 - n0) * (e - e0):
                    break
                corners.pop()
            corners.append((e, n))
        return corners[:-1]

    return np.array(chain(places) + chain(places[::-1]))


def outside_outline(en_m: Floats, outline_en_m: Floats) -> Bools:
    """Return (m,) True where a place lies outside a convex outline by more than `OUTSIDE_TOLERANCE_M`."""
    sides = np.roll(outline_en_m, -1, axis=0) - outline_en_m
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    east = en_m[:, 0, None] - outline_en_m[None, :, 0]
    north = en_m[:, 1, None] - outline_en_m[None, :, 1]
    left_of_side = (sides[:, 0] * north - sides[:, 1] * east) / lengths
    return np.asarray((left_of_side < -OUTSIDE_TOLERANCE_M).any(axis=1))
