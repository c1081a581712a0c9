"""The triangulated surface: planes between shots, the breaks of the ground as edges of its triangles.

For tables of shots too large for kriging. Delaunay's triangles by the library pythoncdt; places are looked up
by walking from triangle to neighbouring triangle, all places at once, each from a triangle near it. The walk:
O. Devillers, S. Pion and M. Teillaud, Int. J. of Foundations of Computer Science 13 (2002) 181-199, from
memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NODE_GRID_M = 1e-4
"""Breaks are noded on a grid of 0.1 mm, and shots closer than that are one: far below any tape."""
ON_EDGE = 1e-9
"""A place this far past an edge, over twice the area of the triangle, is still in it: rounding."""
MOST_STEPS = 100_000
"""Steps of a walk: more than triangles are ever crossed; a walk that does not end is a defect."""
SHOTS_A_CELL = 2.0
"""Of the grid that says where a walk starts."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Triangulated:
    """Planes between shots."""

    origin_m: Floats
    """(2,): taken off all places, so that map coordinates keep their millimetres."""
    en_m: Floats
    """Corners (n, 2), less the origin: the shots, then what the breaks add."""
    z_m: Floats
    """(n,)."""
    corners: Ints
    """(t, 3), counter-clockwise."""
    beyond: Ints
    """(t, 3): the triangle across the side from each corner to the next; -1 outside."""
    starts: Ints
    """(rows, columns): a triangle near each cell of a grid over the shots."""
    cell_m: float

    def located(self, en_m: Floats) -> tuple[Ints, Floats]:
        """Return the triangle (m,) of each place, -1 outside, and the weights (m, 3) of its corners."""
        places = np.asarray(en_m, dtype=float) - self.origin_m
        low = self.en_m.min(axis=0)
        cells = ((places - low) / self.cell_m).astype(np.int64)
        rows = np.clip(cells[:, 1], 0, self.starts.shape[0] - 1)
        columns = np.clip(cells[:, 0], 0, self.starts.shape[1] - 1)
        # Neighbouring places one after the other: the corners that they share are then in the cache.
        order = np.argsort(rows * self.starts.shape[1] + columns, kind="stable")
        found = self.starts[rows[order], columns[order]]
        weights = np.zeros((len(places), 3))
        walking = np.arange(len(places))
        sorted_places = places[order]
        for step in range(MOST_STEPS):
            if not len(walking):
                break
            here = found[walking]
            share = _weights(self.en_m[self.corners[here]], sorted_places[walking])
            # The side from corner i to the next lies across from the corner after that.
            past = share[:, [2, 0, 1]]
            # Turning the side that is tried first keeps a walk over slivers from going round in circles.
            tried = np.roll(past, -(step % 3), axis=1) if step % 2 else past
            side = (tried.argmin(axis=1) + (step % 3 if step % 2 else 0)) % 3
            inside = past.min(axis=1) >= -ON_EDGE
            weights[walking[inside]] = share[inside]
            across = self.beyond[here, side]
            found[walking[~inside]] = across[~inside]
            walking = walking[~inside & (across >= 0)]
        triangles = np.empty_like(found)
        triangles[order] = found
        unsorted = np.empty_like(weights)
        unsorted[order] = weights
        return triangles, unsorted

    def z(self, en_m: Floats) -> Floats:
        """Return elevations (m,) at places (m, 2); NaN outside the shots."""
        triangles, weights = self.located(en_m)
        z = np.einsum("ij,ij->i", self.z_m[self.corners[triangles]], weights)
        return np.where(triangles >= 0, z, np.nan)


def _weights(corners_m: Floats, places_m: Floats) -> Floats:
    """Return the weights (m, 3) of triangles' corners (m, 3, 2) at places (m, 2); they sum to one."""
    a = corners_m[:, 0]
    ab, ac, ap = corners_m[:, 1] - a, corners_m[:, 2] - a, places_m - a
    area = ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]
    b = (ap[:, 0] * ac[:, 1] - ap[:, 1] * ac[:, 0]) / area
    c = (ab[:, 0] * ap[:, 1] - ab[:, 1] * ap[:, 0]) / area
    return np.column_stack([1.0 - b - c, b, c])


def triangulated(en_m: Floats, z_m: Floats, *, breaks_enz_m: Sequence[Floats] = ()) -> Triangulated:
    """Triangulate shots.

    Parameters
    ----------
    en_m, z_m
        Plan positions (n, 2) and elevations (n,) of shots; of those within `NODE_GRID_M` the first counts.
    breaks_enz_m
        East, north and elevation (k, 3) of the points of each break, in order; where two cross, the surface
        takes the mean of both.
    """
    from pythoncdt import IntersectingConstraintEdges, Triangulation, VertexInsertionOrder

    origin = np.asarray(en_m, dtype=float).mean(axis=0)
    own = np.column_stack([en_m - origin, z_m])
    nodes, edges = _noded([np.column_stack([b[:, :2] - origin, b[:, 2]]) for b in breaks_enz_m])
    every = np.vstack([own, nodes])
    grid = np.round(every[:, :2] / NODE_GRID_M).astype(np.int64)
    _, first, inverse = np.unique(grid, axis=0, return_index=True, return_inverse=True)
    kept = every[first]
    mesh = Triangulation(VertexInsertionOrder.AUTO, IntersectingConstraintEdges.TRY_RESOLVE, 0.0)
    vertices: Any = np.ascontiguousarray(kept[:, :2])
    mesh.insert_vertices(vertices)
    if len(edges):
        ends = inverse.reshape(-1)[edges + len(own)]
        apart = ends[ends[:, 0] != ends[:, 1]]
        constrained: Any = np.ascontiguousarray(apart, dtype=np.uint32)
        mesh.insert_edges(constrained)
    mesh.erase_super_triangle()
    kept = _with_crossings(kept, mesh.vertices_array())
    told = mesh.triangles_array()
    corners = np.asarray(told["vertices"], dtype=np.int64)
    beyond = np.asarray(told["neighbors"], dtype=np.int64)
    beyond[beyond >= len(corners)] = -1
    starts, cell_m = _starts(kept[:, :2], corners)
    return Triangulated(
        origin_m=origin,
        en_m=np.ascontiguousarray(kept[:, :2]),
        z_m=np.ascontiguousarray(kept[:, 2]),
        corners=corners,
        beyond=beyond,
        starts=starts,
        cell_m=cell_m,
    )


def _with_crossings(kept: Floats, vertices: NDArray[Any]) -> Floats:
    """Return the corners (n, 3) with those that rounding made edges cross at, as high as the nearest one."""
    more = np.column_stack([vertices["x"], vertices["y"]])[len(kept) :]
    z = [kept[int(np.hypot(*(kept[:, :2] - place).T).argmin()), 2] for place in more]
    return np.vstack([kept, np.column_stack([more, np.asarray(z, dtype=float)])]) if len(more) else kept


def _starts(en_m: Floats, corners: Ints) -> tuple[Ints, float]:
    """Return a triangle near each cell of a grid, and the grid's step."""
    low, size = en_m.min(axis=0), np.ptp(en_m, axis=0)
    cell_m = math.sqrt(float(size[0] * size[1]) * SHOTS_A_CELL / len(en_m))
    shape = (math.ceil(size[1] / cell_m) + 1, math.ceil(size[0] / cell_m) + 1)
    starts = np.full(shape, -1, dtype=np.int64)
    middle = ((en_m[corners].mean(axis=1) - low) / cell_m).astype(np.int64)
    starts[middle[:, 1], middle[:, 0]] = np.arange(len(corners))
    # An empty cell takes the one before it in its row, else the row before: near is enough to walk from.
    flat = starts.ravel()
    last = np.maximum.accumulate(np.where(flat >= 0, np.arange(len(flat)), 0))
    flat = flat[last]
    return np.where(flat >= 0, flat, 0).reshape(shape), cell_m


def _noded(breaks: Sequence[Floats]) -> tuple[Floats, Ints]:
    """Return the nodes (k, 3) of breaks cut where they cross, and the edges (e, 2) between them."""
    if not breaks:
        return np.empty((0, 3)), np.empty((0, 2), dtype=np.int64)
    import shapely

    lines = [shapely.LineString(line[:, :2]) for line in breaks]
    parts = shapely.get_parts(shapely.unary_union(shapely.MultiLineString(lines), grid_size=NODE_GRID_M))
    places, part = shapely.get_coordinates(parts, return_index=True)
    joined = np.flatnonzero(part[1:] == part[:-1])
    points = np.array(shapely.points(places), dtype=object)
    z = np.zeros(len(places))
    met = np.zeros(len(places))
    for line, shape in zip(breaks, lines, strict=True):
        on = shapely.distance(points, shape) <= 2.0 * NODE_GRID_M
        station = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line[:, :2], axis=0).T))])
        z[on] += np.interp(shapely.line_locate_point(shape, points[on]), station, line[:, 2])
        met[on] += 1.0
    return np.column_stack([places, z / np.maximum(met, 1.0)]), np.column_stack([joined, joined + 1])
