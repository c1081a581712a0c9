"""The cover: what the plane really is, how good the survey is, what was assumed, cautions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from staking.book.records import ArrayJob, Job
from staking.control.turned import turned
from staking.place_asked import place_words
from staking.plan import ArrayPlan, Plan
from staking.remarks import LEVELS_OPEN, SURVEY_FAILS
from staking.sheets.accuracies import accuracies_taken
from staking.sheets.cautions import cautions
from staking.sheets.control_table import quality_words
from staking.sheets.ground_words import ground_words, tie_words
from staking.sheets.letters import text_width_mm
from staking.sheets.names import axes_north, job_name, north_name
from staking.sheets.notation import Notation, degrees, sentence, step_words
from staking.sheets.sheet import TITLE_PT, Sheet, Words
from staking.sheets.table import Column, Table

_SIZE_PT = 9.0
_NAME_ROOM_MM = 52.0
"""What the title block of an upright A4 sheet has for the job's name."""
_NOTHING_FITS = (
    "NO LAYOUT MEETS THE LIMITS of job.toml on this ground: nothing was laid out, there is nothing to dig "
    "or cut from. Which limits fail, and what would do, is on the sheet “What cannot be built”."
)
_LEVEL_RAD = math.radians(0.005)
"""A slope less than this prints as 0.00° and is called level."""


def cover_sheet(plan: Plan, *, titles: Sequence[str], notation: Notation) -> Sheet:
    """Return the cover; `titles` are those of the sheets that follow."""
    lines = cautions(notation)
    blocks: list[Words | Table] = []
    job = job_name(plan.book.job.site)
    if text_width_mm(job, size_pt=TITLE_PT, strong=True) > _NAME_ROOM_MM:
        blocks.append(Words(lines=(job,), bullets=False))  # The title block has room for its beginning only.
    if titles:
        listed = "In this pack: " + "\u00a0· ".join(titles)
        blocks.append(Words(lines=(listed,), bullets=False, size_pt=_SIZE_PT))
    blocks.append(Words(lines=lines[:1], bullets=False, alarm=True, size_pt=11.0))
    if plan.conflicts:
        blocks.append(Words(lines=(_NOTHING_FITS,), bullets=False, alarm=True, size_pt=11.0))
    quality = replace(quality_words(plan.adjustment, notation), size_pt=_SIZE_PT)
    if quality.alarm:
        blocks.append(quality)
    if plan.arrays:
        direction = turned(plan.book, plan.adjustment.points)
        blocks.append(_plane_table(plan.arrays, notation, "" if direction is None else direction.words()))
    if not quality.alarm:
        blocks.append(quality)
    warned = _warnings(plan, failing=quality.alarm)
    if warned:
        blocks.append(Words(heading="Warnings", lines=warned, size_pt=_SIZE_PT))
    blocks.append(Words(heading="Cautions", lines=lines[1:], size_pt=_SIZE_PT))
    blocks.append(Words(heading="What was taken as given", lines=_assumed(plan, notation), size_pt=_SIZE_PT))
    title = "Stake-out pack" if plan.arrays else "Survey"
    return Sheet(name="cover", title=title, blocks=tuple(blocks))


def _plane_table(arrays: Sequence[ArrayPlan], notation: Notation, direction: str) -> Table:
    """Return what each array's plane really is, an array a column; `direction` says how sure facings are."""
    sloping = any(abs(array.fit.plane.cross_slope_rad) >= _LEVEL_RAD for array in arrays)
    facts = [_plane(array, notation, sloping=sloping) for array in arrays]
    if any(array.stepped for array in arrays):
        facts = [
            [*fact, ("At the gap to its left", _left(array, notation))]
            for fact, array in zip(facts, arrays, strict=True)
        ]
    return Table(
        title="What the plane really is",
        columns=(
            Column(heading="", name="what", align="left"),
            *(Column(heading=array.title, name=array.title or "array", align="left") for array in arrays),
        ),
        rows=tuple((facts[0][i][0], *(fact[i][1] for fact in facts)) for i in range(len(facts[0]))),
        notes=(f"Facings are known {direction}.",) if direction else (),
        size_pt=9.5,
    )


def _plane(array: ArrayPlan, notation: Notation, *, sloping: bool) -> list[tuple[str, str]]:
    """Return what a plane is; where all beams are level, tilt and facing are what was designed."""
    fit = array.fit
    tilt, facing = degrees(fit.plane.tilt_rad, 2), degrees(fit.plane.facing_rad % math.tau, 2)
    turned = [
        ("Tilt: about the beams as designed; truly", f"{tilt}; {degrees(fit.true_tilt_rad, 2)}"),
        ("Facing: as designed; truly", f"{facing}; {degrees(fit.true_azimuth_rad, 2)}"),
        ("A level laid on a rail reads", degrees(fit.rail_slope_rad, 2)),
        ("Skew: rails meet the high beam nearer its low end by", notation.small_words(abs(fit.skew_m))),
    ]
    as_designed = [
        ("Tilt, as designed; a level laid on a rail reads it", tilt),
        ("Facing, as designed", facing),
    ]
    return [
        ("Beams", beams_words(fit.plane.cross_slope_rad)),
        *(turned if sloping else as_designed),
        ("Piers", f"{len(fit.piers.names)}, {notation.words(fit.bay_m)} apart along the beam"),
        ("Rails", f"{fit.rails}, each {notation.words(fit.rail_length_m)} long"),
        ("Least clearance under the modules", notation.words(fit.clearance_m)),
        ("Greatest height of the modules above the ground", notation.words(fit.highest_m)),
        ("Total of all above-grade lengths", notation.total_words(fit.lengths.above_grade_m)),
    ]


def _left(array: ArrayPlan, notation: Notation) -> str:
    """Return how a section stands beside the one to its left."""
    if array.step_m is None or array.gap_m is None:
        return "–"
    return (
        f"{step_words(array.step_m, notation)} section {array.job.section - 1}; "
        f"gap {notation.words(array.gap_m)}"
    )


def beams_words(cross_slope_rad: float) -> str:
    """Return how the beams lie, as seen from the low side."""
    if abs(cross_slope_rad) < _LEVEL_RAD:
        return "level"
    side = "right" if cross_slope_rad > 0.0 else "left"
    return f"rise {degrees(abs(cross_slope_rad), 2)} toward the {side}, seen from the low side"


def _warnings(plan: Plan, *, failing: bool) -> tuple[str, ...]:
    """Return every warning once, in the order of the work, but not what a frame already says."""
    every = [*plan.book.warnings, *plan.adjustment.warnings, *plan.warnings]
    every += [] if plan.cuts is None else plan.cuts.warnings
    said = (LEVELS_OPEN, SURVEY_FAILS) if failing else ()
    return tuple(dict.fromkeys(sentence(text) for text in every if not text.startswith(said)))


def _assumed(plan: Plan, notation: Notation) -> tuple[str, ...]:
    job = plan.book.job
    accuracies = accuracies_taken(plan.book, notation)
    lines = [
        *([f"One standard deviation of one reading: {accuracies}."] if accuracies else []),
        f"{north_name(plan)} is up the map{_grid_turned(plan)}; elevations count from the benchmark.",
    ]
    where = place_words(plan.book)
    if where is not None:
        lines.append(sentence(f"the site is taken to lie at {where}"))
    between = ground_words(plan, notation)
    if between is not None:
        lines.append(sentence(f"ground between the shots: {between}"))
    tied = tie_words(plan, notation)
    if tied is not None and plan.book.ground_table is not None:
        lines.append(sentence(f"table of ground points {plan.book.ground_table.file}: {tied}"))
    for array in job.arrays:
        lines += _array_assumed(array, notation)
    lines += _footing_assumed(job, notation)
    return tuple(lines)


def _grid_turned(plan: Plan) -> str:
    """Return how far grid north lies from true north, from which arrays face; empty on true axes."""
    turned = axes_north(plan)
    if not turned:
        return ""
    side = "east" if turned > 0.0 else "west"
    return f", {degrees(abs(turned), 2)} {side} of true north; facings count from true north"


def _array_assumed(array: ArrayJob, notation: Notation) -> list[str]:
    words, small = notation.words, notation.small_words
    fit, frame, design = array.fit, array.frame, array.array
    name = f"{array.name}: " if array.name else ""
    highest = (
        "" if fit.highest_m is None else f", nothing higher than {words(fit.highest_m)} above the ground"
    )
    aim = "least steel" if fit.least == "steel" else "the lowest tallest post"
    return [
        f"{name}{design.modules_along} × {design.modules_up} modules of {words(design.module_along_m)} "
        f"along by {words(design.module_up_m)} up; beams {', '.join(words(q) for q in frame.beams_at_m)} up "
        f"the rail from the modules' low edge; stack {small(frame.stack_m)}, takeout "
        f"{small(frame.takeout_m)}.",
        f"{name}Limits: above-grade length {words(fit.above_grade_min_m)} to "
        f"{words(fit.above_grade_max_m)}, clearance at least {words(fit.clearance_m)}{highest}. Within "
        f"them: {aim}.",
        *_sections_assumed(array, notation),
    ]


def _sections_assumed(array: ArrayJob, notation: Notation) -> list[str]:
    """Return what was asked of the parting into sections; nothing of an array of one plane."""
    fit = array.fit
    if not fit.stepped:
        return []
    name = f"{array.name}: " if array.name else ""
    if fit.break_after is not None:
        lines = ", ".join(map(str, fit.break_after))
        asked = (
            f"after line {lines} of the modules from the left"
            if len(fit.break_after) == 1
            else (f"after lines {lines} of the modules from the left")
        )
    elif fit.sections == "auto":
        asked = "into the fewest sections that fit, where that is best"
    else:
        asked = f"into {fit.sections} sections, where that is best"
    step = "any step" if fit.step_max_m is None else f"steps of at most {notation.words(fit.step_max_m)}"
    gap = notation.words(fit.section_gap_m)
    return [f"{name}The array is parted {asked}; gaps of at least {gap}, {step}."]


def _footing_assumed(job: Job, notation: Notation) -> list[str]:
    lines = []
    footing = job.footing
    if footing is not None:
        words = notation.words
        frost = "" if footing.frost_depth_m is None else f", frost depth {words(footing.frost_depth_m)}"
        lines.append(
            f"Footing as given, not checked for strength: hole {words(footing.hole_diameter_m)} across, "
            f"embedment {words(footing.embedment_m)}, bottom cover "
            f"{notation.small_words(footing.bottom_cover_m)}{frost}."
        )
    if job.pipe is not None:
        stock = ", ".join(dict.fromkeys(notation.words(stick.length_m) for stick in job.pipe.stock))
        lines.append(
            f"Pipe: sticks of {stock}; kerf {notation.small_words(job.pipe.kerf_m)}; {job.pipe.joint} "
            f"joints, at least {notation.small_words(job.pipe.joint_clear_m)} from posts and rails."
        )
    return lines
