"""Contours of the ground across the map, in round steps, each line labelled with its elevation."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.units import from_unit
from staking.ground.elevations import Ground
from staking.sheets.drawing import Line, Text
from staking.sheets.labels import GAP_MM, Box, points_along
from staking.sheets.letters import CAP_HEIGHT, DESCENT, MM_PER_PT, text_width_mm

Floats = NDArray[np.float64]

_STEPS = {
    "feet-inches": tuple(from_unit(s, "ft") for s in (0.25, 0.5, 1, 2, 5, 10, 20, 50)),
    "decimal feet": tuple(from_unit(s, "ft") for s in (0.2, 0.5, 1, 2, 5, 10, 20, 50)),
    "metric": (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0),
}
"""Vertical steps, metres; the least is about what shots of ordinary accuracy can show."""
_MOST_LINES = 12
_CELL_MM = 2.5
"""Of the grid on paper that the contours are drawn from."""
_LABEL_PT = 9.0
_LABEL_EVERY_MM = 110.0
_SHORTEST_MM = 28.0
"""A contour shorter than this on paper is not labelled."""
_STRAIGHT_MM = 0.9
"""How far a contour may bow away from its own label."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contour:
    """One line of one elevation, metres on the ground."""

    elevation_m: float
    en_m: tuple[tuple[float, float], ...]


def contours(
    ground: Ground, *, extent_m: tuple[float, float, float, float], scale: int, style: str
) -> tuple[float, tuple[Contour, ...]]:
    """Return the step and the contours inside an extent (west, south, east, north), within the shots.

    Where the surface reaches past the shots it is not drawn: it would look surveyed.
    """
    from contourpy import contour_generator

    west, south, east, north = extent_m
    columns = max(3, round((east - west) * 1000.0 / scale / _CELL_MM) + 1)
    rows = max(3, round((north - south) * 1000.0 / scale / _CELL_MM) + 1)
    x, y = np.linspace(west, east, columns), np.linspace(south, north, rows)
    places = np.column_stack([a.ravel() for a in np.meshgrid(x, y)])
    outside = np.asarray(ground.outside(places))
    z = np.full(len(places), np.nan)
    if (~outside).any():
        z[~outside] = ground.z(places[~outside])
    known = z[np.isfinite(z)]
    if not len(known):
        return _STEPS[style][0], ()
    step = _step(float(known.min()), float(known.max()), style)
    generator = contour_generator(x, y, np.ma.masked_invalid(z.reshape(rows, columns)), corner_mask=True)
    first, last = math.ceil(known.min() / step), math.floor(known.max() / step)
    found = []
    for k in range(first, last + 1):
        for line in generator.lines(k * step):
            found.append(
                Contour(elevation_m=k * step, en_m=tuple((float(e), float(n)) for e, n in np.asarray(line)))
            )
    return step, tuple(found)


def _step(low_m: float, high_m: float, style: str) -> float:
    return next((s for s in _STEPS[style] if (high_m - low_m) / s <= _MOST_LINES), _STEPS[style][-1])


def contour_label(line: Line, words: str, taken: Sequence[Box], window: Box) -> tuple[tuple[Text, Box], ...]:
    """Return the labels along one contour on paper, never upside down, clear of what is taken."""
    path = points_along(line.xy_mm)
    if len(path) < _SHORTEST_MM:
        return ()
    width = text_width_mm(words, size_pt=_LABEL_PT) + 1.0
    boxes = list(taken)
    placed: list[tuple[Text, Box]] = []
    places: list[int] = []
    half = max(1, round(width / 2.0))
    middle = len(path) // 2
    # From the middle outwards, so that the one label of a short contour is where the eye looks for it.
    for k in sorted(range(half + 2, len(path) - half - 2), key=lambda i: abs(i - middle)):
        if any(abs(k - other) < _LABEL_EVERY_MM for other in places):
            continue
        fitted = _at(path, k, half, width, words)
        if fitted is None or _leaves(fitted[1], window) or any(_meet(fitted[1], b) for b in boxes):
            continue
        places.append(k)
        placed.append(fitted)
        boxes.append(fitted[1])
    return tuple(placed)


def _at(path: Floats, k: int, half: int, width: float, words: str) -> tuple[Text, Box] | None:
    a, b = path[k - half], path[k + half]
    chord = b - a
    length = float(np.hypot(*chord))
    if length < 0.9 * 2 * half:
        return None
    near = path[k - half : k + half + 1] - a
    bow = np.abs(chord[0] * near[:, 1] - chord[1] * near[:, 0]) / length
    if bow.max() > _STRAIGHT_MM:
        return None
    turn = math.degrees(math.atan2(chord[1], chord[0]))
    if turn > 90.0:
        turn -= 180.0
    elif turn <= -90.0:
        turn += 180.0
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    middle = (a + b) / 2.0
    drop = CAP_HEIGHT * _LABEL_PT * MM_PER_PT / 2.0
    at = (float(middle[0] + s * drop), float(middle[1] - c * drop))
    tall = (CAP_HEIGHT + 2 * DESCENT) * _LABEL_PT * MM_PER_PT
    dx, dy = (abs(c) * width + abs(s) * tall) / 2.0, (abs(s) * width + abs(c) * tall) / 2.0
    box = (float(middle[0] - dx), float(middle[1] - dy), float(middle[0] + dx), float(middle[1] + dy))
    text = Text(
        xy_mm=at, text=words, size_pt=_LABEL_PT, anchor="middle", halo=True, turn_deg=turn, layer="contours"
    )
    return text, box


def _meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] + GAP_MM and a[2] > b[0] - GAP_MM and a[1] < b[3] + GAP_MM and a[3] > b[1] - GAP_MM


def _leaves(box: Box, window: Box) -> bool:
    return box[0] < window[0] or box[1] < window[1] or box[2] > window[2] or box[3] > window[3]
