"""Each shot against the triangles of all the others.

Without one vertex only the triangles round it change: its star is filled with triangles of its neighbours,
which are Delaunay's again within the star. A shot of a break changes more, and there all is triangulated anew
without it. A shot of the border is told by none: the others' triangles do not reach it. O. Devillers, Int. J.
of Computational Geometry and Applications 12 (2002) 193-205 (taking a point out of a Delaunay triangulation),
from memory; the tests triangulate anew throughout.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from staking.ground.mesh import Mesh, corner_weights
from staking.ground.noding import noded_breaks
from staking.ground.triangulated import Triangles, triangles_between

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

Row = tuple[Ints, Floats]
"""Shots, and the weight of each."""
NOTHING: Row = (np.zeros(0, dtype=np.int64), np.zeros(0))


def left_out_weights(
    triangles: Triangles, en_m: Floats, which: Ints, *, breaks_en_m: Sequence[Floats] = ()
) -> list[Row]:
    """Return the weights by which the others estimate the ground at each of some shots.

    Parameters
    ----------
    triangles, en_m, breaks_en_m
        Of all shots.
    which
        (k,), the shots left out in turn. Without weights: the others' triangles do not reach it.
    """
    n = len(en_m)
    mesh = triangles.mesh
    shared = np.bincount(mesh.vertex_of[:n], minlength=len(mesh.en_m))
    held = _on_breaks(en_m, breaks_en_m)
    stars = _Stars(mesh)
    rows: list[Row] = []
    for shot in which.tolist():
        vertex = int(mesh.vertex_of[shot])
        if shared[vertex] > 1:
            others = np.flatnonzero(mesh.vertex_of[:n] == vertex)
            others = others[others != shot]
            rows.append((others, np.full(len(others), 1.0 / len(others))))
            continue
        ring = stars.ring(vertex)
        if ring is None:
            rows.append(NOTHING)
            continue
        if shot in held:
            rows.append(_anew(en_m, shot, breaks_en_m))
            continue
        three, share = _filled(mesh.en_m[ring], mesh.en_m[vertex])
        of_three = triangles.mean_of(ring[three][None, :], share[None, :], np.zeros((1, 2)))
        used = of_three.used()
        rows.append((used, of_three.over(used)[0]))
    return rows


def _on_breaks(en_m: Floats, breaks_en_m: Sequence[Floats]) -> frozenset[int]:
    lines = [line - en_m.mean(axis=0) for line in breaks_en_m if len(line) > 1]
    if not lines:
        return frozenset()
    return frozenset(noded_breaks(lines, en_m - en_m.mean(axis=0)).shot.tolist())


def _anew(en_m: Floats, shot: int, breaks_en_m: Sequence[Floats]) -> Row:
    """Return the shots and weights that tell a shot's place when all is triangulated without it."""
    others = np.delete(np.arange(len(en_m)), shot)
    triangles = triangles_between(en_m[others], breaks_en_m=breaks_en_m)
    if triangles.mesh.located(en_m[[shot]])[0][0] < 0:
        return NOTHING
    row = triangles.weights(en_m[[shot]])
    used = row.used()
    return others[used], row.over(used)[0]


class _Stars:
    """The rings of neighbours round vertices."""

    def __init__(self, mesh: Mesh) -> None:
        flat = mesh.corners.ravel()
        self._order = np.argsort(flat, kind="stable")
        self._first = np.searchsorted(flat[self._order], np.arange(len(mesh.en_m) + 1))
        self._corners = mesh.corners

    def ring(self, vertex: int) -> Ints | None:
        """Return the neighbours of a vertex, counter-clockwise; None on the border."""
        at = self._order[self._first[vertex] : self._first[vertex + 1]]
        after = {int(self._corners[k // 3, (k + 1) % 3]): int(self._corners[k // 3, (k + 2) % 3]) for k in at}
        start = next(iter(after), None)
        if start is None:
            return None
        ring = [start]
        while (following := after.get(ring[-1])) is not None and following != start:
            ring.append(following)
        return np.array(ring, dtype=np.int64) if following == start and len(ring) == len(after) else None


def _filled(ring_m: Floats, place_m: Floats) -> tuple[Ints, Floats]:
    """Return which three of a ring make the triangle round a place once it is filled, and their weights."""
    from pythoncdt import IntersectingConstraintEdges, Triangulation, VertexInsertionOrder

    if len(ring_m) == 3:
        return np.arange(3), corner_weights(ring_m[None, :, :], place_m[None, :])[0]
    star = Triangulation(VertexInsertionOrder.AUTO, IntersectingConstraintEdges.TRY_RESOLVE, 0.0)
    vertices: Any = np.ascontiguousarray(ring_m)
    star.insert_vertices(vertices)
    k = np.arange(len(ring_m))
    sides: Any = np.column_stack([k, (k + 1) % len(k)]).astype(np.uint32)
    star.insert_edges(sides)
    star.erase_outer_triangles()
    corners = np.asarray(star.triangles_array()["vertices"], dtype=np.int64)
    share = corner_weights(ring_m[corners], np.broadcast_to(place_m, (len(corners), 2)))
    best = int(share.min(axis=1).argmax())
    return corners[best], share[best]
