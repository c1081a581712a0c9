"""Every array laid out on the ground of its shots, until design and stakes agree; what piers are called."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from staking.base.errors import Mistake, WrongInput
from staking.book.records import ArrayJob, FieldBook, Job
from staking.control.adjustment import Points
from staking.control.kinds import key_of
from staking.ground.yard import YardGround, fitted_ground, ground_of_table
from staking.layout.around import Around, Needs
from staking.layout.beside import taken_by
from staking.layout.frame import NoPlaneFits, Piers
from staking.layout.piers import beam_letter, whole_name
from staking.layout.place import place_ahead
from staking.layout.sections import most_piers, parting_of
from staking.layout.stepped import SectionFit, laid_out, level_piers, with_breaks
from staking.lines.obstacles import obstacles_of

SETTLED_M = 1e-5
"""A stake's place has settled when it moves less than this from one fit to the next."""
MOST_FITS = 12
"""Fits until the stakes' places and the plane agree; each shrinks the difference a hundredfold."""


class NotFitted(Exception):
    """No plane fits for at least one array; carries what is known all the same."""

    def __init__(self, ground: YardGround, troubles: Mapping[str, NoPlaneFits]) -> None:
        self.ground = ground
        self.conflicts = tuple(conflict for one in troubles.values() for conflict in one.conflicts)
        self.would_do = tuple(
            f"array {name}: {remedy}" if name else remedy
            for name, one in troubles.items()
            for remedy in one.would_do
        )


def names_of_piers(job: Job) -> tuple[frozenset[str], tuple[str, ...]]:
    """Return the piers' names for a survey alone, and what is wrong with the frame: that does not stop it.

    Of an array that is to be parted where it is best, every name that a parting could give.
    """
    try:
        return every_pier_name(job), ()
    except WrongInput as error:
        names = {
            whole_name(array.name, f"{beam_letter(beam)}{number}")
            for array in job.arrays
            for beam in range(len(array.frame.beams_at_m))
            for number in range(1, (array.frame.piers_per_beam or 0) + 1)
        }
        return frozenset(names), tuple(f"the plan will stop at: {mistake}" for mistake in error.mistakes)


def every_pier_name(job: Job) -> frozenset[str]:
    """Return the piers' names, of an array that is to be parted where it is best all that it could have.

    Raises
    ------
    WrongInput
        When a frame cannot be built.
    """
    return frozenset(pier_places(job, None)) | frozenset(
        whole_name(array.name, f"{beam_letter(beam)}{number}")
        for array in job.arrays
        if array.fit.stepped and array.fit.break_after is None
        for beam in range(len(array.frame.beams_at_m))
        for number in range(1, most_piers(parting_of(array, style=job.site.show)) + 1)
    )


def pier_places(job: Job, placed: Mapping[str, tuple[float, float]] | None) -> dict[str, tuple[float, float]]:
    """Return where each pier stands with level beams, by whole name; at 0, 0 without a place.

    An array that is to be parted where it is best is taken undivided: nothing says yet where that is.
    """
    places: dict[str, tuple[float, float]] = {}
    mistakes: list[Mistake] = []
    for array in job.arrays:
        at = (0.0, 0.0) if placed is None else placed[array.name]
        try:
            for piers in level_piers(array, placed_en_m=at, style=job.site.show):
                places |= _by_name(array.name, piers)
        except WrongInput as error:
            mistakes += error.mistakes
    if mistakes:
        raise WrongInput(mistakes)
    return places


def _by_name(array: str, piers: Piers) -> dict[str, tuple[float, float]]:
    return {
        whole_name(array, name): (float(east), float(north))
        for name, (east, north) in zip(piers.names, piers.en_m, strict=True)
    }


def set_out(book: FieldBook) -> dict[str, tuple[float, float]]:
    """Return where stakes were really set, by the pier's name in small letters."""
    return {key_of(row.pier): (row.east_m, row.north_m) for row in book.staked}


def refuse_stakes(book: FieldBook, points: Points, open_arrays: Mapping[str, str]) -> None:
    """Refuse shots at stakes that stand nobody knows where.

    Parameters
    ----------
    book, points
        The readings, and what came of them.
    open_arrays
        By the name of each array whose place or tilt is still to be found: the key that leaves it open.

    Raises
    ------
    WrongInput
        When a stake of one was shot, and ``staked.csv`` does not say where it was set.
    """
    stood = set_out(book)
    shot = {key_of(name) for name, at in zip(points.names, points.enz_m, strict=True) if np.isfinite(at[2])}
    mistakes = []
    for array in book.job.arrays:
        if array.name not in open_arrays:
            continue
        names = sorted(every_pier_name(replace(book.job, arrays=(array,))))
        unknown = [name for name in names if key_of(name) in shot and key_of(name) not in stood]
        if unknown:
            mistakes.append(
                Mistake(
                    file="job.toml",
                    column=open_arrays[array.name] + (f" of array {array.name}" if array.name else ""),
                    problem=f"stakes were shot ({', '.join(unknown)}), and nothing says where they stand "
                    "while this is to be found",
                    remedy="Write what they were set from instead, or copy its stakes.csv to staked.csv",
                )
            )
    if mistakes:
        raise WrongInput(mistakes)


def around_of(book: FieldBook, points: Points) -> dict[str, Around]:
    """Return, by array, the line of its place and what it must keep clear of."""
    obstacles, job = obstacles_of(book, points).placed, book.job
    sticks = () if job.pipe is None else job.pipe.stock
    needs = Needs(
        hole_m=0.0 if job.footing is None else job.footing.hole_diameter_m / 2,
        hub_m=job.stakes.offset_hub_m,
        stick_m=max((stick.length_m for stick in sticks), default=0.0),
    )
    return {
        array.name: Around(ahead=place_ahead(array.place, points), obstacles=obstacles, needs=needs)
        for array in job.arrays
    }


def beside_others(
    around: Mapping[str, Around], job: Job, placed: Mapping[str, tuple[float, float]]
) -> dict[str, Around]:
    """Return what lies round each array with all others, as they stand, among what it must keep clear of."""
    if len(job.arrays) == 1:
        return dict(around)
    taken = {
        array.name: taken_by(
            array,
            placed_en_m=placed[array.name],
            hole_m=around[array.name].needs.hole_m,
            style=job.site.show,
        )
        for array in job.arrays
    }
    return {
        name: replace(
            own,
            obstacles=(*own.obstacles, *(one for other in taken if other != name for one in taken[other])),
        )
        for name, own in around.items()
    }


def all_laid_out(
    book: FieldBook, points: Points, placed: Mapping[str, tuple[float, float]]
) -> tuple[tuple[SectionFit, ...], YardGround]:
    """Fit every array; where stakes stand at the design, fit until design and stakes agree.

    With sloping beams the bay in plan shrinks with the cross-slope, so the places of the stakes, the ground
    shot there and the plane depend on one another. Where an array is parted is settled first, on the ground
    of all shots whose place is known without it.
    """
    stood = set_out(book)
    job = _parted(book, points, placed, stood)
    places = pier_places(job, placed)
    table = ground_of_table(book.ground_table, points)
    around = beside_others(around_of(book, points), job, placed)
    for _ in range(MOST_FITS):
        # The stake of a pier that the design no longer has is an ordinary point of the ground.
        stakes = stood | {key_of(name): stood.get(key_of(name), place) for name, place in places.items()}
        ground = fitted_ground(points, stakes, book.lines, asked=book.job.ground.asked_surface, table=table)
        fits = _each_fitted(book, job, around, placed, ground)
        now = {
            name: place
            for section in fits
            for name, place in _by_name(section.job.name, section.fit.piers).items()
        }
        moved = max(np.hypot(*np.subtract(now[name], places[name])) for name in places)
        if moved < SETTLED_M or not ground.shots.stakes:
            break
        places = now
    return fits, ground


def _each_fitted(
    book: FieldBook,
    job: Job,
    around: Mapping[str, Around],
    placed: Mapping[str, tuple[float, float]],
    ground: YardGround,
) -> tuple[SectionFit, ...]:
    """Return every array's sections; raises NotFitted with the troubles of all that do not fit."""
    fits: list[SectionFit] = []
    troubles: dict[str, NoPlaneFits] = {}
    for array in job.arrays:
        try:
            fits += laid_out(
                array,
                placed_en_m=placed[array.name],
                ground=ground.for_array(array.name),
                accuracy=book.job.accuracy,
                style=job.site.show,
                around=around[array.name],
            )
        except NoPlaneFits as trouble:
            troubles[array.name] = trouble
    if troubles:
        raise NotFitted(ground, troubles)
    return tuple(fits)


def _parted(
    book: FieldBook,
    points: Points,
    placed: Mapping[str, tuple[float, float]],
    stood: Mapping[str, tuple[float, float]],
) -> Job:
    """Return the job with the best breaks written into every array that leaves them open."""
    job = book.job
    if not any(array.fit.stepped for array in job.arrays):
        return job
    around = beside_others(around_of(book, points), job, placed)
    table = ground_of_table(book.ground_table, points)
    ground = fitted_ground(points, stood, book.lines, asked=book.job.ground.asked_surface, table=table)
    arrays: list[ArrayJob] = []
    troubles: dict[str, NoPlaneFits] = {}
    for array in job.arrays:
        try:
            arrays.append(
                with_breaks(
                    array,
                    placed_en_m=placed[array.name],
                    ground=ground.for_array(array.name),
                    style=job.site.show,
                    around=around[array.name],
                )
            )
        except NoPlaneFits as trouble:
            troubles[array.name] = trouble
    if troubles:
        raise NotFitted(ground, troubles)
    return replace(job, arrays=tuple(arrays))
