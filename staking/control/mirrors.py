"""Groups of points with mirror images: which image the readings want, or the user."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from staking.control.loci import XY
from staking.control.placing import BLUR_M, DECIDES, Placing

MOST_GUESSES = 64
"""Combinations of mirror images kept at a time within one group of points that hang together."""

EXACT = 1e-9
"""Weighted sum of squares below which a guess uses no reading twice: there is nothing to adjust."""

Refine = Callable[[dict[int, XY], Sequence[int]], tuple[dict[int, XY], float]]
"""Adjusts a group with all others held; returns the places and the weighted sum of squares."""


@dataclass(slots=True, kw_only=True)
class Guess:
    """One combination of mirror images."""

    placed: dict[int, XY]
    misfit: float = 0.0
    chosen: tuple[int, ...] = ()
    """Points at which a mirror image was chosen, in order."""


def guesses_of(placing: Placing, group: Sequence[int], known: dict[int, XY]) -> list[Guess]:
    """Return the combinations of mirror images of a group, those that fit best first."""
    waiting = [Guess(placed=dict(known))]
    done: list[Guess] = []
    while waiting:
        grown: list[Guess] = []
        for guess in waiting:
            unsure, misfit = placing.grow(guess.placed, group)
            guess.misfit += misfit
            if not unsure:
                done.append(guess)
                continue
            point = min(unsure, key=lambda p: (len(unsure[p]), -len(placing.by_point.get(p, ()))))
            grown += [
                Guess(
                    placed={**guess.placed, point: place},
                    misfit=guess.misfit + own,
                    chosen=(*guess.chosen, point),
                )
                for place, own in unsure[point]
            ]
        grown.sort(key=lambda guess: guess.misfit)
        waiting = grown[:MOST_GUESSES]
    done.sort(key=lambda guess: guess.misfit)
    return done[:MOST_GUESSES]


def resolved(placing: Placing, group: Sequence[int], refine: Refine) -> bool:
    """Place what can be placed of a group, in place; return whether anything was, or was told apart.

    The readings decide first, then the sides that were named for single points, then the side for all.
    Points that stay at several places go to `placing.mirrored`.
    """
    guesses = guesses_of(placing, group, placing.placed)
    fresh = [point for point in group if any(point in guess.placed for guess in guesses)]
    if not fresh:
        return False
    return choose(placing, fresh, guesses, refine)


def choose(placing: Placing, group: Sequence[int], guesses: list[Guess], refine: Refine) -> bool:
    """Choose among guesses; place agreed points in place, note the others as mirrored."""
    for guess in guesses if any(guess.misfit > EXACT for guess in guesses) else ():
        members = [point for point in group if point in guess.placed]
        guess.placed, guess.misfit = refine(guess.placed, members)
    best = min(guess.misfit for guess in guesses)
    alive = [guess for guess in guesses if guess.misfit - best < DECIDES]
    for narrow in (_by_own_sides, _by_default_side):
        disputed = _disputed(group, alive)
        if not disputed:
            break
        alive = narrow(placing, disputed, alive) or alive
    disputed = _disputed(group, alive)
    for point in group:
        places = [guess.placed[point] for guess in alive if point in guess.placed]
        if point in disputed:
            placing.mirrored[point] = tuple(places)
        elif places:
            placing.placed[point] = alive[0].placed[point]
    return True


def _disputed(group: Sequence[int], alive: Sequence[Guess]) -> list[int]:
    """Return the points that do not stand at one place in all guesses."""
    disputed = []
    for point in group:
        places = [guess.placed.get(point) for guess in alive]
        first = places[0]
        if any((p is None) != (first is None) for p in places) or (
            first is not None and any(math.dist(p, first) > BLUR_M for p in places if p is not None)
        ):
            disputed.append(point)
    return disputed


def _side(placing: Placing, guess: Guess, point: int) -> int | None:
    place = guess.placed.get(point)
    return None if place is None else placing.sides.of(place, guess.placed)


def _by_own_sides(placing: Placing, disputed: Sequence[int], alive: list[Guess]) -> list[Guess]:
    own = placing.sides.by_point
    return [g for g in alive if all(_side(placing, g, p) == own[p] for p in disputed if p in own)]


def _by_default_side(placing: Placing, disputed: Sequence[int], alive: list[Guess]) -> list[Guess]:
    default = placing.sides.default
    open_points = [p for p in disputed if p not in placing.sides.by_point]
    if default is None or not open_points:
        return alive
    on_side = [g for g in alive if all(_side(placing, g, p) == default for p in open_points)]
    # A chain may have to cross the line; then the side counts for the point where the mirror stands.
    return on_side or [g for g in alive if g.chosen and _side(placing, g, g.chosen[0]) == default]
