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
from staking.base.units import told
from staking.book.records import ArrayJob, Limits
from staking.ground.elevations import Ground
from staking.layout.around import Around
from staking.layout.asking import AskedEnough, CountedGround
from staking.layout.beams import clear_cross_slopes
from staking.layout.fitting import AIMS, Posed, posed_of
from staking.layout.frame import Conflict
from staking.layout.heights import Yard, above_grade
from staking.layout.room import not_kept, print_of, sticks_keep, swing_of
from staking.layout.search import (
    HOLDS_M,
    Aim,
    Bounds,
    Found,
    bounds_of,
    least_highest,
    least_low_edge,
    least_slope,
    least_tallest,
    may_fit,
    most_above_grade_min,
    most_clearance,
    most_low_edge,
    searched,
    short_by,
    short_by_a_look,
)
from staking.layout.shaving import shaved
from staking.layout.shifting import may_stand, shift_would_do
from staking.layout.stepped_remedies import Parted, nearest_parted
from staking.layout.stepping_remedies import stepped_would_do, stepping_would_do
from staking.layout.telling import outside_of, place_in_words, shaved_text
from staking.layout.turning import ANGLE_STEP_RAD, STEEPEST_OFFERED_RAD, cross_slope_text, tilts_would_do
from staking.layout.words import STEP_M, outward, pasted

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
            where = place_in_words(yard, found.cross_rad, en, style)
            text = f"{where}: at the nearest plane {what}, {told(by, style)} {side} {limit}"
            conflicts.append(Conflict(limit=f"fit.{limit}", where=where, by_m=by, text=text))
    if bounds.low_edge_m is not None and found.low_edge is not None:
        stands = height + found.low_edge.height_m
        by = stands - bounds.low_edge_m
        if abs(by) > HOLDS_M / 4:
            where = place_in_words(yard, found.cross_rad, found.low_edge.en_m, style)
            text = (
                f"{where}: at the nearest plane the low edge would stand {told(stands, style)} above the "
                f"ground, {told(abs(by), style)} {'over' if by > 0 else 'short of'} low_edge"
            )
            conflicts.append(Conflict(limit="fit.low_edge", where=where, by_m=abs(by), text=text))
    return tuple(sorted(conflicts, key=lambda c: -c.by_m))


def would_do(
    job: ArrayJob,
    *,
    placed_en_m: tuple[float, float],
    ground: Ground,
    style: str,
    around: Around | None = None,
) -> tuple[str, ...]:
    """Return sentences, each a change of one value with which a plane fits, every one tried.

    At most `MOST_ASKED` places of the ground are looked at; where that does not suffice, the last sentence
    says that not everything was tried.
    """
    around = around or Around()
    if job.fit.stepped:
        counted = CountedGround(ground, MOST_ASKED)
        return _all_of(_stepped(job, placed_en_m, counted, around, style))
    asker = _Asker(job, placed_en_m, CountedGround(ground, MOST_ASKED), style)
    sentences: list[str] = []
    try:
        sentences.extend(asker.lengths())
        sentences.extend(asker.low_edge())
        sentences.extend(asker.cross_slope())
        sentences.extend(tilts_would_do(job, asker.fits))
        if not sentences:
            sentences.extend(asker.both_heights())
        stepping = stepping_would_do(
            job,
            placed_en_m=placed_en_m,
            ground=CountedGround(ground, MOST_ASKED_STEPPING),
            style=style,
            ahead=around.ahead,
        )
        stepped = _all_of(stepping)
        sentences.extend(text for text in stepped if text != NOT_ALL_TRIED)
        cut = None
        if job.fit.low_edge_m is None:  # ground shaved there lifts the low edge
            cut = shaved(asker.posed.yard, asker.bounds, asker.posed.ranges)
        if cut is not None:
            sentences.extend(shaved_text([(asker.posed.yard, cut)], style))
        sentences.extend(asker.moving(around))
    except AskedEnough:
        return (*sentences, NOT_ALL_TRIED)
    return (*sentences, *(text for text in stepped if text == NOT_ALL_TRIED))


def _stepped(
    job: ArrayJob, placed_en_m: tuple[float, float], ground: Ground, around: Around, style: str
) -> Iterator[str]:
    """Yield what would do for an array that is stepped already."""
    yield from stepped_would_do(job, placed_en_m=placed_en_m, ground=ground, style=style)
    parted = nearest_parted(job, placed_en_m=placed_en_m, ground=ground, style=style)
    if parted is None:
        return
    asker = Parted(job, parted, placed_en_m, ground, style)
    yield from asker.turned()
    yield from asker.shaved()
    yield from asker.moved(around)


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
        self.bounds = replace(bounds_of(job.fit), high=False)

    def _posed(self, job: ArrayJob, placed_en_m: tuple[float, float] | None = None) -> Posed:
        return posed_of(
            job, placed_en_m=placed_en_m or self.placed_en_m, ground=self.ground, style=self.style
        )

    def fits(self, job: ArrayJob, placed_en_m: tuple[float, float] | None = None) -> bool:
        """Whether a job, asked in full, has a plane."""
        return self._found(job, placed_en_m) is not None

    def _found(
        self, job: ArrayJob, placed_en_m: tuple[float, float] | None = None
    ) -> tuple[Yard, Found] | None:
        try:
            posed = self._posed(job, placed_en_m)
        except WrongInput:
            return None
        bounds = bounds_of(job.fit)
        if not may_fit(posed.yard, bounds, posed.ranges):
            return None
        found = searched(posed.yard, bounds, AIMS[job.fit.least], posed.ranges)
        return (posed.yard, found) if found.fits else None

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

    def low_edge(self) -> Iterator[str]:
        """Yield the height of the low edge nearest to the one wished that would do."""
        if self.job.fit.low_edge_m is None:
            return
        free = replace(self.bounds, low_edge_m=None)
        for aim, up in ((least_low_edge, True), (most_low_edge, False)):
            found = self._solved(aim, free)
            if found is None:
                return
            value = _value(found, aim)
            if (value > self.job.fit.low_edge_m) is not up:
                continue
            tried = self._tried("low_edge", value, up=up)
            if tried is not None:
                yield f"low_edge = {pasted(tried, self.style)} would do"
                return

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
                yield cross_slope_text(self.job, most)
                return

    def moving(self, around: Around) -> Iterator[str]:
        """Yield the least shift of the place with which the limits as they are would do."""
        yard, ranges, now = self.posed.yard, self.posed.ranges, self.placed_en_m
        most = max(abs(end) for span in ranges for end in span)
        swing = swing_of(yard.shape, yard.placed, around.needs, most)
        own = print_of(yard.shape, yard.placed, around.needs)
        may = may_stand(own, now, around, swing_m=swing)
        outside = outside_of(yard)

        def moved(east: float, north: float) -> Yard | None:
            """Return the yard there, unless it is in the way or on ground that nobody has shot."""
            at = (now[0] + east, now[1] + north)
            there = replace(yard, placed_en_m=at)
            if not may(at) or outside_of(there) > outside or not sticks_keep(there, at, around):
                return None
            return there

        def quick(east: float, north: float) -> float:
            at = moved(east, north)
            return math.inf if at is None else short_by_a_look(at, self.bounds, ranges)

        def exact(east: float, north: float) -> float:
            at = moved(east, north)
            return math.inf if at is None else short_by(at, self.bounds, ranges) - HOLDS_M

        def fits(at: tuple[float, float]) -> bool:
            laid = self._found(self.job, at)
            return laid is not None and not not_kept([laid], around)

        yield from shift_would_do(
            self.job,
            now,
            quick=quick,
            exact=exact,
            fits=fits,
            around=around,
            called=yard.called(yard.placed),
            style=self.style,
        )

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
    return -value if aim in (most_above_grade_min, most_clearance, most_low_edge) else value
