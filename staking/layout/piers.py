"""Names of the piers and where they stand in plan."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from staking.layout.frame import Fit, Piers
from staking.layout.plane import in_plan
from staking.layout.shape import FrameShape

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def beam_letter(beam: int) -> str:
    """Return A for the lowest beam, B for the next …, AA after Z."""
    letters = ""
    beam += 1
    while beam:
        beam, rest = divmod(beam - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def whole_name(array: str, pier: str) -> str:
    """Return a pier's name in the whole job: with several arrays ``name-A1``."""
    return f"{array}-{pier}" if array else pier


def called_in_full(fit: Fit, array: str) -> Fit:
    """Return an array laid out with its piers' names as the whole job calls them."""
    names = tuple(whole_name(array, name) for name in fit.piers.names)
    return replace(fit, piers=replace(fit.piers, names=names))


def pier_order(shape: FrameShape) -> tuple[tuple[str, ...], Ints, Ints]:
    """Return names, beam (0 for A) and number (1 for the leftmost) in the order A1, A2 … B1, B2 ….

    In a stepped array the numbers go on from section to section.
    """
    beam, place = _order(shape)
    number = place + shape.first_pier
    names = tuple(f"{beam_letter(int(i))}{j}" for i, j in zip(beam, number, strict=True))
    return names, beam, number


def _order(shape: FrameShape) -> tuple[Ints, Ints]:
    """Return beam and place on it, both from 0."""
    beams = len(shape.beams_at_m)
    return (
        np.repeat(np.arange(beams), shape.piers_per_beam),
        np.tile(np.arange(shape.piers_per_beam), beams),
    )


def plan_offsets(shape: FrameShape, cross_slope_rad: ArrayLike) -> tuple[Floats, Floats]:
    """Return plan offsets (s, t) from A1 of the piers in order, each (…, m), for cross-slopes (…)."""
    beam, place = _order(shape)
    cross = np.asarray(cross_slope_rad, dtype=float)[..., None]
    s = place * shape.bay_m * np.cos(cross)
    up = np.asarray(shape.beams_at_m)[beam] - shape.beams_at_m[0]
    t = np.broadcast_to(up * math.cos(shape.tilt_rad), s.shape)
    return s, t


def a1_places(
    shape: FrameShape, cross_slope_rad: ArrayLike, placed: int, placed_en_m: tuple[float, float]
) -> Floats:
    """Return (…, 2) where A1 stands so that pier number `placed` of the order stands where it is placed.

    The plan bay is P·cos γ, so A1 moves with the cross-slope unless it is the placed pier itself.
    """
    beam, to_the_left = divmod(placed, shape.piers_per_beam)
    s = to_the_left * shape.bay_m * np.cos(np.asarray(cross_slope_rad, dtype=float))
    t = (shape.beams_at_m[beam] - shape.beams_at_m[0]) * math.cos(shape.tilt_rad)
    return in_plan(shape.azimuth_rad, placed_en_m, -s, np.full_like(s, -t))


def piers_at(shape: FrameShape, cross_slope_rad: float, a1_en_m: tuple[float, float]) -> Piers:
    """Return the piers of an array whose A1 stands at a place."""
    names, beam, number = pier_order(shape)
    s, t = plan_offsets(shape, cross_slope_rad)
    en = in_plan(shape.azimuth_rad, a1_en_m, s, t)
    for array in (beam, number, en):
        array.setflags(write=False)
    return Piers(names=names, beam=beam, number=number, en_m=en)
