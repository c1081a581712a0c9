"""Which readings are tried as the next ones: see `candidates`."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from staking.ahead.joint import GroundNow, Scalars, readings_of
from staking.base.units import from_unit
from staking.book.records import FieldBook
from staking.control.equations import Equation, Kind
from staking.control.kinds import key_of

Floats = NDArray[np.float64]

LEANED_ON = 12
"""Shots tried again: those with the greatest weights in the pier's ground."""
SPOTS = 8
"""New spots across and along: a grid over the piers, wider by a quarter each way."""
MARKS = ("pin", "benchmark", "turning", "corner")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading, or the two of a new setup, that could be taken next."""

    kind: Literal["sight", "tape", "rise"]
    start: str
    """Point that the tape or rise starts from, or that the backsight of a new setup is on; empty: the setup
    that stands."""
    to: str
    """Point or pier; empty for a new spot of ground."""
    spot: tuple[float, float] | None = None
    """Station and offset of a new spot, metres."""
    count: int = 1
    """Readings that it takes."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidates:
    """What is tried, and as scalars; stakes of piers that have no shot yet apart."""

    readings: tuple[Reading, ...]
    scalars: Scalars
    stake_of: tuple[str | None, ...]
    """The pier whose stake each would shoot; None for others."""

    def picked(self, keep: Sequence[int]) -> Candidates:
        """Return some of them."""
        at = {k: i for i, k in enumerate(keep)}
        on = [g for g, k in enumerate(self.scalars.on) if int(k) in at]
        return Candidates(
            readings=tuple(self.readings[k] for k in keep),
            scalars=Scalars(
                by=self.scalars.by[list(keep)],
                noise_m2=self.scalars.noise_m2[list(keep)],
                on=np.array([at[int(self.scalars.on[g])] for g in on], dtype=np.intp),
                en_m=self.scalars.en_m[on],
            ),
            stake_of=tuple(self.stake_of[k] for k in keep),
        )


def candidates(
    book: FieldBook,
    now: GroundNow,
    *,
    leaned_on: Sequence[str],
    piers_en_m: dict[str, tuple[float, float]],
    line: tuple[str, str],
) -> Candidates:
    """Return the readings that are tried.

    - A sight from the setup that stands, the last of the book, and the two sights of a new setup with its
      backsight on any pin, benchmark or turning point: to every such point, to the shots that the pier leans
      on most (`LEANED_ON`), to the stake of every pier not shot yet, and to a grid of new spots placed by
      station and offset.
    - A level tape between any two pins, and from any pin to those shots.
    - A rise between the same, where the survey has any.

    Parameters
    ----------
    book, now
        The survey.
    leaned_on
        Shots, those with the greatest weight first.
    piers_en_m
        Where piers stand, by whole name.
    line
        That stations run along.
    """
    survey, accuracy = now.survey, book.job.accuracy
    points, numbers = survey.adjustment.points, survey.observed.numbers
    lost = {key_of(row.point) for row in book.lost}
    standing = [
        i
        for i, name in enumerate(points.names)
        if points.kinds[i] in MARKS and np.isfinite(points.enz_m[i]).any() and key_of(name) not in lost
    ]
    marks = [points.names[i] for i in standing if np.isfinite(points.enz_m[i, 2])]
    placed = [points.names[i] for i in standing if np.isfinite(points.enz_m[i, :2]).all()]
    shots = [name for name in leaned_on if key_of(name) not in lost][:LEANED_ON]
    stakes = {n: at for n, at in piers_en_m.items() if key_of(n) not in now.ground.shots.stakes}
    spots, places = _spots(book, now, piers_en_m, line)
    readings: list[Reading] = []
    parts: list[Scalars] = []
    stake_of: list[str | None] = []

    def instrument(by: Floats, start: str, rod_sd_m: float, count: int) -> None:
        """Add everything that one instrument can sight."""
        seen = [name for name in dict.fromkeys([*marks, *shots]) if name != start]
        by_points = _elevations(now, [numbers[key_of(name)] for name in seen])
        parts.append(
            Scalars(
                by=by - by_points,
                noise_m2=np.full(len(seen), rod_sd_m**2),
                on=np.zeros(0, dtype=np.intp),
                en_m=np.zeros((0, 2)),
            )
        )
        readings.extend(Reading(kind="sight", start=start, to=name, count=count) for name in seen)
        stake_of.extend([None] * len(seen))
        en_m = np.array(list(stakes.values())).reshape(-1, 2)
        parts.append(now.stake_shots(by, rod_sd_m, en_m))
        readings.extend(Reading(kind="sight", start=start, to=name, count=count) for name in stakes)
        stake_of.extend(stakes)
        ends = numbers[key_of(line[0])], numbers[key_of(line[1])]
        parts.append(now.placed_shots(by, rod_sd_m, places, ends, accuracy.offset_m))
        readings.extend(Reading(kind="sight", start=start, to="", spot=at, count=count) for at in spots)
        stake_of.extend([None] * len(spots))

    if survey.observed.setups:
        last = survey.network.equations[survey.observed.setups[-1].readings[0]]
        hi = np.zeros((1, len(survey.result.coordinates)))
        hi[0, last.at[0]] = 1.0
        if np.isfinite(survey.result.coordinates[last.at[0]]):
            instrument(survey.result.free.of_unknowns(hi)[0], "", accuracy.rod_m, 1)
        for name in marks:
            back = _elevations(now, [numbers[key_of(name)]])[0]
            instrument(back, name, math.sqrt(2.0) * accuracy.rod_m, 2)
    tapes, what = _tapes(book, now, placed, shots)
    rises: list[Equation] = []
    if book.rises:
        pairs = [*combinations(marks, 2), *((m, s) for m in marks for s in shots)]
        rises = [
            Equation(
                kind=Kind.RISE, at=(numbers[key_of(a)], numbers[key_of(b)]), value=0.0, sd=accuracy.rise_m
            )
            for a, b in pairs
        ]
        what += [Reading(kind="rise", start=a, to=b) for a, b in pairs]
    parts.append(readings_of(survey, [*tapes, *rises]))
    readings += what
    stake_of += [None] * len(what)
    scalars = parts[0]
    for part in parts[1:]:
        scalars = scalars.joined(part)
    return Candidates(readings=tuple(readings), scalars=scalars, stake_of=tuple(stake_of))


def _elevations(now: GroundNow, points: Sequence[int]) -> Floats:
    unit = np.zeros((len(points), len(now.survey.result.coordinates)))
    for row, p in enumerate(points):
        unit[row, 3 * p + 2] = 1.0
    return now.survey.result.free.of_unknowns(unit)


def _tapes(
    book: FieldBook, now: GroundNow, pins: Sequence[str], shots: Sequence[str]
) -> tuple[list[Equation], list[Reading]]:
    numbers, at = now.survey.observed.numbers, now.survey.result.coordinates
    accuracy = book.job.accuracy
    equations, readings = [], []
    for a, b in [*combinations(pins, 2), *((p, s) for p in pins for s in shots if p != s)]:
        i, j = numbers[key_of(a)], numbers[key_of(b)]
        if not np.isfinite([*at[3 * i : 3 * i + 2], *at[3 * j : 3 * j + 2]]).all():
            continue
        length = float(np.hypot(*(at[3 * j : 3 * j + 2] - at[3 * i : 3 * i + 2])))
        sd = math.hypot(accuracy.tape_m, accuracy.tape_per_m * length)
        equations.append(Equation(kind=Kind.LEVEL_TAPE, at=(i, j), value=length, sd=sd))
        readings.append(Reading(kind="tape", start=a, to=b))
    return equations, readings


def _spots(
    book: FieldBook, now: GroundNow, piers_en_m: dict[str, tuple[float, float]], line: tuple[str, str]
) -> tuple[list[tuple[float, float]], Floats]:
    """Return new spots by station and offset, in whole feet or half metres, and their places (k, 2)."""
    points = now.survey.adjustment.points
    start, to = (points.enz_m[points.index(end), :2] for end in line)
    u = (to - start) / np.hypot(*(to - start))
    axes = np.array([u, [u[1], -u[0]]])
    piers = (np.array(list(piers_en_m.values())) - start) @ axes.T
    step = from_unit(1.0, "ft") if book.job.site.units in ("ft", "in") else 0.5
    sides = []
    for low, high in zip(piers.min(axis=0), piers.max(axis=0), strict=True):
        margin = max((high - low) / 4.0, step)
        grid = np.linspace(low - margin, high + margin, SPOTS)
        sides.append(sorted({float(round(x / step) * step) for x in grid}))
    spots = [(s, o) for s in sides[0] for o in sides[1]]
    return spots, start + np.array(spots) @ axes
