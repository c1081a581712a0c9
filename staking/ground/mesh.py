"""Triangles between shots, the breaks of the ground as edges: Delaunay's, by the library pythoncdt.

Places are looked up by walking from triangle to neighbouring triangle, all places at once, each from a
triangle near it. The walk: O. Devillers, S. Pion and M. Teillaud, Int. J. of Foundations of Computer Science
13 (2002) 181-199, from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NODE_GRID_M = 1e-4
"""Breaks are noded on a grid of 0.1 mm, and places closer than that are one: far below any tape."""
ON_EDGE = 1e-9
"""A place this far past an edge, over twice the area of the triangle, is still in it: rounding."""
MOST_STEPS = 100_000
"""Steps of a walk: more than triangles are ever crossed; a walk that does not end is a defect."""
SHOTS_A_CELL = 0.5
"""Of the grid that says where a walk starts: finer, and empty cells start it further away."""
AT_ONCE = 65_536
"""Places that are walked to together: what is reckoned of them stays in the processor's cache."""
THIN = 0.005
"""Triangles of the border lower than this share of their side on it are taken off, 6 cm of a row of 12 m:
shots in a row that tapes place a centimetre off it would else be bridged from its one end to the other."""
FLAT = 10.0
"""Such a triangle's third corner stands this many of its heights at least from either end of the side."""
NO_AREA_M2 = 1e-300
"""Taken for the area of a triangle whose corners are in line, so that nothing is divided by nought."""
SIDES = 2_000_000
"""Distances to sides of the border worked on at a time."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Border:
    """The nearest places of a mesh's border, each between two of its vertices."""

    ends: Ints
    """(m, 2), vertices."""
    share: Floats
    """(m,), how far from the first to the second."""
    triangle: Ints
    """(m,), the one inside."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """Triangles between places."""

    origin_m: Floats
    """(2,): taken off all places, so that map coordinates keep their millimetres."""
    en_m: Floats
    """Vertices (v, 2), less the origin."""
    corners: Ints
    """(t, 3), counter-clockwise."""
    beyond: Ints
    """(t, 3): the triangle across the side from each corner to the next; -1 outside."""
    vertex_of: Ints
    """(n,): the vertex of each place that was given; places closer than `NODE_GRID_M` share one."""
    source: Ints
    """(v,): a place that was given for each vertex: the first at it, or the nearest where edges cross."""
    starts: Ints
    """(rows, columns): a triangle near each cell of a grid over the places."""
    cell_m: float

    def located(self, en_m: Floats) -> tuple[Ints, Floats]:
        """Return the triangle (m,) of each place, -1 outside, and the weights (m, 3) of its corners."""
        places = np.asarray(en_m, dtype=float) - self.origin_m
        low = self.en_m.min(axis=0)
        # Far places first come near: their cells would be too many to count.
        cells = np.clip((places - low) / self.cell_m, -1.0, float(max(self.starts.shape))).astype(np.int64)
        rows = np.clip(cells[:, 1], 0, self.starts.shape[0] - 1)
        columns = np.clip(cells[:, 0], 0, self.starts.shape[1] - 1)
        # Neighbouring places one after the other: the corners that they share are then in the cache.
        order = np.argsort(rows * self.starts.shape[1] + columns, kind="stable")
        found, weights = np.empty(len(places), dtype=np.int64), np.empty((len(places), 3))
        for begin in range(0, len(places), AT_ONCE):
            some = slice(begin, begin + AT_ONCE)
            near = order[some]
            found[some], weights[some] = self._walked(places[near], self.starts[rows[near], columns[near]])
        # A walk may have left over a bay of the border; the nearest place of the border sees its place.
        left = np.flatnonzero(found < 0)
        if len(left):
            again = self.nearest_border(places[order[left]] + self.origin_m).triangle
            found[left], weights[left] = self._walked(places[order[left]], again)
        triangles = np.empty_like(found)
        triangles[order] = found
        unsorted = np.empty_like(weights)
        unsorted[order] = weights
        return triangles, unsorted

    def _walked(self, places: Floats, starts: Ints) -> tuple[Ints, Floats]:
        """Walk from a triangle to each place, less the origin; return the triangles and the weights."""
        found = starts.copy()
        weights = np.zeros((len(places), 3))
        walking = np.arange(len(places))
        for step in range(MOST_STEPS):
            if not len(walking):
                break
            here = found[walking]
            share = corner_weights(self.en_m[self.corners[here]], places[walking])
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
        return found, weights

    def nearest_border(self, en_m: Floats) -> Border:
        """Return the place of the border that is nearest to each place (m, 2)."""
        places = np.asarray(en_m, dtype=float) - self.origin_m
        triangle, side = np.nonzero(self.beyond < 0)
        first, second = self.corners[triangle, side], self.corners[triangle, (side + 1) % 3]
        start = self.en_m[first]
        run = self.en_m[second] - start
        square = (run**2).sum(axis=1)
        nearest = np.empty(len(places), dtype=np.int64)
        share = np.empty(len(places))
        step = max(1, SIDES // len(first))
        for begin in range(0, len(places), step):
            block = places[begin : begin + step]
            off = block[:, None, :] - start[None, :, :]
            along = np.clip((off * run).sum(axis=2) / square, 0.0, 1.0)
            away = ((off - along[:, :, None] * run) ** 2).sum(axis=2)
            best = away.argmin(axis=1)
            nearest[begin : begin + step] = best
            share[begin : begin + step] = along[np.arange(len(block)), best]
        return Border(
            ends=np.column_stack([first[nearest], second[nearest]]), share=share, triangle=triangle[nearest]
        )


def corner_weights(corners_m: Floats, places_m: Floats) -> Floats:
    """Return the weights (m, 3) of triangles' corners (m, 3, 2) at places (m, 2); they sum to one."""
    a = corners_m[:, 0]
    ab, ac, ap = corners_m[:, 1] - a, corners_m[:, 2] - a, places_m - a
    area = ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]
    area = np.where(area == 0.0, NO_AREA_M2, area)
    b = (ap[:, 0] * ac[:, 1] - ap[:, 1] * ac[:, 0]) / area
    c = (ab[:, 0] * ap[:, 1] - ab[:, 1] * ap[:, 0]) / area
    return np.column_stack([1.0 - b - c, b, c])


def meshed(en_m: Floats, edges: Ints | None = None) -> Mesh:
    """Triangulate places.

    Parameters
    ----------
    en_m
        Plan positions (n, 2), metres.
    edges
        (e, 2), pairs of them that are sides of triangles.
    """
    from pythoncdt import IntersectingConstraintEdges, Triangulation, VertexInsertionOrder

    origin = np.asarray(en_m, dtype=float).mean(axis=0)
    own = en_m - origin
    first, vertex_of = _distinct(own)
    kept = own[first]
    mesh = Triangulation(VertexInsertionOrder.AUTO, IntersectingConstraintEdges.TRY_RESOLVE, 0.0)
    vertices: Any = np.ascontiguousarray(kept)
    mesh.insert_vertices(vertices)
    if edges is not None and len(edges):
        ends = vertex_of[edges]
        apart = ends[ends[:, 0] != ends[:, 1]]
        constrained: Any = np.ascontiguousarray(apart, dtype=np.uint32)
        mesh.insert_edges(constrained)
    mesh.erase_super_triangle()
    kept, source = _with_crossings(kept, first, mesh.vertices_array())
    told = mesh.triangles_array()
    corners = np.asarray(told["vertices"], dtype=np.int64)
    beyond = np.asarray(told["neighbors"], dtype=np.int64)
    beyond[beyond >= len(corners)] = -1
    corners, beyond = _without_thin_border(kept, corners, beyond)
    starts, cell_m = _starts(kept, corners)
    return Mesh(
        origin_m=origin,
        en_m=np.ascontiguousarray(kept),
        corners=corners,
        beyond=beyond,
        vertex_of=vertex_of,
        source=source,
        starts=starts,
        cell_m=cell_m,
    )


def _without_thin_border(en_m: Floats, corners: Ints, beyond: Ints) -> tuple[Ints, Ints]:
    """Return the triangles and their neighbours without the thin ones of the border, one after the other."""
    beyond = beyond.copy()
    gone = np.zeros(len(corners), dtype=bool)
    asked = np.flatnonzero((beyond < 0).any(axis=1))
    while len(asked):
        thin = asked[_thin(en_m, corners[asked], beyond[asked])]
        thin = thin[~gone[thin]]
        if gone.sum() + len(thin) >= len(corners):
            break
        gone[thin] = True
        near = np.unique(beyond[thin])
        near = near[near >= 0]
        beyond[near] = np.where(np.isin(beyond[near], thin), -1, beyond[near])
        asked = near[~gone[near]]
    if not gone.any():
        return corners, beyond
    number = np.append(np.cumsum(~gone) - 1, -1)
    return corners[~gone], number[beyond[~gone]].astype(np.int64)


def _thin(en_m: Floats, corners: Ints, beyond: Ints) -> NDArray[np.bool_]:
    """Return which triangles (k,) are thin over a side of theirs on the border."""
    at = en_m[corners]
    run = np.roll(at, -1, axis=1) - at
    length = np.hypot(run[:, :, 0], run[:, :, 1])
    area = np.abs(run[:, 0, 0] * run[:, 1, 1] - run[:, 0, 1] * run[:, 1, 0])
    height = area[:, None] / length
    # How far along the side the third corner stands: between its ends, or two rows of close shots far apart,
    # whose triangles are thin the other way, would be taken off from end to end.
    along = (-run * np.roll(run, 1, axis=1)).sum(axis=2) / length
    between = (along > FLAT * height) & (length - along > FLAT * height)
    return np.asarray(((height < THIN * length) & between & (beyond < 0)).any(axis=1))


def grid_keys(en_m: Floats) -> NDArray[np.complex128]:
    """Return one key (n,) for each place on the grid of `NODE_GRID_M`; equal places, equal keys."""
    on_grid = np.round(en_m / NODE_GRID_M)
    return np.asarray(on_grid[:, 0] + 1j * on_grid[:, 1])


def _distinct(en_m: Floats) -> tuple[Ints, Ints]:
    """Return the first place (v,) at each spot, and the spot (n,) of each place."""
    _, first, inverse = np.unique(grid_keys(en_m), return_index=True, return_inverse=True)
    return first.astype(np.int64), inverse.reshape(-1).astype(np.int64)


def _with_crossings(kept: Floats, source: Ints, vertices: NDArray[Any]) -> tuple[Floats, Ints]:
    """Return the vertices with those where rounding made edges cross, and the place each stands for."""
    more = np.column_stack([vertices["x"], vertices["y"]])[len(kept) :]
    nearest = [int(np.hypot(*(kept - place).T).argmin()) for place in more]
    return np.vstack([kept, more]), np.concatenate([source, source[nearest]]) if nearest else source


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
