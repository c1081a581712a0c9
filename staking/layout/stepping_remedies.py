"""Stepping as what would do, and what would do where an array is stepped already: solved, rounded, tried."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

from staking.book.records import ArrayJob
from staking.ground.elevations import Ground
from staking.layout.fitting import AIMS, posed_of
from staking.layout.halving import halved
from staking.layout.piers import a1_places
from staking.layout.replacing import moves_near
from staking.layout.search import Bounds, Found, between, bounds_of, searched
from staking.layout.sections import parting_of
from staking.layout.stepped import counts_of, one_plane, sections_of
from staking.layout.stepping import (
    MOST_SECTIONS,
    Layers,
    Stepper,
    least_step,
    reach,
)
from staking.layout.words import STEP_M, outward, pasted

TRIES = 4
"""Steps further out that are tried before a value is given up."""
FURTHEST_M = 30.0
"""A limit that would have to move further is not told."""
SETTLED_M = 1e-7
"""Limits are solved to this before they are rounded outward."""


def stepping_would_do(
    job: ArrayJob,
    *,
    placed_en_m: tuple[float, float],
    ground: Ground,
    style: str,
    ahead: tuple[float, float] | None,
) -> Iterator[str]:
    """Yield the fewest sections that would do for an array of one plane, with the least step they ask for.

    An array that is not placed by a first pier is placed by A1 where that pier stands with level beams.
    """
    for placed_job, at, keys in _by_first_pier(job, placed_en_m, ground, style, ahead):
        asker = _Sections(placed_job, at, ground, style)
        for sections in range(2, min(MOST_SECTIONS, job.array.modules_along) + 1):
            step = asker.with_step(sections)
            if step is not None:
                yield f"sections = {sections} with step_max = {pasted(step, style)}{keys} would do"
                return


def stepped_would_do(
    job: ArrayJob, *, placed_en_m: tuple[float, float], ground: Ground, style: str
) -> Iterator[str]:
    """Yield the changes of one value with which a stepped array would fit: breaks, number, step, limits."""
    asker = _Sections(job, placed_en_m, ground, style)
    fit = job.fit
    after = fit.break_after
    if after is not None:
        free = replace(job, fit=replace(fit, break_after=None, sections=len(after) + 1))
        chosen = _Sections(free, placed_en_m, ground, style).stepper.best(len(after) + 1, fit.step_max_m)
        if chosen is not None and asker.fits(break_after=chosen.breaks):
            yield f"break_after = [{', '.join(map(str, chosen.breaks))}] would do"
    elif fit.sections != "auto":
        for sections in range(1, min(MOST_SECTIONS, job.array.modules_along) + 1):
            if sections != fit.sections and asker.fits(sections=sections):
                yield f"sections = {sections} would do"
                break
    if fit.step_max_m is not None:
        counts = counts_of(job)
        steps = [(step, n) for n in counts if (step := asker.with_step(n)) is not None]
        if steps:
            step, _ = min(steps)
            yield f"step_max = {pasted(step, style)} would do"
    if fit.beams == "level":
        yield from asker.limits()


def _by_first_pier(
    job: ArrayJob,
    placed_en_m: tuple[float, float],
    ground: Ground,
    style: str,
    ahead: tuple[float, float] | None,
) -> Iterator[tuple[ArrayJob, tuple[float, float], str]]:
    """Yield the job as placed by a first pier, that pier's place, and the keys that say so."""
    yard = posed_of(job, placed_en_m=placed_en_m, ground=ground, style=style).yard
    shape = yard.shape
    if yard.placed % shape.piers_per_beam == 0:
        yield job, placed_en_m, ""
        return
    if job.place.line is not None and ahead is None:
        return
    a1 = a1_places(shape, 0.0, yard.placed, placed_en_m)
    shift = (float(a1[0]) - placed_en_m[0], float(a1[1]) - placed_en_m[1])
    for move in moves_near(job.place, shift, ahead=ahead, style=style):
        at = (placed_en_m[0] + move.east_m, placed_en_m[1] + move.north_m)
        by_a1 = replace(job, place=replace(job.place, pier="A1"))
        yield by_a1, at, f', and in [place] pier = "A1" with {move.text}'


class _Sections:
    """Asks for sections again with one value changed."""

    def __init__(self, job: ArrayJob, placed_en_m: tuple[float, float], ground: Ground, style: str) -> None:
        self.job, self.placed_en_m, self.ground, self.style = job, placed_en_m, ground, style
        self.stepper = Stepper(
            parting_of(job, style=style), placed_en_m=placed_en_m, ground=ground, style=style
        )

    def fits(self, **changed: object) -> bool:
        """Whether the job with these keys of its limits changed, asked in full, can be laid out."""
        fit = replace(self.job.fit, **changed)  # type: ignore[arg-type]
        job = replace(self.job, fit=fit)
        laid = sections_of(job, placed_en_m=self.placed_en_m, ground=self.ground, style=self.style)
        return laid is not None

    def with_step(self, sections: int) -> float | None:
        """Return the least `step_max` with which so many sections fit, rounded outward and tried."""
        layers = self.stepper.layers(sections)
        least = least_step(layers) if all(layers) else None
        if least is None:
            return None
        key = {} if self.job.fit.break_after is not None else {"sections": sections}
        value = outward(least, self.style, up=True)
        for more in range(TRIES):
            tried = value + more * STEP_M[self.style]
            if self.fits(step_max_m=tried, **key):
                return tried
        return None

    def limits(self) -> Iterator[str]:
        """Yield the limits in metres that would do, one changed at a time; level beams only."""
        layers = [some for n in counts_of(self.job) if all(some := self.stepper.layers(n))]
        whole = self._whole()
        bounds = bounds_of(self.job.fit)
        for key, up in (
            ("above_grade_max", True),
            ("highest", True),
            ("above_grade_min", False),
            ("clearance", False),
        ):
            now = getattr(bounds, f"{key}_m")
            if not math.isfinite(now):
                continue

            def fits_at(value_m: float, key: str = key) -> bool:
                changed: Bounds = replace(bounds, **{f"{key}_m": value_m})  # type: ignore[arg-type]
                return self._fits_under(changed, layers, whole)

            value = _solved(fits_at, now, up=up)
            if value is None or (not up and value <= 0):
                continue
            rounded = outward(value, self.style, up=up)
            step = STEP_M[self.style] * (1 if up else -1)
            for more in range(TRIES):
                if self.fits(**{f"{key}_m": rounded + more * step}):
                    yield f"{key} = {pasted(rounded + more * step, self.style)} would do"
                    break

    def _whole(self) -> Found | None:
        """Return the undivided plane where the number of sections is left open."""
        if self.job.fit.sections != "auto" or self.job.fit.break_after is not None:
            return None
        job = one_plane(self.job)
        posed = posed_of(job, placed_en_m=self.placed_en_m, ground=self.ground, style=self.style)
        return searched(posed.yard, bounds_of(job.fit), AIMS[job.fit.least], posed.ranges)

    def _fits_under(self, bounds: Bounds, every: list[Layers], whole: Found | None) -> bool:
        """Whether sections already fitted, or the undivided plane, fit under other limits."""
        if whole is not None:
            low, high = between(whole.heights, bounds)
            if float(low[0]) <= float(high[0]):
                return True
        step = math.inf if self.job.fit.step_max_m is None else self.job.fit.step_max_m
        under = self.stepper.with_bounds(bounds)
        return any(
            reach(tuple(tuple(under.known(cell.part) for cell in some) for some in layers), step) is not None
            for layers in every
        )


def _solved(fits_at: Callable[[float], bool], now_m: float, *, up: bool) -> float | None:
    """Return the value nearest to the one now at which it fits, None where it fits at none."""
    misses, fits = now_m, now_m + (FURTHEST_M if up else -FURTHEST_M)
    if not fits_at(fits):
        return None
    return halved(fits_at, fits, misses, within=SETTLED_M)
