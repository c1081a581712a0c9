"""What to tell when no plane fits: which limits conflict where, and which change of one value would do.

The plane spoken of is the one that comes nearest: its worst violation, over all heights and open
cross-slopes, is the least. Every value that would do is solved for as the fit itself is solved, rounded
outward to a step that a tape shows, and then tried.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from staking.base.errors import WrongInput
from staking.base.units import format_angle, told
from staking.book.records import ArrayJob, Limits
from staking.ground.elevations import Ground
from staking.layout.asking import AskedEnough, CountedGround
from staking.layout.beams import clear_cross_slopes
from staking.layout.fitting import AIMS, Posed, posed_of
from staking.layout.frame import Conflict
from staking.layout.heights import Yard, above_grade
from staking.layout.moving import least_move
from staking.layout.piers import a1_places, piers_at
from staking.layout.replacing import moves_near
from staking.layout.search import (
    HOLDS_M,
    Aim,
    Bounds,
    Found,
    bounds_of,
    least_highest,
    least_slope,
    least_tallest,
    may_fit,
    most_above_grade_min,
    most_clearance,
    searched,
    short_by,
    short_by_a_look,
)
from staking.layout.shaving import shaved
from staking.layout.stepping_remedies import stepped_would_do, stepping_would_do
from staking.layout.words import STEP_M, outward, pasted, told_area, told_volume

STEEPEST_OFFERED_RAD = math.radians(15)
"""No cross-slope over this is offered: a beam so steep wants another frame. Common practice, no source."""
TILTS_OFFERED_RAD = (0.0, math.radians(60))
"""Between these a tilt is offered. Common practice, no source."""
ANGLE_STEP_RAD = math.radians(0.1)
LOOK_STEPS = 10
"""Tilts are looked at a degree apart before the step of 0.1° is settled."""
MOST_MOVE_M = 3.0
"""No shift over this is looked for: further away it is another place, to be chosen by eye. Common practice,
no source."""
MOST_SHAVED_M = 1.5
"""A deeper cut is an excavation, whose sides may not be left standing (common practice, no source)."""
MOST_ASKED = 3_000_000
"""Places of the ground that are looked at for remedies: half a minute on kriged ground; yards ask for 0.1 to
1.5 million. Arrays hundreds of modules long reach it."""
MOST_ASKED_STEPPING = 1_500_000
"""Of these for stepping, apart: 7 lines of modules ask for a tenth of it, 14 sloping ones for two thirds."""
NOT_ALL_TRIED = "the array is too large to try everything: other changes may do as well"
TRIES = 4
"""Steps further out that are tried before a value is given up."""


def conflicts_of(yard: Yard, limits: Limits, found: Found, *, style: str) -> tuple[Conflict, ...]:
    """Return every limit that the nearest plane misses, and where, worst first."""
    bounds = bounds_of(limits)
    height = (found.low_m + found.high_m) / 2
    above = height + above_grade(yard, found.cross_rad)
    conflicts = []
    for i, length in enumerate(above):
        name = yard.called(i)
        for limit, by, side in (
            ("above_grade_min", bounds.above_grade_min_m - length, "short of"),
            ("above_grade_max", length - bounds.above_grade_max_m, "over"),
        ):
            if by > HOLDS_M / 4:
                text = (
                    f"pier {name}: at the nearest plane the post would stand {told(float(length), style)} "
                    f"above grade, {told(float(by), style)} {side} {limit}"
                )
                conflicts.append(
                    Conflict(limit=f"fit.{limit}", where=f"pier {name}", by_m=float(by), text=text)
                )
    spots = (
        (
            "clearance",
            bounds.clearance_m - height - found.lowest.height_m,
            found.lowest.en_m,
            f"the modules would clear the ground by {told(height + found.lowest.height_m, style)}",
            "short of",
        ),
        (
            "highest",
            height + found.highest.height_m - bounds.highest_m,
            found.highest.en_m,
            f"the modules would stand {told(height + found.highest.height_m, style)} above the ground",
            "over",
        ),
    )
    for limit, by, en, what, side in spots:
        if by > HOLDS_M / 4:
            where = _place_in_words(yard, found.cross_rad, en, style)
            text = f"{where}: at the nearest plane {what}, {told(by, style)} {side} {limit}"
            conflicts.append(Conflict(limit=f"fit.{limit}", where=where, by_m=by, text=text))
    return tuple(sorted(conflicts, key=lambda c: -c.by_m))


def _place_in_words(yard: Yard, cross_rad: float, en_m: tuple[float, float], style: str) -> str:
    a1 = a1_places(yard.shape, cross_rad, yard.placed, yard.placed_en_m)
    piers = piers_at(yard.shape, cross_rad, (float(a1[0]), float(a1[1]))).en_m
    apart = np.hypot(*(piers - np.asarray(en_m)).T)
    nearest = int(apart.argmin())
    return (
        f"under the modules at east {told(en_m[0], style)}, north {told(en_m[1], style)}, "
        f"{told(float(apart[nearest]), style)} from pier {yard.called(nearest)}"
    )


def would_do(
    job: ArrayJob,
    *,
    placed_en_m: tuple[float, float],
    ground: Ground,
    style: str,
    ahead: tuple[float, float] | None = None,
) -> tuple[str, ...]:
    """Return sentences, each a change of one value with which a plane fits, every one tried.

    At most `MOST_ASKED` places of the ground are looked at; where that does not suffice, the last sentence
    says that not everything was tried.
    """
    if job.fit.stepped:
        counted = CountedGround(ground, MOST_ASKED)
        return _all_of(stepped_would_do(job, placed_en_m=placed_en_m, ground=counted, style=style))
    asker = _Asker(job, placed_en_m, CountedGround(ground, MOST_ASKED), style)
    sentences: list[str] = []
    try:
        for kind in (asker.lengths, asker.cross_slope, asker.tilts):
            sentences.extend(kind())
        if not sentences:
            sentences.extend(asker.both_heights())
        stepping = stepping_would_do(
            job,
            placed_en_m=placed_en_m,
            ground=CountedGround(ground, MOST_ASKED_STEPPING),
            style=style,
            ahead=ahead,
        )
        stepped = _all_of(stepping)
        sentences.extend(text for text in stepped if text != NOT_ALL_TRIED)
        sentences.extend(asker.shaving())
        sentences.extend(asker.moving(ahead))
    except AskedEnough:
        return (*sentences, NOT_ALL_TRIED)
    return (*sentences, *(text for text in stepped if text == NOT_ALL_TRIED))


def _all_of(kind: Iterator[str]) -> tuple[str, ...]:
    """Return all sentences of a kind, the last one saying so where not everything could be tried."""
    sentences: list[str] = []
    try:
        sentences.extend(kind)
    except AskedEnough:
        sentences.append(NOT_ALL_TRIED)
    except WrongInput:
        pass  # too many partings to look at, or a gap in which beams would meet: not offered
    return tuple(sentences)


class _Asker:
    """Asks the fit again with one value changed."""

    def __init__(self, job: ArrayJob, placed_en_m: tuple[float, float], ground: Ground, style: str) -> None:
        self.job, self.placed_en_m, self.ground, self.style = job, placed_en_m, ground, style
        self.posed = self._posed(job)
        self.bounds = bounds_of(job.fit)

    def _posed(self, job: ArrayJob, placed_en_m: tuple[float, float] | None = None) -> Posed:
        return posed_of(
            job, placed_en_m=placed_en_m or self.placed_en_m, ground=self.ground, style=self.style
        )

    def fits(self, job: ArrayJob, placed_en_m: tuple[float, float] | None = None) -> bool:
        """Whether a job, asked in full, has a plane."""
        try:
            posed = self._posed(job, placed_en_m)
        except WrongInput:
            return False
        bounds = bounds_of(job.fit)
        if not may_fit(posed.yard, bounds, posed.ranges):
            return False
        return searched(posed.yard, bounds, AIMS[job.fit.least], posed.ranges).fits

    def _limits(self, **changed: object) -> ArrayJob:
        return replace(self.job, fit=replace(self.job.fit, **changed))  # type: ignore[arg-type]

    def _solved(self, aim: Aim, bounds: Bounds) -> Found | None:
        found = searched(self.posed.yard, bounds, aim, self.posed.ranges)
        return found if found.fits else None

    def _tried(self, key: str, value_m: float, *, up: bool) -> float | None:
        """Return the value rounded outward that was seen to fit."""
        step = STEP_M[self.style] * (1 if up else -1)
        value = outward(value_m, self.style, up=up)
        for more in range(TRIES):
            if self.fits(self._limits(**{f"{key}_m": value + more * step})):
                return value + more * step
        return None

    def lengths(self) -> Iterator[str]:
        """Yield the limits in metres that would do, one changed at a time."""
        free: tuple[tuple[str, bool, Bounds, Aim], ...] = (
            ("above_grade_max", True, replace(self.bounds, above_grade_max_m=math.inf), least_tallest),
            ("highest", True, replace(self.bounds, highest_m=math.inf), least_highest),
            (
                "above_grade_min",
                False,
                replace(self.bounds, above_grade_min_m=-math.inf),
                most_above_grade_min,
            ),
            ("clearance", False, replace(self.bounds, clearance_m=-math.inf), most_clearance),
        )
        for key, up, bounds, aim in free:
            if key == "highest" and self.job.fit.highest_m is None:
                continue
            found = self._solved(aim, bounds)
            if found is None:
                continue
            value = _value(found, aim)
            if not up and value <= 0:
                continue  # a post that ends below grade, or modules in the ground, would not do
            tried = self._tried(key, value, up=up)
            if tried is not None:
                yield f"{key} = {pasted(tried, self.style)} would do"

    def cross_slope(self) -> Iterator[str]:
        """Yield the least cross-slope with which sloping beams would do."""
        shape = self.posed.yard.shape
        ranges = clear_cross_slopes(shape, STEEPEST_OFFERED_RAD, style=self.style)
        found = searched(self.posed.yard, self.bounds, least_slope, ranges)
        if not found.fits:
            return
        steps = math.ceil(abs(found.cross_rad) / ANGLE_STEP_RAD - 1e-6)
        for more in range(TRIES):
            most = (steps + more) * ANGLE_STEP_RAD
            if self.fits(self._limits(beams="sloping", max_cross_slope_rad=most)):
                level = self.job.fit.beams == "level"
                yield f"max_cross_slope = {format_angle(most)}" + (
                    ' with beams = "sloping" would do' if level else " would do"
                )
                return

    def tilts(self) -> Iterator[str]:
        """Yield the nearest lower and the nearest steeper tilt that would do."""
        tenths = self.job.array.tilt_rad / ANGLE_STEP_RAD
        lowest, steepest = (round(t / ANGLE_STEP_RAD) for t in TILTS_OFFERED_RAD)
        for first, last, way in (
            (math.floor(tenths + 1e-6), lowest, -1),
            (math.ceil(tenths - 1e-6), steepest, 1),
        ):
            missed = first
            for look in range(first + way * LOOK_STEPS, last + way, way * LOOK_STEPS):
                if self.fits(self._tilted(look)):
                    fits = look
                    while abs(fits - missed) > 1:
                        middle = (fits + missed) // 2
                        if self.fits(self._tilted(middle)):
                            fits = middle
                        else:
                            missed = middle
                    yield f"tilt = {format_angle(fits * ANGLE_STEP_RAD)} would do"
                    break
                missed = look

    def _tilted(self, tenths: int) -> ArrayJob:
        return replace(self.job, array=replace(self.job.array, tilt_rad=tenths * ANGLE_STEP_RAD))

    def shaving(self) -> Iterator[str]:
        """Yield the ground to shave with which the limits as they are would do."""
        yard, style = self.posed.yard, self.style
        cut = shaved(yard, self.bounds, self.posed.ranges)
        if cut is None or cut.deepest_m > MOST_SHAVED_M:
            return
        where = _place_in_words(yard, cut.cross_rad, cut.deepest_at_en_m, style)
        at_piers = [
            f"{yard.called(i)} {told(depth, style)}" for i, depth in enumerate(cut.piers_m) if depth > HOLDS_M
        ]
        yield (
            f"ground shaved, {told_volume(cut.volume_m3, style)} in all over "
            f"{told_area(cut.area_m2, style)}, deepest {told(cut.deepest_m, style)} {where}"
            + (f" (at piers: {', '.join(at_piers)})" if at_piers else "")
            + " would do"
        )

    def moving(self, ahead: tuple[float, float] | None) -> Iterator[str]:
        """Yield the least shift of the place with which the limits as they are would do."""
        place, yard = self.job.place, self.posed.yard
        if place.line is not None and ahead is None:
            return
        outside = self._outside(yard)

        def moved(east: float, north: float) -> Yard:
            e, n = self.placed_en_m
            return replace(yard, placed_en_m=(e + east, n + north))

        def quick(east: float, north: float) -> float:
            at = moved(east, north)
            if self._outside(at) > outside:
                return math.inf  # onto ground that nobody has shot
            return short_by_a_look(at, self.bounds, self.posed.ranges)

        def exact(east: float, north: float) -> float:
            return short_by(moved(east, north), self.bounds, self.posed.ranges) - HOLDS_M

        shift = least_move(quick, exact, most_m=MOST_MOVE_M)
        if shift is None:
            return
        for move in moves_near(place, shift, ahead=ahead, style=self.style):
            if self.fits(self.job, (self.placed_en_m[0] + move.east_m, self.placed_en_m[1] + move.north_m)):
                toward = math.atan2(move.east_m, move.north_m) + yard.shape.axes_north_rad
                yield (
                    f"{move.text} in [place], {yard.called(yard.placed)} moved "
                    f"{told(move.length_m, self.style)} toward azimuth {format_angle(toward % math.tau)}, "
                    "would do"
                )
                return

    def _outside(self, yard: Yard) -> int:
        """Return how many piers stand outside the shots, with level beams."""
        a1 = a1_places(yard.shape, 0.0, yard.placed, yard.placed_en_m)
        en = piers_at(yard.shape, 0.0, (float(a1[0]), float(a1[1]))).en_m
        return int(yard.ground.outside(en).sum())

    def both_heights(self) -> Iterator[str]:
        """Yield a pair of upper limits that would do, where no single value does."""
        found = self._solved(
            least_tallest, replace(self.bounds, above_grade_max_m=math.inf, highest_m=math.inf)
        )
        if found is None:
            return
        longest = outward(_value(found, least_tallest), self.style, up=True)
        longest = max(longest, self.bounds.above_grade_max_m)
        found = self._solved(
            least_highest, replace(self.bounds, above_grade_max_m=longest, highest_m=math.inf)
        )
        if found is None:
            return
        highest = outward(_value(found, least_highest), self.style, up=True)
        if self.fits(self._limits(above_grade_max_m=longest, highest_m=highest)):
            yield (
                f"above_grade_max = {pasted(longest, self.style)} with "
                f"highest = {pasted(highest, self.style)} would do"
            )


def _value(found: Found, aim: Aim) -> float:
    value = float(aim(found.heights, np.array([found.low_m]), np.array([found.high_m]))[0])
    return -value if aim in (most_above_grade_min, most_clearance) else value
