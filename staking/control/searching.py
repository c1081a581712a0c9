"""The last resort for points that neither crossings nor turned groups place: adjust from many starts."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from staking.control.equations import FIXED, Kind, points_of
from staking.control.loci import XY
from staking.control.mirrors import Guess, choose, settle
from staking.control.placing import Placing
from staking.control.refining import Refining

MOST_POINTS = 10
"""Points looked for at once; with more, starts by chance seldom find the place."""
MOST_UNCHECKED = 2
"""Points looked for when no reading is left to check them: of more, starts by chance may miss places that fit
as well."""
STARTS = 40
"""Starts by chance, always the same ones."""
SEARCH_STEPS = 40
"""From anywhere on the site a start needs more steps than from a mirror image."""
FITS = 1e3
"""Weighted sum of squares, per reading, above which a start has gone astray rather than met a blunder."""


def searched(placing: Placing, group: Sequence[int], refining: Refining) -> bool:
    """Place the points of a group that hang on each other; return whether anything was placed.

    Points with two readings or fewer can be placed once the others are, and are left out of the search; those
    that remain hold each other.
    """
    core, readings = _core(placing, group)
    if not core or len(core) > MOST_POINTS or readings < 2 * len(core):
        return False
    if readings == 2 * len(core) and len(core) > MOST_UNCHECKED:
        return False
    starts = scattered(placing, placing.placed, core, STARTS)
    guesses: list[Guess] = []
    for start, (placed, misfit) in zip(starts, refining.all(starts, core, SEARCH_STEPS), strict=True):
        if misfit > FITS * readings or any(math.dist(placed[p], start[p]) == 0 for p in core):
            continue
        if not placing.forward(placed):
            continue
        if any(all(math.dist(placed[p], g.placed[p]) < 1e-3 for p in core) for g in guesses):
            continue
        guesses.append(Guess(placed=placed, misfit=misfit))
    if not guesses:
        return False
    settle(guesses, core, refining)
    return choose(placing, core, guesses, refining)


def scattered(
    placing: Placing, placed: Mapping[int, XY], points: Sequence[int], count: int
) -> list[dict[int, XY]]:
    """Return starts with some points strewn as far as a tape reaches, the others as they stand."""
    known = np.array(list(placed.values()))
    centre = known.mean(axis=0)
    lengths = [e.value for e in placing.equations if e.kind in (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE)]
    reach = float(np.abs(known - centre).max()) + max(lengths, default=0.0)
    rng = np.random.default_rng(20_001)
    starts = []
    for _ in range(count):
        spots = centre + rng.uniform(-reach, reach, size=(len(points), 2))
        spot = {p: (float(e), float(n)) for p, (e, n) in zip(points, spots, strict=True)}
        starts.append({**placed, **spot})
    return starts


def _core(placing: Placing, group: Sequence[int]) -> tuple[list[int], int]:
    """Return the points that hold each other, and the number of readings that hold them."""
    core = set(group)
    while True:
        usable = [
            set(points_of(e))
            for e in placing.equations_at(core)
            if e.kind not in FIXED and all(p in core or p in placing.placed for p in points_of(e))
        ]
        usable += [
            {h.start, h.to}
            for h in placing.directions
            if all(p in core or p in placing.placed for p in (h.start, h.to)) and core & {h.start, h.to}
        ]
        loose = {p for p in core if sum(p in points for points in usable) <= 2}
        if not loose:
            return sorted(core), len(usable)
        core -= loose
