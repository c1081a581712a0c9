"""Another tilt or cross-slope with which an array would fit: the nearest, in tenths of a degree, tried."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

from staking.base.units import format_angle
from staking.book.records import ArrayJob

STEEPEST_OFFERED_RAD = math.radians(15)
"""No cross-slope over this is offered: a beam so steep wants another frame. Common practice, no source."""
TILTS_OFFERED_RAD = (0.0, math.radians(60))
"""Between these a tilt is offered. Common practice, no source."""
ANGLE_STEP_RAD = math.radians(0.1)
LOOK_STEPS = 10
"""Tilts are looked at a degree apart before the step of 0.1° is settled."""

Fits = Callable[[ArrayJob], bool]
"""Whether a job, asked in full, can be laid out."""


def tilts_would_do(job: ArrayJob, fits: Fits, looks: Fits | None = None) -> Iterator[str]:
    """Yield the nearest lower and the nearest steeper tilt that would do; for `looks` see below."""
    tenths = job.array.tilt_rad / ANGLE_STEP_RAD
    lowest, steepest = (round(t / ANGLE_STEP_RAD) for t in TILTS_OFFERED_RAD)
    for first, last, way in (
        (math.floor(tenths + 1e-6), lowest, -1),
        (math.ceil(tenths - 1e-6), steepest, 1),
    ):
        if (last - first) * way <= 0:
            continue  # it is beyond already
        found = first_that_fits(lambda n: fits(tilted(job, n)), first, last, _at(looks, job, tilted))
        if found is not None:
            yield f"tilt = {format_angle(found * ANGLE_STEP_RAD)} would do"


def tilted(job: ArrayJob, tenths: int) -> ArrayJob:
    """Return a job at another tilt, in tenths of a degree."""
    return replace(job, array=replace(job.array, tilt_rad=tenths * ANGLE_STEP_RAD))


def _at(
    looks: Fits | None, job: ArrayJob, changed: Callable[[ArrayJob, int], ArrayJob]
) -> Callable[[int], bool] | None:
    return None if looks is None else lambda n: looks(changed(job, n))


def first_that_fits(
    fits_at: Callable[[int], bool], missed: int, last: int, looks_at: Callable[[int], bool] | None = None
) -> int | None:
    """Return the whole number nearest to one at which it does not fit, toward `last`, at which it does.

    Numbers are looked at `LOOK_STEPS` apart before the one where missing turns into fitting is settled, so
    what fits over fewer than that many is missed. `looks_at` may be asked instead while looking: where it
    says yes, it fits.
    """
    way = 1 if last > missed else -1
    looks = [*range(missed + way * LOOK_STEPS, last, way * LOOK_STEPS), last]
    for look in looks:
        if not (looks_at or fits_at)(look):
            missed = look
            continue
        fits: int = look
        while abs(fits - missed) > 1:
            middle: int = (fits + missed) // 2
            if fits_at(middle):
                fits = middle
            else:
                missed = middle
        return fits
    return None


def cross_slope_text(job: ArrayJob, most_rad: float) -> str:
    """Return the sentence that offers a cross-slope."""
    level = job.fit.beams == "level"
    return f"max_cross_slope = {format_angle(most_rad)}" + (
        ' with beams = "sloping" would do' if level else " would do"
    )


def sloping(job: ArrayJob, tenths: int) -> ArrayJob:
    """Return a job whose beams may slope by so many tenths of a degree."""
    return replace(job, fit=replace(job.fit, beams="sloping", max_cross_slope_rad=tenths * ANGLE_STEP_RAD))


def cross_slope_would_do(job: ArrayJob, fits: Fits, looks: Fits | None = None) -> Iterator[str]:
    """Yield the least cross-slope with which sloping beams would do, by asking again and again."""
    now = job.fit.max_cross_slope_rad if job.fit.beams == "sloping" else None
    missed = 0 if now is None else math.floor(now / ANGLE_STEP_RAD + 1e-6)
    last = round(STEEPEST_OFFERED_RAD / ANGLE_STEP_RAD)
    if missed >= last:
        return
    found = first_that_fits(lambda n: fits(sloping(job, n)), missed, last, _at(looks, job, sloping))
    if found is not None:
        yield cross_slope_text(job, found * ANGLE_STEP_RAD)
