"""A map grid's distances against those of the ground: told, and taken out where the survey fits only so.

Near the middle of a zone a grid's distances are up to 0.4 in 1000 shorter than those at sea level, and each
1000 m of height shortens them by 0.16 more. Tapes lie on the ground, and so will beams: a list of control
points on the grid, held fixed, contradicts them. Brought to ground scale about its middle it keeps its shape
and its directions.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from statistics import fmean, median

from staking.base.geodesy import Frame, MapGrid
from staking.base.units import told
from staking.book.records import ControlRow, FieldBook

SHOWS_M = 0.003
"""What a grid's scale may put into the control points before it is told: the error of one tape."""
HIGH_M = 30.0
"""Lower, an elevation of the list changes distances by less than 5 in a million."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GridScale:
    """How long the grid's distances are, as the widest of the control points show it."""

    grid: str
    ratio: float
    """Distance on the grid over that on the ground."""
    off_m: float
    """Their difference over the widest of the control points."""
    height_m: float
    """At which the ground is taken."""

    def at_ground(self, book: FieldBook) -> FieldBook:
        """Return the book with its control points spread about their middle to ground scale."""
        middle_e, middle_n = (_mean(book.control_points, axis) for axis in ("east_m", "north_m"))
        rows = tuple(
            replace(
                row,
                east_m=None if row.east_m is None else middle_e + (row.east_m - middle_e) / self.ratio,
                north_m=None if row.north_m is None else middle_n + (row.north_m - middle_n) / self.ratio,
            )
            for row in book.control_points
        )
        return replace(book, control_points=rows)

    def taken_words(self, book: FieldBook, *, was: float, now: float) -> str:
        """Return that the control points were brought to ground scale, and why."""
        style = book.job.site.show
        known = [row for row in book.control_points if row.east_m is not None and row.north_m is not None]
        middle = _mean(known, "east_m"), _mean(known, "north_m")
        far, name = max((math.dist((r.east_m or 0.0, r.north_m or 0.0), middle), r.point) for r in known)
        return (
            f"control.csv stands on {self.grid}, whose distances are {self.ratio:.6f} of those on the "
            f"ground: with its numbers as typed the survey fails its test (variance factor {was:.3g}), "
            f"brought to ground scale about their middle it passes ({now:.3g}). So they are taken at ground "
            "scale: tapes, stakes and sheets are those of the ground, and coordinates differ from the list "
            f"by up to {told(far * abs(1.0 / self.ratio - 1.0), style)} ({name})"
        )

    def _level(self) -> str:
        """Return at which height the ground was taken where nothing told it."""
        return (
            ""
            if self.height_m
            else " at sea level (control.csv without elevations: less where the site lies high)"
        )

    def warning(self) -> str:
        """Return that the grid's scale parts the control points by more than a tape would show."""
        return (
            f"control.csv stands on {self.grid}, whose distances are {self.ratio:.6f} of those on the "
            f"ground{self._level()}: {1000 * self.off_m:.0f} mm over the widest of its points. Tapes and "
            "fixes are taken at the scale of the ground; hold one of the points and give the others an sd, "
            "or bring their coordinates to ground scale"
        )


def _mean(rows: Sequence[ControlRow], axis: str) -> float:
    """Return the mean over the points with both coordinates, about which the site's axes touch the earth."""
    known = [row for row in rows if row.east_m is not None and row.north_m is not None]
    return fmean(getattr(row, axis) for row in known)


def grid_scales(book: FieldBook, grid: MapGrid | None, frame: Frame) -> Iterator[GridScale]:
    """Return the scale at the frame's height, then without heights of fixes at the list's own elevations.

    None where nothing measures distances, fewer than two control points stand on the grid, or the difference
    does not show.
    """
    known = [row for row in book.control_points if row.east_m is not None and row.north_m is not None]
    if grid is None or len(known) < 2 or not (book.tapes or book.offsets or book.fixes):
        return
    elevations = [row.elevation_m for row in known if row.elevation_m is not None]
    heights = [frame.height_m]
    if all(row.height_m is None for row in book.fixes) and elevations and median(elevations) > HIGH_M:
        heights.append(median(elevations))
    places = [(row.east_m or 0.0, row.north_m or 0.0) for row in known]
    widest = max(places, key=lambda place: math.dist(places[0], place))
    on_grid_m = math.dist(places[0], widest)
    if on_grid_m == 0.0:
        return
    for height_m in heights:
        level = replace(frame, height_m=height_m)
        ground_m = math.dist(*(level.placed(*grid.geodetic(*xy)) for xy in (places[0], widest)))
        if abs(on_grid_m - ground_m) > SHOWS_M:
            ratio = on_grid_m / ground_m
            yield GridScale(grid=grid.name, ratio=ratio, off_m=abs(on_grid_m - ground_m), height_m=height_m)
