"""An array laid out on its ground, in sections where it is stepped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

import numpy as np

from staking.base.axes import facing_axes
from staking.base.errors import Mistake, WrongInput
from staking.base.units import told
from staking.book.records import Accuracy, ArrayJob
from staking.ground.elevations import Ground
from staking.layout.around import Around
from staking.layout.field import both_faces
from staking.layout.fitting import AIMS, fit_of, fitted, posed_of
from staking.layout.frame import Conflict, Fit, NoPlaneFits, Piers
from staking.layout.heights import Yard
from staking.layout.piers import a1_places, pier_order, piers_at
from staking.layout.search import HOLDS_M, Found, bounds_of, searched
from staking.layout.sections import LEAST_BAY_M, Part, Parting, parting_of, parts_of
from staking.layout.shape import shape_of
from staking.layout.stepping import (
    MOST_SECTIONS,
    Cell,
    Chosen,
    Layers,
    Stepper,
    best_way,
    least_step,
    nearest_way,
    raised,
    settled,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionFit:
    """One section laid out; an array of one plane is its own only section."""

    job: ArrayJob
    """As an array of its own: `section`, `sections` and `first_pier` say where it belongs."""
    fit: Fit
    placed_en_m: tuple[float, float]
    """Where the pier that its job's place names stands."""
    raised_m: float = 0.0
    """By which its plane stands above the lowest that its own limits allow, for a neighbour's sake."""
    along_m: float = 0.0
    """How far along e its first piers stand from those of the array, level."""
    gap_m: float | None = None
    """Least level distance from the modules of the section to its left; None: there is none."""
    step_m: float | None = None
    """What its beams stand above those of the section to its left, in the middle of the gap between them,
    where they differ most; negative: below."""


def laid_out(
    job: ArrayJob,
    *,
    placed_en_m: tuple[float, float],
    ground: Ground,
    accuracy: Accuracy,
    style: str = "metric",
    around: Around | None = None,
) -> tuple[SectionFit, ...]:
    """Return the sections of an array laid out on its ground, from the left.

    Parameters are those of `staking.layout.fitting.fitted`.

    Raises
    ------
    WrongInput
        When the frame cannot be built, or not in the sections asked for.
    NoPlaneFits
        When no parting meets the limits: which limits conflict where, by how much, and what would do.
    """
    asked = job
    job = with_breaks(job, placed_en_m=placed_en_m, ground=ground, style=style, around=around)
    if not job.fit.stepped:
        fit = fitted(
            job, placed_en_m=placed_en_m, ground=ground, accuracy=accuracy, style=style, around=around
        )
        return (SectionFit(job=job, fit=fit, placed_en_m=placed_en_m),)
    stepper = Stepper(parting_of(job, style=style), placed_en_m=placed_en_m, ground=ground, style=style)
    after = job.fit.break_after or ()
    parts = parts_of(after, job.array.modules_along)
    if any(stepper.parting.bays_of(part) is None for part in parts):
        raise WrongInput([_cannot_part(job, style)])
    cells = named(stepper, parts)
    z_m = settled(cells, job.fit.step_max_m)
    if z_m is None:
        layers = tuple((cell,) for cell in cells)
        raise _refusal(asked, stepper, [layers], around=around)
    fits = [fit_of(cell.yard, raised(cell.found, z), accuracy) for cell, z in zip(cells, z_m, strict=True)]
    jobs = jobs_of(stepper.parting, parts)
    steps_m = Chosen(cells=cells, z_m=z_m).steps_m
    return tuple(
        SectionFit(
            job=jobs[k],
            fit=fits[k],
            placed_en_m=stepper.parting.first_at(parts[k], placed_en_m),
            raised_m=z_m[k] - cells[k].low_m,
            along_m=stepper.parting.first_along_m(parts[k]),
            gap_m=None if k == 0 else _gap(jobs[k - 1], fits[k - 1], jobs[k], fits[k]),
            step_m=None if k == 0 else steps_m[k - 1],
        )
        for k in range(len(cells))
    )


def with_breaks(
    job: ArrayJob,
    *,
    placed_en_m: tuple[float, float],
    ground: Ground,
    style: str = "metric",
    around: Around | None = None,
) -> ArrayJob:
    """Return a job with the best breaks written into it; one plane where `auto` comes to that.

    Raises
    ------
    WrongInput, NoPlaneFits
        As `laid_out` does.
    """
    fit = job.fit
    if fit.break_after is not None or not fit.stepped:
        return job
    if fit.sections == "auto":
        whole = one_plane(job)
        posed = posed_of(whole, placed_en_m=placed_en_m, ground=ground, style=style)
        if searched(posed.yard, bounds_of(fit), AIMS[fit.least], posed.ranges).fits:
            return whole
    stepper = Stepper(parting_of(job, style=style), placed_en_m=placed_en_m, ground=ground, style=style)
    tried: list[Layers] = []
    for sections in counts_of(job):
        layers = stepper.layers(sections)
        if not nearest_way(layers):
            continue
        tried.append(layers)
        chosen = stepper.best(sections, fit.step_max_m)
        if chosen is not None:
            return replace(job, fit=replace(fit, sections=1, break_after=chosen.breaks))
    if not tried and fit.sections == "auto":
        return one_plane(job)  # too narrow to be parted: what one plane lacks is what is to be told
    if not tried:
        raise WrongInput([_cannot_part(job, style)])
    raise _refusal(job, stepper, tried, around=around)


def sections_of(
    job: ArrayJob, *, placed_en_m: tuple[float, float], ground: Ground, style: str = "metric"
) -> tuple[tuple[Yard, Found], ...] | None:
    """Return what `laid_out` would lay out, section by section, None where it would refuse.

    Asks for nothing that would do.
    """
    try:
        if job.fit.sections == "auto" or not job.fit.stepped:
            posed = posed_of(one_plane(job), placed_en_m=placed_en_m, ground=ground, style=style)
            found = searched(posed.yard, bounds_of(job.fit), AIMS[job.fit.least], posed.ranges)
            if found.fits and job.fit.break_after is None:
                return ((posed.yard, found),)
            if not job.fit.stepped:
                return None
        stepper = Stepper(parting_of(job, style=style), placed_en_m=placed_en_m, ground=ground, style=style)
        for sections in counts_of(job):
            chosen = stepper.best(sections, job.fit.step_max_m)
            if chosen is None:
                continue
            cells = named(stepper, [cell.part for cell in chosen.cells])
            z_m = settled(cells, job.fit.step_max_m)
            if z_m is not None:
                return tuple((c.yard, raised(c.found, z)) for c, z in zip(cells, z_m, strict=True))
    except WrongInput:
        return None
    return None


def level_piers(
    job: ArrayJob, *, placed_en_m: tuple[float, float], style: str = "metric"
) -> tuple[Piers, ...]:
    """Return the piers of each section with level beams; of an array whose breaks are open, undivided.

    Raises
    ------
    WrongInput
        When the frame cannot be built, or not with these breaks.
    """
    if job.fit.break_after is None:
        return (_level(one_plane(job), placed_en_m, style),)
    parting = parting_of(job, style=style)
    parts = parts_of(job.fit.break_after, parting.lines)
    if any(parting.bays_of(part) is None for part in parts):
        raise WrongInput([_cannot_part(job, style)])
    return tuple(
        _level(section, parting.first_at(part, placed_en_m), style)
        for section, part in zip(jobs_of(parting, parts), parts, strict=True)
    )


def _level(job: ArrayJob, placed_en_m: tuple[float, float], style: str) -> Piers:
    shape = shape_of(job, style=style)
    known = {name.casefold(): i for i, name in enumerate(pier_order(shape)[0])}
    a1 = a1_places(shape, 0.0, known.get(job.place.pier.strip().casefold(), 0), placed_en_m)
    return piers_at(shape, 0.0, (float(a1[0]), float(a1[1])))


def counts_of(job: ArrayJob) -> Iterable[int]:
    """Return the numbers of sections that are tried, in order; one plane is not among them."""
    if job.fit.break_after is not None:
        return (len(job.fit.break_after) + 1,)
    if job.fit.sections == "auto":
        return range(2, min(MOST_SECTIONS, job.array.modules_along) + 1)
    return (job.fit.sections,)


def one_plane(job: ArrayJob) -> ArrayJob:
    """Return the same array undivided."""
    return replace(job, fit=replace(job.fit, sections=1, break_after=None))


def jobs_of(parting: Parting, parts: Sequence[Part]) -> tuple[ArrayJob, ...]:
    """Return each section as an array of its own, the piers numbered over all of them."""
    return tuple(
        parting.job_of(part, first_pier=first, sections=len(parts))
        for part, first in zip(parts, _first_piers(parting, parts), strict=True)
    )


def named(stepper: Stepper, parts: Sequence[Part]) -> tuple[Cell, ...]:
    """Return these sections fitted, their piers by name, so that shots at their stakes count."""
    cells = (
        stepper.cell(part, first_pier=first, sections=len(parts))
        for part, first in zip(parts, _first_piers(stepper.parting, parts), strict=True)
    )
    return tuple(cell for cell in cells if cell is not None)


def _first_piers(parting: Parting, parts: Sequence[Part]) -> tuple[int, ...]:
    counts = [0 if (bays := parting.bays_of(part)) is None else bays.piers for part in parts]
    return tuple(1 + n for n in accumulate([0, *counts[:-1]]))


def _gap(left_job: ArrayJob, left: Fit, right_job: ArrayJob, right: Fit) -> float:
    """Return the least level distance along e between the modules of neighbouring sections, metres."""
    e = facing_axes(left.plane.azimuth_rad)[0][:2]

    def along(job: ArrayJob, fit: Fit) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        shape = shape_of(job, style="metric")
        return np.asarray(both_faces(shape, fit.plane)[:, :2] @ e)

    return float(along(right_job, right).min() - along(left_job, left).max())


def _refusal(
    job: ArrayJob, stepper: Stepper, tried: Sequence[Layers], *, around: Around | None
) -> NoPlaneFits:
    """Return what conflicts in the parting that comes nearest, and what would do."""
    from staking.layout.remedies import conflicts_of, would_do

    style, ways = stepper.style, [nearest_way(layers) for layers in tried]
    nearest = min(range(len(ways)), key=lambda i: max(0.0, *(cell.short_m for cell in ways[i])))
    cells = named(stepper, [cell.part for cell in ways[nearest]])
    conflicts: list[Conflict] = []
    for cell in cells:
        if cell.short_m > HOLDS_M:
            conflicts += conflicts_of(cell.yard, job.fit, cell.found, style=style)
    if not conflicts:
        conflicts = [_steps_conflict(job, stepper, tried[nearest])]
    return NoPlaneFits(
        tuple(sorted(conflicts, key=lambda c: -c.by_m)),
        would_do(job, placed_en_m=stepper.placed_en_m, ground=stepper.ground, style=style, around=around),
    )


def _steps_conflict(job: ArrayJob, stepper: Stepper, layers: Layers) -> Conflict:
    """Return the gap at which neighbours cannot be brought as near in height as `step_max` asks."""
    style, most = stepper.style, job.fit.step_max_m or 0.0
    least = least_step(layers) or 0.0
    chosen = best_way(layers, job.fit.least, least + HOLDS_M, job.name)
    assert chosen is not None
    cells = named(stepper, [cell.part for cell in chosen.cells])
    k = max(range(len(chosen.steps_m)), key=lambda i: abs(chosen.steps_m[i]))
    left, right = cells[k].yard, cells[k + 1].yard
    where = f"between {left.called(cells[k].piers - 1)} and {right.called(0)}"
    return Conflict(
        limit="fit.step_max",
        where=where,
        by_m=least - most,
        text=f"{where}: the sections come no nearer to each other in height than {told(least, style)}, "
        f"{told(least - most, style)} over step_max",
    )


def _cannot_part(job: ArrayJob, style: str) -> Mistake:
    after = job.fit.break_after
    key, read = (
        ("sections", str(job.fit.sections))
        if after is None
        else (
            "break_after",
            ", ".join(map(str, after)),
        )
    )
    return Mistake(
        file="job.toml",
        column=f"fit.{key}" + (f" of array {job.name}" if job.name else ""),
        read=read,
        problem="a section would be too narrow for two posts that stand "
        f"{told(LEAST_BAY_M, style)} apart, or a rail would meet a post whatever the bay",
        expected=f"sections that part the {job.array.modules_along} lines of modules into wider ones",
        remedy="Take fewer sections, move the breaks, or change frame.rail_inset or the overhang",
    )
