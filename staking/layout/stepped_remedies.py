"""Turning, moving and shaving as what would do for an array that is stepped already.

Where the breaks are open they are held, while something is looked for, at those of the parting that misses
its limits by least; tilts and cross-slopes are then settled with all partings open.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from staking.book.records import ArrayJob
from staking.ground.elevations import Ground
from staking.layout.around import Around
from staking.layout.fitting import Posed, posed_of
from staking.layout.heights import Yard
from staking.layout.piers import whole_name
from staking.layout.room import not_kept, print_of, swing_of
from staking.layout.search import between_by_a_look, bounds_of
from staking.layout.sections import parting_of, parts_of
from staking.layout.shaving import shaved_under
from staking.layout.shifting import may_stand, shift_would_do
from staking.layout.stepped import counts_of, jobs_of, named, sections_of
from staking.layout.stepping import Stepper, highest_together, nearest_way, settled
from staking.layout.telling import outside_of, shaved_text
from staking.layout.turning import cross_slope_would_do, tilts_would_do

NEAR_M = 0.01
"""A shift is looked at exactly where a coarse look misses by less: it sees less of the ground."""


def nearest_parted(
    job: ArrayJob, *, placed_en_m: tuple[float, float], ground: Ground, style: str
) -> ArrayJob | None:
    """Return a job with the breaks at which it misses its limits by least; None: it cannot be parted."""
    if job.fit.break_after is not None:
        return job
    stepper = Stepper(parting_of(job, style=style), placed_en_m=placed_en_m, ground=ground, style=style)
    ways = [way for n in counts_of(job) if (way := nearest_way(stepper.layers(n)))]
    if not ways:
        return None
    way = min(ways, key=lambda cells: max(0.0, *(cell.short_m for cell in cells)))
    breaks = tuple(cell.part.end for cell in way[:-1])
    return replace(job, fit=replace(job.fit, sections=1, break_after=breaks))


class Parted:
    """Asks for an array again, parted as it misses its limits by least."""

    def __init__(
        self, job: ArrayJob, parted: ArrayJob, placed_en_m: tuple[float, float], ground: Ground, style: str
    ) -> None:
        self.job, self.parted, self.placed_en_m = job, parted, placed_en_m
        self.ground, self.style = ground, style

    def _stepper(self, job: ArrayJob, at: tuple[float, float]) -> Stepper:
        parting = parting_of(job, style=self.style)
        return Stepper(parting, placed_en_m=at, ground=self.ground, style=self.style)

    def _fits(self, job: ArrayJob) -> bool:
        at, ground, style = self.placed_en_m, self.ground, self.style
        return sections_of(job, placed_en_m=at, ground=ground, style=style) is not None

    def turned(self) -> Iterator[str]:
        """Yield the least cross-slope and the nearest tilts that would do."""

        def looks(changed: ArrayJob) -> bool:
            fit = replace(
                self.parted.fit,
                beams=changed.fit.beams,
                max_cross_slope_rad=changed.fit.max_cross_slope_rad,
            )
            return self._fits(replace(changed, fit=fit))

        yield from cross_slope_would_do(self.job, self._fits, looks)
        yield from tilts_would_do(self.job, self._fits, looks)

    def shaved(self) -> Iterator[str]:
        """Yield the ground to shave: planes as high as their upper limits and the steps between let them."""
        job = self.parted
        if job.fit.low_edge_m is not None:
            return  # ground shaved there lifts the low edge
        stepper = self._stepper(job, self.placed_en_m)
        cells = named(stepper, parts_of(job.fit.break_after or (), job.array.modules_along))
        tops = highest_together(cells, job.fit.step_max_m)
        if tops is None:
            return
        bounds = bounds_of(job.fit)
        cuts = [
            (cell.yard, shaved_under(cell.yard, bounds, cell.found.cross_rad, top))
            for cell, top in zip(cells, tops, strict=True)
        ]
        kept = [(yard, cut) for yard, cut in cuts if cut is not None]
        if len(kept) == len(cells):
            after = ", ".join(map(str, job.fit.break_after or ()))
            parted = f"with break_after = [{after}]" if self.job.fit.break_after is None else ""
            yield from shaved_text(kept, self.style, parted)

    def moved(self, around: Around) -> Iterator[str]:
        """Yield the least shift of the place with which it fits and keeps clear."""
        job, (ex, ny) = self.parted, self.placed_en_m
        bounds = bounds_of(job.fit)
        posed = self._posed()
        yards = [one.yard for one in posed]
        prints = [print_of(yard.shape, yard.placed, around.needs, 0.0, self._off(yard)) for yard in yards]
        most = max(abs(end) for one in posed for span in one.ranges for end in span)
        swing = max(swing_of(yard.shape, yard.placed, around.needs, most) for yard in yards)
        may = may_stand(prints[0].beside(*prints[1:]), self.placed_en_m, around, swing_m=swing)
        outside = sum(outside_of(yard) for yard in yards)

        def quick(east: float, north: float) -> float:
            if not may((ex + east, ny + north)):
                return math.inf
            there = [
                replace(yard, placed_en_m=(yard.placed_en_m[0] + east, yard.placed_en_m[1] + north))
                for yard in yards
            ]
            if sum(map(outside_of, there)) > outside:
                return math.inf
            looks = zip(there, posed, strict=True)
            spans = [between_by_a_look(yard, bounds, one.ranges) for yard, one in looks]
            step = job.fit.step_max_m if job.fit.beams == "level" else None
            return _short_together(spans, step) - NEAR_M

        def exact(east: float, north: float) -> float:
            if quick(east, north) > 0:
                return math.inf
            [*layers] = self._stepper(job, (ex + east, ny + north)).layers(1)
            return 1.0 if settled([some[0] for some in layers], job.fit.step_max_m) is None else -1.0

        def fits(at: tuple[float, float]) -> bool:
            laid = sections_of(self.job, placed_en_m=at, ground=self.ground, style=self.style)
            return laid is not None and not not_kept(laid, around)

        yield from shift_would_do(
            self.job,
            self.placed_en_m,
            quick=quick,
            exact=exact,
            fits=fits,
            around=around,
            called=whole_name(job.name, job.place.pier),
            style=self.style,
        )

    def _posed(self) -> list[Posed]:
        """Return the sections placed in the yard."""
        parting = parting_of(self.parted, style=self.style)
        parts = parts_of(self.parted.fit.break_after or (), parting.lines)
        return [
            posed_of(
                one,
                placed_en_m=parting.first_at(part, self.placed_en_m),
                ground=self.ground,
                style=self.style,
            )
            for one, part in zip(jobs_of(parting, parts), parts, strict=True)
        ]

    def _off(self, yard: Yard) -> tuple[float, float]:
        return yard.placed_en_m[0] - self.placed_en_m[0], yard.placed_en_m[1] - self.placed_en_m[1]


def _short_together(spans: Sequence[tuple[float, float]], step_m: float | None) -> float:
    """Return what the limits of level sections side by side miss each other by, the steps kept to."""
    z = [low for low, _ in spans]
    if step_m is not None:
        for k in range(1, len(z)):
            z[k] = max(z[k], z[k - 1] - step_m)
        for k in reversed(range(len(z) - 1)):
            z[k] = max(z[k], z[k + 1] - step_m)
    return max(height - high for height, (_, high) in zip(z, spans, strict=True))
