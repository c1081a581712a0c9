"""Breaks as sides of triangles: cut where they cross, and how high they are where nobody shot them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.ground.mesh import NODE_GRID_M, grid_keys

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Between:
    """A place without a shot, straight between the two nearest shots along each break that it lies on."""

    node: int
    shots: Ints
    """(2b,), the shots before and after along each of b breaks."""
    weights: Floats
    """(2b,), summing to one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NodedBreaks:
    """Breaks cut where they cross, as far as shots tell how high they are."""

    en_m: Floats
    """(k, 2): every node, also those without a shot."""
    edges: Ints
    """(e, 2), nodes."""
    shot: Ints
    """(k,): a shot at each node, -1 where there is none."""
    between: tuple[Between, ...]
    """Of the nodes without a shot."""


def noded_breaks(lines_en_m: Sequence[Floats], shots_en_m: Floats) -> NodedBreaks:
    """Cut breaks where they cross, on a grid of `NODE_GRID_M`.

    Beyond its first and its last shot nothing says how high a break is: it ends there.

    Parameters
    ----------
    lines_en_m
        The points (k, 2) of each break, in order; at least two, no two in a row at one place.
    shots_en_m
        (n, 2), of the same origin: small numbers, or the grid rounds them.
    """
    import shapely

    lines = [shapely.LineString(line) for line in lines_en_m]
    whole = shapely.unary_union(shapely.MultiLineString(lines), grid_size=NODE_GRID_M)
    ends_m, part = shapely.get_coordinates(shapely.get_parts(whole), return_index=True)
    joined = np.flatnonzero(part[1:] == part[:-1]).astype(np.int64)
    # A crossing is an end of several parts.
    _, first, node_of = np.unique(grid_keys(ends_m), return_index=True, return_inverse=True)
    en_m = ends_m[first]
    edges = node_of.reshape(-1).astype(np.int64)[np.column_stack([joined, joined + 1])]
    shot = _shots_at(en_m, shots_en_m)
    points = np.array(shapely.points(en_m), dtype=object)
    sides: dict[int, list[tuple[int, int, float]]] = {}
    for line in lines:
        on = np.flatnonzero(shapely.distance(points, line) <= 2.0 * NODE_GRID_M)
        station = shapely.line_locate_point(line, points[on])
        known = on[shot[on] >= 0]
        known_at = station[shot[on] >= 0]
        order = np.argsort(known_at, kind="stable")
        known, known_at = known[order], known_at[order]
        for node, at in zip(on.tolist(), station.tolist(), strict=True):
            after = int(np.searchsorted(known_at, at))
            if shot[node] < 0 and 0 < after < len(known):
                share = (at - known_at[after - 1]) / (known_at[after] - known_at[after - 1])
                ends = (int(shot[known[after - 1]]), int(shot[known[after]]), float(share))
                sides.setdefault(node, []).append(ends)
    told = (shot >= 0) | np.isin(np.arange(len(en_m)), list(sides))
    return NodedBreaks(
        en_m=en_m,
        edges=edges[told[edges].all(axis=1)],
        shot=shot,
        between=tuple(
            Between(
                node=node,
                shots=np.array([[before, after] for before, after, _ in ends]).ravel(),
                weights=np.array([[1.0 - share, share] for _, _, share in ends]).ravel() / len(ends),
            )
            for node, ends in sorted(sides.items())
        ),
    )


def _shots_at(nodes_m: Floats, shots_en_m: Floats) -> Ints:
    """Return the first shot (k,) at each node, -1 without one."""
    keys, first = np.unique(grid_keys(shots_en_m), return_index=True)
    asked = grid_keys(nodes_m)
    place = np.minimum(np.searchsorted(keys, asked), len(keys) - 1)
    return np.where(keys[place] == asked, first[place], -1).astype(np.int64)
