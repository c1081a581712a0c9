"""Arrays that are given an area instead of a point: where they stand in it, and what is in the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from staking.base.errors import Mistake, WrongInput
from staking.base.units import told
from staking.book.records import ArrayJob, FieldBook, Place
from staking.control.adjustment import Points
from staking.ground.yard import YardGround, fitted_ground, ground_of_table
from staking.laying import NotFitted, around_of, refuse_stakes, set_out
from staking.layout.around import Around
from staking.layout.beside import taken_by
from staking.layout.best_place import (
    BestPlace,
    NoRoom,
    NothingFits,
    best_place,
    least_setback,
    wider_area_m,
)
from staking.layout.frame import Conflict, NoPlaneFits
from staking.layout.place import placed_position, point_place
from staking.layout.stepped import laid_out
from staking.layout.words import pasted

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sited:
    """One array's place as it was found."""

    array: str
    """Its name, empty for the only one."""
    pier: str
    least: str
    """What was made least: steel or tallest."""
    place: BestPlace
    area_en_m: Floats
    """(k, 2) corners of the area that was given."""


def with_places(book: FieldBook, points: Points) -> tuple[FieldBook, tuple[Sited, ...]]:
    """Return the book with a place written into every array that is given an area, and how it was found.

    The ground is that of all shots whose place is known without it. Arrays are placed in the order of the
    job, clear of the modules of those that stand already.

    Raises
    ------
    WrongInput
        When a point of an area has no place, its sides cross, or a stake was shot that stands nowhere yet.
    NotFitted
        When no place would do.
    """
    job = book.job
    open_arrays = [one.name for one in job.arrays if one.place.area is not None]
    if not open_arrays:
        return book, ()
    refuse_stakes(book, points, dict.fromkeys(open_arrays, "place.area"))
    rings = {one.name: _ring(one.place, points) for one in job.arrays if one.place.area is not None}
    table = ground_of_table(book.ground_table, points)
    ground = fitted_ground(points, set_out(book), book.lines, asked=job.ground.asked_surface, table=table)
    around = around_of(book, points)
    found: list[Sited] = []
    troubles: dict[str, NoPlaneFits] = {}
    standing = {one.name: one for one in job.arrays if one.place.area is None}
    for array in job.arrays:
        if array.place.area is None:
            continue
        others = [
            one
            for other in standing.values()
            for one in taken_by(
                other,
                placed_en_m=placed_position(other.place, points),
                hole_m=around[array.name].needs.hole_m,
                style=job.site.show,
            )
        ]
        own = around[array.name]
        own = replace(own, obstacles=(*own.obstacles, *others))
        try:
            placed = _placed(book, points, array, rings[array.name], own, ground)
        except NoPlaneFits as trouble:
            troubles[array.name] = trouble
            continue
        found.append(
            Sited(
                array=array.name,
                pier=array.place.pier,
                least=array.fit.least,
                place=placed,
                area_en_m=rings[array.name],
            )
        )
        standing[array.name] = _with_place(array, placed)
    if troubles:
        raise NotFitted(ground, troubles)
    arrays = tuple(standing[one.name] for one in job.arrays)
    return replace(book, job=replace(job, arrays=arrays)), tuple(found)


def _with_place(array: ArrayJob, found: BestPlace) -> ArrayJob:
    place = array.place
    if place.line is not None:
        place = replace(place, area=None, station_m=found.first_m, offset_m=found.second_m)
    else:
        place = replace(place, area=None, east_m=found.first_m, north_m=found.second_m)
    return replace(array, place=place)


def area_corners(names: Sequence[str], points: Points) -> Floats | None:
    """Return the corners (k, 2) of an area by its points; None where one of them has no place."""
    try:
        return np.array([point_place(name, points, key="place.area") for name in _round(names)])
    except WrongInput:
        return None


def _round(names: Sequence[str]) -> Sequence[str]:
    """Return the points of a ring, the first not named again at the end."""
    return names[:-1] if names[0] == names[-1] else names


def _ring(place: Place, points: Points) -> Floats:
    """Return the corners (k, 2) of an area."""
    from shapely import Polygon

    assert place.area is not None
    corners = np.array([point_place(name, points, key="place.area") for name in _round(place.area)])
    ring = Polygon(corners)
    if not ring.is_valid or ring.area == 0.0:
        raise WrongInput(
            [
                Mistake(
                    file="job.toml",
                    column="place.area",
                    read=", ".join(place.area),
                    problem="these points in this order ring no area: its sides cross or lie on one another",
                    remedy="Write the corners in the order in which one walks round",
                )
            ]
        )
    return corners


def _placed(
    book: FieldBook, points: Points, array: ArrayJob, ring: Floats, around: Around, ground: YardGround
) -> BestPlace:
    """Return where an array stands best in its area.

    Raises
    ------
    NoPlaneFits
        When no place would do: what is in the way, or what conflicts at the place that comes nearest.
    """
    style, seen = book.job.site.show, ground.for_array(array.name)
    start = (0.0, 0.0)
    if array.place.line is not None:
        start = placed_position(replace(array.place, area=None, station_m=0.0, offset_m=0.0), points)
    asked = {"ground": seen, "around": around, "start_en_m": start, "style": style}
    try:
        return best_place(array, ring, **asked)  # type: ignore[arg-type]
    except NoRoom as trouble:
        raise _no_room(array, ring, around, trouble, style) from None
    except NothingFits as trouble:
        nearest = trouble.nearest_en_m
    try:
        laid_out(array, placed_en_m=nearest, ground=seen, accuracy=book.job.accuracy, style=style)
    except NoPlaneFits as trouble:
        first, *others = trouble.conflicts
        front = f"array {array.name}: " if array.name else ""
        text = (
            f"{front}nowhere in the area does a plane fit; it comes nearest with {array.place.pier} at east "
            f"{told(nearest[0], style)}, north {told(nearest[1], style)}: {first.text}"
        )
        # What moves the array, or parts it, is not for an array that has an area.
        kept = tuple(one for one in trouble.would_do if one.startswith(_OF_ONE_VALUE))
        raise NoPlaneFits((replace(first, text=text), *others), kept) from None
    raise AssertionError(nearest)


_OF_ONE_VALUE = ("above_grade", "clearance", "highest", "low_edge", "max_cross_slope", "tilt", "step_max")


def _no_room(array: ArrayJob, ring: Floats, around: Around, trouble: NoRoom, style: str) -> NoPlaneFits:
    """Return what is in the way of an array everywhere in its area, and what would do."""
    names = ", ".join(array.place.area or ())
    front = f"array {array.name}: " if array.name else ""
    by_m = wider_area_m(array, ring, around, style=style)
    text = f"{front}nowhere within {names} do modules and holes have room"
    if around.obstacles:
        text += " clear of all lines, areas and trees"
    if by_m is not None:
        text += f"; the area would have to reach {told(by_m, style)} further on every side"
    if trouble.lacking:
        text += f"; without {' or without '.join(trouble.lacking)} there would be room"
    would_do = []
    for name in trouble.lacking:
        setback_m = least_setback(array, ring, around, name, style=style)
        if setback_m is not None:
            would_do.append(f"setback = {pasted(setback_m, style)} of {name} in lines.csv would do")
    conflict = Conflict(limit="place.area", where=f"area {names}", by_m=by_m or 0.0, text=text)
    return NoPlaneFits((conflict,), tuple(would_do))


def siting_remarks(found: Sequence[Sited], style: str) -> tuple[str, ...]:
    """Return where arrays were placed, so that it can be held."""
    return tuple(f"{siting_words(one, style)}. {_HOLD}" for one in found)


_HOLD = (
    "Before stakes are set write these keys into [place] instead of area, or another shot may move it; shade "
    "was not weighed"
)


def siting_words(one: Sited, style: str) -> str:
    """Return how an array's place was found."""
    front = f"array {one.array}: " if one.array else ""
    least = "least steel" if one.least == "steel" else "the shortest tallest post"
    place = one.place
    return (
        f"{front}{one.pier} was placed where, of all places in the area that keep clear, the array needs "
        f"{least}: {place.keys} ({place.places} places looked at, {told(place.spacing_m, style)} apart, the "
        "best of them followed to what a tape shows)"
    )
