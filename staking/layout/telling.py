"""Places under an array and ground to shave in words, for what conflicts and what would do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from staking.base.units import told
from staking.layout.heights import Yard
from staking.layout.piers import a1_places, piers_at
from staking.layout.search import HOLDS_M
from staking.layout.shaving import Shaved
from staking.layout.words import told_area, told_volume

MOST_SHAVED_M = 1.5
"""A deeper cut is an excavation, whose sides may not be left standing (common practice, no source)."""


def place_in_words(yard: Yard, cross_rad: float, en_m: tuple[float, float], style: str) -> str:
    """Return where a place under the modules lies, in words."""
    a1 = a1_places(yard.shape, cross_rad, yard.placed, yard.placed_en_m)
    piers = piers_at(yard.shape, cross_rad, (float(a1[0]), float(a1[1]))).en_m
    apart = np.hypot(*(piers - np.asarray(en_m)).T)
    nearest = int(apart.argmin())
    return (
        f"under the modules at east {told(en_m[0], style)}, north {told(en_m[1], style)}, "
        f"{told(float(apart[nearest]), style)} from pier {yard.called(nearest)}"
    )


def shaved_text(cuts: Sequence[tuple[Yard, Shaved]], style: str, parted: str = "") -> Iterator[str]:
    """Yield what to shave under the sections of an array, or under an only one, unless it is too deep.

    Parameters
    ----------
    cuts
        By section its yard and what is shaved there.
    style
        In which lengths are told.
    parted
        Where the array is parted, in words.
    """
    yard, deepest = max(cuts, key=lambda one: one[1].deepest_m)
    if deepest.deepest_m > MOST_SHAVED_M:
        return
    where = place_in_words(yard, deepest.cross_rad, deepest.deepest_at_en_m, style)
    at_piers = [
        f"{yard.called(i)} {told(depth, style)}"
        for yard, cut in cuts
        for i, depth in enumerate(cut.piers_m)
        if depth > HOLDS_M
    ]
    yield (
        f"ground shaved, {told_volume(sum(cut.volume_m3 for _, cut in cuts), style)} in all over "
        f"{told_area(sum(cut.area_m2 for _, cut in cuts), style)}, deepest "
        f"{told(deepest.deepest_m, style)} {where}"
        + (f" (at piers: {', '.join(at_piers)})" if at_piers else "")
        + (f", {parted}," if parted else "")
        + " would do"
    )


def outside_of(yard: Yard) -> int:
    """Return how many piers stand outside the shots, with level beams."""
    a1 = a1_places(yard.shape, 0.0, yard.placed, yard.placed_en_m)
    en = piers_at(yard.shape, 0.0, (float(a1[0]), float(a1[1]))).en_m
    return int(yard.ground.outside(en).sum())
