"""The whole flow on one page: a field book in, one frozen Plan out."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from functools import partial

from staking.base.errors import Mistake, WrongInput
from staking.base.units import format_length, told_small
from staking.book.records import ArrayJob, FieldBook, Footing, Job, Pipe
from staking.clearances import Clearances, Standing, clearance_remarks, clearances
from staking.control.adjusting import Worked, worked
from staking.control.adjustment import Adjustment
from staking.control.kinds import key_of
from staking.far_off import refuse_far
from staking.ground.doubts import Doubts, doubting, ground_doubts
from staking.ground.elevations import Elevations
from staking.ground.yard import YardGround, fitted_ground, ground_of_table, spans_ground
from staking.laying import NotFitted, all_laid_out, every_pier_name, names_of_piers, set_out
from staking.layout.braces import Braced, braced
from staking.layout.fitting import as_sure_as
from staking.layout.frame import Conflict, Fit
from staking.layout.piers import called_in_full, whole_name
from staking.layout.place import place_ahead, placed_position
from staking.layout.rail_cost import rail_cost
from staking.layout.stepped import SectionFit
from staking.marks.pins import usable_pins
from staking.marks.squareness import across_gap, over_all
from staking.marks.stakeout import Side, StakeOut
from staking.marks.yard import stake_out
from staking.ordering import Ordered, certainties
from staking.pipes.certainty import Certainty
from staking.pipes.cutlist import BeamToCut, CannotCut, CutList, Piece
from staking.pipes.from_store import cut_from_store
from staking.pipes.holes import Hole, holes, with_depth
from staking.pipes.posts import pieces_of
from staking.pipes.record import Record, record_of
from staking.pipes.recut import cut_again
from staking.pipes.sizes import pipe_size
from staking.pipes.stock import with_sticks_on_hand_paid
from staking.place_asked import place_remarks
from staking.remarks import (
    array_remarks,
    brace_remarks,
    design_remarks,
    ground_remarks,
    parting_remarks,
    rail_remarks,
    stake_remarks,
    stakes_stay_remarks,
    survey_remarks,
)
from staking.same_ground import (
    HolesMeet,
    Overlap,
    hole_mistakes,
    hole_remarks,
    holes_meeting,
    overlap_remarks,
    overlaps,
)
from staking.shading import Shading, shading, shading_remarks
from staking.siting import Sited, siting_remarks, with_places
from staking.step_needs import Counted, with_needs
from staking.tilting import Tilted, tilting_remarks, with_tilts
from staking.usual import row_remarks, unused_remarks


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArrayPlan:
    """One array, planned; of a stepped array one section, which has its own piers, plane and beams."""

    name: str
    """Empty when there is only one."""
    job: ArrayJob
    fit: Fit
    holes: tuple[Hole, ...]
    stakeout: StakeOut
    braced: Braced = field(default_factory=Braced)
    gap_m: float | None = None
    """Level distance from the modules of the section to its left; None where there is none."""
    step_m: float | None = None
    """What the section's beams stand above those of the section to its left, in the middle of the gap."""
    across: tuple[Side, ...] = ()
    """From the last stakes of the section to its left to the first of this one."""
    over_all: tuple[Side, ...] = ()
    """Of the last section: sides and diagonals over all of them."""

    @property
    def stepped(self) -> bool:
        """Whether this is one section of several."""
        return self.job.sections > 1

    @property
    def title(self) -> str:
        """The array's name, and which section of it this is; empty for the only one."""
        return _titled(self.job)

    def pier_name(self, pier: str) -> str:
        """Return a pier's name in the whole job: with several arrays ``name-A1``."""
        return whole_name(self.name, pier)

    @property
    def fit_in_full(self) -> Fit:
        """The array laid out, its piers named as in the whole job."""
        return called_in_full(self.fit, self.name)

    def beam_letter(self, letter: str) -> str:
        """Return a beam's letter with the section it lies in, where there are several: ``A.2``."""
        return f"{letter}.{self.job.section}" if self.stepped else letter

    def beam_name(self, letter: str) -> str:
        """Return a beam's name in the cut list: ``beam A``, ``beam name-A``, ``beam A.2`` of section 2."""
        return f"beam {self.pier_name(self.beam_letter(letter))}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """Everything that sheets and files are made from."""

    book: FieldBook
    adjustment: Adjustment
    ground: YardGround | None
    arrays: tuple[ArrayPlan, ...]
    """From the left the sections of each array, most have one; empty when no layout meets the limits, or for
    a survey alone."""
    cuts: CutList | None
    clearances: Clearances = field(default_factory=Clearances)
    """What the layout keeps from lines, areas and trees."""
    shading: Shading = field(default_factory=Shading)
    """What several arrays do to one another."""
    sited: tuple[Sited, ...] = ()
    """Arrays that were given an area, and the place found in it; the book's job has it written in."""
    tilted: tuple[Tilted, ...] = ()
    """Arrays whose tilt was open, and the one that was found; the book's job has it written in."""
    overlaps: tuple[Overlap, ...] = ()
    """Arrays whose modules lie over the same ground."""
    worked: Worked | None = None
    """The survey with its equations, for what looks ahead; None in a plan that no survey was adjusted for."""
    order: tuple[Certainty, ...] | None = None
    """How sure the order of pipe is before the survey is final; None where that does not apply."""
    conflicts: tuple[Conflict, ...] = ()
    would_do: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    def record(self) -> Record | None:
        """Return what the whole job comes to; None where nothing is cut."""
        if self.cuts is None:
            return None
        return record_of(self.book.job, [(one.job, one.fit, one.holes) for one in self.arrays], self.cuts)


def surveyed(book: FieldBook) -> Plan:
    """Adjust the survey alone, and model the ground where there are shots enough.

    Raises
    ------
    WrongInput
        When the survey cannot be adjusted.
    """
    names, frame_remarks = names_of_piers(book.job)
    survey = worked(book, pier_names=names | {row.pier for row in book.staked})
    adjustment = survey.adjustment
    ground: YardGround | None = None
    if spans_ground(adjustment.points, set_out(book)):
        ground = fitted_ground(
            adjustment.points,
            set_out(book),
            book.lines,
            asked=book.job.ground.asked_surface,
            table=ground_of_table(book.ground_table, adjustment.points),
        )
    doubts = _doubts(book, adjustment, ground)
    return Plan(
        book=book,
        adjustment=doubting(adjustment, doubts),
        ground=ground,
        arrays=(),
        cuts=None,
        worked=survey,
        warnings=(
            *_survey_warnings(book, adjustment),
            *ground_remarks(book, ground, doubts, adjustment.points),
            *frame_remarks,
        ),
    )


def _doubts(book: FieldBook, adjustment: Adjustment, ground: YardGround | None) -> Doubts:
    return Doubts() if ground is None else ground_doubts(book, adjustment, ground.shots, ground.statistical)


def _under_piers(ground: YardGround, one: SectionFit) -> Elevations:
    return ground.for_array(one.job.name).at_piers(one.fit.piers.names, one.fit.piers.en_m)


def planned(book: FieldBook) -> Plan:
    """Do the whole job: adjust, model the ground, fit the arrays, dig, mark and cut.

    When no plane meets the limits the plan has no arrays, and says which limit fails where and what would do.

    Raises
    ------
    WrongInput
        When the survey cannot be adjusted, the frame cannot be built, a post does not go into its hole, or
        the pieces cannot be cut from the stock.
    """
    names = every_pier_name(book.job) | {row.pier for row in book.staked}
    survey = worked(book, pier_names=names)
    adjustment = survey.adjustment
    refuse_far(book, adjustment.points)
    of_survey = _survey_warnings(book, adjustment)
    try:
        return _planned_on(book, survey, of_survey)
    except WrongInput as wrong:
        # What is asked about the survey and the design may be what is wrong: an embedment of 48 ft.
        raise WrongInput(wrong.mistakes, asked=(*of_survey, *wrong.asked)) from None


def _planned_on(book: FieldBook, survey: Worked, of_survey: tuple[str, ...]) -> Plan:
    """Return the plan on an adjusted survey, with what was said of that."""
    adjustment = survey.adjustment
    try:
        book, tilted = with_tilts(book, adjustment.points)
        book, sited = with_places(book, adjustment.points)
        if sited:
            refuse_far(book, adjustment.points)
        job = book.job
        placed = {array.name: placed_position(array.place, adjustment.points) for array in job.arrays}
        fits, ground = all_laid_out(book, adjustment.points, placed)
    except NotFitted as trouble:
        doubts = _doubts(book, adjustment, trouble.ground)
        return Plan(
            book=book,
            adjustment=doubting(adjustment, doubts),
            ground=trouble.ground,
            arrays=(),
            cuts=None,
            worked=survey,
            conflicts=trouble.conflicts,
            would_do=with_needs(book, trouble.would_do, partial(_counted, adjustment=adjustment)),
            warnings=(
                *of_survey,
                *stakes_stay_remarks(book, trouble.ground),
                *ground_remarks(book, trouble.ground, doubts, adjustment.points),
            ),
        )
    doubts = _doubts(book, adjustment, ground)
    if doubts.names & ground.shots.stakes.keys():
        # The plane stays where it is: only how sure the lengths at these piers are is another.
        ground = ground.doubting(doubts.off_m2)
        fits = tuple(replace(one, fit=as_sure_as(one.fit, _under_piers(ground, one))) for one in fits)
    meeting = _holes_meeting(job, fits)
    crossing = overlaps([(_titled(one.job), one.fit.plan_outline_en_m) for one in fits])
    adjustment = doubting(adjustment, doubts)
    arrays = _with_lengths_across(tuple(_array_plan(book, adjustment, ground, section) for section in fits))
    shade = shading(
        book,
        [(array.job, array.fit) for array in arrays],
        placed=placed,
        ahead={array.name: place_ahead(array.place, adjustment.points) for array in job.arrays},
        ground=ground,
    )
    pieces = _pieces(job, arrays)
    cuts = _cuts(book, arrays, pieces)
    order = None if book.sawn else _order(job, ground, arrays, fits, pieces, cuts)
    kept = clearances(
        book,
        adjustment.points,
        [Standing(name=a.name, title=a.title, job=a.job, fit=a.fit) for a in arrays],
        stick_m=_longest_stick(job, arrays),
        ground=ground,
    )
    return Plan(
        book=book,
        adjustment=adjustment,
        ground=ground,
        arrays=arrays,
        cuts=cuts,
        order=order,
        clearances=kept,
        shading=shade,
        overlaps=crossing,
        sited=sited,
        tilted=tilted,
        worked=survey,
        warnings=(
            *of_survey,
            *ground_remarks(book, ground, doubts, adjustment.points),
            *(warning for array in arrays for warning in _array_warnings(book, array, ground)),
            *overlap_remarks(crossing, job.site.show),
            *hole_remarks(meeting, job.footing, job.site.show),
            *(
                text
                for one in fits
                for text in rail_remarks(
                    one.job,
                    rail_cost(
                        one.job,
                        placed_en_m=one.placed_en_m,
                        ground=ground.for_array(one.job.name),
                        style=job.site.show,
                    ),
                    job.site.show,
                )
            ),
            *tilting_remarks(tilted),
            *siting_remarks(sited, job.site.show),
            *parting_remarks(job, [(a.job, a.fit_in_full, a.stakeout) for a in arrays]),
            *(() if cuts is None else cuts.warnings),
            *clearance_remarks(book, kept, job.site.show),
            *shading_remarks(shade, job.site.show),
        ),
    )


def _counted(book: FieldBook, *, adjustment: Adjustment) -> Counted | None:
    """Return what the layout of a changed book takes; None where it cannot be laid out or cut."""
    job, points = book.job, adjustment.points
    try:
        placed = {array.name: placed_position(array.place, points) for array in job.arrays}
        fits, ground = all_laid_out(book, points, placed)
        arrays = tuple(_array_plan(book, adjustment, ground, section) for section in fits)
        cuts = None if book.sawn else _cuts(book, arrays, _pieces(job, arrays))
    except (NotFitted, WrongInput, CannotCut):
        return None
    return Counted(
        piers=sum(len(one.fit.piers.names) for one in arrays), sticks=None if cuts is None else cuts.count
    )


def _survey_warnings(book: FieldBook, adjustment: Adjustment) -> tuple[str, ...]:
    return (
        *survey_remarks(adjustment),
        *book.warnings,
        *adjustment.warnings,
        *place_remarks(book),
        *design_remarks(book.job),
        *row_remarks(book),
        *unused_remarks(book),
    )


def _array_warnings(book: FieldBook, array: ArrayPlan, ground: YardGround) -> tuple[str, ...]:
    job = book.job
    seen, staked = ground.for_array(array.name), frozenset(key_of(row.pier) for row in book.staked)
    section = f"section {array.job.section}" if array.stepped else ""
    texts = (
        *stake_remarks(array.name, array.fit, seen, staked=staked, style=job.site.show),
        *array_remarks(array.name, array.fit, array.holes, job.footing, seen, style=job.site.show),
        *array.stakeout.warnings,
        *brace_remarks(array.braced),
    )
    front = ", ".join([*(["array " + array.name] if array.name else []), *([section] if section else [])])
    return tuple(f"{front}: {text}" for text in texts) if front else texts


def _titled(job: ArrayJob) -> str:
    section = f"section {job.section}" if job.sections > 1 else ""
    return ", ".join(part for part in (job.name, section) if part)


def _with_lengths_across(arrays: tuple[ArrayPlan, ...]) -> tuple[ArrayPlan, ...]:
    """Return the plans with what proves each section square with its neighbour and with all of its array."""
    found: list[ArrayPlan] = []
    for k, one in enumerate(arrays):
        if one.job.section == 1:
            found.append(one)
            continue
        first, mine = arrays[k - one.job.section + 1].fit_in_full, one.fit_in_full
        last = one.job.section == one.job.sections
        found.append(
            replace(
                one,
                across=across_gap(arrays[k - 1].fit_in_full, mine),
                over_all=over_all(first, mine) if last else (),
            )
        )
    return tuple(found)


def _holes_meeting(job: Job, sections: tuple[SectionFit, ...]) -> tuple[HolesMeet, ...]:
    """Return the holes that overlap or meet; between two arrays that cannot be dug.

    Raises
    ------
    WrongInput
        Where holes of two arrays meet.
    """
    if job.footing is None:
        return ()
    across_m = job.footing.hole_diameter_m
    placed = [(one.job.name, one.fit) for one in sections]
    meeting = holes_meeting(placed, across_m)
    counts = Counter(name for name, fit in placed for _ in fit.piers.names)
    mistakes = hole_mistakes(meeting, counts, across_m, job.site.show)
    if mistakes:
        raise WrongInput(mistakes)
    return meeting


def _array_plan(
    book: FieldBook, adjustment: Adjustment, ground: YardGround, section: SectionFit
) -> ArrayPlan:
    job, array, fit = book.job, section.job, section.fit
    seen = ground.for_array(array.name)
    pins, baseline = usable_pins(book, adjustment, place=array.place)
    style = job.site.show
    in_full = called_in_full(fit, array.name)
    stakeout = stake_out(
        in_full,
        points=adjustment.points,
        pins=pins,
        baseline=baseline,
        ground=seen,
        accuracy=job.accuracy,
        stakes=job.stakes,
        hole_diameter_m=None if job.footing is None else job.footing.hole_diameter_m,
        lost=tuple(row.point for row in book.lost),
        show=lambda length_m: format_length(length_m, style=style),
        before_m=section.along_m,
    )
    dug: tuple[Hole, ...] = ()
    if job.footing is not None and job.pipe is not None:
        od_m = post_od_m(array)
        if od_m >= job.footing.hole_diameter_m:
            told = format_length(od_m, style=style)
            raise WrongInput(
                [
                    Mistake(
                        file="job.toml",
                        column="footing.hole_diameter",
                        read=format_length(job.footing.hole_diameter_m, style=style),
                        problem=f"the post does not go into the hole: its outside diameter is {told}",
                        remedy="Check the hole's diameter and frame.post_pipe",
                    )
                ]
            )
        drawn = holes(fit, job.footing, job.pipe, seen, od_m)
        dug = _as_dug(book, array.name, drawn, job.footing, job.pipe, od_m)
    return ArrayPlan(
        name=array.name,
        job=array,
        fit=fit,
        holes=dug,
        stakeout=stakeout,
        braced=braced(in_full, job.braces),
        gap_m=section.gap_m,
        step_m=section.step_m,
    )


def _as_dug(
    book: FieldBook,
    array: str,
    planned_holes: tuple[Hole, ...],
    footing: Footing,
    pipe: Pipe,
    od_m: float,
) -> tuple[Hole, ...]:
    """Return the holes with the depths of ``sawn.csv``, and the posts that are not sawn yet for them."""
    depths = {key_of(row.piece): row for row in book.sawn if row.piece and row.hole_depth_m is not None}
    sawn = {key_of(row.piece): row.length_m for row in book.sawn if row.piece and row.state == "sawn"}
    dug, mistakes = [], []
    for hole in planned_holes:
        key = key_of(whole_name(array, hole.pier))
        row = depths.get(key)
        if row is None or row.hole_depth_m is None:
            dug.append(hole)
            continue
        try:
            dug.append(
                with_depth(
                    hole,
                    row.hole_depth_m,
                    footing,
                    post_od_m=od_m,
                    allowance_m=pipe.cut_allowance_m,
                    sawn_m=sawn.get(key),
                )
            )
        except ValueError as error:
            mistakes.append(
                Mistake(
                    file=row.table,
                    row=row.row,
                    column="hole_depth",
                    read=row.read.get("hole_depth"),
                    problem=str(error),
                    remedy="Dig deeper, or ask the engineer",
                )
            )
    if mistakes:
        raise WrongInput(mistakes)
    return tuple(dug)


def post_od_m(array: ArrayJob) -> float:
    """Return the outside diameter of an array's posts, metres."""
    frame = array.frame
    if frame.post_od_m is not None:
        return frame.post_od_m
    if frame.post_pipe is None:
        raise WrongInput(
            [
                Mistake(
                    file="job.toml",
                    column="frame.post_pipe",
                    problem="missing",
                    expected='a pipe such as "NPS 2 sch 40", or post_od with the outside diameter',
                )
            ]
        )
    try:
        return pipe_size(frame.post_pipe).od_m
    except ValueError as error:
        raise WrongInput(
            [
                Mistake(
                    file="job.toml",
                    column="frame.post_pipe",
                    read=frame.post_pipe,
                    problem=str(error),
                    remedy="Or give post_od, its outside diameter",
                )
            ]
        ) from None


def _longest_stick(job: Job, arrays: tuple[ArrayPlan, ...]) -> float:
    """Return the longest pipe that may be stood up: a stick as bought, or a post where none is given."""
    sticks = () if job.pipe is None else job.pipe.stock
    posts = [hole.post_length_m for array in arrays for hole in array.holes]
    return max([*(stick.length_m for stick in sticks), *posts], default=0.0)


def _pieces(job: Job, arrays: tuple[ArrayPlan, ...]) -> tuple[list[Piece], list[BeamToCut]]:
    posts: list[Piece] = []
    beams: list[BeamToCut] = []
    for array in arrays:
        more_posts, more_beams = pieces_of(
            array.fit,
            array.holes,
            array.job.frame,
            pier_name=array.pier_name,
            beam_name=array.beam_name,
            style=job.site.show,
        )
        posts += more_posts
        beams += more_beams
    return posts, beams


def _cuts(
    book: FieldBook, arrays: tuple[ArrayPlan, ...], pieces: tuple[list[Piece], list[BeamToCut]]
) -> CutList | None:
    job = book.job
    if job.pipe is None or any(not array.holes for array in arrays):
        return None
    pipe, style = with_sticks_on_hand_paid(job.pipe), job.site.show
    try:
        if book.sawn:
            show = partial(told_small, style=style)
            return cut_again(book.sawn, *pieces, pipe, show=show, style=style)
        return cut_from_store(*pieces, pipe, style=style)
    except CannotCut as error:
        raise WrongInput(
            [Mistake(file="job.toml", column="pipe.stock", problem=reason) for reason in error.reasons]
        ) from None


def _order(
    job: Job,
    ground: YardGround,
    arrays: tuple[ArrayPlan, ...],
    sections: tuple[SectionFit, ...],
    pieces: tuple[list[Piece], list[BeamToCut]],
    cuts: CutList | None,
) -> tuple[Certainty, ...] | None:
    if cuts is None or job.pipe is None:
        return None
    ordered = [
        Ordered(
            name=array.name,
            job=array.job,
            fit=array.fit,
            holes=array.holes,
            placed_en_m=section.placed_en_m,
            raised_m=section.raised_m,
        )
        for array, section in zip(arrays, sections, strict=True)
    ]
    return certainties(job, with_sticks_on_hand_paid(job.pipe), ground, ordered, *pieces, cuts)
