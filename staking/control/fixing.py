"""GPS fixes as equations: what the receiver shows on the site's axes, with a shift for each session.

A fix is brought to the site's axes about one reference, at the scale of the ground. It then shows the point's
coordinate plus the shift of its session (observed as 0 with its accuracy) plus the tie, which carries the
site's axes onto the earth: free with a local origin, known where control.csv stands on a map grid. So a
receiver whose sessions are metres off shapes the site and does not place it. Heights are compared as they
are, differences with differences, so that whatever parts their zero from the benchmark's is in the tie.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import fmean, median

import numpy as np

from staking.base.errors import Mistake
from staking.base.geodesy import FAR_M, Frame, MapGrid, great_circle_m, map_grid
from staking.book.records import FieldBook, FixRow
from staking.book.site_north import own_numbers
from staking.control.adjustment import EarthTie
from staking.control.equations import Equation, Kind
from staking.control.kinds import key_of
from staking.control.network import NetworkResult
from staking.control.observing import FIRST_EXTRA, Extra, Observed, Source

FEET = ("ft", "in")
"""Units of a survey whose coordinates are feet."""
FINE_M = 0.1
"""Fixes better than this are by RTK: for them the scale at the site's height counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tied:
    """How the site's axes lie on the earth before the adjustment."""

    frame: Frame
    grid: MapGrid | None = None
    """Of the control points."""
    marks: tuple[int | None, int | None, int | None]
    """Of the unknown ties in east, north and height; None where known, or where nothing asks for it."""
    height_kind: str | None = None
    datum_sd_m: float = 0.0
    """Of the change of datum from the grid, where no fix makes it an unknown."""


def tied(book: FieldBook, observed: Observed) -> Tied | None:
    """Add the fixes to the equations; return how the site lies on the earth, None when nothing tells.

    Parameters
    ----------
    book
        The field book.
    observed
        Grown by the fixes; mistakes and warnings are added to it.
    """
    near = _middle(book.fixes) if book.fixes else None
    if own_numbers(book):
        # They lie along the grid's axes, but nothing says where on it.
        if book.fixes:
            observed.mistakes.append(
                Mistake(
                    file="control.csv",
                    problem="numbers of the survey's own beside GPS fixes: nothing says where they lie on "
                    f"{book.job.site.grid}",
                    remedy="Give east and north as they are on the grid, or leave [site] grid out.",
                )
            )
        return None
    grid = _grid(book, observed, near)
    if book.on_grid and grid is None:
        return None
    frame = _frame(book, observed, grid, near)
    if frame is None:
        return None
    if any(_far(row, frame, book, observed) for row in book.fixes):
        return None
    exact = grid is not None and grid.accuracy_m == 0
    marks: tuple[int | None, int | None] = (None, None)
    if book.fixes and not exact:
        tie = Extra() if grid is None else Extra(start=0.0, sd=grid.accuracy_m)
        marks = observed.extra(tie), observed.extra(tie)
    kind = _height_kind(book.fixes, observed)
    height = observed.extra(Extra()) if kind is not None else None
    for row in book.fixes:
        _add_plan(row, observed, book, frame, marks)
        if height is not None and row.height_m is not None:
            _add_height(row, row.height_m, observed, book, height)
    _height_told(book, observed)
    _place_told(book, observed, frame)
    datum_sd_m = grid.accuracy_m if grid is not None and marks[0] is None else 0.0
    return Tied(frame=frame, grid=grid, marks=(*marks, height), height_kind=kind, datum_sd_m=datum_sd_m)


def _middle(fixes: Sequence[FixRow]) -> tuple[float, float]:
    """Return the median latitude and longitude: one gross blunder does not move it far."""
    first = fixes[0].lon_rad
    lon = first + median(math.remainder(row.lon_rad - first, 2 * math.pi) for row in fixes)
    return median(row.lat_rad for row in fixes), math.remainder(lon, 2 * math.pi)


def _grid(book: FieldBook, observed: Observed, near: tuple[float, float] | None) -> MapGrid | None:
    """Return the map grid of the control points; without fixes one that cannot be used is no mistake."""
    name = book.job.site.grid
    if not book.on_grid or name is None:
        return None
    try:
        return map_grid(name, near=near, in_feet=book.job.site.units in FEET)
    except ValueError as error:
        if book.fixes:
            mistake = Mistake(file="job.toml", column="site.grid", read=name, problem=str(error))
            observed.mistakes.append(mistake)
        return None


def _frame(
    book: FieldBook,
    observed: Observed,
    grid: MapGrid | None,
    near: tuple[float, float] | None,
) -> Frame | None:
    """Return the site's axes about the middle of the control on the grid, else of the fixes."""
    heights = [row.height_m for row in book.fixes if row.height_m is not None]
    height_m = median(heights) if heights else 0.0
    if grid is None:
        if near is None:
            return None
        return Frame(lat_rad=near[0], lon_rad=near[1], height_m=height_m)
    from pyproj.exceptions import ProjError

    from staking.north.convergence import grid_convergence_rad

    control = [
        (row.east_m, row.north_m)
        for row in book.control_points
        if row.east_m is not None and row.north_m is not None
    ]
    try:
        if control:
            east_m, north_m = fmean(e for e, _ in control), fmean(n for _, n in control)
            lat_rad, lon_rad = grid.geodetic(east_m, north_m)
        elif near is not None:
            lat_rad, lon_rad = near
            east_m, north_m = grid.placed(*near)
        else:
            return None
        assert book.job.site.grid is not None
        turn_rad = grid_convergence_rad(book.job.site.grid, lat_rad, lon_rad)
    except (ProjError, ValueError):
        problem = f"control.csv or the fixes lie outside {grid.name}"
        remedy = "Give the grid of the survey's own zone, and control points in the survey's units."
        if book.fixes:
            observed.mistakes.append(
                Mistake(file="job.toml", column="site.grid", problem=problem, remedy=remedy)
            )
        return None
    return Frame(
        lat_rad=lat_rad,
        lon_rad=lon_rad,
        height_m=height_m,
        turn_rad=turn_rad,
        east_m=east_m,
        north_m=north_m,
    )


def _far(row: FixRow, frame: Frame, book: FieldBook, observed: Observed) -> bool:
    """Note a fix that lies on another site; return whether it does."""
    site = book.job.site
    away = [("the control points on the grid" if frame.east_m else "the other fixes", frame)]
    if site.latitude_rad is not None and site.longitude_rad is not None:
        here = Frame(lat_rad=site.latitude_rad, lon_rad=site.longitude_rad, height_m=0.0)
        away.append(("[site] latitude and longitude", here))
    for what, place in away:
        distance_m = great_circle_m((row.lat_rad, row.lon_rad), (place.lat_rad, place.lon_rad))
        if distance_m > FAR_M:
            observed.mistakes.append(
                Mistake(
                    file=row.table,
                    row=row.row,
                    read=f"{row.read.get('lat', '')}, {row.read.get('lon', '')}",
                    problem=f"the fix lies {distance_m / 1000:.0f} km from {what}",
                    remedy="West and south are minus; look whether lat and lon are exchanged.",
                )
            )
            return True
    return False


def _height_kind(fixes: Sequence[FixRow], observed: Observed) -> str | None:
    """Return the one kind of all heights, None without heights; notes the first row of another kind."""
    first: FixRow | None = None
    for row in fixes:
        if row.height_m is None or row.height_kind is None:
            continue
        if first is None:
            first = row
        elif row.height_kind != first.height_kind:
            observed.mistakes.append(
                Mistake(
                    file=row.table,
                    row=row.row,
                    column="height_kind",
                    read=row.height_kind,
                    problem=f"heights of two kinds on one site: row {first.row} is {first.height_kind}",
                    remedy="The two lie tens of metres apart, by the geoid. Have the receiver give one kind "
                    "for all, or leave the heights of one kind blank.",
                )
            )
            return None
    return None if first is None else first.height_kind


def _session(row: FixRow, observed: Observed, axis: str, sd_m: float) -> int:
    return observed.shared(f"session {key_of(row.session)} {axis}", Extra(start=0.0, sd=sd_m))


def _add_plan(
    row: FixRow,
    observed: Observed,
    book: FieldBook,
    frame: Frame,
    marks: tuple[int | None, int | None],
) -> None:
    accuracy = book.job.accuracy
    sd = accuracy.fix_m if row.sd_h_m is None else row.sd_h_m
    # Longitude leads east, latitude north; a grid's few degrees of convergence hardly matter for a repair.
    per_north, per_east = frame.metres_per_radian()
    for kind, axis, value, mark, column, per in zip(
        (Kind.FIX_EAST, Kind.FIX_NORTH),
        ("east", "north"),
        frame.placed(row.lat_rad, row.lon_rad),
        marks,
        ("lon", "lat"),
        (per_east, per_north),
        strict=True,
    ):
        shift = _session(row, observed, axis, accuracy.session_m)
        at = (observed.point(row.point), shift, -1 if mark is None else mark)
        observed.add(
            Equation(kind=kind, at=at, value=value, sd=sd),
            Source(
                table=row.table,
                row=row.row,
                column=column,
                kind="fix",
                what=f"{'longitude' if column == 'lon' else 'latitude'} of {row.point}",
                read=row.read.get(column, ""),
                rad_per_m=1 / per,
            ),
        )


def _add_height(row: FixRow, height_m: float, observed: Observed, book: FieldBook, mark: int) -> None:
    accuracy = book.job.accuracy
    shift = _session(row, observed, "height", accuracy.session_height_m)
    sd = accuracy.fix_height_m if row.sd_v_m is None else row.sd_v_m
    observed.add(
        Equation(kind=Kind.FIX_HEIGHT, at=(observed.point(row.point), shift, mark), value=height_m, sd=sd),
        Source(
            table=row.table,
            row=row.row,
            column="height",
            kind="fix",
            what=f"GPS height of {row.point}",
            read=row.read.get("height", ""),
        ),
    )


def _height_told(book: FieldBook, observed: Observed) -> None:
    """Warn where fixes are fine and nothing tells at which height their distances are taken."""
    fine = any(row.sd_h_m is not None and row.sd_h_m < FINE_M for row in book.fixes)
    if fine and all(row.height_m is None for row in book.fixes):
        observed.warnings.append(
            "no fix has a height: their distances are taken at sea level, and come out 0.016 in 100 too "
            "short for each 1000 m above it; give heights where that counts"
        )


def _place_told(book: FieldBook, observed: Observed, frame: Frame) -> None:
    """Tell where the fixes lie when no other place is given: a sign lost on all of them mirrors the site."""
    site = book.job.site
    if book.fixes and not book.on_grid and (site.latitude_rad is None or site.longitude_rad is None):
        observed.warnings.append(
            f"by the fixes the site lies at latitude {math.degrees(frame.lat_rad):.4f}°, longitude "
            f"{math.degrees(frame.lon_rad):.4f}° (south and west are minus): look this up on a map, nothing "
            "checks it; give [site] latitude and longitude"
        )


def earth_tie(
    book: FieldBook, tied: Tied, observed: Observed, result: NetworkResult, kept: Sequence[int]
) -> EarthTie | None:
    """Return where the site lies on the earth after the adjustment, None when its tie is not known.

    Parameters
    ----------
    book
        The field book.
    tied
        What `tied` returned.
    observed, result
        The survey as read and as adjusted.
    kept
        Numbers of the points whose covariances are asked for.
    """
    last = 3 * len(observed.names)
    at = [None if mark is None else last + FIRST_EXTRA - mark for mark in tied.marks]
    ties = [0.0 if k is None else float(result.coordinates[k]) for k in at]
    if math.isnan(ties[0]) or math.isnan(ties[1]):
        return None
    # The receiver's axes show the tie more than the site's: the reference stands that much less.
    frame = replace(tied.frame, east_m=tied.frame.east_m - ties[0], north_m=tied.frame.north_m - ties[1])
    has_height = at[2] is not None and not math.isnan(ties[2])
    coordinates = [3 * p + axis for p in kept for axis in range(3)]
    cov = np.zeros((3, 3 + len(coordinates)))
    for axis, k in enumerate(at):
        if k is None:
            cov[axis, axis] = tied.datum_sd_m**2
            continue
        shared = result.cov_with(k)
        with_ties = [0.0 if other is None else float(shared[other]) for other in at]
        cov[axis] = [*with_ties, *shared[coordinates]]
    if not has_height:
        cov[2] = cov[:, 2] = np.nan
    origin = book.job.control.origin
    east_m, north_m = frame.east_m, frame.north_m
    if origin is not None and tied.frame.turn_rad == 0.0:
        east_m, north_m = origin.east_m, origin.north_m
    lat_rad, lon_rad = frame.geodetic(east_m, north_m)
    own, others = cov[:, :3].copy(), cov[:, 3:].copy()
    own.setflags(write=False)
    others.setflags(write=False)
    return EarthTie(
        frame=frame,
        east_m=east_m,
        north_m=north_m,
        lat_rad=lat_rad,
        lon_rad=lon_rad,
        height_m=ties[2] if has_height else None,
        height_kind=tied.height_kind if has_height else None,
        cov_m2=own,
        points_cov_m2=others,
    )
