"""Groups that no two readings to known points pin down one by one: build them first, then turn them in.

Two pins known only by what joins them to each other and to the origin, or an azimuth whose far end was never
taped from its near end: the group is built about a known point in any direction, then turned about that point
until the readings to the rest of the site fit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from staking.control.equations import Equation, Kind, points_of
from staking.control.loci import XY, azimuth, level_length
from staking.control.mirrors import Guess, choose, guesses_of, settle
from staking.control.placing import BLUR_M, DECIDES, Placing, Sides
from staking.control.refining import Refining
from staking.control.settling import HeldDirection

TURNS = 24
"""Directions tried when no single reading gives the turn: one every 15°, well inside what settles."""
MOST_PLACES = 8
"""With more places that fit, nothing holds the group against turning."""
MOST_TRIED = 24
"""Turned guesses that are adjusted, the best first."""
LARGE = 100
"""Points of a group from which on it is turned as built to where it fits best before it is adjusted: of turns
that end alike one is enough."""
TURN_STEPS = 20
TURN_STEP_RAD = 1e-7
"""Over this a misfit's slope is taken; a step as short is the last."""
MOST_TURN_RAD = 2 * math.pi / TURNS
SAME_TURN_RAD = math.radians(0.5)
"""Turns nearer than this are one; what lies between is the adjustment's to find."""

TURNS_WITH_THE_GROUP = frozenset(
    {
        Kind.LEVEL_TAPE,
        Kind.SLOPE_TAPE,
        Kind.STATION,
        Kind.OFFSET,
        Kind.SLOPE_STATION,
        Kind.SLOPE_OFFSET,
        Kind.ANGLE,
    }
)


def floated(placing: Placing, group: Sequence[int], refining: Refining) -> bool:
    """Place a group by building it about a known point; return whether anything was placed."""
    members = set(group)
    anchors = sorted({p for q in group for p in placing.neighbours(q) if p in placing.placed})
    for anchor in anchors:
        inner = [
            e
            for e in placing.equations_at({*members, anchor})
            if e.kind in TURNS_WITH_THE_GROUP and set(points_of(e)) <= members | {anchor}
        ]
        for first in _tied_to(anchor, inner, placing):
            built = _built(placing, group, anchor, first, inner)
            turned = [guess for one in built for guess in _turned(placing, one, anchor)]
            turned = _adjusted(sorted(turned, key=lambda guess: guess.misfit)[:MOST_TRIED], group, refining)
            if turned and len(turned) <= MOST_PLACES:
                return choose(placing, group, turned, refining)
    return False


def _adjusted(guesses: Sequence[Guess], group: Sequence[int], refining: Refining) -> list[Guess]:
    """Return the guesses adjusted, those that come to the same places told once, the poor ones dropped."""
    apart: list[Guess] = []
    settle(guesses, group, refining)
    for guess in guesses:
        members = [p for p in group if p in guess.placed]
        if not any(
            other.placed.keys() == guess.placed.keys()
            and all(math.dist(guess.placed[p], other.placed[p]) < BLUR_M for p in members)
            for other in apart
        ):
            apart.append(guess)
    best = min((guess.misfit for guess in apart), default=0.0)
    return [guess for guess in apart if guess.misfit - best < DECIDES]


def _tied_to(anchor: int, inner: Sequence[Equation], placing: Placing) -> list[tuple[int, float]]:
    """Return points at a known distance of the anchor."""
    found = []
    for e in inner:
        if e.kind in (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE) and anchor in e.at:
            other = e.at[1] if e.at[0] == anchor else e.at[0]
            found.append((other, level_length(e, placing.elevations)))
    return found


def _built(
    placing: Placing, group: Sequence[int], anchor: int, first: tuple[int, float], inner: Sequence[Equation]
) -> list[Guess]:
    """Return the group built about the anchor, its first point due north, with its inner mirror images."""
    local = Placing(
        equations=inner,
        directions=(HeldDirection(start=anchor, to=first[0], azimuth_rad=0.0),),
        partly={},
        elevations=placing.elevations,
        sides=Sides(),
        placed={anchor: (0.0, 0.0), first[0]: (0.0, first[1])},
    )
    # Points that something outside the group may turn or mirror must get a place of their own.
    inside = {id(e) for e in inner}
    near = placing.equations_at({anchor, *group})
    outside = {p for e in near if id(e) not in inside for p in points_of(e)}
    outside |= {p for held in placing.directions for p in (held.start, held.to)} | set(placing.partly)
    outside |= placing.sides.by_point.keys()
    held = np.zeros(3 * (max([anchor, *group]) + 1), dtype=bool)
    refining = Refining(placing=local, held=held)
    found = guesses_of(local, group, local.placed, refining, outside)
    return [guess for guess in found if len(guess.placed) > 2]


def _turned(placing: Placing, built: Guess, anchor: int) -> list[Guess]:
    """Return a built group turned into the site in every way that a reading proposes, with its misfit."""
    inside = {p: xy for p, xy in built.placed.items() if p != anchor}
    e0, n0 = placing.placed[anchor]
    turns = _proposed(placing, inside, anchor)
    if not turns:
        turns = [2 * math.pi * k / TURNS for k in range(TURNS)]
    if len(inside) >= LARGE:
        turns = _apart([_fitted(placing, inside, anchor, turn) for turn in turns])
    guesses = []
    for turn in turns:
        c, s = math.cos(turn), math.sin(turn)
        placed = dict(placing.placed)
        for p, (e, n) in inside.items():
            placed[p] = e0 + e * c + n * s, n0 + n * c - e * s
        misfit, checks = _misfit(placing, placed, inside)
        if checks:
            guesses.append(Guess(placed=placed, misfit=built.misfit + misfit, chosen=built.chosen))
    return guesses


def _proposed(placing: Placing, inside: dict[int, XY], anchor: int) -> list[float]:
    """Return the clockwise turns that one bearing, direction or tape to the rest of the site asks for."""
    here = placing.placed[anchor]
    where = {anchor: (0.0, 0.0), **inside}
    by_fixes = placing.fixes.turn(where)
    turns = [] if by_fixes is None else [by_fixes]
    for held in placing.directions:
        if held.start in where and held.to in where:
            turns.append(held.azimuth_rad - azimuth(where[held.start], where[held.to]))
    for e in placing.equations:
        if e.kind is Kind.BEARING and e.at[0] in where and e.at[1] in where:
            turns.append(e.value - azimuth(where[e.at[0]], where[e.at[1]]))
        elif e.kind in (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE):
            near, far = e.at if e.at[0] in inside else e.at[::-1]
            if near not in inside or far in where or far not in placing.placed:
                continue
            arm, base = math.hypot(*inside[near]), math.dist(here, placing.placed[far])
            length = level_length(e, placing.elevations)
            if arm == 0 or base == 0:
                continue
            cosine = max(-1.0, min(1.0, (arm**2 + base**2 - length**2) / (2 * arm * base)))
            straight = azimuth(here, placing.placed[far]) - azimuth((0.0, 0.0), inside[near])
            turns += [straight + math.acos(cosine), straight - math.acos(cosine)]
    return turns


def _fitted(placing: Placing, inside: dict[int, XY], anchor: int, turn: float) -> float:
    """Return the turn, near one that is given, at which a group as built fits the rest of the site best.

    Gauss-Newton with the turn as the one unknown, by the readings that join the group to the rest: those
    inside it do not turn.
    """
    e0, n0 = placing.placed[anchor]
    known = {q: xy for q, xy in placing.placed.items() if q not in inside}
    joined = [(inside[p], loci) for p in inside if (loci := placing.loci(p, known))]

    def misfits(by: float) -> list[float]:
        c, s = math.cos(by), math.sin(by)
        return [
            locus.misfit((e0 + e * c + n * s, n0 + n * c - e * s))
            for (e, n), loci in joined
            for locus in loci
        ]

    misfit = misfits(turn)
    for _ in range(TURN_STEPS):
        by = [
            (after - now) / TURN_STEP_RAD
            for now, after in zip(misfit, misfits(turn + TURN_STEP_RAD), strict=True)
        ]
        square = sum(slope**2 for slope in by)
        if square == 0:
            break
        step = -sum(slope * now for slope, now in zip(by, misfit, strict=True)) / square
        turn += max(-MOST_TURN_RAD, min(MOST_TURN_RAD, step))
        misfit = misfits(turn)
        if abs(step) < TURN_STEP_RAD:
            break
    return turn


def _apart(turns: Sequence[float]) -> list[float]:
    """Return the turns that are apart, in order."""
    found: list[float] = []
    for turn in turns:
        if all(abs(math.remainder(turn - other, 2 * math.pi)) > SAME_TURN_RAD for other in found):
            found.append(turn)
    return found


def _misfit(placing: Placing, placed: dict[int, XY], inside: dict[int, XY]) -> tuple[float, int]:
    """Return the squared misfits of the group's points on all their loci, and how many loci are outside."""
    total, outside = 0.0, 0
    fixed = [p for p in inside if p in placing.fixes.by_point]
    if len(fixed) + (any(p in placed and p not in inside for p in placing.fixes.by_point)) > 1:
        outside += len(fixed)
    known = {q: xy for q, xy in placed.items() if q not in inside}
    for p in inside:
        total += sum(locus.misfit(placed[p]) ** 2 for locus in placing.loci(p, placed))
        outside += len(placing.loci(p, known))
        if any(p in (held.start, held.to) for held in placing.directions):
            outside += 1
    return total, outside
