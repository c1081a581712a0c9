"""A crowded map in parts: several sheets at a larger scale, their outlines on a key map."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.plan import Plan
from staking.sheets.labels import Label
from staking.sheets.map_canvas import Canvas, stroke
from staking.sheets.map_extent import MapView
from staking.sheets.map_scale import scale_with_room

Floats = NDArray[np.float64]

_APART_MM = 19.0
"""Room from pier to pier on a part: a name, a length below it, and white."""
_EDGE_MM = 14.0
"""Around what belongs to a part, for names at its edge and to see how the parts join."""
_MOST_PARTS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class MapPart:
    """One part of the map."""

    view: MapView
    piers: frozenset[str]
    """Whole names of those that belong to it: each pier to one part."""
    cell_m: tuple[float, float, float, float]
    """West, south, east and north of what belongs to it."""


def map_parts(plan: Plan, view: MapView, style: str) -> tuple[MapPart, ...]:
    """Return the parts, from the south-west on; none where their scale would be no larger."""
    names = [array.pier_name(name) for array in plan.arrays for name in array.fit.piers.names]
    places = np.vstack([array.fit.piers.en_m for array in plan.arrays])
    scale = scale_with_room(least_m=_least_apart(places), least_mm=_APART_MM, style=style)
    if scale.ratio >= view.scale.ratio:
        return ()
    left, bottom, right, top = view.page.window
    room_m = tuple((side - 2.0 * _EDGE_MM) * scale.ratio / 1000.0 for side in (right - left, top - bottom))
    groups = min((_along(places, room_m), _grid(places, room_m)), key=len)
    if len(groups) > _MOST_PARTS:
        return ()
    parts = []
    for group in groups:
        (west, south), (east, north) = places[group].min(axis=0), places[group].max(axis=0)
        middle = (float(west + east) / 2.0, float(south + north) / 2.0)
        parts.append(
            MapPart(
                view=MapView(page=view.page, scale=scale, middle_m=middle),
                piers=frozenset(names[i] for i in group),
                cell_m=(float(west), float(south), float(east), float(north)),
            )
        )
    return tuple(parts)


def _along(places: Floats, room_m: tuple[float, ...]) -> list[list[int]]:
    """Return piers in groups along their main direction, each as long as its box on the map has room."""
    away = places - places.mean(axis=0)
    main = np.linalg.svd(away, full_matrices=False)[2][0]
    groups: list[list[int]] = []
    for i in np.argsort(away @ main, kind="stable"):
        wider = [*groups[-1], int(i)] if groups else [int(i)]
        if groups and (np.ptp(places[wider], axis=0) <= room_m).all():
            groups[-1] = wider
        else:
            groups.append([int(i)])
    return groups


def _grid(places: Floats, room_m: tuple[float, ...]) -> list[list[int]]:
    """Return piers in groups by equal cells, west to east and south to north, the empty ones left out."""
    low, spread = places.min(axis=0), np.ptp(places, axis=0)
    count = np.maximum(1, np.ceil(spread / room_m)).astype(int)
    cells = np.minimum((places - low) // np.maximum(spread / count, 1e-6), count - 1).astype(int)
    order = cells[:, 1] * count[0] + cells[:, 0]
    return [[int(i) for i in np.flatnonzero(order == cell)] for cell in np.unique(order)]


def _least_apart(places: Floats) -> float:
    """Return the least distance between two piers."""
    from scipy.spatial import KDTree

    if len(places) < 2:
        return 1.0
    away = np.asarray(KDTree(places).query(places, k=2)[0])
    return float(away[:, 1].min())


def draw_part(canvas: Canvas, part: MapPart, number: int) -> None:
    """Draw a part's outline and number on the key map."""
    margin = _EDGE_MM / 2.0 * part.view.scale.ratio / 1000.0
    west, south, east, north = part.cell_m
    (x0, y0), (x1, y1) = (
        canvas.view.xy(en) for en in ((west - margin, south - margin), (east + margin, north + margin))
    )
    corners = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
    canvas.line(corners, closed=True, width_mm=0.3, dash="dotted", layer="parts", shun=0)
    canvas.key["parts"] = (stroke(0.3, "dotted"), "part, on its own sheet")
    label = Label(
        xy_mm=((x0 + x1) / 2.0, y1), radius_mm=0.5, lines=((f"part {number}", 9.0, True),), layer="parts"
    )
    canvas.labels.insert(0, label)
