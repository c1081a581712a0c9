"""Breaks of the ground kept sharp: a fold of slope along each, and the ground straight between its points.

The ground's departures from its plane are the usual covariance plus, for each point of a break, a fold: a
surface that is smooth everywhere but across the break, where its slope jumps. It is the potential of a
layer along the break, ``∫ σ(s) log|x − y(s)| ds / 2π``, whose slope square to the layer jumps by exactly σ
from one side to the other; σ runs linearly from point to point. Folds add up, so breaks may bend, meet,
cross, close or end in the yard, and neither side is carried on over the other.
O. D. Kellogg, *Foundations of Potential Theory* (Springer, 1929), ch. VI (jump of a layer's derivative), from
memory.

Along a break the ground is held to the straight line between the break's points: departures from it are
taken as observed to be nought, and the covariance is what that observation leaves.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.ground.covariance import Covariance
from staking.ground.outline import convex_outline, outside_outline

Floats = NDArray[np.float64]

FOLD_SD = 0.5
"""One standard deviation of the change of slope at a break before any shot: a bank of one in two. A wall of
dry stone is some six times that and shots beside it still say so; nothing hangs on it where there are any
(common practice, no source)."""
STRAIGHT_SD_M = 0.001
"""How far the ground may stand off the straight line between two points of a break, one standard deviation:
nothing that a rod would read; without it close points would make the system singular."""
HELD_STEP = 0.5
"""A break is held straight at points this far apart, over the spacing of the shots."""
MOST_HELD = 400
"""Held points at most, then further apart: the work grows with their number."""
NEAR_EDGE = 1.5
"""A break whose straight run-on leaves the shots within this many spacings runs on: nobody shot its end."""
RUN_ON = 10.0
"""It runs on so far, in widths of the shot ground: beyond, a longer one folds the yard no differently."""


def _primitives(along: Floats, off: Floats) -> tuple[Floats, Floats]:
    """Return ∫ log r and ∫ t·log r over t, with r² = t² + off²."""
    square = along**2 + off**2
    log = 0.5 * np.log(np.where(square > 0.0, square, 1.0))
    return along * log - along + off * np.arctan2(along, np.where(off > 0.0, off, 1.0)), square * (
        0.5 * log - 0.25
    )


def segment_fold(en_m: Floats, start: Floats, end: Floats) -> tuple[Floats, Floats]:
    """Return two folds (m,) along a segment: of a jump of one at its start, none at its end; the reverse."""
    run = end - start
    length = float(np.hypot(*run))
    u = run / length
    station = (en_m - start) @ u
    off = np.abs((en_m - start) @ np.array([-u[1], u[0]]))
    far, near = _primitives(length - station, off), _primitives(-station, off)
    whole = far[0] - near[0]
    share = (far[1] - near[1] + station * whole) / length
    return (whole - share) / (2.0 * math.pi), share / (2.0 * math.pi)


def _exit_m(place: Floats, direction: Floats, outline: Floats) -> float:
    """Return how far from a place a ray leaves a convex outline; nought when the place stands outside."""
    if outside_outline(place[None, :], outline)[0]:
        return 0.0
    sides = np.roll(outline, -1, axis=0) - outline
    out = np.column_stack([sides[:, 1], -sides[:, 0]])
    speed = out @ direction
    gone = np.einsum("ij,ij->i", out, place - outline)
    leaving = speed > 0.0
    return float((-gone[leaving] / speed[leaving]).min())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Breaks:
    """Where the ground is folded, ready to be asked anywhere."""

    lines_en_m: tuple[Floats, ...]
    """Points (k, 2) of each, in order."""
    runs_on: tuple[tuple[bool, bool], ...]
    """Whether each runs on past its first and its last point."""
    run_on_m: float
    plane: Floats
    """(3, f): the plane that each fold makes at the shots; it goes off, for the drift has one anyway and the
    numbers stay small."""
    centre_m: Floats
    held_en_m: Floats
    """(h, 2): the points of the breaks, then the places between them where the ground is held."""
    off_line: Floats
    """(c, h): elevations at those to departures from the straight lines."""

    def folds(self, en_m: Floats) -> Floats:
        """Return the folds (m, f), one for each point of each break, at places (m, 2)."""
        return self._raw(en_m) - _plane_columns(en_m, self.centre_m) @ self.plane

    def _raw(self, en_m: Floats) -> Floats:
        return _folds(en_m, self.lines_en_m, self.runs_on, self.run_on_m)


def _plane_columns(en_m: Floats, centre_m: Floats) -> Floats:
    return np.column_stack([np.ones(len(en_m)), en_m - centre_m])


def _folds(
    en_m: Floats, lines: Sequence[Floats], runs_on: Sequence[tuple[bool, bool]], run_on_m: float
) -> Floats:
    columns = []
    for line, (first, last) in zip(lines, runs_on, strict=True):
        own = np.zeros((len(en_m), len(line)))
        for i in range(len(line) - 1):
            at_start, at_end = segment_fold(en_m, line[i], line[i + 1])
            own[:, i] += at_start
            own[:, i + 1] += at_end
        for runs, end, before in ((first, 0, 1), (last, len(line) - 1, len(line) - 2)):
            if runs:
                way = line[end] - line[before]
                beyond = line[end] + way / np.hypot(*way) * run_on_m
                own[:, end] += sum(segment_fold(en_m, line[end], beyond))
        columns.append(own)
    return np.column_stack(columns)


def placed_breaks(lines_en_m: Sequence[Floats], shots_en_m: Floats) -> Breaks | None:
    """Make breaks of lines; None without any that has a length.

    Parameters
    ----------
    lines_en_m
        The points (k, 2) of each break, in order.
    shots_en_m
        Where the shots stand, (n, 2): they say how close to look, and where the shot ground ends.
    """
    lines = tuple(kept for line in lines_en_m if len(kept := _without_repeats(line)) > 1)
    if not lines:
        return None
    outline = convex_outline(shots_en_m)
    spacing_m = math.sqrt(_area_m2(outline) / len(shots_en_m))
    runs_on = tuple(_ends_run_on(line, outline, NEAR_EDGE * spacing_m) for line in lines)
    centre = shots_en_m.mean(axis=0)
    run_on_m = RUN_ON * 2.0 * float(np.hypot(*(shots_en_m - centre).T).max())
    raw = _folds(shots_en_m, lines, runs_on, run_on_m)
    plane = np.linalg.lstsq(_plane_columns(shots_en_m, centre), raw, rcond=None)[0]
    total_m = sum(float(np.hypot(*np.diff(line, axis=0).T).sum()) for line in lines)
    held, off_line = _held(lines, max(HELD_STEP * spacing_m, total_m / MOST_HELD))
    return Breaks(
        lines_en_m=lines,
        runs_on=runs_on,
        run_on_m=run_on_m,
        plane=np.asarray(plane, dtype=np.float64),
        centre_m=centre,
        held_en_m=held,
        off_line=off_line,
    )


def _without_repeats(line: Floats) -> Floats:
    """Return the line without points at the place of the one before."""
    line = np.asarray(line, dtype=float).reshape(-1, 2)
    return line[np.concatenate([[True], (np.diff(line, axis=0) != 0.0).any(axis=1)])] if len(line) else line


def _area_m2(outline: Floats) -> float:
    after = np.roll(outline, -1, axis=0) - outline[0]
    here = outline - outline[0]
    return 0.5 * abs(float((here[:, 0] * after[:, 1] - here[:, 1] * after[:, 0]).sum()))


def _ends_run_on(line: Floats, outline: Floats, within_m: float) -> tuple[bool, bool]:
    if (line[0] == line[-1]).all():
        return False, False
    return (
        _exit_m(line[0], _unit(line[0] - line[1]), outline) <= within_m,
        _exit_m(line[-1], _unit(line[-1] - line[-2]), outline) <= within_m,
    )


def _unit(way: Floats) -> Floats:
    return np.asarray(way / np.hypot(*way))


def _held(lines: Sequence[Floats], step_m: float) -> tuple[Floats, Floats]:
    """Return the held places (h, 2), the breaks' points first, and (c, h) their departures from the lines."""
    nodes = np.vstack(list(lines))
    between: list[Floats] = []
    rows: list[tuple[int, float]] = []
    first = 0
    for line in lines:
        for i in range(len(line) - 1):
            parts = max(2, math.ceil(float(np.hypot(*(line[i + 1] - line[i]))) / step_m))
            for t in np.arange(1, parts) / parts:
                between.append(line[i] + t * (line[i + 1] - line[i]))
                rows.append((first + i, float(t)))
        first += len(line)
    off_line = np.zeros((len(rows), len(nodes) + len(rows)))
    for j, (start, t) in enumerate(rows):
        off_line[j, start] -= 1.0 - t
        off_line[j, start + 1] -= t
        off_line[j, len(nodes) + j] = 1.0
    return np.vstack([nodes, *between]), off_line


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BrokenCovariance:
    """The covariance of ground with breaks: what distance says, the folds, and straight lines along them."""

    smooth: Covariance
    breaks: Breaks
    white: Floats
    """(c, h): held elevations to whitened departures from the breaks' lines."""
    held_folds: Floats
    """(h, f)."""

    def between(self, from_m: Floats, to_m: Floats) -> Floats:
        """Return the covariance (m, n) in m² of the ground at (m, 2) with that at (n, 2) places."""
        from_folds, to_folds = self.breaks.folds(from_m), self.breaks.folds(to_m)
        free = self.smooth.between(from_m, to_m) + FOLD_SD**2 * (from_folds @ to_folds.T)
        return np.asarray(free - self._held(from_m, from_folds).T @ self._held(to_m, to_folds))

    def _held(self, en_m: Floats, folds: Floats) -> Floats:
        """Return the whitened covariance (c, m) of the departures from the breaks' lines with places."""
        shared = self.smooth.between(self.breaks.held_en_m, en_m) + FOLD_SD**2 * (self.held_folds @ folds.T)
        return np.asarray(self.white @ shared)


def broken_covariance(smooth: Covariance, breaks: Breaks) -> BrokenCovariance:
    """Return a covariance with breaks in it."""
    held = breaks.held_en_m
    folds = breaks.folds(held)
    free = smooth.between(held, held) + FOLD_SD**2 * (folds @ folds.T)
    off = breaks.off_line @ free @ breaks.off_line.T + STRAIGHT_SD_M**2 * np.eye(len(breaks.off_line))
    white = np.linalg.solve(np.linalg.cholesky(off), breaks.off_line)
    return BrokenCovariance(smooth=smooth, breaks=breaks, white=np.asarray(white), held_folds=folds)
