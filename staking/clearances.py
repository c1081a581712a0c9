"""What the layout keeps from boundaries, areas, buried and overhead lines and trees, thing by thing."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from staking.base.units import told
from staking.book.records import ArrayJob, FieldBook
from staking.control.adjustment import Points
from staking.ground.elevations import Ground
from staking.layout.around import Needs
from staking.layout.frame import Fit
from staking.layout.room import things_of
from staking.layout.shape import shape_of
from staking.lines.keeping import Distance, Thing, distances
from staking.lines.obstacles import Obstacle, obstacles_of

Floats = NDArray[np.float64]

_KIND_WORDS = {
    "boundary": "boundary",
    "no_build": "no-build area",
    "buried": "buried line",
    "overhead": "overhead line",
    "tree": "tree",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Guessed:
    """An overhead line whose height rests on ground that was not shot under it."""

    obstacle: str
    points: tuple[str, ...]
    sd_m: float
    """Of the ground there, the worst of them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearances:
    """Every distance that was looked at, and what could not be."""

    distances: tuple[Distance, ...] = ()
    unplaced: tuple[str, ...] = ()
    guessed: tuple[Guessed, ...] = ()

    @property
    def failing(self) -> tuple[Distance, ...]:
        """Return the distances that are not kept, the worst first."""
        return tuple(sorted((d for d in self.distances if d.fails), key=lambda d: -d.short_m))

    def nearest(self) -> tuple[Distance, ...]:
        """Return the nearest thing of each kind to each obstacle."""
        found: dict[tuple[str, str], Distance] = {}
        for d in self.distances:
            key = (d.obstacle, d.thing_kind)
            if key not in found or d.distance_m < found[key].distance_m:
                found[key] = d
        return tuple(found.values())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """One array as it stands, for what must keep clear."""

    name: str
    """Empty when there is only one."""
    title: str = ""
    """Name and section, for what is not a pier's: empty for the only one."""
    job: ArrayJob
    fit: Fit


def clearances(
    book: FieldBook,
    points: Points,
    standing: Iterable[Standing],
    *,
    stick_m: float,
    ground: Ground,
) -> Clearances:
    """Return how far everything keeps from everything; empty where nothing was surveyed.

    Parameters
    ----------
    book, points
        Lines, trees and where they are.
    standing
        The arrays.
    stick_m
        Length of the longest stick that is stood up at a pier.
    ground
        Under the wires: where their points have no elevation it is taken from the surface, with its sd.
    """
    obstacles = obstacles_of(book, points)
    if not obstacles.placed:
        return Clearances(unplaced=obstacles.unplaced)
    hole_m = 0.0 if book.job.footing is None else book.job.footing.hole_diameter_m
    needs = Needs(hole_m=hole_m / 2, hub_m=book.job.stakes.offset_hub_m, stick_m=stick_m)
    things = [t for one in standing for t in _things(one, needs, book.job.site.show)]
    footed = [_footed(one, ground) for one in obstacles.placed]
    return Clearances(
        distances=distances([one for one, _ in footed], things, ground.z),
        unplaced=obstacles.unplaced,
        guessed=tuple(guessed for _, guessed in footed if guessed is not None),
    )


def _footed(one: Obstacle, ground: Ground) -> tuple[Obstacle, Guessed | None]:
    """Return an overhead line as sure as the ground below its points, and what of that was not shot."""
    if one.z_m is None or not np.isnan(one.z_m).any():
        return one, None
    lacking = np.flatnonzero(np.isnan(one.z_m))
    sd_m = float(ground.at(one.en_m[lacking]).sd_m.max())
    guessed = Guessed(obstacle=one.name, points=tuple(one.points[i] for i in lacking), sd_m=sd_m)
    return replace(one, sd_m=math.hypot(one.sd_m, sd_m)), guessed


def _things(one: Standing, needs: Needs, style: str) -> list[Thing]:
    return things_of(
        shape_of(one.job, style="metric"),
        one.fit.plane,
        names=one.fit.piers.names,
        grade_m=one.fit.lengths.ground_m,
        needs=needs,
        title=one.title or one.name,
        prefix=f"{one.name}-" if one.name else "",
        style=style,
    )


def clearance_remarks(book: FieldBook, found: Clearances, style: str) -> tuple[str, ...]:
    """Return what conflicts with which line, the worst first, and what was not or could not be checked."""
    remarks = [_conflict(group, style) for group in _grouped(found.failing)]
    remarks += [
        f"{called(group[0])}: {_listed(group, style)} {'keeps' if len(group) == 1 else 'keep'} the "
        f"{told(group[0].wanted_m, style)} wanted by less than its own place is known, "
        f"±{told(2 * group[0].sd_m, style)}: too close to call"
        for group in _grouped(d for d in found.distances if d.close)
    ]
    remarks += found.unplaced
    remarks += [
        f"{_named('overhead', one.obstacle)}: the ground at {', '.join(one.points)} was not shot, and the "
        f"wire's height above it rests on a guess, ±{told(2 * one.sd_m, style)}: shoot the ground there"
        for one in found.guessed
    ]
    kinds = {d.obstacle_kind for d in found.distances}
    remarks += [
        f"{_named('boundary', line.line)} does not come back to its first point: how near things come to it "
        "was checked, not on which side of it they stand"
        for line in book.lines
        if line.kind == "boundary" and line.points[0] != line.points[-1]
    ]
    if "boundary" in kinds:
        remarks.append(
            "boundaries were checked where lines.csv draws them; whether they are the legal ones only a "
            "licensed surveyor says"
        )
    if "overhead" in kinds:
        remarks.append(
            "overhead lines were checked for up to 50 kV with the heights given; higher voltages ask for "
            "more (29 CFR 1926.1408 Table A): ask the owner of the line"
        )
    given = {line.kind for line in book.lines}
    lacking = [name for kind, name in _NEVER_GIVEN if kind not in given]
    if lacking:
        remarks.append(
            f"no {_one_of(lacking)} lines were given and none were checked; have utilities located before "
            "you dig"
        )
    return tuple(remarks)


_NEVER_GIVEN = (("boundary", "boundary"), ("buried", "buried"), ("overhead", "overhead"))


def _one_of(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def called(d: Distance) -> str:
    """Return an obstacle by kind and name."""
    return _named(d.obstacle_kind, d.obstacle)


def _named(kind: str, name: str) -> str:
    words = _KIND_WORDS[kind]
    return name if name.casefold().startswith(words) else f"{words} {name}"


def _grouped(found: Iterable[Distance]) -> list[list[Distance]]:
    """Return distances by obstacle and kind of thing, each group in the order given."""
    groups: dict[tuple[str, str], list[Distance]] = {}
    for d in found:
        groups.setdefault((d.obstacle, d.thing_kind), []).append(d)
    return list(groups.values())


def _conflict(group: list[Distance], style: str) -> str:
    first = group[0]
    wanted = f" wants {told(first.wanted_m, style)} kept" if first.wanted_m > 0 else ""
    return f"CONFLICT: {called(first)}{wanted}; {_listed(group, style)}"


MOST_LISTED = 4
"""In one sentence; the sheet lists them all."""


def _listed(group: list[Distance], style: str) -> str:
    told = [f"{d.thing} {_how_far(d, style)}" for d in group[:MOST_LISTED]]
    if len(group) > MOST_LISTED:
        told.append(f"{len(group) - MOST_LISTED} more on the sheet Lines and trees")
    return ", ".join(told)


def _how_far(d: Distance, style: str) -> str:
    if d.distance_m < 0:
        into = "into" if d.obstacle_kind in ("no_build", "tree") else "over"
        return f"reaches {told(-d.distance_m, style)} {into} it"
    near = "comes as near as" if d.thing_kind == "stick" else "at"
    return f"{near} {told(d.distance_m, style)}"
