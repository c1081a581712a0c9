"""The likeliest explanations adjusted anew with their repairs, where the linear equations are only near."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from staking.control.equations import (
    LEAST_LENGTH_M,
    PLAN,
    Equation,
    Kind,
    evaluated,
    misfits,
    points_of,
    stacked,
)
from staking.control.network import NetworkResult
from staking.control.placing import DECIDES
from staking.control.settling import approached
from staking.control.telling import Scene, lengths_possible
from staking.control.weighing import Story

Floats = NDArray[np.float64]

MOST_ANEW = 48
"""Repairs adjusted anew, those of the likeliest explanations, and as many more that come to the fore."""
BRIEF_STEPS = 15
"""Steps for one of them: a good one settles in a few."""
MOST_EXCHANGES = 24
"""Ways in which several readings are wrong at once that are adjusted anew beside these."""
MOST_ENDS = 4
"""Points to which one is taped, over whose lines it is mirrored when two of its tapes are exchanged."""
OUT = 1e8
"""Factor on the sd of a reading that is taken out: one wrong by kilometres must not pull."""
SLIP_FITS = 5.0
"""A slip may miss what a reading lacks by so many standard deviations of that to be looked at."""
TAPED = (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE)
NEAR_PLAN = PLAN | {Kind.COORDINATE}
Repaired = frozenset[tuple[int, Equation]]
"""Equations by number, as a story changes them."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Anew:
    """An explanation, and where the points then stand."""

    story: Story
    places: Floats | None = None
    """None where nothing of the plan is repaired, or where no places were found."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Places:
    """Where the points stand after a repair."""

    coordinates: Floats
    total: float
    """Sum of squares."""
    lacks: Mapping[int, float]
    """What each repaired reading lacks as it was read, in standard deviations."""
    mirrored: tuple[Mapping[int, float], ...] = ()
    """The same with a doubted point on another mirror image that fits as well."""


def adjusted_anew(scene: Scene, stories: Sequence[Story]) -> list[Anew]:
    """Return the explanations with the likeliest of those in plan adjusted anew, in their order.

    Amounts that the readings must tell are told by the places found so. What looks likely only because the
    equations are linear falls behind, and those that come to the fore are adjusted in their turn.
    """
    found = [Anew(story=story) for story in stories]
    waiting = {k for k, story in enumerate(stories) if _in_plan(scene, story)}
    known: dict[Repaired, _Places | None] = {}
    while waiting:
        k = max(waiting, key=lambda k: stories[k].log_weight)
        if len(known) >= MOST_ANEW:
            best = max(one.story.log_weight for i, one in enumerate(found) if i not in waiting)
            if stories[k].log_weight < best or len(known) >= 2 * MOST_ANEW:
                break
        waiting.remove(k)
        repaired = _repaired(scene, stories[k])
        if repaired not in known:
            known[repaired] = _adjusted(scene, repaired)
        found[k] = _told_by(scene, stories[k], known[repaired])
    for story in _slips(scene, stories, found, known):
        repaired = _repaired(scene, story)
        if repaired not in known:
            known[repaired] = _adjusted(scene, repaired)
        if known[repaired] is not None:
            found.append(_told_by(scene, story, known[repaired]))
    return [one for one in found if lengths_possible(scene, one.story)]


def _slips(
    scene: Scene,
    stories: Sequence[Story],
    found: Sequence[Anew],
    known: Mapping[Repaired, _Places | None],
) -> list[Story]:
    """Return slips of doubted readings that the linear equations had put too far off.

    Of one reading those that give what it lacks; of several, as two rows exchanged, those with one of them.

    A blunder may have drawn a point to the wrong one of two mirror images: what is lacking on either counts.
    """
    field = scene.field
    lacks: dict[int, list[float]] = {}
    for one in found:
        if one.places is not None and len(one.story.causes) == 1:
            cause = field.causes[one.story.causes[0]]
            if not cause.known and len(cause.changes) == 1:
                number, near = cause.changes[0].equation, known.get(_repaired(scene, one.story))
                more = [] if near is None else [lack[number] for lack in near.mirrored]
                lacks[number] = [one.story.amounts[0], *more]
    told = {story.hypotheses for story in stories}
    slips, exchanges = [], []
    for h in map(int, np.flatnonzero(field.variance == 0)):
        cause = field.causes[field.cause_of[h]]
        doubted = [change.equation for change in cause.changes if change.equation in lacks]
        if not doubted or (h,) in told:
            continue
        if len(cause.changes) > 1:
            # How two readings miss together no amount of one of them tells: each pair is tried.
            exchanges.append(h)
            continue
        checked = math.sqrt(float(np.diag(field.between)[field.direction[h]]))
        if min(abs(field.mean[h] - lack) for lack in lacks[doubted[0]]) <= SLIP_FITS / checked:
            slips.append(h)
    exchanges.sort(key=lambda h: -field.log_prior[h])
    return [
        Story(
            causes=(int(field.cause_of[h]),),
            hypotheses=(h,),
            amounts=(float(field.mean[h]),),
            least=field.total,
            # The first story is that nothing is wrong.
            rest=stories[0].rest + field.log_prior[h],
            log_weight=-math.inf,
        )
        for h in (*slips, *exchanges[:MOST_EXCHANGES])
    ]


def _in_plan(scene: Scene, story: Story) -> bool:
    changes = [change for c in story.causes for change in scene.field.causes[c].changes]
    return any(scene.equations[change.equation].kind in NEAR_PLAN for change in changes)


def _repaired(scene: Scene, story: Story) -> Repaired:
    """Return the equations that a story changes: stories that differ in priors alone change them alike."""
    changed = []
    for change in (change for c in story.causes for change in scene.field.causes[c].changes):
        old = scene.equations[change.equation]
        if math.isnan(change.by):
            new = replace(old, sd=old.sd * OUT)
        elif change.at is not None:
            new = replace(old, at=change.at)
        else:
            new = replace(old, value=old.value + change.by)
        changed.append((change.equation, new))
    return frozenset(changed)


def _adjusted(scene: Scene, repaired: Repaired) -> _Places | None:
    result, changed = scene.result, dict(repaired)
    renamed = {n for n, new in repaired if new.at != scene.equations[n].at}
    # Its points stand where another point was measured to: they go home without it first.
    here = np.nan_to_num(result.coordinates)
    starts = placed_without(scene.equations, result, renamed) if renamed else []
    if not starts:
        taped = {n for n, new in repaired if new.kind in TAPED}
        starts = [here]
        if len(taped) > 1:
            # Two tapes exchanged: all of a point's drew it, each to another side.
            common = frozenset.intersection(*(frozenset(points_of(scene.equations[n])) for n in taped))
            starts += _mirror_images(scene.equations, result, common, frozenset(), here, MOST_ENDS)
        elif taped:
            doubted = {p for n in taped for p in points_of(scene.equations[n])}
            starts += _mirror_images(scene.equations, result, doubted, taped, here)
    stack = stacked([changed.get(n, scene.equations[n]) for n in result.used])
    tried = [approached(stack, start, result.free, most_steps=BRIEF_STEPS) for start in starts]
    settled = sorted((one for one in tried if one is not None), key=lambda one: one[1])
    if not settled:
        return None
    numbers = [number for number, _ in repaired]
    as_read = stacked([scene.equations[number] for number in numbers])

    def lacks(coordinates: Floats) -> dict[int, float]:
        predicted, _ = evaluated(as_read, coordinates)
        return dict(zip(numbers, map(float, -misfits(as_read, predicted) / as_read.sd), strict=True))

    best, *others = settled
    return _Places(
        coordinates=best[0],
        total=best[1],
        lacks=lacks(best[0]),
        mirrored=tuple(lacks(one[0]) for one in others if one[1] - best[1] < DECIDES),
    )


def placed_without(
    equations: Sequence[Equation], result: NetworkResult, numbers: AbstractSet[int]
) -> list[Floats]:
    """Return where the points stand without some readings; one that two tapes are left of, on both images."""
    out = [
        replace(equations[n], sd=equations[n].sd * OUT) if n in numbers else equations[n] for n in result.used
    ]
    stack, at = stacked(out), np.nan_to_num(result.coordinates)
    first = approached(stack, at, result.free, most_steps=BRIEF_STEPS)
    if first is None:
        return []
    found = [first[0]]
    points = {p for n in numbers for p in points_of(equations[n])}
    for start in _mirror_images(equations, result, points, numbers, first[0]):
        other = approached(stack, start, result.free, most_steps=BRIEF_STEPS)
        if other is not None:
            found.append(other[0])
    return found


def _mirror_images(
    equations: Sequence[Equation],
    result: NetworkResult,
    points: AbstractSet[int],
    without: AbstractSet[int],
    at: Floats,
    most_ends: int = 2,
) -> Iterator[Floats]:
    """Return the places with each point on its image over two that it is taped to, without some readings.

    Of points on two tapes up to `most_ends` alone.
    """
    left = [equations[n] for n in result.used if n not in without]
    for point in sorted(points):
        ends = sorted({p for e in left if e.kind in TAPED and point in e.at for p in e.at if p != point})
        axes = [3 * point, 3 * point + 1]
        if len(ends) > most_ends or not np.isin(axes, result.free.free).all():
            continue
        for pair in combinations(ends, 2):
            start = at.copy()
            start[axes] = _over(*(start[[3 * p, 3 * p + 1]] for p in (*pair, point)))
            yield start


def _over(a: Floats, b: Floats, point: Floats) -> Floats:
    """Return a point mirrored over the line of two others."""
    along = (b - a) / max(float(np.hypot(*(b - a))), LEAST_LENGTH_M)
    mirrored: Floats = 2.0 * (a + along * float((point - a) @ along)) - point
    return mirrored


def _told_by(scene: Scene, story: Story, near: _Places | None) -> Anew:
    """Return a story with what the places found leave, and with the amounts that they tell."""
    if near is None:
        return Anew(story=story)
    causes = [scene.field.causes[c] for c in story.causes]
    amounts = [
        near.lacks[cause.changes[0].equation]
        if len(cause.changes) == 1 and math.isnan(cause.changes[0].by)
        else amount
        for cause, amount in zip(causes, story.amounts, strict=True)
    ]
    return Anew(story=replace(story.leaving(near.total), amounts=tuple(amounts)), places=near.coordinates)
