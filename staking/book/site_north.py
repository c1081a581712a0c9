"""Which way the site's north axis points: to true north, or to a map grid's where control stands on one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from statistics import median

from staking.base.errors import Mistake
from staking.base.geodesy import FAR_M, FOOT_M, SURVEY_FOOT_M, great_circle_m, is_survey_foot
from staking.base.units import METRES_PER
from staking.book.records import ArrayJob, ControlRow, FieldBook, Site
from staking.book.tables import CONTROL
from staking.book.tomltree import FILE

LOCAL_M = 100_000.0
"""Coordinates off the grid but nearer to nought than this are a survey's own numbers along the grid's axes:
what is left when leading digits are dropped, or an origin of the person's choice."""

FEET_TOLD_M = 0.1
"""What the wrong kind of feet may put the site off before it is told."""

LatLon = tuple[float, float]


class Misplaced(ValueError):
    """The control points and ``[site]`` latitude and longitude are not of one place on the grid."""

    def __init__(self, mistake: Mistake) -> None:
        super().__init__(mistake.problem)
        self.mistake = mistake


def axes_north_rad(book: FieldBook) -> float:
    """Return the azimuth of the site's north axis from true north: nought, or the grid's convergence.

    It is reckoned at the middle of the control points on the grid; where these are none, or have numbers
    of the survey's own, at ``[site]`` latitude and longitude.

    Raises
    ------
    ValueError
        When the grid is none, or neither tells a place on it, or the two tell different places.
    """
    site = book.job.site
    if not book.on_grid:
        return 0.0
    # pyproj takes a tenth of a second to load.
    from staking.north.convergence import grid_convergence_rad

    assert site.grid is not None
    return grid_convergence_rad(site.grid, *axes_place(book))


def axes_place(book: FieldBook) -> LatLon:
    """Return the latitude and longitude, radians, at which the site's axes lie along the map grid's.

    Raises
    ------
    ValueError
        As in `axes_north_rad`; `Misplaced` where it can say which number is wrong.
    """
    from staking.north.convergence import place_on_grid

    site, home = book.job.site, _home(book.job.site)
    assert site.grid is not None
    rows = _placed(book)
    if not rows:
        if home is None:
            message = f"which way north of {site.grid} points is not known without latitude and longitude"
            raise ValueError(message)
        return home
    _one_site(rows)
    east_m, north_m = _middle(rows)
    try:
        place = place_on_grid(site.grid, east_m, north_m)
    except ValueError as error:
        hint = _other_unit(book, east_m, north_m)
        if hint is None and math.hypot(east_m, north_m) >= LOCAL_M and _exchanged(book, east_m, north_m):
            raise _turned_round(rows[0], str(error)) from error
        if hint is None and math.hypot(east_m, north_m) < LOCAL_M:
            if home is None:
                raise
            return home
        raise _off_the_grid(rows[0], str(error), hint) from error
    if home is None or great_circle_m(place, home) <= FAR_M:
        return place
    if _has_area(site.grid) and math.hypot(east_m, north_m) < FAR_M:
        return home
    raise _elsewhere(book, rows[0], place, home)


def own_numbers(book: FieldBook) -> bool:
    """Whether control.csv has numbers of the survey's own along a map grid's axes, not those of the grid."""
    if not book.on_grid or not _placed(book):
        return False
    try:
        return axes_place(book) == _home(book.job.site)
    except ValueError:
        return False


def place_told(book: FieldBook) -> tuple[str, ...]:
    """Return a sentence on where control.csv puts the site, none where it stands on no grid."""
    home, rows = _home(book.job.site), _placed(book)
    if not book.on_grid:
        return _grid_unused(book)
    if not rows:
        return ()
    try:
        place = axes_place(book)
    except ValueError:
        return ()
    if place == home:
        return (
            f"control.csv has numbers of the survey's own, not those of {book.job.site.grid} at [site] "
            "latitude and longitude: its axes are taken to lie along that grid's",
        )
    said = f"by control.csv on {book.job.site.grid} the site lies at {_degrees(place)}{_feet_words(book)}"
    if home is not None:
        return (said,)
    other = _other_unit(book, *_middle(rows))
    if other is not None:
        said += f" if its numbers are in {book.job.site.units}, elsewhere if they are in {other}"
    return (f"{said}: look this up on a map, nothing checks it; give [site] latitude and longitude",)


def in_survey_feet(site: Site) -> bool:
    """Whether numbers in feet in control.csv are US survey feet: those of the map grid that is named."""
    from staking.north.convergence import map_grid_named

    if site.units not in ("ft", "in") or site.grid is None:
        return False
    try:
        return is_survey_foot(float(map_grid_named(site.grid).axis_info[0].unit_conversion_factor))
    except ValueError:
        return False  # Told by check.


def _feet_words(book: FieldBook) -> str:
    """Return which feet the numbers of control.csv are taken for; empty where none are, or it is all one."""
    from staking.north.convergence import map_grid_named

    site = book.job.site
    if site.units not in ("ft", "in") or site.grid is None:
        return ""
    unit_m = float(map_grid_named(site.grid).axis_info[0].unit_conversion_factor)
    if is_survey_foot(unit_m):
        return ", its numbers in the grid's own US survey feet"
    other_m = (SURVEY_FOOT_M / FOOT_M - 1.0) * math.hypot(*_middle(_placed(book)))
    if unit_m == FOOT_M or other_m < FEET_TOLD_M:
        return ""
    return f", in feet of 0.3048 m (were they US survey feet, {other_m:.1f} m further)"


def _grid_unused(book: FieldBook) -> tuple[str, ...]:
    """Return a sentence where a grid is named and an origin with its numbers is not on its axes."""
    origin = book.job.control.origin
    if book.job.site.grid is None or origin is None:
        return ()
    if math.hypot(origin.east_m, origin.north_m) < LOCAL_M:
        return ()
    return (
        f"[control] origin has large numbers, and {book.job.site.grid} is named: the site's axes are true "
        "north all the same, so that east and north are NOT those of the grid away from the origin. To stand "
        "on the grid, give the point in control.csv",
    )


def arrays_on_axes(book: FieldBook, *, for_plan: bool) -> tuple[FieldBook, tuple[Mistake, ...]]:
    """Return the book whose arrays know which way the site's axes are turned, and what hinders that."""
    if not book.on_grid:
        return book, ()
    try:
        north_rad = axes_north_rad(book)
    except Misplaced as error:
        return book, (error.mistake,)
    except ValueError as error:
        if not for_plan or not book.job.arrays:
            return book, ()
        remedy = "An array faces from true north: give site.latitude and site.longitude, or another grid"
        mistake = Mistake(
            file=FILE, column="site.grid", read=book.job.site.grid, problem=str(error), remedy=remedy
        )
        return book, (mistake,)
    arrays: tuple[ArrayJob, ...] = tuple(replace(one, axes_north_rad=north_rad) for one in book.job.arrays)
    return replace(book, job=replace(book.job, arrays=arrays)), ()


def _home(site: Site) -> LatLon | None:
    if site.latitude_rad is None or site.longitude_rad is None:
        return None
    return site.latitude_rad, site.longitude_rad


def _placed(book: FieldBook) -> list[ControlRow]:
    return [row for row in book.control_points if row.east_m is not None and row.north_m is not None]


def _middle(rows: Sequence[ControlRow]) -> tuple[float, float]:
    """Return the medians of east and north: one gross slip does not move them far."""
    return median(row.east_m or 0.0 for row in rows), median(row.north_m or 0.0 for row in rows)


def _one_site(rows: Sequence[ControlRow]) -> None:
    """Raise where a control point lies kilometres from the others: a digit lost, or another unit."""
    if len(rows) < 3:
        return
    middle = _middle(rows)
    for row in rows:
        away_m = math.dist((row.east_m or 0.0, row.north_m or 0.0), middle)
        if away_m > FAR_M:
            problem = f"{row.point} lies {away_m / 1000:,.0f} km from the other control points"
            remedy = "Look at the digits and the unit of its east and north"
            raise Misplaced(_at(row, problem, remedy))


def _at(row: ControlRow, problem: str, remedy: str) -> Mistake:
    read = ", ".join(row.read[axis] for axis in ("east", "north") if axis in row.read)
    return Mistake(file=CONTROL.file, row=row.row, column="east", read=read, problem=problem, remedy=remedy)


def _other_unit(book: FieldBook, east_m: float, north_m: float) -> str | None:
    """Return what the control points' unit would be if it is that which puts them off the grid."""
    from staking.north.convergence import place_on_grid

    site, home = book.job.site, _home(book.job.site)
    assert site.grid is not None
    for unit in ("m", "ft"):
        if unit == site.units:
            continue
        scale = float(METRES_PER[unit] / METRES_PER[site.units])
        try:
            place = place_on_grid(site.grid, scale * east_m, scale * north_m)
        except ValueError:
            continue
        if home is None or great_circle_m(place, home) <= FAR_M:
            return unit
    return None


def _exchanged(book: FieldBook, east_m: float, north_m: float) -> bool:
    """Return whether the control points lie at home, or on the grid at all, with east and north exchanged."""
    from staking.north.convergence import place_on_grid

    site, home = book.job.site, _home(book.job.site)
    assert site.grid is not None
    try:
        place = place_on_grid(site.grid, north_m, east_m)
    except ValueError:
        return False
    return home is None or great_circle_m(place, home) <= FAR_M


def _turned_round(row: ControlRow, problem: str) -> Misplaced:
    remedy = "East and north are exchanged: the numbers lie there the other way round. Exchange the headings"
    return Misplaced(_at(row, problem, remedy))


def _off_the_grid(row: ControlRow, problem: str, unit: str | None) -> Misplaced:
    if unit is None:
        remedy = "Give east and north of the survey's own zone, or the grid they are of in site.grid"
    else:
        typed = row.read.get("east", "").strip()
        remedy = f"In {unit} they lie on it: write the unit behind each, as in {typed} {unit}"
    return Misplaced(_at(row, problem, remedy))


def _elsewhere(book: FieldBook, row: ControlRow, place: LatLon, home: LatLon) -> Misplaced:
    """Return the error of two places far apart, with the one change that would bring them together."""
    site = book.job.site
    km = great_circle_m(place, home) / 1000
    where = f"{_degrees(place)} by {site.grid}"
    problem = f"the control points lie at {where}, {km:,.0f} km from [site] latitude and longitude"
    middle = _middle(_placed(book))
    unit = _other_unit(book, *middle)
    if unit is not None:
        return _off_the_grid(row, problem, unit)
    if _exchanged(book, *middle):
        return _turned_round(row, problem)
    column, remedy = _one_change(place, home)
    mistake = Mistake(
        file=FILE,
        column=column,
        read=_degrees(home),
        problem=f"this is {km:,.0f} km from the control points, which lie at {where}",
        remedy=remedy,
    )
    return Misplaced(mistake)


def _one_change(place: LatLon, home: LatLon) -> tuple[str, str]:
    """Return the key and the remedy that bring home to the place."""
    lat, lon = home
    sign = "is a minus missing, or too much?"
    for change, column, remedy in (
        ((lat, -lon), "site.longitude", f"East is plus and west is minus: {sign}"),
        ((-lat, lon), "site.latitude", f"North is plus and south is minus: {sign}"),
        ((-lat, -lon), "site.latitude", f"South and west are minus: {sign}"),
        ((lon, lat), "site.latitude", "Latitude and longitude are exchanged"),
    ):
        if great_circle_m(change, place) <= FAR_M:
            return column, remedy
    return "site.latitude", "Mend the one that is wrong, or name the grid that control.csv stands on"


def _degrees(place: LatLon) -> str:
    return f"latitude {math.degrees(place[0]):.4f}°, longitude {math.degrees(place[1]):.4f}°"


def _has_area(grid: str) -> bool:
    from staking.north.convergence import map_grid_named

    return map_grid_named(grid).area_of_use is not None
