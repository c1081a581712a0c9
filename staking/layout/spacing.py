"""Arrays behind one another: which shades which, and how far apart they must stand on their ground."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.book.records import ArrayJob
from staking.ground.elevations import Ground
from staking.layout.field import corners_of
from staking.layout.fitting import plane_of
from staking.layout.frame import ArrayPlane
from staking.layout.halving import halved
from staking.layout.replacing import moves_near
from staking.layout.shade import COVERED, Suns, shaded_share
from staking.layout.shape import shape_of
from staking.layout.stepped import sections_of

Floats = NDArray[np.float64]

MOST_OFF_M = 30.0
"""No spacing over this is looked for: it is another yard."""
LOOK_M = 0.5
"""Between two spacings that are looked at before the least is settled."""
SETTLED_M = 5e-4
"""The least spacing is settled to half a millimetre."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """An array as it stands."""

    job: ArrayJob
    """As a whole, with its breaks where it is parted."""
    sections: tuple[tuple[ArrayJob, ArrayPlane], ...]
    """From the left; an array of one plane is its own only one."""
    placed_en_m: tuple[float, float]
    ahead: tuple[float, float] | None
    """Unit vector along the line that its place names."""
    ground: Ground
    """As this array sees it."""

    @property
    def name(self) -> str:
        """Its name."""
        return self.job.name

    @property
    def plane(self) -> ArrayPlane:
        """Return the plane of its first section, which faces as all do."""
        return self.sections[0][1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shade:
    """What one array in front does to one behind it."""

    front: str
    back: str
    share: float
    """The most of the back array's face that is covered at one time."""
    worst_s: float | None
    """When, after the sun's noon; None without shade."""
    shaded_s: float
    """For how long of the time looked at, to one look."""
    gap_m: float
    """In plan along the front's axis, from its high edge to the back's low edge, where they come nearest."""
    least_gap_m: float | None
    """The least at which nothing is shaded and the back array still fits; None where none up to 30 m does."""
    keys: str
    """Of the back's [place], as they can be pasted; empty where nothing is shaded or nothing would do."""


def shades_of(arrays: Sequence[Standing], suns: Suns, *, style: str) -> tuple[Shade, ...]:
    """Return every shading pair, and for each array that none shades the nearest in front of it.

    Parameters
    ----------
    arrays
        As they stand.
    suns
        On the axes of the site.
    style
        In which lengths are told.
    """
    faces = [[_face(job, plane, style) for job, plane in one.sections] for one in arrays]
    found: list[Shade] = []
    for b, back in enumerate(arrays):
        pairs = [
            (_gap(faces[f], faces[b], front.plane), f, shaded_share(faces[f], faces[b], suns.toward))
            for f, front in enumerate(arrays)
            if f != b
        ]
        shading = [pair for pair in pairs if (pair[2] > COVERED).any()]
        # Of those that do no harm the nearest in front is told, not those beside or behind.
        clear = sorted((pair for pair in pairs if pair[0] >= 0), key=lambda pair: pair[0])[:1]
        found += [
            _shade(arrays[f], back, faces[f], gap_m, shares, suns, style)
            for gap_m, f, shares in shading or clear
        ]
    return tuple(found)


def _shade(
    front: Standing,
    back: Standing,
    face: Sequence[Floats],
    gap_m: float,
    shares: Floats,
    suns: Suns,
    style: str,
) -> Shade:
    covered = shares > COVERED
    away = _away(front.plane)

    def clear(east: float, north: float) -> bool | None:
        """Whether nothing is shaded with the back so shifted; None where it would not fit there."""
        moved = _moved_faces(back, (east, north), style)
        return None if moved is None else not (shaded_share(face, moved, suns.toward) > COVERED).any()

    more_m = _least(lambda d: clear(*(d * away)) is True, shaded=bool(covered.any()), nearest_m=-gap_m)
    keys = ""
    if covered.any() and more_m is not None and (back.job.place.line is None or back.ahead is not None):
        shift = (float(more_m * away[0]), float(more_m * away[1]))
        for move in moves_near(back.job.place, shift, ahead=back.ahead, style=style):
            if clear(move.east_m, move.north_m):
                keys = move.text
                break
    return Shade(
        front=front.name,
        back=back.name,
        share=float(shares.max(initial=0.0)),
        worst_s=(suns.when[int(shares.argmax())] - suns.noon).total_seconds() if covered.any() else None,
        shaded_s=float(covered.mean()) * (suns.when[-1] - suns.when[0]).total_seconds() if suns.when else 0.0,
        gap_m=gap_m,
        least_gap_m=None if more_m is None else gap_m + more_m,
        keys=keys,
    )


def _least(clear: Callable[[float], bool], *, shaded: bool, nearest_m: float) -> float | None:
    """Return the least shift away from the front at which it is clear, not nearer than the front's edge.

    Outward from what is shaded, inward from what is clear, to where the one turns into the other.
    """
    good: float | None
    bad: float | None
    if shaded:
        good, bad, at = None, 0.0, max(LOOK_M, nearest_m)
        while good is None and at <= MOST_OFF_M:
            good, bad = (at, bad) if clear(at) else (None, at)
            at += LOOK_M
        if good is None:
            return None
    else:
        good, bad, at = 0.0, None, max(-LOOK_M, nearest_m)
        while bad is None and good > nearest_m:
            good, bad = (at, None) if clear(at) else (good, at)
            at = max(at - LOOK_M, nearest_m)
        if bad is None:
            return good
    return halved(clear, good, bad, within=SETTLED_M)


def _away(plane: ArrayPlane) -> Floats:
    """Return the unit vector in plan away from where an array faces."""
    return np.array([-math.sin(plane.azimuth_rad), -math.cos(plane.azimuth_rad)])


def _gap(front: Sequence[Floats], back: Sequence[Floats], plane: ArrayPlane) -> float:
    away = _away(plane)
    return float((np.vstack(back)[:, :2] @ away).min() - (np.vstack(front)[:, :2] @ away).max())


def _face(job: ArrayJob, plane: ArrayPlane, style: str) -> Floats:
    shape = shape_of(job, style=style)
    return corners_of(shape, plane, shape.stack_m + shape.thick_m)


def _moved_faces(one: Standing, shift: tuple[float, float], style: str) -> list[Floats] | None:
    """Return the upper faces of an array shifted and fitted anew, None where no plane fits there."""
    at = (one.placed_en_m[0] + shift[0], one.placed_en_m[1] + shift[1])
    laid = sections_of(one.job, placed_en_m=at, ground=one.ground, style=style)
    if laid is None:
        return None
    planes = [(yard.shape, plane_of(yard, found)) for yard, found in laid]
    return [corners_of(shape, plane, shape.stack_m + shape.thick_m) for shape, plane in planes]
