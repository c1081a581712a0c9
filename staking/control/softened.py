"""Given values put among the readings that may be wrong: only for asking what is wrong.

A coordinate or an azimuth that is held fixed can be no suspect: whatever contradicts it is blamed. Where more
is given than the survey needs to stand somewhere, a survey that does not fit is therefore asked again with
the given values as observations, as sure as a reading.
"""

from __future__ import annotations

import math
from dataclasses import replace

from staking.base.units import format_angle, in_unit
from staking.book.records import Azimuth, BearingRow, ControlRow, FieldBook
from staking.book.tomltree import FILE
from staking.control.kinds import key_of
from staking.control.observing import Observed

KEYS = {
    "east": "control.origin.east",
    "north": "control.origin.north",
    "elevation": "control.benchmark.elevation",
    "bearing": "control.azimuth.degrees",
}
GIVEN_SD_RAD = math.radians(0.01)
"""Of a true or grid azimuth while it is asked about: 1 mm in 6 m."""
SURER = 5.0
"""How much surer than a bearing it is taken to be."""


def softened(book: FieldBook) -> FieldBook | None:
    """Return the book with what is given beyond need as observations; None where nothing is."""
    elevations, plan = _fixed_elevations(book), _fixed_in_plan(book)
    loose_z, loose_plan = len(elevations) > 1, len(plan) > 1
    azimuth = book.job.control.azimuth
    loose_azimuth = azimuth is not None and _turned_otherwise(book, plan)
    if not (loose_z or loose_plan or loose_azimuth):
        return None
    accuracy = book.job.accuracy
    rows = [
        replace(
            row,
            sd_east_m=accuracy.tape_m if loose_plan and row.sd_east_m is None else row.sd_east_m,
            sd_north_m=accuracy.tape_m if loose_plan and row.sd_north_m is None else row.sd_north_m,
            sd_elevation_m=accuracy.rod_m if loose_z and row.sd_elevation_m is None else row.sd_elevation_m,
        )
        for row in book.control_points
    ]
    control = book.job.control
    for row in _of_job(book, plan=loose_plan, elevations=loose_z):
        own = next((k for k, one in enumerate(rows) if key_of(one.point) == key_of(row.point)), None)
        if own is None:
            rows.append(row)
            continue
        # What control.csv gives of the point replaces [control]; the rest is as in [control].
        there, read = rows[own], dict(rows[own].read)
        for name in ("east", "north", "elevation"):
            if getattr(there, f"{name}_m") is None and getattr(row, f"{name}_m") is not None:
                values = {
                    f"{name}_m": getattr(row, f"{name}_m"),
                    f"sd_{name}_m": getattr(row, f"sd_{name}_m"),
                }
                there = replace(there, **values)
                read.setdefault(name, row.read[name])
        rows[own] = replace(there, read=read)
    if loose_plan:
        control = replace(control, origin=None)
    if loose_z:
        control = replace(control, benchmark=None)
    bearings = book.bearings
    if loose_azimuth and azimuth is not None:
        control = replace(control, azimuth=None)
        # Much surer than the bearings it could not be told from them: nothing would check it.
        given_rad = accuracy.bearing_rad / SURER if book.bearings else GIVEN_SD_RAD
        sd_rad = accuracy.bearing_rad if azimuth.north == "magnetic" else given_rad
        bearings = (*bearings, _as_bearing(azimuth, sd_rad))
    return replace(
        book,
        job=replace(book.job, control=control),
        control_points=tuple(rows),
        bearings=bearings,
    )


def _fixed_elevations(book: FieldBook) -> set[str]:
    found = {
        key_of(row.point)
        for row in book.control_points
        if row.elevation_m is not None and row.sd_elevation_m is None
    }
    if book.job.control.benchmark is not None:
        found.add(key_of(book.job.control.benchmark.point))
    return found


def _fixed_in_plan(book: FieldBook) -> set[str]:
    found = {
        key_of(row.point)
        for row in book.control_points
        for value, sd in ((row.east_m, row.sd_east_m), (row.north_m, row.sd_north_m))
        if value is not None and sd is None
    }
    if book.job.control.origin is not None:
        found.add(key_of(book.job.control.origin.point))
    return found


def _turned_otherwise(book: FieldBook, plan: set[str]) -> bool:
    """Whether something besides the azimuth turns the site."""
    fixed = len({key_of(row.point) for row in book.fixes}) > 1
    return len(plan) > 1 or fixed or bool(book.bearings or book.shadows or book.equal_shadows)


def _of_job(book: FieldBook, *, plan: bool, elevations: bool) -> list[ControlRow]:
    """Return what [control] gives as rows of control.csv, marked as of job.toml."""
    control, accuracy, unit = book.job.control, book.job.accuracy, book.job.site.units
    rows = []
    if plan and control.origin is not None:
        origin = control.origin
        rows.append(
            ControlRow(
                table=FILE,
                row=0,
                read={
                    "east": f"{in_unit(origin.east_m, unit):.10g}",
                    "north": f"{in_unit(origin.north_m, unit):.10g}",
                },
                point=origin.point,
                east_m=origin.east_m,
                north_m=origin.north_m,
                sd_east_m=accuracy.tape_m,
                sd_north_m=accuracy.tape_m,
            )
        )
    if elevations and control.benchmark is not None:
        mark = control.benchmark
        rows.append(
            ControlRow(
                table=FILE,
                row=0,
                read={"elevation": f"{in_unit(mark.elevation_m, unit):.10g}"},
                point=mark.point,
                elevation_m=mark.elevation_m,
                sd_elevation_m=accuracy.rod_m,
            )
        )
    return rows


def _as_bearing(azimuth: Azimuth, sd_rad: float) -> BearingRow:
    return BearingRow(
        table=FILE,
        row=0,
        read={"bearing": format_angle(azimuth.azimuth_rad, 4).rstrip("0").rstrip(".")},
        start=azimuth.start,
        to=azimuth.to,
        bearing_rad=azimuth.azimuth_rad,
        north=azimuth.north,
        sd_rad=sd_rad,
    )


def sourced(observed: Observed) -> None:
    """Name what stands in ``job.toml`` by its keys, in place."""
    for k, source in enumerate(observed.sources):
        if source is not None and source.table == FILE:
            key = KEYS[source.column]
            what = source.what.replace("bearing", "azimuth")
            observed.sources[k] = replace(source, column=key, what=f"[control] {what}")
