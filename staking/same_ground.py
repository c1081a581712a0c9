"""Whether holes are dug into one another, and whether one array's modules lie over another's."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from staking.base.errors import Mistake
from staking.base.units import told
from staking.book.records import Footing
from staking.layout.frame import Fit
from staking.layout.piers import whole_name

Floats = NDArray[np.float64]

TOUCH_M = 1e-6
"""Holes whose rims come nearer than this meet, and outlines that share less do not: far below any tape."""
MOST_NAMED = 4
"""Pairs of piers named in one sentence; the others are counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HolesMeet:
    """Two piers whose holes overlap or meet."""

    one: str
    """By the whole job's name: ``north-A1``."""
    other: str
    array: str
    """Of `one`."""
    other_array: str
    apart_m: float
    """From middle to middle, in plan."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlap:
    """Two arrays whose modules lie over the same ground."""

    one: str
    other: str
    by_m: float
    """The least way, level, by which one of the two must move until they only meet."""


def holes_meeting(fits: Sequence[tuple[str, Fit]], hole_diameter_m: float) -> tuple[HolesMeet, ...]:
    """Return every pair of holes that overlap or meet, the nearest first.

    Parameters
    ----------
    fits
        Each array's name, empty when there is only one, and where its piers stand.
    hole_diameter_m
        The same for all holes.
    """
    names = [(array, whole_name(array, pier)) for array, fit in fits for pier in fit.piers.names]
    places = np.vstack([fit.piers.en_m for _, fit in fits])
    found = [
        HolesMeet(
            one=names[i][1],
            other=names[j][1],
            array=names[i][0],
            other_array=names[j][0],
            apart_m=float(math.dist(places[i], places[j])),
        )
        for i, j in _near(places, hole_diameter_m + TOUCH_M)
    ]
    return tuple(sorted(found, key=lambda pair: pair.apart_m))


def _near(places: Floats, within_m: float) -> list[tuple[int, int]]:
    """Return the pairs of places (n, 2) not further apart; each is looked at beside those near it in east."""
    order = np.argsort(places[:, 0], kind="stable")
    east = places[order, 0]
    ends = np.searchsorted(east, east + within_m, side="right")
    found = []
    for k, end in enumerate(ends):
        others = order[k + 1 : end]
        apart = np.hypot(*(places[others] - places[order[k]]).T)
        found += [tuple(sorted((int(order[k]), int(i)))) for i in others[apart <= within_m]]
    return sorted((i, j) for i, j in found)


def hole_mistakes(
    meeting: Iterable[HolesMeet], counts: Counter[str], hole_diameter_m: float, style: str
) -> list[Mistake]:
    """Return a mistake for each two arrays whose holes meet; those within one array are `hole_remarks`.

    Parameters
    ----------
    meeting
        From `holes_meeting`.
    counts
        How many piers each array has.
    hole_diameter_m, style
        Of the job.
    """
    pairs: dict[tuple[str, str], list[HolesMeet]] = {}
    for pair in meeting:
        if pair.array != pair.other_array:
            pairs.setdefault((pair.array, pair.other_array), []).append(pair)
    mistakes = []
    for (one, other), found in pairs.items():
        problem = f"holes of arrays {one} and {other} overlap or meet: {_named(found, style)}; they are "
        problem += f"{told(hole_diameter_m, style)} across"
        coincide = sum(pair.apart_m <= TOUCH_M for pair in found)
        if coincide == min(counts[one], counts[other]):
            remedy = f"Both arrays stand on the same ground: give array {other} a place of its own"
        else:
            remedy = f"Move array {other} in its place, or array {one}; or look at footing.hole_diameter"
        mistakes.append(Mistake(file="job.toml", column="place", problem=problem, remedy=remedy))
    return mistakes


def hole_remarks(meeting: Iterable[HolesMeet], footing: Footing | None, style: str) -> tuple[str, ...]:
    """Return a question on the holes of one array that overlap or meet; empty where none do."""
    own = [pair for pair in meeting if pair.array == pair.other_array]
    if not own or footing is None:
        return ()
    return (
        f"CONFLICT: neighbouring holes overlap or meet: {_named(own, style)}, and job.toml "
        f"footing.hole_diameter is {told(footing.hole_diameter_m, style)}: is its unit right?",
    )


def _named(found: Sequence[HolesMeet], style: str) -> str:
    texts = [f"{pair.one} and {pair.other} {_apart(pair, style)}" for pair in found[:MOST_NAMED]]
    if len(found) > MOST_NAMED:
        texts.append(f"{len(found) - MOST_NAMED} more pairs")
    return ", ".join(texts)


def _apart(pair: HolesMeet, style: str) -> str:
    return "on the same spot" if pair.apart_m <= TOUCH_M else f"{told(pair.apart_m, style)} apart"


def overlaps(outlines: Sequence[tuple[str, Floats]]) -> tuple[Overlap, ...]:
    """Return every two arrays whose modules overlap in plan, the worst first.

    Parameters
    ----------
    outlines
        Each array's name and the outline (k, 2) of its modules in plan, a convex ring.
    """
    found = []
    for (one, first), (other, second) in combinations(outlines, 2):
        by_m = overlap_m(first, second)
        if by_m > TOUCH_M:
            found.append(Overlap(one=one, other=other, by_m=by_m))
    return tuple(sorted(found, key=lambda pair: -pair.by_m))


def overlap_m(first: Floats, second: Floats) -> float:
    """Return by how much one of two convex rings must move until they only meet; not above 0: they are apart.

    Source: two convex shapes are apart when they are so seen along the normal of one of their edges, and the
    least overlap along these is the least way out (C. Ericson, Real-Time Collision Detection, 2005, section
    5.2.1, from memory).
    """
    least = math.inf
    for ring in (first, second):
        edges = np.roll(ring, -1, axis=0) - ring
        lengths = np.hypot(*edges.T)
        for edge in edges[lengths > 0.0] / lengths[lengths > 0.0, None]:
            normal = np.array([-edge[1], edge[0]])
            a, b = first @ normal, second @ normal
            least = min(least, float(min(a.max() - b.min(), b.max() - a.min())))
    return least


def overlap_remarks(found: Iterable[Overlap], style: str) -> tuple[str, ...]:
    """Return a sentence on each two arrays that lie over the same ground."""
    return tuple(
        f"CONFLICT: the modules of arrays {pair.one} and {pair.other} overlap in plan; one of the two must "
        f"move by {told(pair.by_m, style)} or more"
        for pair in found
    )
