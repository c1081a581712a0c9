"""What the map shows and from where to where: the things in plan, the scale, the window."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.plan import Plan
from staking.sheets.labels import Box
from staking.sheets.map_page import MapPage
from staking.sheets.map_scale import OUT_OF_SIGHT, Scale, largest_scale
from staking.sheets.sheet import PAPER_MM, Paper

Floats = NDArray[np.float64]
EN = tuple[float, float]

_ROOM_MM = 8.0
"""White kept inside the window round everything shown, for the labels of the outermost things."""
_SIGN_MM = 2.3
"""How far a sign reaches from its place: a pier's cross is the widest."""
_LEAST_M = 2.0
"""Least extent of a map, so that a single point has a scale."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """A pin, benchmark or other lasting mark in plan."""

    name: str
    kind: str
    en_m: EN
    elevation_m: float | None
    on_baseline: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MapView:
    """From the ground to the paper."""

    page: MapPage
    scale: Scale
    middle_m: EN
    """What stands in the middle of the window."""

    def xy(self, en_m: EN | Floats) -> tuple[float, float]:
        """Return where a place on the ground stands on paper, millimetres."""
        left, bottom, right, top = self.page.window
        mm_per_m = 1000.0 / self.scale.ratio
        return (
            (left + right) / 2.0 + (float(en_m[0]) - self.middle_m[0]) * mm_per_m,
            (bottom + top) / 2.0 + (float(en_m[1]) - self.middle_m[1]) * mm_per_m,
        )

    @property
    def extent_m(self) -> tuple[float, float, float, float]:
        """West, south, east and north edge of the window on the ground."""
        left, bottom, right, top = self.page.window
        half_e = (right - left) / 2.0 * self.scale.ratio / 1000.0
        half_n = (top - bottom) / 2.0 * self.scale.ratio / 1000.0
        east, north = self.middle_m
        return east - half_e, north - half_n, east + half_e, north + half_n

    def shows(self, en_m: EN) -> bool:
        """Return whether a place lies so far inside the window that its sign keeps off the frame."""
        x, y = self.xy(en_m)
        box: Box = self.page.window
        return box[0] + _SIGN_MM < x < box[2] - _SIGN_MM and box[1] + _SIGN_MM < y < box[3] - _SIGN_MM


def control_marks(plan: Plan) -> tuple[Control, ...]:
    """Return the points that last: everything placed that is not ground or a turning point, nor lost."""
    points = plan.adjustment.points
    lost = {row.point.strip().casefold() for row in plan.book.lost}
    named = {name.strip().casefold() for array in plan.arrays for name in array.stakeout.baseline}
    marks = []
    for i, name in enumerate(points.names):
        key = name.strip().casefold()
        if key in lost or not np.isfinite(points.enz_m[i, :2]).all():
            continue
        if points.kinds[i] in ("ground", "turning") and key not in named:
            continue
        elevation = float(points.enz_m[i, 2])
        marks.append(
            Control(
                name=name,
                kind="pin" if points.kinds[i] in ("ground", "turning") else points.kinds[i],
                en_m=(float(points.enz_m[i, 0]), float(points.enz_m[i, 1])),
                elevation_m=elevation if math.isfinite(elevation) else None,
                on_baseline=key in named,
            )
        )
    return tuple(marks)


def core_places(plan: Plan) -> Floats:
    """Return (k, 2) places that the map must hold: arrays with their hubs, or for a survey all its points."""
    places: list[Floats] = []
    for array in plan.arrays:
        places.append(array.fit.modules_outline_en_m)
        places.append(array.fit.piers.en_m)
        places += [np.array([hub.en_m for hub in mark.hubs]).reshape(-1, 2) for mark in array.stakeout.marks]
    if not plan.arrays:
        points = plan.adjustment.points
        places.append(points.enz_m[np.isfinite(points.enz_m[:, :2]).all(axis=1), :2])
    return np.vstack(places) if places else np.zeros((0, 2))


def map_view(
    plan: Plan, marks: tuple[Control, ...], paper: Paper, style: str, *, as_far: float = OUT_OF_SIGHT
) -> MapView | None:
    """Return the larger-scaled of the sheet upright and across, None when nothing is placed.

    Lasting marks are taken in, the baseline's first and the others from the nearest outward, as long as the
    scale is not coarser than `as_far` times the one that the arrays alone would have; those farther off are
    for the edge of the map.
    """
    core = core_places(plan)
    if not len(core):
        return None
    width, height = PAPER_MM[paper]
    views = [
        _view(core, marks, MapPage(width_mm=w, height_mm=h), style, as_far)
        for w, h in ((width, height), (height, width))
    ]
    upright, across = views
    if upright.scale.ratio != across.scale.ratio:
        return min(views, key=lambda view: view.scale.ratio)
    spread = np.ptp(core, axis=0)
    return across if spread[0] >= spread[1] else upright


def _view(core: Floats, marks: tuple[Control, ...], page: MapPage, style: str, as_far: float) -> MapView:
    alone = _scale(core, page, style)
    middle = (core.min(axis=0) + core.max(axis=0)) / 2.0
    shown = core

    def how_needed(mark: Control) -> tuple[bool, float]:
        away = math.hypot(mark.en_m[0] - middle[0], mark.en_m[1] - middle[1])
        return not mark.on_baseline, away

    for mark in sorted(marks, key=how_needed):
        wider = np.vstack([shown, mark.en_m])
        if _scale(wider, page, style).ratio <= as_far * alone.ratio:
            shown = wider
    centre = (shown.min(axis=0) + shown.max(axis=0)) / 2.0
    return MapView(page=page, scale=_scale(shown, page, style), middle_m=(float(centre[0]), float(centre[1])))


def _scale(places: Floats, page: MapPage, style: str) -> Scale:
    left, bottom, right, top = page.window
    spread = np.ptp(places, axis=0)
    return largest_scale(
        width_m=max(float(spread[0]), _LEAST_M),
        height_m=max(float(spread[1]), _LEAST_M),
        width_mm=right - left - 2 * _ROOM_MM,
        height_mm=top - bottom - 2 * _ROOM_MM,
        style=style,
    )
