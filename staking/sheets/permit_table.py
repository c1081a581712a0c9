"""What a permit desk asks for: each question with what this survey answers, and plainly what it does not."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from staking.book.records import Footing
from staking.clearances import called
from staking.lines.keeping import Distance
from staking.plan import ArrayPlan, Plan
from staking.sheets.cautions import GEOMETRY_ONLY
from staking.sheets.notation import Notation, count_words, degrees
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table

NOT_GIVEN = "NOT GIVEN"
_WRITE = "________________________________"


def permit_sheet(plan: Plan, *, notation: Notation) -> Sheet:
    """Return the sheet of questions and answers, with the pier schedule."""
    blocks: list[Words | Table] = [
        Words(
            lines=(
                GEOMETRY_ONLY,
                "Answers come from this survey and job.toml. What is not there says so: the desk, the "
                "engineer or the electrician has to add it.",
            ),
            bullets=False,
        ),
        Table(
            title="",
            columns=(
                Column(heading="Asked for", name="asked", align="left", strong=False, wide=True),
                Column(heading="Answer", name="answer", align="left", wide=True),
            ),
            rows=tuple(_answers(plan, notation)),
            size_pt=10.0,
        ),
    ]
    blocks += [
        schedule for array in plan.arrays if (schedule := _schedule(plan, array, notation)) is not None
    ]
    return Sheet(name="permit", title="For the permit desk", blocks=tuple(blocks))


def _answers(plan: Plan, notation: Notation) -> list[tuple[str, str]]:
    rows = [
        ("Address and parcel number", f"{NOT_GIVEN}: {_WRITE}"),
        ("Property lines", _lines(plan, ("boundary",), "property line")),
        ("Setbacks", _setbacks(plan, notation)),
        ("Easements, drainage, septic field, areas not to build on", _lines(plan, ("no_build",), "area")),
        ("Existing buildings", f"{NOT_GIVEN}: not surveyed, not drawn"),
    ]
    for array in plan.arrays:
        rows += _array(plan, array, notation)
    rows.append(("Footings", _footings(plan, notation)))
    rows.append(("Frost depth", _frost(plan.book.job.footing, notation)))
    rows += [
        ("Buried and overhead lines", _lines(plan, ("buried", "overhead"), "line")),
        ("Trench route and equipment", f"{NOT_GIVEN}: not surveyed, not drawn"),
        ("Elevations", _datum(plan, notation)),
        ("Codes adopted; wind and snow load; spans; strength", f"{NOT_GIVEN}: the engineer's"),
        ("Wiring, bonding, disconnects", f"{NOT_GIVEN}: the electrician's"),
    ]
    return rows


def _lines(plan: Plan, kinds: Sequence[str], what: str) -> str:
    names = [row.line for row in plan.book.lines if row.kind in kinds]
    if not names:
        return f"{NOT_GIVEN}: none surveyed, none drawn"
    listed = ", ".join(name for name in names if name)
    return f"{count_words(len(names), what)} surveyed, drawn on the site plan" + (
        f": {listed}" if listed else ""
    )


def _setbacks(plan: Plan, notation: Notation) -> str:
    kept = [d for d in plan.clearances.nearest() if d.obstacle_kind in ("boundary", "no_build")]
    if not kept:
        return f"{NOT_GIVEN}: no property line was surveyed"
    worst: dict[str, Distance] = {}
    for d in kept:
        if d.obstacle not in worst or d.distance_m < worst[d.obstacle].distance_m:
            worst[d.obstacle] = d
    return "; ".join(
        f"{called(d)}: {d.thing} {notation.words(d.distance_m)} away, {notation.words(d.wanted_m)} to keep"
        + (" (NOT KEPT)" if d.fails else "")
        for d in worst.values()
    )


def _array(plan: Plan, array: ArrayPlan, notation: Notation) -> list[tuple[str, str]]:
    fit, design, words = array.fit, array.job.array, notation.words
    name = f"Array {array.title}: " if array.title else "Array: "
    wide, deep = plan_size_m(array)
    low_m = lowest_edge_m(array)
    return [
        (
            f"{name}outline in plan, modules",
            f"{words(wide)} by {words(deep)}; {design.modules_along} × {design.modules_up} modules",
        ),
        (
            f"{name}tilt and facing",
            f"{degrees(fit.true_tilt_rad, 2)}, {degrees(fit.true_azimuth_rad, 2)} from true north",
        ),
        (f"{name}greatest height above existing grade", words(fit.highest_m)),
        (
            f"{name}lowest edge",
            f"at least {words(fit.clearance_m)} above the ground; elevation {notation.place_words(low_m)}. "
            "Flood level: ask",
        ),
        (f"{name}slope of the ground", _slope(plan, array)),
    ]


def plan_size_m(array: ArrayPlan) -> tuple[float, float]:
    """Return how wide and how deep the field of modules is in plan, metres."""
    corners = array.fit.modules_outline_en_m
    wide = float(np.hypot(*(corners[1] - corners[0])))
    # Square off the low edge: with a cross-slope the outline is a slanted figure.
    edge = (corners[1] - corners[0]) / wide
    up = corners[3] - corners[0]
    return wide, float(abs(edge[0] * up[1] - edge[1] * up[0]))


def lowest_edge_m(array: ArrayPlan) -> float:
    """Return the elevation of the lowest corner of the modules' underside."""
    plane, frame = array.fit.plane, array.job.frame
    facing = plane.azimuth_rad
    e = np.array([-math.cos(facing), math.sin(facing)])
    w = np.array([-math.sin(facing), -math.cos(facing)])
    away = array.fit.modules_outline_en_m - np.asarray(plane.a1_en_m)
    rise_e = math.tan(plane.cross_slope_rad)
    rise_w = math.tan(plane.tilt_rad) / math.cos(plane.cross_slope_rad)
    plumb = frame.stack_m / (math.cos(plane.tilt_rad) * math.cos(plane.cross_slope_rad))
    return float((plane.z_a1_m + rise_e * (away @ e) + rise_w * (away @ w)).min()) + plumb


def _slope(plan: Plan, array: ArrayPlan) -> str:
    if plan.ground is None:
        return NOT_GIVEN
    fall = np.asarray(plan.ground.gradient(array.fit.piers.en_m)).mean(axis=0)
    steep = float(np.hypot(*fall))
    down = math.atan2(-fall[0], -fall[1]) % math.tau
    return f"{100.0 * steep:.0f} % at the piers, falling toward {degrees(down, 0)}; contours on the site plan"


def _footings(plan: Plan, notation: Notation) -> str:
    footing, holes = plan.book.job.footing, [hole for array in plan.arrays for hole in array.holes]
    if footing is None or not holes:
        return NOT_GIVEN
    return (
        f"{count_words(len(holes), 'hole')} {notation.small_words(footing.hole_diameter_m)} across, "
        f"{ranged([hole.hole_depth_m for hole in holes], notation)} deep; embedment "
        f"{notation.words(footing.embedment_m)} from the downhill lip, as given by job.toml"
    )


def _frost(footing: Footing | None, notation: Notation) -> str:
    if footing is None or footing.frost_depth_m is None:
        return f"{NOT_GIVEN}: ask the building department before the holes are dug"
    return f"{notation.words(footing.frost_depth_m)}, as given; every hole reaches it below its downhill lip"


def _datum(plan: Plan, notation: Notation) -> str:
    benchmark = plan.book.job.control.benchmark
    if benchmark is None:
        return "as control.csv gives them"
    told = notation.place_words(benchmark.elevation_m)
    return f"above the job's own datum: {benchmark.point} is {told}; not sea level unless that is"


def ranged(values_m: Sequence[float], notation: Notation) -> str:
    """Return the least and the greatest of some lengths as printed, or the one that all are."""
    low, high = notation.small_words(min(values_m)), notation.small_words(max(values_m))
    return low if low == high else f"{notation.small(min(values_m))} to {high}"


def _schedule(plan: Plan, array: ArrayPlan, notation: Notation) -> Table | None:
    footing, lengths, unit = plan.book.job.footing, array.fit.lengths, notation.unit
    if footing is None or not array.holes:
        return None
    return Table(
        title="Pier schedule" + (f", {array.title}" if array.title else ""),
        columns=(
            Column(heading="Pier", name="pier", align="left", strong=True),
            Column(heading="Hole across", name="diameter", unit=unit),
            Column(heading="Hole depth", name="hole_depth", unit=unit),
            Column(heading="Above grade", name="above_grade", unit=unit),
            Column(heading="Ground", name="ground", unit=notation.place_unit),
        ),
        rows=tuple(
            (
                array.pier_name(hole.pier),
                notation.small(footing.hole_diameter_m),
                notation.length(hole.hole_depth_m),
                notation.length(float(lengths.above_grade_m[i])),
                notation.place(float(lengths.ground_m[i])),
            )
            for i, hole in enumerate(array.holes)
        ),
        notes=(f"Posts: {array.job.frame.post_pipe or 'pipe as in job.toml'}.",),
    )
