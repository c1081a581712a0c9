"""The triangulated surface as weights of shots: planes between them, the breaks of the ground as sides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.ground.mesh import Mesh, meshed
from staking.ground.noding import noded_breaks

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

PLANE_SHOTS = 2000
"""Shots that the plane outside leans on at most, evenly through the table: more say the same."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weights:
    """How m estimates hang on shots: a few shots each, and a step along the shots' best plane."""

    shots: Ints
    """(m, k)."""
    shares: Floats
    """(m, k); nought where there are fewer."""
    step_m: Floats
    """(m, 2), east and north: outside the shots, and where a break bends that was not shot there."""
    plane_shots: Ints
    """(p,)."""
    plane: Floats
    """(2, p): the plane's rise per metre from those."""

    def used(self) -> Ints:
        """Return the shots (u,) that matter to any of the estimates."""
        stepping = self.plane_shots if self.step_m.any() else self.plane_shots[:0]
        return np.union1d(self.shots[self.shares != 0.0], stepping).astype(np.int64)

    def over(self, used: Ints) -> Floats:
        """Return the weights (m, u) of shots that `used` gave, or of all in order."""
        dense = np.zeros((len(self.shots), len(used)))
        place = np.minimum(np.searchsorted(used, self.shots), len(used) - 1)
        rows = np.broadcast_to(np.arange(len(self.shots))[:, None], self.shots.shape)
        np.add.at(dense, (rows, place), self.shares)
        stepping = self.step_m.any(axis=1)
        if stepping.any():
            columns = np.searchsorted(used, self.plane_shots)
            dense[np.ix_(stepping, columns)] += self.step_m[stepping] @ self.plane
        return dense


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """Places among the triangles: each a mean of three vertices, outside with a step past the border."""

    vertices: Ints
    """(m, 3)."""
    share: Floats
    """(m, 3), summing to one."""
    step_m: Floats
    """(m, 2), east and north of the nearest place of the border; nought inside."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Triangles:
    """Planes between shots, and the shots' best plane carried on outside them: every estimate ``W z``."""

    mesh: Mesh
    of_vertices: Weights
    """The elevation of each vertex."""

    def placed(self, en_m: Floats) -> Placed:
        """Find places (m, 2) among the triangles."""
        en_m = np.asarray(en_m, dtype=float)
        triangle, share = self.mesh.located(en_m)
        corners = self.mesh.corners[triangle]
        step = np.zeros((len(en_m), 2))
        out = np.flatnonzero(triangle < 0)
        if len(out):
            border = self.mesh.nearest_border(en_m[out])
            corners[out, :2], corners[out, 2] = border.ends, border.ends[:, 0]
            share[out] = np.column_stack([1.0 - border.share, border.share, np.zeros(len(out))])
            start, end = (self.mesh.en_m[border.ends[:, i]] for i in (0, 1))
            step[out] = en_m[out] - self.mesh.origin_m - start - border.share[:, None] * (end - start)
        return Placed(vertices=corners, share=share, step_m=step)

    def weights(self, en_m: Floats) -> Weights:
        """Return how the estimates at places (m, 2) hang on the shots."""
        at = self.placed(en_m)
        return self.mean_of(at.vertices, at.share, at.step_m)

    def mean_of(self, vertices: Ints, share: Floats, step_m: Floats) -> Weights:
        """Return means of vertices (m, j) with shares (m, j), each a step (m, 2) on along the plane."""
        own = self.of_vertices
        m = len(vertices)
        return Weights(
            shots=own.shots[vertices].reshape(m, -1),
            shares=(own.shares[vertices] * share[:, :, None]).reshape(m, -1),
            step_m=step_m + (own.step_m[vertices] * share[:, :, None]).sum(axis=1),
            plane_shots=own.plane_shots,
            plane=own.plane,
        )


def plane_rise(weights: Weights, z_m: Floats) -> Floats:
    """Return the rise per metre (2,) east and north of the plane, from the shots' elevations (n,)."""
    on_plane = z_m[weights.plane_shots]
    return np.asarray(weights.plane @ (on_plane - on_plane.mean()))


def estimates(weights: Weights, z_m: Floats) -> Floats:
    """Return the estimates (m,) from the shots' elevations (n,)."""
    of_shots = (z_m[weights.shots] * weights.shares).sum(axis=1)
    return np.asarray(of_shots + weights.step_m @ plane_rise(weights, z_m))


def triangles_between(en_m: Floats, *, breaks_en_m: Sequence[Floats] = ()) -> Triangles:
    """Triangulate shots.

    Parameters
    ----------
    en_m
        Plan positions (n, 2), metres; shots within 0.1 mm are one place, as high as their mean.
    breaks_en_m
        The points (k, 2) of each break; those without a shot are straight between their neighbours with one.
    """
    n = len(en_m)
    origin = en_m.mean(axis=0)
    own = en_m - origin
    plane_shots, plane = _best_plane(own)
    lines = [line - origin for line in breaks_en_m if len(line) > 1]
    if not lines:
        mesh = meshed(en_m)
        return Triangles(mesh=mesh, of_vertices=_of_shots(mesh, n, plane_shots, plane))
    noded = noded_breaks(lines, own)
    unshot = np.array([between.node for between in noded.between], dtype=np.int64)
    place_of = np.array(noded.shot)
    place_of[unshot] = n + np.arange(len(unshot))
    mesh = meshed(np.vstack([own, noded.en_m[unshot]]) + origin, place_of[noded.edges])
    vertices = _of_shots(mesh, n, plane_shots, plane)
    widest = max([vertices.shots.shape[1], *(len(one.shots) for one in noded.between)])
    more_columns = ((0, 0), (0, widest - vertices.shots.shape[1]))
    shots, shares = np.pad(vertices.shots, more_columns), np.pad(vertices.shares, more_columns)
    step_m = np.array(vertices.step_m)
    for k, between in enumerate(noded.between):
        vertex, ends = int(mesh.vertex_of[n + k]), between.shots
        shots[vertex, : len(ends)], shares[vertex, : len(ends)] = ends, between.weights
        # Where a break bends at a place without a shot, what the shots' best plane says of the bend.
        step_m[vertex] = noded.en_m[between.node] - between.weights @ own[ends]
    # Where rounding made edges cross, as high as the nearest place that was given.
    more = np.arange(int(mesh.vertex_of.max()) + 1, len(mesh.en_m))
    nearest = mesh.vertex_of[mesh.source[more]]
    shots[more], shares[more], step_m[more] = shots[nearest], shares[nearest], step_m[nearest]
    of_vertices = Weights(shots=shots, shares=shares, step_m=step_m, plane_shots=plane_shots, plane=plane)
    return Triangles(mesh=mesh, of_vertices=of_vertices)


def _of_shots(mesh: Mesh, n: int, plane_shots: Ints, plane: Floats) -> Weights:
    """Return each vertex as the mean of the shots at it; a vertex without a shot hangs on none."""
    at = mesh.vertex_of[:n]
    order = np.argsort(at, kind="stable")
    counts = np.bincount(at, minlength=len(mesh.en_m))
    first = np.cumsum(counts) - counts
    shots = np.zeros((len(mesh.en_m), int(counts.max())), dtype=np.int64)
    shares = np.zeros(shots.shape)
    column = np.arange(n) - first[at[order]]
    shots[at[order], column] = order
    shares[at[order], column] = 1.0 / counts[at[order]]
    return Weights(
        shots=shots,
        shares=shares,
        step_m=np.zeros((len(mesh.en_m), 2)),
        plane_shots=plane_shots,
        plane=plane,
    )


def _best_plane(own_m: Floats) -> tuple[Ints, Floats]:
    """Return shots (p,) and the rise per metre (2, p) of the least-squares plane from their elevations."""
    n = len(own_m)
    used = np.unique(np.linspace(0, n - 1, min(n, PLANE_SHOTS)).round().astype(np.int64))
    columns = np.column_stack([np.ones(len(used)), own_m[used]])
    return used, np.asarray(np.linalg.pinv(columns)[1:])
