"""The whole flow on one page: a field book in, one frozen Plan out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from staking.base.errors import Mistake, WrongInput
from staking.base.units import format_length
from staking.book.records import ArrayJob, FieldBook, Job
from staking.clearances import Clearances, Standing, clearance_remarks, clearances
from staking.control.adjusting import Worked, worked
from staking.control.adjustment import Adjustment, Points
from staking.ground.doubts import Doubts, doubting, ground_doubts
from staking.ground.yard import YardGround, fitted_ground, ground_of_table, spans_ground
from staking.layout.braces import Braced, braced
from staking.layout.fitting import fitted
from staking.layout.frame import Conflict, Fit, NoPlaneFits, Piers
from staking.layout.piers import a1_places, beam_letter, pier_order, piers_at
from staking.layout.place import place_ahead, placed_position
from staking.layout.shape import shape_of
from staking.marks.pins import usable_pins
from staking.marks.stakeout import StakeOut
from staking.marks.yard import stake_out
from staking.ordering import Ordered, certainties
from staking.pipes.certainty import Certainty
from staking.pipes.cutlist import BeamToCut, CannotCut, CutList, Piece
from staking.pipes.cutting import cut
from staking.pipes.holes import Hole, holes
from staking.pipes.posts import pieces_of
from staking.pipes.record import Record, record_of
from staking.pipes.sizes import pipe_size
from staking.pipes.stock import with_sticks_on_hand_paid
from staking.place_asked import place_remarks
from staking.remarks import (
    array_remarks,
    brace_remarks,
    design_remarks,
    ground_remarks,
    stake_remarks,
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

SETTLED_M = 1e-5
"""A stake's place has settled when it moves less than this from one fit to the next."""
MOST_FITS = 12
"""Fits until the stakes' places and the plane agree; each shrinks the difference a hundredfold."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArrayPlan:
    """One array, planned."""

    name: str
    """Empty when there is only one."""
    job: ArrayJob
    fit: Fit
    holes: tuple[Hole, ...]
    stakeout: StakeOut
    braced: Braced = field(default_factory=Braced)

    def pier_name(self, pier: str) -> str:
        """Return a pier's name in the whole job: with several arrays ``name-A1``."""
        return _whole_name(self.name, pier)

    def beam_name(self, letter: str) -> str:
        """Return a beam's name in the cut list: ``beam A``, with several arrays ``beam name-A``."""
        return f"beam {self.pier_name(letter)}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """Everything that sheets and files are made from."""

    book: FieldBook
    adjustment: Adjustment
    ground: YardGround | None
    arrays: tuple[ArrayPlan, ...]
    """Empty when no layout meets the limits, or for a survey alone."""
    cuts: CutList | None
    clearances: Clearances = field(default_factory=Clearances)
    """What the layout keeps from lines, areas and trees."""
    shading: Shading = field(default_factory=Shading)
    """What several arrays do to one another."""
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
    if spans_ground(adjustment.points):
        ground = fitted_ground(
            adjustment.points,
            lines=book.lines,
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


def planned(book: FieldBook) -> Plan:
    """Do the whole job: adjust, model the ground, fit the arrays, dig, mark and cut.

    When no plane meets the limits the plan has no arrays, and says which limit fails where and what would do.

    Raises
    ------
    WrongInput
        When the survey cannot be adjusted, the frame cannot be built, a post does not go into its hole, or
        the pieces cannot be cut from the stock.
    """
    job = book.job
    names = frozenset(pier_places(job, None)) | {row.pier for row in book.staked}
    survey = worked(book, pier_names=names)
    adjustment = survey.adjustment
    of_survey = _survey_warnings(book, adjustment)
    placed = {array.name: placed_position(array.place, adjustment.points) for array in job.arrays}
    try:
        fits, ground = _fits(book, adjustment.points, placed)
    except _NotFitted as trouble:
        doubts = _doubts(book, adjustment, trouble.ground)
        return Plan(
            book=book,
            adjustment=doubting(adjustment, doubts),
            ground=trouble.ground,
            arrays=(),
            cuts=None,
            worked=survey,
            conflicts=trouble.conflicts,
            would_do=trouble.would_do,
            warnings=(*of_survey, *ground_remarks(book, trouble.ground, doubts, adjustment.points)),
        )
    meeting = _holes_meeting(job, fits)
    crossing = overlaps(
        [(array.name, fit.modules_outline_en_m) for array, fit in zip(job.arrays, fits, strict=True)]
    )
    doubts = _doubts(book, adjustment, ground)
    adjustment = doubting(adjustment, doubts)
    arrays = tuple(
        _array_plan(book, adjustment, ground, array, fit) for array, fit in zip(job.arrays, fits, strict=True)
    )
    shade = shading(
        book,
        [(array.job, array.fit) for array in arrays],
        placed=placed,
        ahead={array.name: place_ahead(array.place, adjustment.points) for array in job.arrays},
        ground=ground,
    )
    pieces = _pieces(job, arrays)
    cuts = _cuts(job, arrays, pieces)
    order = _order(job, ground, arrays, placed, pieces, cuts)
    kept = clearances(
        book,
        adjustment.points,
        [Standing(name=a.name, job=a.job, fit=a.fit, stakeout=a.stakeout) for a in arrays],
        stick_m=_longest_stick(job, arrays),
        ground=ground.z,
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
        worked=survey,
        warnings=(
            *of_survey,
            *ground_remarks(book, ground, doubts, adjustment.points),
            *(warning for array in arrays for warning in _array_warnings(book, array, ground)),
            *overlap_remarks(crossing, job.site.show),
            *hole_remarks(meeting, job.footing, job.site.show),
            *(() if cuts is None else cuts.warnings),
            *clearance_remarks(book, kept, job.site.show),
            *shading_remarks(shade, job.site.show),
        ),
    )


class _NotFitted(Exception):
    """No plane fits for at least one array; carries what is known all the same."""

    def __init__(self, ground: YardGround, troubles: Iterable[NoPlaneFits]) -> None:
        self.ground = ground
        self.conflicts = tuple(conflict for one in troubles for conflict in one.conflicts)
        self.would_do = tuple(remedy for one in troubles for remedy in one.would_do)


def _survey_warnings(book: FieldBook, adjustment: Adjustment) -> tuple[str, ...]:
    return (
        *survey_remarks(adjustment),
        *book.warnings,
        *adjustment.warnings,
        *place_remarks(book),
        *design_remarks(book.job),
    )


def _array_warnings(book: FieldBook, array: ArrayPlan, ground: YardGround) -> tuple[str, ...]:
    job = book.job
    seen, staked = ground.for_array(array.name), frozenset(_key(row.pier) for row in book.staked)
    texts = (
        *stake_remarks(array.name, array.fit, seen, staked=staked, style=job.site.show),
        *array_remarks(array.fit, array.holes, job.footing, seen, style=job.site.show),
        *array.stakeout.warnings,
        *brace_remarks(array.braced),
    )
    return tuple(f"array {array.name}: {text}" for text in texts) if array.name else texts


def _whole_name(array: str, pier: str) -> str:
    return f"{array}-{pier}" if array else pier


def _key(name: str) -> str:
    return name.strip().casefold()


def names_of_piers(job: Job) -> tuple[frozenset[str], tuple[str, ...]]:
    """Return the piers' names for a survey alone, and what is wrong with the frame: that does not stop it."""
    try:
        return frozenset(pier_places(job, None)), ()
    except WrongInput as error:
        names = {
            _whole_name(array.name, f"{beam_letter(beam)}{number}")
            for array in job.arrays
            for beam in range(len(array.frame.beams_at_m))
            for number in range(1, (array.frame.piers_per_beam or 0) + 1)
        }
        return frozenset(names), tuple(f"the plan will stop at: {mistake}" for mistake in error.mistakes)


def pier_places(job: Job, placed: Mapping[str, tuple[float, float]] | None) -> dict[str, tuple[float, float]]:
    """Return where each pier stands with level beams, by whole name; at 0, 0 without a place."""
    places: dict[str, tuple[float, float]] = {}
    mistakes: list[Mistake] = []
    for array in job.arrays:
        try:
            shape = shape_of(array, style=job.site.show)
        except WrongInput as error:
            mistakes += error.mistakes
            continue
        names, _, _ = pier_order(shape)
        known = {_key(name): i for i, name in enumerate(names)}
        at = (0.0, 0.0) if placed is None else placed[array.name]
        a1 = a1_places(shape, 0.0, known.get(_key(array.place.pier), 0), at)
        piers = piers_at(shape, 0.0, (float(a1[0]), float(a1[1])))
        places |= _by_name(array.name, piers)
    if mistakes:
        raise WrongInput(mistakes)
    return places


def _by_name(array: str, piers: Piers) -> dict[str, tuple[float, float]]:
    return {
        _whole_name(array, name): (float(east), float(north))
        for name, (east, north) in zip(piers.names, piers.en_m, strict=True)
    }


def _fits(
    book: FieldBook, points: Points, placed: Mapping[str, tuple[float, float]]
) -> tuple[tuple[Fit, ...], YardGround]:
    """Fit every array; where stakes stand at the design, fit until design and stakes agree.

    With sloping beams the bay in plan shrinks with the cross-slope, so the places of the stakes, the ground
    shot there and the plane depend on one another.
    """
    set_out = {_key(row.pier): (row.east_m, row.north_m) for row in book.staked}
    places = pier_places(book.job, placed)
    table = ground_of_table(book.ground_table, points)
    for _ in range(MOST_FITS):
        # The stake of a pier that the design no longer has is an ordinary point of the ground.
        stakes = set_out | {_key(name): set_out.get(_key(name), place) for name, place in places.items()}
        ground = fitted_ground(points, stakes, book.lines, asked=book.job.ground.asked_surface, table=table)
        fits: list[Fit] = []
        troubles: list[NoPlaneFits] = []
        for array in book.job.arrays:
            try:
                fits.append(
                    fitted(
                        array,
                        placed_en_m=placed[array.name],
                        ground=ground.for_array(array.name),
                        accuracy=book.job.accuracy,
                        style=book.job.site.show,
                        ahead=place_ahead(array.place, points),
                    )
                )
            except NoPlaneFits as trouble:
                troubles.append(trouble)
        if troubles:
            raise _NotFitted(ground, troubles)
        now = {
            name: place
            for array, fit in zip(book.job.arrays, fits, strict=True)
            for name, place in _by_name(array.name, fit.piers).items()
        }
        moved = max(np.hypot(*np.subtract(now[name], places[name])) for name in places)
        if moved < SETTLED_M or not ground.shots.stakes:
            break
        places = now
    return tuple(fits), ground


def _holes_meeting(job: Job, fits: tuple[Fit, ...]) -> tuple[HolesMeet, ...]:
    """Return the holes that overlap or meet; between two arrays that cannot be dug.

    Raises
    ------
    WrongInput
        Where holes of two arrays meet.
    """
    if job.footing is None:
        return ()
    across_m = job.footing.hole_diameter_m
    placed = [(array.name, fit) for array, fit in zip(job.arrays, fits, strict=True)]
    meeting = holes_meeting(placed, across_m)
    counts = Counter({name: len(fit.piers.names) for name, fit in placed})
    mistakes = hole_mistakes(meeting, counts, across_m, job.site.show)
    if mistakes:
        raise WrongInput(mistakes)
    return meeting


def _array_plan(
    book: FieldBook, adjustment: Adjustment, ground: YardGround, array: ArrayJob, fit: Fit
) -> ArrayPlan:
    job = book.job
    seen = ground.for_array(array.name)
    pins, baseline = usable_pins(book, adjustment, place=array.place)
    style = job.site.show
    stakeout = stake_out(
        fit,
        points=adjustment.points,
        pins=pins,
        baseline=baseline,
        ground=seen,
        accuracy=job.accuracy,
        stakes=job.stakes,
        hole_diameter_m=None if job.footing is None else job.footing.hole_diameter_m,
        lost=tuple(row.point for row in book.lost),
        show=lambda length_m: format_length(length_m, style=style),
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
        dug = holes(fit, job.footing, job.pipe, seen, od_m)
    return ArrayPlan(
        name=array.name, job=array, fit=fit, holes=dug, stakeout=stakeout, braced=braced(fit, job.braces)
    )


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
            array.fit, array.holes, array.job.frame, array_name=array.name, style=job.site.show
        )
        posts += more_posts
        beams += more_beams
    return posts, beams


def _cuts(
    job: Job, arrays: tuple[ArrayPlan, ...], pieces: tuple[list[Piece], list[BeamToCut]]
) -> CutList | None:
    if job.pipe is None or any(not array.holes for array in arrays):
        return None
    try:
        return cut(*pieces, with_sticks_on_hand_paid(job.pipe), style=job.site.show)
    except CannotCut as error:
        raise WrongInput(
            [Mistake(file="job.toml", column="pipe.stock", problem=reason) for reason in error.reasons]
        ) from None


def _order(
    job: Job,
    ground: YardGround,
    arrays: tuple[ArrayPlan, ...],
    placed: Mapping[str, tuple[float, float]],
    pieces: tuple[list[Piece], list[BeamToCut]],
    cuts: CutList | None,
) -> tuple[Certainty, ...] | None:
    if cuts is None or job.pipe is None:
        return None
    ordered = [
        Ordered(
            name=array.name, job=array.job, fit=array.fit, holes=array.holes, placed_en_m=placed[array.name]
        )
        for array in arrays
    ]
    return certainties(job, with_sticks_on_hand_paid(job.pipe), ground, ordered, *pieces, cuts)
