"""Groups of points with mirror images: which image the readings want, or the user."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from staking.control.loci import XY
from staking.control.placing import BLUR_M, DECIDES, Placing
from staking.control.refining import Refining

MOST_GUESSES = 64
"""Combinations of mirror images kept at a time within one group of points that hang together."""

NO_FIT = 10.0
"""An image whose sum of squares is so many times the number of its readings does not fit."""
PRUNES = 100.0
"""Difference of two weighted sums of squares from which on a guess that is still growing is given up."""
SAME_SDS = 6.0
"""Images of a point nearer than so many of its standard deviations are one place: nearly on the line between,
it is told as bent (`bent.py`)."""
EXACT = 1e-9
"""Weighted sum of squares below which a guess uses no reading twice: there is nothing to adjust."""


@dataclass(slots=True, kw_only=True)
class Guess:
    """One combination of mirror images."""

    placed: dict[int, XY]
    misfit: float = 0.0
    unsettled: float = 0.0
    """Misfit of the last point placed, before anything was adjusted for it."""
    chosen: tuple[int, ...] = ()
    """Points at which a mirror image was chosen, in order."""


def guesses_of(
    placing: Placing,
    group: Sequence[int],
    known: dict[int, XY],
    refining: Refining,
    needed: Collection[int] = (),
) -> list[Guess]:
    """Return the combinations of mirror images of a group, those that fit best first.

    Images are chosen only for points that hold others still to be placed, or are `needed`; a point that holds
    none can wait until its own group is that point alone. Each guess is adjusted as it grows, so that small
    errors do not pile up to decide. When too many combinations fit equally well, they are returned as far as
    they got: what they share or a side decides comes first, and the rest then starts from there.
    """
    waiting = [Guess(placed=dict(known))]
    done: list[Guess] = []
    while waiting:
        grown: list[Guess] = []
        open_at = []
        loose = []
        for guess in waiting:
            unsure, misfit = placing.grow(guess.placed, group)
            open_at.append(unsure)
            guess.misfit += misfit
            if misfit + guess.unsettled > EXACT:
                loose.append(guess)
        settle(loose, group, refining)
        for guess, unsure in zip(waiting, open_at, strict=True):
            holding = [p for p in unsure if p in needed or _holds(placing, p, guess.placed)]
            if not unsure or (guess.chosen and not holding):
                done.append(guess)
                continue
            point = min(holding or unsure, key=lambda p: (len(unsure[p]), -len(placing.by_point.get(p, ()))))
            grown += [
                Guess(
                    placed={**guess.placed, point: place},
                    misfit=guess.misfit,
                    unsettled=own,
                    chosen=(*guess.chosen, point),
                )
                for place, own in unsure[point]
            ]
        waiting = _likely(grown, [*grown, *done])
        if len(waiting) > MOST_GUESSES:
            shortest = min(len(guess.chosen) for guess in waiting)
            done += [guess for guess in waiting if len(guess.chosen) == shortest]
            break
    return sorted(_likely(done, done), key=lambda guess: guess.misfit)


def _likely(guesses: Sequence[Guess], among: Sequence[Guess]) -> list[Guess]:
    best = min((guess.misfit for guess in among), default=0.0)
    return [guess for guess in guesses if guess.misfit - best < PRUNES]


def _holds(placing: Placing, point: int, placed: dict[int, XY]) -> bool:
    """Return whether a point is joined to others that are not placed yet."""
    return any(other not in placed for other in placing.neighbours(point))


def resolved(placing: Placing, group: Sequence[int], refining: Refining) -> bool:
    """Place what can be placed of a group, in place; return whether anything was, or was told apart.

    The readings decide first, then the sides that were named for single points, then the side for all.
    Points that stay at several places go to `placing.mirrored`.
    """
    guesses = guesses_of(placing, group, placing.placed, refining, placing.sides.by_point.keys())
    fresh = [point for point in group if any(point in guess.placed for guess in guesses)]
    if not fresh:
        return False
    if any(guess.misfit > EXACT for guess in guesses):
        settle(guesses, fresh, refining)
    return choose(placing, fresh, guesses, refining)


def settle(guesses: Sequence[Guess], group: Sequence[int], refining: Refining) -> None:
    """Adjust guesses, in place."""
    settled = refining.all([guess.placed for guess in guesses], group)
    for guess, (placed, misfit) in zip(guesses, settled, strict=True):
        guess.placed, guess.misfit = placed, misfit


def choose(placing: Placing, group: Sequence[int], guesses: Sequence[Guess], refining: Refining) -> bool:
    """Choose among adjusted guesses; place agreed points in place, note the others as mirrored."""
    guesses = [guess for guess in guesses if placing.forward(guess.placed)] or guesses
    best = min(guess.misfit for guess in guesses)
    alive = [guess for guess in guesses if guess.misfit - best < DECIDES]
    for narrow in (_by_own_sides, _by_default_side):
        if _disputed(group, alive):
            alive = narrow(placing, alive) or alive
    disputed = _disputed(group, alive)
    if disputed:
        # An image elsewhere moves its neighbours a little: disputed is what moves by more than its error.
        sds: dict[int, float] = {}
        for guess in alive:
            if any(p in guess.placed and p not in sds for p in disputed):
                sds = refining.sds(guess.placed, group) | sds
        disputed = _disputed(group, alive, {p: SAME_SDS * sd for p, sd in sds.items()})
    telling = _on_either_side(placing, alive)
    for point in disputed:
        placing.mirrored[point] = _parted([g.placed[point] for g in alive if point in g.placed])
        if telling:
            placing.telling[point] = point if point in telling else telling[0]
    agreed = [p for p in group if p not in disputed and all(p in guess.placed for guess in alive)]
    for point in agreed:
        placing.placed[point] = alive[0].placed[point]
    return bool(disputed or agreed)


def _parted(places: Sequence[XY], blur_m: float = BLUR_M) -> tuple[XY, ...]:
    """Return the places that are apart."""
    apart: list[XY] = []
    for place in places:
        if all(math.dist(place, other) > blur_m for other in apart):
            apart.append(place)
    return tuple(apart)


def _disputed(
    group: Sequence[int], alive: Sequence[Guess], blur_m: Mapping[int, float] | None = None
) -> list[int]:
    """Return the points that stand at different places; one not placed everywhere may still be later."""
    blurs = blur_m or {}
    return [
        p
        for p in group
        if len(_parted([g.placed[p] for g in alive if p in g.placed], max(BLUR_M, blurs.get(p, 0.0)))) > 1
    ]


def _side(placing: Placing, guess: Guess, point: int) -> int | None:
    place = guess.placed.get(point)
    return None if place is None else placing.sides.of(place, guess.placed)


def _on_either_side(placing: Placing, alive: Sequence[Guess]) -> list[int]:
    """Return the points that lie left of the azimuth's line in one guess and right of it in another.

    These may be points that stand where they stand while the line itself has a mirror image.
    """
    line = placing.sides.line or ()
    points = [p for p in alive[0].placed if p not in line and all(p in g.placed for g in alive)]
    return [p for p in points if {-1, 1} <= {_side(placing, g, p) for g in alive}]


def _by_own_sides(placing: Placing, alive: list[Guess]) -> list[Guess]:
    own = placing.sides.by_point
    telling = [p for p in _on_either_side(placing, alive) if p in own]
    on_side = [g for g in alive if all(_side(placing, g, p) in (own[p], None) for p in telling)]
    return on_side or _mostly_on_side(placing, alive, {p: own[p] for p in telling})


def _by_default_side(placing: Placing, alive: list[Guess]) -> list[Guess]:
    default = placing.sides.default
    telling = [p for p in _on_either_side(placing, alive) if p not in placing.sides.by_point]
    if default is None or not telling:
        return alive
    # A point on the line is on neither side.
    on_side = [g for g in alive if all(_side(placing, g, p) in (default, None) for p in telling)]
    if on_side:
        return on_side
    # A chain may have to cross the line; then the side counts for the points measured from the line itself,
    # and where shots lie on both sides of it, for the pins.
    direct = [p for p in telling if _measured_from(placing, p)]
    for some in (direct, [p for p in direct if p in placing.sides.pins]):
        on_side = [g for g in alive if some and all(_side(placing, g, p) in (default, None) for p in some)]
        if on_side:
            return on_side
    return _mostly_on_side(placing, alive, dict.fromkeys(telling, default))


def _mostly_on_side(placing: Placing, alive: Sequence[Guess], said: Mapping[int, int]) -> list[Guess]:
    """Return where no image fits at all that with most points on the side that was said of them.

    A reading is grossly wrong then and draws a point over the line, whichever image is taken. Placed so, the
    survey fails its test and the reading can be named; points left out would hide it.
    """
    best = min(alive, key=lambda guess: guess.misfit)
    readings = {k for p in best.placed for k in placing.by_point.get(p, ())}
    if best.misfit < NO_FIT * len(readings):
        return []
    right = [sum(_side(placing, guess, p) == side for p, side in said.items()) for guess in alive]
    return [g for g, count in zip(alive, right, strict=True) if count == max(right)]


def _measured_from(placing: Placing, point: int) -> bool:
    """Return whether readings join a point to both ends of the line from which sides are named."""
    return set(placing.sides.line or ()) <= placing.neighbours(point)
