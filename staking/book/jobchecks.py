"""What the keys of ``job.toml`` must agree on with one another and with the tables."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from staking.base.errors import Mistake
from staking.book.jobreader import ArrayRead, JobRead
from staking.book.piernames import PierNames
from staking.book.records import FrameDesign, Limits, Pipe, Place
from staking.book.tablereader import TableRead
from staking.book.tables import BEARINGS, CONTROL, EQUAL_SHADOWS, FIXES, LEVELS, SHADOWS, TABLES
from staking.book.tomltree import FILE


def check_job(job: JobRead, tables: Mapping[str, TableRead], *, for_plan: bool) -> list[Mistake]:
    """Return what does not agree in the job, or is missing for its purpose."""
    if not job.readable:
        return []
    tables = {name: one for name, one in tables.items() if one.typed or one.mistakes}
    found = _check_norths(job, tables)
    shade = job.job.shade
    if shade.start >= shade.to and not told(job, "shade"):
        read, expected = f"{shade.start:%H:%M} to {shade.to:%H:%M}", "a time after shade.from"
        found.append(_key("shade.to", "not later than shade.from", read=read, expected=expected))
    braces = job.job.braces
    fixings = {"from_top": braces.from_top_m, "above_grade": braces.above_grade_m}
    found += [
        _key(f"braces.{name}", "needed with braces.over: no fixing is invented here")
        for name, value in fixings.items()
        if braces.over_m is not None and value is None and not told(job, f"braces.{name}")
    ]
    azimuth = job.job.control.azimuth
    if azimuth is not None and azimuth.start.casefold() == azimuth.to.casefold():
        found.append(_key("control.azimuth.to", "the same point as `from`", read=azimuth.to))
    seen: set[str] = set()
    for one in job.arrays if for_plan else ():
        for part, check in (("frame", _check_frame), ("place", _check_place), ("fit", _check_fit)):
            record = one.parts[part]
            if record is not None and one.where[part] not in seen:
                found.extend(check(record, one))
            seen.add(one.where[part])
    if for_plan and job.job.pipe is not None:
        found.extend(_check_pipe(job.job.pipe))
    return found + _check_datum(job, tables, for_plan=for_plan)


def _key(key: str, problem: str, *, read: str | None = None, **more: Any) -> Mistake:
    return Mistake(file=FILE, column=key, problem=problem, read=read, **more)


def _check_frame(frame: FrameDesign, one: ArrayRead) -> list[Mistake]:
    at, found = one.where["frame"], []
    counted = frame.piers_per_beam is not None and frame.bay_m is not None
    chosen = frame.max_bay_m is not None and frame.max_overhang_m is not None
    if not counted and not chosen:
        expected = "piers_per_beam and bay, or max_bay and max_overhang"
        found.append(_key(at, "nothing says how many piers stand how far apart", expected=expected))
    if frame.bay_m is not None and frame.max_bay_m is not None and frame.bay_m > frame.max_bay_m:
        found.append(_key(f"{at}.bay", "longer than max_bay"))
    if any(high <= low for low, high in pairwise(frame.beams_at_m)):
        expected = "distances that rise, low beam first"
        found.append(_key(f"{at}.beams_at", "does not rise from beam to beam", expected=expected))
    if len(frame.beams_at_m) > 26:
        found.append(_key(f"{at}.beams_at", f"{len(frame.beams_at_m)} beams where letters name at most 26"))
    for pipe in ("post", "beam"):
        if getattr(frame, f"{pipe}_pipe") is None and getattr(frame, f"{pipe}_od_m") is None:
            expected = f"{pipe}_pipe from the table of sizes, or {pipe}_od"
            found.append(_key(f"{at}.{pipe}_pipe", "this key is missing", expected=expected))
        od_m, wall_m = getattr(frame, f"{pipe}_od_m"), getattr(frame, f"{pipe}_wall_m")
        if wall_m is not None and od_m is None:
            expected = f"{pipe}_od beside it; a size from the table has its own wall"
            found.append(
                _key(f"{at}.{pipe}_wall", "the wall of a pipe whose diameter is not given", expected=expected)
            )
        elif wall_m is not None and 2 * wall_m > od_m:
            found.append(
                _key(f"{at}.{pipe}_wall", f"more than half of {pipe}_od: two walls do not fit into it")
            )
    return found


def _check_place(place: Place, one: ArrayRead) -> list[Mistake]:
    at, found = one.where["place"], []
    by_line = {"line": place.line, "station": place.station_m, "offset": place.offset_m}
    by_axes = {"east": place.east_m, "north": place.north_m}
    either = "line with station and offset, or east and north"
    lined = [name for name, value in by_line.items() if value is not None]
    placed = [name for name, value in by_axes.items() if value is not None]
    if place.area is not None:
        found += _check_area(place, one)
    elif lined and placed:
        problem = f"{' and '.join(lined)} beside {' and '.join(placed)}: two ways to place one pier"
        found.append(_key(at, problem, expected=either))
    elif not lined and not placed:
        found.append(_key(at, "nothing places the pier", expected=either))
    else:
        wanted = by_line if lined else by_axes
        found.extend(
            _key(f"{at}.{name}", "this key is missing", expected=either)
            for name, value in wanted.items()
            if value is None
        )
    if place.line is not None:
        if len(place.line) != 2:
            found.append(_key(f"{at}.line", f"{len(place.line)} points", expected="two points"))
        elif place.line[0].casefold() == place.line[1].casefold():
            found.append(_key(f"{at}.line", "a line from a point to itself", read=place.line[0]))
    if one.beams is not None:
        # A count below one is a mistake of its own: then any number may be a pier's.
        piers = one.piers_per_beam if one.piers_per_beam is not None and one.piers_per_beam > 0 else None
        own = PierNames(arrays=(("", one.beams, piers),))
        if own.of(place.pier) is None:
            letters = "A" if one.beams == 1 else f"A to {chr(ord('A') + min(one.beams, 26) - 1)}"
            last = "" if piers is None else f", numbers 1 to {piers}"
            found.append(
                _key(
                    f"{at}.pier",
                    "no pier of this array has this name",
                    read=place.pier,
                    expected=f"such as A1: letters {letters}{last}",
                )
            )
    return found


def _check_area(place: Place, one: ArrayRead) -> list[Mistake]:
    """Return what does not agree with an area in which the place is to be found."""
    at, found = one.where["place"], []
    given = {
        "station": place.station_m,
        "offset": place.offset_m,
        "east": place.east_m,
        "north": place.north_m,
    }
    beside = [name for name, value in given.items() if value is not None]
    if beside:
        problem = f"{' and '.join(beside)} beside area: the place is given and to be found"
        found.append(_key(at, problem, expected="one of the two; line may stand beside area"))
    if place.area is not None and len({name.casefold() for name in place.area}) < 3:
        found.append(_key(f"{at}.area", "fewer than three points ring no area", read=", ".join(place.area)))
    fit = one.parts["fit"]
    if fit is not None and fit.break_after is None and fit.sections != 1:
        found.append(
            _key(
                f"{at}.area",
                "where the array is parted depends on where it stands",
                expected="break_after in [fit], or one section, where an area is given",
            )
        )
    return found


def _check_fit(fit: Limits, one: ArrayRead) -> list[Mistake]:
    at, found = one.where["fit"], []
    if fit.beams == "sloping" and fit.max_cross_slope_rad is None:
        expected = "degrees, what the fitting at the post's top allows"
        found.append(_key(f"{at}.max_cross_slope", "needed where beams slope, no default", expected=expected))
    if fit.above_grade_min_m > fit.above_grade_max_m:
        found.append(_key(f"{at}.above_grade_min", "greater than above_grade_max"))
    if fit.highest_m is not None and fit.highest_m <= fit.clearance_m:
        found.append(_key(f"{at}.highest", "not above the clearance"))
    if fit.stand == "high" and fit.low_edge_m is not None:
        problem = "low_edge sets the plane's height already"
        found.append(_key(f"{at}.stand", problem, read="high", expected="one of the two"))
    if fit.stand == "high" and fit.stepped:
        problem = "sections stand as low as they may, raised only for step_max"
        found.append(_key(f"{at}.stand", problem, read="high", expected="low, where the array is parted"))
    array, place = one.parts["array"], one.parts["place"]
    if array is not None and array.max_tilt_rad is not None:
        key = f"{one.where['array']}.max_tilt"
        if array.max_tilt_rad < array.tilt_rad:
            found.append(_key(key, "less than tilt", read=f"{math.degrees(array.max_tilt_rad):g}"))
        if place is not None and place.area is not None:
            problem = "tilt and place are both to be found"
            found.append(_key(key, problem, expected="one of max_tilt and [place] area"))
    return found + _check_sections(fit, one)


def _check_sections(fit: Limits, one: ArrayRead) -> list[Mistake]:
    """Return what does not agree in the parting of an array into sections."""
    at, found, after = one.where["fit"], [], fit.break_after
    array, place = one.parts["array"], one.parts["place"]
    lines = None if array is None else array.modules_along
    if lines is not None and isinstance(fit.sections, int) and fit.sections > lines:
        problem = f"more sections than the {lines} lines of modules along the beams"
        found.append(_key(f"{at}.sections", problem, read=str(fit.sections)))
    if after is not None:
        read = ", ".join(map(str, after))
        if any(later <= line for line, later in pairwise(after)):
            found.append(_key(f"{at}.break_after", "does not rise from break to break", read=read))
        elif lines is not None and after[-1] >= lines:
            expected = f"1 to {lines - 1}: the array has {lines} lines of modules"
            problem = "no line of modules is left for the last section"
            found.append(_key(f"{at}.break_after", problem, read=read, expected=expected))
        if isinstance(fit.sections, int) and fit.sections not in (1, len(after) + 1):
            problem = f"{len(after)} breaks make {len(after) + 1} sections, but sections is {fit.sections}"
            found.append(_key(f"{at}.break_after", problem, read=read))
    if fit.stepped and place is not None and not re.fullmatch(r"[A-Za-z]1", place.pier.strip()):
        found.append(
            _key(
                f"{one.where['place']}.pier",
                "how many piers stand left of it depends on where the array is parted",
                read=place.pier,
                expected="a first pier, such as A1, where the array is parted into sections",
            )
        )
    return found


def _check_pipe(pipe: Pipe) -> list[Mistake]:
    shares = pipe.no_joint
    if shares is None or len(shares) == 1 or (len(shares) == 2 and shares[0] < shares[1]):
        return []
    return [
        _key(
            "pipe.no_joint",
            "not one share nor two that rise",
            read=", ".join(f"{share:g}" for share in shares),
            expected="a share, such as 0.5 for each bay's middle half, or from and to, such as [0.25, 0.75]",
        )
    ]


def _check_norths(job: JobRead, tables: Mapping[str, TableRead]) -> list[Mistake]:
    """Return what is missing to turn a magnetic or grid north into a true one."""
    site, azimuth = job.job.site, job.job.control.azimuth
    norths = {row.north for row in tables[BEARINGS.name].records} if BEARINGS.name in tables else set()
    if azimuth is not None:
        norths.add(azimuth.north)
    wanted: dict[str, object] = {}
    place: dict[str, object] = {"latitude": site.latitude_rad, "longitude": site.longitude_rad}
    if "magnetic" in norths:
        wanted |= {**place, "date": site.date}
    if "grid" in norths:
        wanted |= {"grid": site.grid, **({} if _placed_in_plan(tables) else place)}
    whys = [f"turn {' and '.join(sorted(norths & {'magnetic', 'grid'}))} north into true north"]
    if SHADOWS.name in tables or EQUAL_SHADOWS.name in tables:
        wanted |= place
        whys = [*(whys if norths & {"magnetic", "grid"} else []), "reckon the sun"]
    why = " and ".join(whys)
    return [
        _key(f"site.{name}", f"needed to {why}")
        for name, value in wanted.items()
        if value is None and not told(job, f"site.{name}")
    ]


def _placed_in_plan(tables: Mapping[str, TableRead]) -> bool:
    """Whether control.csv gives a point's east or north: then the site's axes are the grid's own."""
    return CONTROL.name in tables and any(
        "east" in row.read or "north" in row.read for row in tables[CONTROL.name].typed
    )


def told(job: JobRead, key: str) -> bool:
    """Whether a mistake at this key, or at a part of it, has been told already."""
    return any(
        mistake.column is not None and f"{mistake.column}.".startswith(f"{key}.") for mistake in job.mistakes
    )


def _check_datum(job: JobRead, tables: Mapping[str, TableRead], *, for_plan: bool) -> list[Mistake]:
    """Return what is missing to say where the survey lies: its position, direction and elevation."""
    found: list[Mistake] = []
    control = job.job.control
    if not any(table.readings for table in TABLES if table.name in tables) and (
        not for_plan or CONTROL.name not in tables
    ):
        names = ", ".join(table.file for table in TABLES if table.readings)
        found.append(Mistake(file=LEVELS.file, problem=f"no readings: none of {names} holds a row"))
    if CONTROL.name not in tables and not job.has_control:
        expected = "origin, azimuth and benchmark, or a file control.csv"
        return [*found, _key("control", "nothing says where the survey lies", expected=expected)]
    if not for_plan or told(job, "control"):
        return found
    typed = [row.read for row in tables[CONTROL.name].typed] if CONTROL.name in tables else []
    in_plan = [read for read in typed if "east" in read and "north" in read]
    if control.benchmark is None and not any("elevation" in read for read in typed):
        problem = "no elevation is given"
        expected = "benchmark = { point = …, elevation = … }, or an elevation in control.csv"
        found.append(_key("control.benchmark", problem, expected=expected))
    if control.origin is None and not in_plan:
        expected = "origin = { point = …, east = …, north = … }, or a point in control.csv"
        found.append(_key("control.origin", "no plan position is given", expected=expected))
    turning = (BEARINGS, SHADOWS, EQUAL_SHADOWS, FIXES)
    turned = any(table.name in tables for table in turning) or len(in_plan) > 1
    if control.azimuth is None and not turned:
        expected = "azimuth = { from = …, to = …, degrees = …, north = … }, or two points in control.csv"
        found.append(_key("control.azimuth", "no direction is given", expected=expected))
    return found
