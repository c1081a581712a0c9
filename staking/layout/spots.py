"""The place of the modules that lies lowest, or highest, above the ground."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.layout.heights import Spots, Yard, plumb_heights, spots_in_space
from staking.layout.piers import a1_places
from staking.layout.plane import under

Floats = NDArray[np.float64]

SPACING_M = 0.25
"""Of the places looked at first: a mound narrower than this would not be in a survey of a yard."""
COARSE_M = 1.5
"""Of the places that start the search; the fine look at its answer adds what they miss."""
PLACES = 6
"""How many of the worst places, apart from each other, are looked at closely."""
APART_M = 0.4
ROUNDS = 12
"""Halvings of the close look: from 0.25 m to 0.06 mm, so a crest of 1 in 1 is still met to 0.1 mm."""
AT_ONCE = 1_000_000
"""Places of the first look worked on at a time: their heights take some hundred bytes each meanwhile."""
STEEPEST = 1.0
"""A place is dropped when ground of 1 in 1 could not make up, within what is left to look at, what it lacks
to the worst one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worst:
    """The worst place of one face at one cross-slope."""

    height_m: float
    """Above the ground, with the plane at elevation 0 over A1."""
    spot: tuple[float, float]
    """Along from the middle of the field of modules, up from its low edge."""
    en_m: tuple[float, float]


def grid(width_m: float, height_m: float, spacing_m: float) -> Floats:
    """Return (k, 2) spots over the field of modules with its edges and corners."""
    x = np.linspace(-width_m / 2, width_m / 2, 1 + math.ceil(width_m / spacing_m))
    y = np.linspace(0, height_m, 1 + math.ceil(height_m / spacing_m))
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


def first_spots(yard: Yard, cross_rad: Floats, *, over: bool, edge: bool = False) -> Spots:
    """Return the spots of a coarse grid that are worst at some of the cross-slopes.

    Without `over` the upper face is not held to a greatest height, and one spot stands for it; with `edge`
    spots along the low edge are among them.
    """
    shape = yard.shape
    coarse = grid(shape.width_m, shape.height_m, COARSE_M)
    low = plumb_heights(yard, cross_rad, coarse, shape.stack_m)
    high_spots = coarse[:1]
    if over:
        high = plumb_heights(yard, cross_rad, coarse, shape.stack_m + shape.thick_m)
        high_spots = coarse[np.unique(high.argmax(axis=1))]
    low_edge = grid(shape.width_m, 0.0, COARSE_M) if edge else coarse[:0]
    return Spots(under=coarse[np.unique(low.argmin(axis=1))], over=high_spots, edge=low_edge)


def lowest(yard: Yard, cross_rad: float) -> Worst:
    """Return where the modules' underside is nearest to the ground, plumb."""
    return _worst(yard, cross_rad, yard.shape.stack_m, sign=1.0)


def lowest_of_edge(yard: Yard, cross_rad: float) -> Worst:
    """Return where the modules' low edge, of the underside, is nearest to the ground, plumb."""
    return _worst(yard, cross_rad, yard.shape.stack_m, sign=1.0, top_m=0.0)


def highest(yard: Yard, cross_rad: float) -> Worst:
    """Return where the modules' upper face is highest above the ground, plumb."""
    return _worst(yard, cross_rad, yard.shape.stack_m + yard.shape.thick_m, sign=-1.0)


def _worst(yard: Yard, cross_rad: float, off_m: float, *, sign: float, top_m: float | None = None) -> Worst:
    """Look everywhere on a grid and at the shots beneath, then ever closer round the worst places.

    Up to `top_m` up the rails from the low edge, else everywhere.
    """
    shape = yard.shape
    cross = np.array([cross_rad])
    half, top = shape.width_m / 2, shape.height_m if top_m is None else top_m

    def values(spots: Floats) -> Floats:
        return np.asarray(sign * plumb_heights(yard, cross, spots, off_m)[0])

    beneath = _shots_beneath(yard, cross_rad, off_m)
    spots = np.concatenate([grid(shape.width_m, top, SPACING_M), beneath[beneath[:, 1] <= top]])
    found = np.concatenate([values(part) for part in np.array_split(spots, 1 + len(spots) // AT_ONCE)])
    centres: list[Floats] = []
    for i in np.argsort(found, kind="stable"):
        if all(math.hypot(*(spots[i] - c)) > APART_M for c in centres):
            centres.append(spots[i])
            if len(centres) == PLACES:
                break
    at = np.array(centres)
    step = np.linspace(-1, 1, 5)
    around = np.stack(np.meshgrid(step, step), axis=-1).reshape(-1, 2)
    width = SPACING_M
    for _ in range(ROUNDS):
        near = at[:, None, :] + width * around
        near = np.stack([near[..., 0].clip(-half, half), near[..., 1].clip(0, top)], axis=-1)
        value = values(near.reshape(-1, 2)).reshape(len(at), -1)
        rows, best = np.arange(len(at)), value.argmin(axis=1)
        least = value[rows, best]
        open_still = least - least.min() <= STEEPEST * width
        at, least = near[rows, best][open_still], least[open_still]
        width /= 2
    spot = at[int(least.argmin())]
    en = spots_in_space(yard, cross, spot[None, :], off_m)[0][0, 0]
    return Worst(
        height_m=float(sign * least.min()),
        spot=(float(spot[0]), float(spot[1])),
        en_m=(float(en[0]), float(en[1])),
    )


def _shots_beneath(yard: Yard, cross_rad: float, off_m: float) -> Floats:
    """Return the spots (k, 2) of the face that are plumb over the shots under it."""
    shape = yard.shape
    shots = np.asarray(yard.ground.shots_en_m(), dtype=float).reshape(-1, 2)
    a1 = a1_places(shape, cross_rad, yard.placed, yard.placed_en_m)
    along, up = under(
        shape.azimuth_rad, shape.tilt_rad, cross_rad, (float(a1[0]), float(a1[1])), shots, off_m
    )
    lean = math.sin(shape.tilt_rad) * math.tan(cross_rad)
    x = along - shape.half_line_m - shape.rail_run_m / 2 * lean
    y = up + shape.beams_at_m[0]
    inside = (np.abs(x) <= shape.width_m / 2) & (y >= 0) & (y <= shape.height_m)
    return np.stack([x[inside], y[inside]], axis=-1)
