"""How an array is parted into sections along its beams, before any of them meets the ground.

All distances run level along e from the place of the array's first piers. They depend on the lines of
modules to the left and the number of gaps there, not on how those lines are parted: so the best breaks can
be found section by section. See docs/layout.md, Stepped beams.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from staking.base.axes import facing_axes
from staking.base.errors import Mistake, WrongInput
from staking.base.units import told
from staking.book.records import ArrayJob
from staking.layout.bays import FEWEST_PIERS, FIT, Bays
from staking.layout.beams import clear_cross_slopes
from staking.layout.shape import FrameShape, shape_of

LEAST_BAY_M = 0.6
"""Nearer posts leave no standing ground between two holes of an auger (common practice, no source)."""
MORE_PIERS = 4
"""So many piers more than the fewest are tried on a beam where a rail would meet a post."""


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Part:
    """One section: its place from the left, from 0, and its lines of modules, from `first` up to `end`."""

    place: int
    first: int
    end: int

    @property
    def lines(self) -> int:
        """Number of lines of modules."""
        return self.end - self.first


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parting:
    """What is known of every section of an array, wherever it is parted."""

    job: ArrayJob
    overhang_m: float
    """From each end pier of a section to the edge of its modules, as in the undivided array."""
    pitch_m: float
    """From one line of modules to the next."""
    swing_m: float
    """The most by which a cross-slope within the limits moves an edge of the modules along e."""
    bays: tuple[Bays | None, ...]
    """By number of lines less one: piers and bay of a section; None where it cannot be built."""

    @property
    def lines(self) -> int:
        """Lines of modules of the whole array."""
        return self.job.array.modules_along

    @property
    def gap_m(self) -> float:
        """What a gap adds to the distance between two lines of modules."""
        return self.job.fit.section_gap_m - self.job.array.gap_along_m + 2 * self.swing_m

    def bays_of(self, part: Part) -> Bays | None:
        """Return the piers and the bay of a section; None where it cannot be built."""
        return self.bays[part.lines - 1]

    def first_along_m(self, part: Part) -> float:
        """Return how far along e a section's first piers stand from those of the array."""
        return part.first * self.pitch_m + part.place * self.gap_m

    def gap_middle_m(self, right: Part) -> float:
        """Return where the middle of the gap to a section's left lies, along e from the array's A1."""
        return self.first_along_m(right) - self.overhang_m - self.swing_m - self.job.fit.section_gap_m / 2

    def first_at(self, part: Part, placed_en_m: tuple[float, float]) -> tuple[float, float]:
        """Return where the section's own first pier on the placed pier's beam stands, east and north."""
        e = facing_axes(self.job.array.azimuth_rad - self.job.axes_north_rad)[0]
        along = self.first_along_m(part)
        return placed_en_m[0] + along * float(e[0]), placed_en_m[1] + along * float(e[1])

    def job_of(self, part: Part, *, first_pier: int, sections: int) -> ArrayJob:
        """Return a section as an array of its own, its piers numbered from `first_pier`."""
        bays = self.bays_of(part)
        assert bays is not None
        return _section(self.job, part.lines, bays, part.place + 1, first_pier, sections)


def parts_of(breaks: tuple[int, ...], lines: int) -> tuple[Part, ...]:
    """Return the sections between breaks, each break a number of lines of modules from the left."""
    edges = (0, *breaks, lines)
    return tuple(Part(place=k, first=edges[k], end=edges[k + 1]) for k in range(len(edges) - 1))


def parting_of(job: ArrayJob, *, style: str) -> Parting:
    """Return what is known of every section of an array.

    Each section keeps the undivided array's overhang and has the fewest piers whose even bays are no longer
    than `max_bay` (without it: the given bay) and at which no rail is too near a post on level beams.

    Raises
    ------
    WrongInput
        When the undivided frame cannot be built, or beams would meet in the gap.
    """
    whole = shape_of(job, style=style)
    overhang = whole.width_m / 2 - whole.half_line_m
    past = max(
        whole.rails_m[-1] + whole.beam_end_m - whole.width_m / 2, whole.beam_past_post_m - overhang, 0.0
    )
    if 2 * past >= job.fit.section_gap_m:
        raise WrongInput([_beams_meet(job, past, style)])
    most_bay = job.frame.max_bay_m if job.frame.max_bay_m is not None else whole.bay_m
    return Parting(
        job=job,
        overhang_m=overhang,
        pitch_m=job.array.module_along_m + job.array.gap_along_m,
        swing_m=_swing(job, whole),
        bays=tuple(
            _bays(job, lines, overhang, most_bay, style) for lines in range(1, job.array.modules_along + 1)
        ),
    )


def most_piers(parting: Parting) -> int:
    """Return the most piers that a beam can have over all sections, wherever the array is parted."""
    most = [0]
    for lines in range(1, parting.lines + 1):
        ways = [
            most[lines - own] + bays.piers
            for own, bays in enumerate(parting.bays[:lines], start=1)
            if bays is not None
        ]
        most.append(max(ways, default=0))
    return most[-1]


def _swing(job: ArrayJob, whole: FrameShape) -> float:
    """Return the most by which the cross-slope moves a corner of the modules along e, metres.

    A corner `up` the rail from beam A and `off` the beams' plane lies at a·cos γ + b·sin γ along e from its
    section's first piers, with b = sin β·(Q/2 − up) − off·cos β whatever the section's width.
    """
    if job.fit.beams == "level" or job.fit.max_cross_slope_rad is None:
        return 0.0
    most = max(
        abs(math.sin(whole.tilt_rad) * (whole.rail_run_m / 2 - up) - off * math.cos(whole.tilt_rad))
        for up in (-whole.beams_at_m[0], whole.height_m - whole.beams_at_m[0])
        for off in (whole.stack_m, whole.stack_m + whole.thick_m)
    )
    return most * math.sin(job.fit.max_cross_slope_rad)


def _bays(job: ArrayJob, lines: int, overhang_m: float, most_bay_m: float, style: str) -> Bays | None:
    """Return the piers and the bay of a section of so many lines of modules; None where none can be built."""
    array = job.array
    width = lines * array.module_along_m + (lines - 1) * array.gap_along_m
    line = width - 2 * overhang_m
    if line < LEAST_BAY_M * (1 - FIT):
        return None
    fewest = max(FEWEST_PIERS, 1 + math.ceil(line / most_bay_m * (1 - FIT)))
    for piers in range(fewest, fewest + MORE_PIERS + 1):
        bays = Bays(piers=piers, bay_m=line / (piers - 1))
        if piers > fewest and bays.bay_m < LEAST_BAY_M:
            return None
        section = _section(job, lines, bays, 1, 1, 1)
        try:
            clear_cross_slopes(shape_of(section, style=style), 0.0, style=style)
        except WrongInput:
            continue
        return bays
    return None


def _section(job: ArrayJob, lines: int, bays: Bays, section: int, first_pier: int, sections: int) -> ArrayJob:
    return replace(
        job,
        array=replace(job.array, modules_along=lines),
        frame=replace(
            job.frame, piers_per_beam=bays.piers, bay_m=bays.bay_m, max_bay_m=None, max_overhang_m=None
        ),
        place=replace(job.place, pier=f"{job.place.pier.strip()[0]}{first_pier}"),
        fit=replace(job.fit, sections=1, break_after=None),
        section=section,
        sections=sections,
        first_pier=first_pier,
    )


def _beams_meet(job: ArrayJob, past_m: float, style: str) -> Mistake:
    return Mistake(
        file="job.toml",
        column="fit.section_gap" + (f" of array {job.name}" if job.name else ""),
        read=told(job.fit.section_gap_m, style),
        problem=f"the beams run {told(past_m, style)} past the modules and would meet in the gap",
        expected=f"more than {told(2 * past_m, style)}",
        remedy="Widen section_gap, or shorten frame.beam_end or frame.beam_past_post",
    )
