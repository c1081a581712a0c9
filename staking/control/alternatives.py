"""Other places at which the readings fit as well: looked for once everything is placed.

A point that was not placed by good crossings alone may have come to one image while another was never met.
Here what stands is flipped: a part over the line of the points that it hangs on, a point over the line of two
that it is taped to. Each flip is adjusted; what fits as well is an alternative.

Source: B. Hendrickson, Conditions for Unique Graph Realizations, SIAM J. Comput. 21 (1992) 65-84 (from
memory): parts flip over a pair of points that holds them; a graph that is not redundantly rigid has other
places, too, which a flip of one point and an adjustment mostly finds.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import combinations, islice

import numpy as np

from staking.control.equations import Kind, points_of
from staking.control.loci import XY
from staking.control.mirrors import PRUNES, Guess, choose, settle
from staking.control.placing import BLUR_M, DECIDES, ON_LINE_M, Placing
from staking.control.refining import BRIEF_STEPS, Refining
from staking.control.searching import SEARCH_STEPS, scattered

MOST_TRIED = 400
"""Flips that are adjusted for one group."""
MOST_APART = 24
"""Alternatives kept for one group: with so many, its points are left out whatever more there are."""
MOST_LINES = 40
"""In larger cores only lines between points that a third is joined to are tried for flips of parts."""
NEAR_LINE_M = 0.5
"""A point so near to a line may hold what stands beyond it on either side: its tapes along the line hardly
tell on which side it lies itself."""
MOST_WHOLE = 30
"""Points of a group that is flipped whole."""
MOST_ADRIFT = 24
"""Points of a group that was not placed by crossings for which starts by chance are tried, too."""
STREWN = 200
STREWN_M = (3.0, 10.0)
"""So many starts about the places found, and as many all over the site: of seven nets in which flips missed
an image that fits these missed it in one."""
MOST_TAPES = 4
"""A point on more tapes is not flipped by itself."""


def reconsidered(placing: Placing, refining: Refining) -> bool:
    """Look for alternatives of all that was not placed by good crossings alone, and choose, in place.

    A place that fits better takes over; points that stand elsewhere in an alternative that fits as well go to
    `placing.mirrored` unless a side decides. Returns whether anything changed.
    """
    guessed = [p for p in placing.placed if p not in placing.sure]
    changed = False
    for group in placing.groups(guessed):
        core = _core(placing, group)
        if core:
            changed |= _reconsider(placing, group, core, refining)
    return changed


def _core(placing: Placing, group: Sequence[int]) -> list[int]:
    """Return the points of a large group without those that good crossings with the rest of it place.

    A small one is flipped whole: what is left of it may float, and then its flips mean nothing. Beside fixes
    starts are adjusted one after the other, which takes too long for that.
    """
    if len(group) <= MOST_WHOLE and not placing.fixes.by_point:
        return list(group)
    standing = dict(placing.placed)
    # Over these lines parts are flipped, and sides named.
    kept = {p for held in placing.directions for p in (held.start, held.to)} | set(placing.sides.line or ())
    core = [p for p in group if p in kept]
    for p in reversed([p for p in group if p not in kept]):
        place = standing.pop(p)
        options, well = placing.places(p, standing)
        if len(options) != 1 or not well:
            standing[p] = place
            core.append(p)
    return core


def _reconsider(placing: Placing, group: Sequence[int], core: Sequence[int], refining: Refining) -> bool:
    before = dict(placing.placed)
    looked_at = placing.looked_at.get(frozenset(group), ())
    if any(_same(before, placed, group) for placed in looked_at):
        return False
    fixed = {p: xy for p, xy in before.items() if p not in set(group)}
    found, all_of_them = _alternatives(placing, {**fixed, **{p: before[p] for p in core}}, core, refining)
    if _contradicted(placing, found[0], core):
        for p in group:
            del placing.placed[p]
            placing.mirrored[p] = (before[p],)
        return True
    if len(found) == 1 and _same(found[0].placed, before, core):
        return False
    whole: list[Guess] = []
    for guess in _completed(placing, group, core, found, before, refining):
        if placing.forward(guess.placed) and not any(_same(guess.placed, g.placed, group) for g in whole):
            whole.append(guess)
    if not whole:
        return False
    if all_of_them:
        placing.looked_at[frozenset(group)] = [guess.placed for guess in whole]
    for p in group:
        del placing.placed[p]
    choose(placing, group, whole, refining)
    return any(p not in placing.placed or math.dist(placing.placed[p], before[p]) > BLUR_M for p in group)


def _completed(
    placing: Placing,
    group: Sequence[int],
    core: Sequence[int],
    found: Sequence[Guess],
    before: Mapping[int, XY],
    refining: Refining,
) -> list[Guess]:
    """Return alternatives of a core with the rest of the group built on them, adjusted, the likely ones."""
    inside = set(core)
    rest = [p for p in group if p not in inside]
    built: list[Guess] = []
    least = math.inf
    for guess in found:
        placed = dict(guess.placed)
        misfit = _rebuild(placing, placed, rest, before, guess.misfit, least + PRUNES)
        if misfit < least + PRUNES:
            if _same(placed, before, core):
                placed = {**before, **guess.placed}
            built.append(Guess(placed=placed, misfit=misfit))
            least = min(least, misfit)
    built = [guess for guess in built if guess.misfit < least + PRUNES]
    settle(built, group, refining)
    return built


def _rebuild(
    placing: Placing,
    placed: dict[int, XY],
    rest: Sequence[int],
    before: Mapping[int, XY],
    misfit: float,
    limit: float,
) -> float:
    """Place, in place, the points that hang on a flipped core; all of them, so that alternatives compare.

    Returns the misfit with what the points placed here leave; past the limit nothing more is placed.
    """
    while True:
        _, more = placing.grow(placed, rest, limit - misfit)
        misfit += more
        missing = [p for p in rest if p not in placed]
        if not missing or misfit > limit:
            return misfit
        for p in missing:
            options, _ = placing.places(p, placed)
            if options:
                placed[p] = options[0][0]
                misfit += options[0][1]
                break
        else:
            placed[missing[0]] = before[missing[0]]


def _contradicted(placing: Placing, best: Guess, core: Sequence[int]) -> bool:
    """Return whether readings that nothing checks do not even meet: what was found is no place."""
    numbers = {k for p in core for k in placing.by_point.get(p, ())}
    meeting = [set(points_of(placing.equations[k])) for k in numbers]
    meeting = [points for points in meeting if points <= best.placed.keys()]
    ends = [{held.start, held.to} for held in placing.directions]
    meeting += [pair for pair in ends if not pair.isdisjoint(core)]
    # A point whose readings all reach to points still to be built on the core has none to spare or to lack.
    asking = set(core).intersection(set().union(*meeting))
    return len(asking) > 1 and len(meeting) <= 2 * len(asking) and best.misfit > DECIDES


def _alternatives(
    placing: Placing, standing: dict[int, XY], core: Sequence[int], refining: Refining
) -> tuple[list[Guess], bool]:
    """Return all places of a core that were found to fit within `PRUNES` of the best, the best first.

    Also returns whether all that were found were flipped in their turn.
    """
    placed, misfit = refining.one(standing, core)
    found = [Guess(placed=placed, misfit=misfit)]
    if placing.adrift.intersection(core) and len(core) <= MOST_ADRIFT and not placing.fixes.by_point:
        starts = [*_strewn(placed, core), *scattered(placing, placed, core, STREWN)]
        for placed, misfit in refining.all(starts, core, SEARCH_STEPS):
            least = min(other.misfit for other in found)
            if (
                misfit - least < PRUNES
                and placing.forward(placed)
                and not any(_same(placed, g.placed, core) for g in found)
            ):
                found.append(Guess(placed=placed, misfit=misfit))
    queue, tried = list(found), 0
    while queue and tried < MOST_TRIED and len(found) < MOST_APART:
        guess = queue.pop(0)
        best = min(other.misfit for other in found)
        if guess.misfit > best + PRUNES:
            continue
        flips = list(islice(_flips(placing, guess.placed, core), MOST_TRIED - tried))
        tried += len(flips)
        for placed, misfit in refining.all(flips, core, BRIEF_STEPS):
            if (
                misfit - best >= PRUNES
                or not placing.forward(placed)
                or any(_same(placed, g.placed, core) for g in found)
            ):
                continue
            fresh = Guess(placed=placed, misfit=misfit)
            found.append(fresh)
            queue.append(fresh)
            best = min(best, misfit)
            if len(found) >= MOST_APART:
                break
    best = min(guess.misfit for guess in found)
    likely = sorted((g for g in found if g.misfit - best < PRUNES), key=lambda guess: guess.misfit)
    return likely, not queue and tried < MOST_TRIED and len(found) < MOST_APART


def _strewn(placed: Mapping[int, XY], core: Sequence[int]) -> Iterator[dict[int, XY]]:
    """Yield starts by chance about the places, always the same ones."""
    rng = np.random.default_rng(20_002)
    for k in range(STREWN):
        by = rng.normal(0.0, STREWN_M[k % len(STREWN_M)], size=(len(core), 2))
        yield {
            **placed,
            **{
                p: (placed[p][0] + float(e), placed[p][1] + float(n))
                for p, (e, n) in zip(core, by, strict=True)
            },
        }


def _same(one: Mapping[int, XY], other: Mapping[int, XY], core: Collection[int]) -> bool:
    return all(math.dist(one[p], other[p]) < BLUR_M for p in core)


def _flips(placing: Placing, placed: dict[int, XY], core: Sequence[int]) -> Iterator[dict[int, XY]]:
    """Yield the places with one part or one point of the core flipped."""
    inside = set(core)
    joined = {p: {q for q in placing.neighbours(p) if q in placed} for p in core}
    named = {q for held in placing.directions for q in (held.start, held.to)} | set(placing.sides.line or ())
    ends = sorted(inside | {q for p in core for q in joined[p]} | {q for q in named if q in placed})
    if len(ends) <= MOST_LINES:
        lines = set(combinations(ends, 2))
    else:
        lines = {pair for p in core for pair in combinations(sorted(joined[p]), 2)}
        lines |= set(combinations(sorted(named & placed.keys()), 2))
    done: set[frozenset[int]] = set()
    for a, b in sorted(lines):
        if math.dist(placed[a], placed[b]) < BLUR_M:
            continue
        across = {p: _across(placed[p], placed[a], placed[b]) for p in ends}
        for near in (ON_LINE_M, NEAR_LINE_M):
            on_line = {p for p in ends if across[p] < near} | {a, b}
            for part in _parts(inside - on_line, joined, inside | on_line):
                if part in done or part & placing.partly.keys():
                    continue
                done.add(part)
                yield {**placed, **{p: _over(placed[p], placed[a], placed[b]) for p in part}}
    for p in core:
        taped = {
            q
            for k in placing.by_point.get(p, ())
            if placing.equations[k].kind in (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE)
            for q in placing.equations[k].at
            if q != p and q in placed
        }
        if frozenset((p,)) in done or p in placing.partly or len(taped) > MOST_TAPES:
            continue
        for a, b in combinations(sorted(taped), 2):
            if math.dist(placed[a], placed[b]) >= BLUR_M:
                yield {**placed, p: _over(placed[p], placed[a], placed[b])}


def _parts(points: set[int], joined: Mapping[int, set[int]], free: set[int]) -> Iterator[frozenset[int]]:
    """Yield the parts into which points fall that nothing holds off the line; `free` may move."""
    left = set(points)
    while left:
        part = {left.pop()}
        queue, holds = list(part), False
        while queue:
            for q in joined[queue.pop()]:
                if q in left:
                    left.discard(q)
                    part.add(q)
                    queue.append(q)
                elif q not in free:
                    holds = True
        if not holds:
            yield frozenset(part)


def _across(p: XY, a: XY, b: XY) -> float:
    """Return the distance of a place from a line."""
    length = math.dist(a, b)
    return abs((p[0] - a[0]) * (b[1] - a[1]) - (p[1] - a[1]) * (b[0] - a[0])) / length


def _over(p: XY, a: XY, b: XY) -> XY:
    """Return the mirror image of a place over a line."""
    e, n = (b[0] - a[0]) / math.dist(a, b), (b[1] - a[1]) / math.dist(a, b)
    along = (p[0] - a[0]) * e + (p[1] - a[1]) * n
    return 2 * (a[0] + along * e) - p[0], 2 * (a[1] + along * n) - p[1]
