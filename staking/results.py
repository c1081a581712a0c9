"""``results.json`` as a function of a Plan: metres and degrees, null where a field does not apply."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from itertools import groupby
from typing import Any

import numpy as np

from staking.book.site_north import axes_north_rad
from staking.control.adjustment import AdjustedReading, Adjustment, EarthTie, Points
from staking.control.by_chance import STATED
from staking.control.ellipses import WITHIN_95, Ellipse, ellipses
from staking.control.turned import turned
from staking.ground.yard import YardGround
from staking.layout.frame import Fit
from staking.pipes.certainty import Certainty, Step
from staking.pipes.concrete import concrete_of
from staking.pipes.cutlist import Again
from staking.pipes.holes import Hole
from staking.plan import ArrayPlan, Plan

SCHEMA = 1
_DECIMALS = 7
"""Of metres and degrees: a tenth of a micrometre, far below any reading, so that files stay readable."""
_GLOBE_DECIMALS = 9
"""Of degrees of latitude and longitude: a tenth of a millimetre."""


def results(plan: Plan) -> dict[str, Any]:
    """Return the contents of ``results.json``."""
    return {
        "schema": SCHEMA,
        "fingerprint": plan.book.fingerprint,
        "revision": plan.book.job.site.revision or None,
        "date": None if plan.book.job.site.date is None else plan.book.job.site.date.isoformat(),
        "survey": {**_survey(plan.adjustment), "direction": _direction(plan)},
        "ground": _ground(plan),
        "arrays": [
            {
                **_array(name, list(some)),
                "place_found": _place_found(plan, name),
                "tilt_found": _tilt_found(plan, name),
            }
            for name, some in groupby(plan.arrays, key=lambda one: one.name)
        ],
        "piers": [pier for array in plan.arrays for pier in _piers(array)],
        "beams": [beam for array in plan.arrays for beam in _beams(array, plan)],
        "cuts": _cuts(plan),
        "concrete": _concrete(plan),
        "record": _record(plan),
        "order": None if plan.order is None else [_order(one) for one in plan.order],
        "built": None,
        "built_array": None,
        "conflicts": [
            {"limit": c.limit, "where": c.where, "by": _number(c.by_m), "text": c.text}
            for c in plan.conflicts
        ],
        "would_do": list(plan.would_do),
        "lines": [
            {
                "line": d.obstacle,
                "kind": d.obstacle_kind,
                "thing": d.thing,
                "distance": _number(d.distance_m),
                "wanted": _number(d.wanted_m),
                "sd": _number(d.sd_m),
                "keeps": not d.fails,
            }
            for d in plan.clearances.distances
        ],
        "braces": [
            {
                "array": array.name,
                "post": one.post,
                "to": one.to,
                "length": _number(one.length_m),
                "sd": _number(one.sd_m),
                "above_level": round(math.degrees(one.above_level_rad), 3),
            }
            for array in plan.arrays
            for one in array.braced.braces
        ],
        "shade": [
            {
                "front": one.front,
                "back": one.back,
                "share": round(one.share, 4),
                "after_noon_h": None if one.worst_s is None else round(one.worst_s / 3600.0, 3),
                "shaded_h": round(one.shaded_s / 3600.0, 3),
                "gap": _number(one.gap_m),
                "least_gap": _number(one.least_gap_m),
            }
            for one in plan.shading.shades
        ],
        "warnings": list(plan.warnings),
        "planned": None,
    }


def results_text(plan: Plan) -> str:
    """Return the text of ``results.json``; the same plan gives the same bytes."""
    return text_of(results(plan))


def text_of(found: dict[str, Any]) -> str:
    """Return the text of the contents of ``results.json``."""
    return json.dumps(found, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _number(value: float | None) -> float | None:
    """Round once; what is not determined is null."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), _DECIMALS) + 0.0


def _degrees(value_rad: float) -> float | None:
    return _number(math.degrees(value_rad))


def _direction(plan: Plan) -> dict[str, Any] | None:
    """Return how sure the turn of the whole site is; its sd is null where what is given is held as exact."""
    found = turned(plan.book, plan.adjustment.points)
    if found is None:
        return None
    return {"sd": None if found.sd_rad is None else _degrees(found.sd_rad), "by": found.by}


def _survey(adjustment: Adjustment) -> dict[str, Any]:
    return {
        "redundancy": adjustment.redundancy,
        "variance_factor": _number(adjustment.variance_factor),
        "passes": adjustment.passes,
        "false_alarms": None if adjustment.passes is None else STATED,
        "misclosures": [
            {"loop": m.loop, "value": _number(m.value_m), "allowed": _number(m.allowed_m), "passes": m.passes}
            for m in adjustment.misclosures
        ],
        "sighted_once": adjustment.sighted_once,
        "levels": [
            {
                "instrument": level.instrument,
                "collimation": level.rise,
                "sd": level.sd,
                "taken_out": level.why != "told",
            }
            for level in adjustment.levels
        ],
        "earth": _earth(adjustment.earth),
        "points": _points(adjustment.points),
        "readings": [_reading(reading) for reading in adjustment.readings],
        "suspects": [
            {
                "table": s.table,
                "row": s.row,
                "column": s.column,
                "read": s.read,
                "likely": s.likely,
                "why": s.why,
                "chance": _number(s.chance),
                "repair_chance": _number(s.repair_chance),
                "variance_factor_after": _number(s.variance_factor_after),
                "passes_after": s.passes_after,
                "same_as": list(s.same_as),
                "would_tell": s.would_tell or None,
            }
            for s in adjustment.suspects
        ],
    }


def _earth(earth: EarthTie | None) -> dict[str, Any] | None:
    """Return where a point of the site's axes lies on the earth, and how well that is known."""
    if earth is None:
        return None
    sd_m = np.sqrt(np.diag(earth.cov_m2))
    return {
        "east": _number(earth.east_m),
        "north": _number(earth.north_m),
        "latitude": round(math.degrees(earth.lat_rad), _GLOBE_DECIMALS),
        "longitude": round(math.degrees(earth.lon_rad), _GLOBE_DECIMALS),
        "sd_east": _number(float(sd_m[0])),
        "sd_north": _number(float(sd_m[1])),
        "height_at_zero": _number(earth.height_m),
        "height_kind": earth.height_kind,
        "sd_height": _number(float(sd_m[2])),
    }


def _reading(reading: AdjustedReading) -> dict[str, Any]:
    number = _degrees if reading.angular else _number
    return {
        "table": reading.table,
        "row": reading.row,
        "column": reading.column,
        "kind": reading.kind,
        "residual": number(reading.residual),
        "sd": number(reading.sd),
        "redundancy": _number(reading.redundancy_number),
        "w": _number(reading.w),
        "detectable": None if reading.detectable is None else number(reading.detectable),
        "carried_sds": _number(reading.carried_sds),
    }


def _points(points: Points) -> list[dict[str, Any]]:
    sd_m = points.sd_m()
    around = ellipses(points)
    return [
        {
            "point": name,
            "kind": points.kinds[i],
            **dict(zip(("east", "north", "elevation"), map(_number, points.enz_m[i]), strict=True)),
            **dict(zip(("sd_east", "sd_north", "sd_elevation"), map(_number, sd_m[i]), strict=True)),
            "ellipse": _ellipse(around[i]),
        }
        for i, name in enumerate(points.names)
    ]


def _ellipse(ellipse: Ellipse | None) -> dict[str, Any] | None:
    if ellipse is None:
        return None
    return {
        "semi_major": _number(ellipse.semi_major_m),
        "semi_minor": _number(ellipse.semi_minor_m),
        "azimuth": _degrees(ellipse.azimuth_rad),
        "semi_major_95": _number(ellipse.semi_major_m * WITHIN_95),
        "semi_minor_95": _number(ellipse.semi_minor_m * WITHIN_95),
    }


def _ground(plan: Plan) -> dict[str, Any]:
    ground = plan.ground
    if ground is None:
        return {
            "model": None,
            "slope": None,
            "aspect": None,
            "rms_left_out": None,
            "surface": None,
            "surface_asked": None,
            "left_out": None,
            "table": None,
        }
    choice = ground.choice
    return {
        "model": ground.surface.model,
        "slope": _degrees(ground.surface.slope_rad),
        "aspect": _aspect(plan, ground.surface.aspect_rad),
        "rms_left_out": _number(ground.rms_left_out_m),
        "surface": "statistical" if choice is None else choice.used,
        "surface_asked": False if choice is None else choice.asked,
        "left_out": None
        if choice is None
        else {
            "shots": choice.shots,
            "statistical": _number(choice.rms_statistical_m),
            "triangulated": _number(choice.rms_triangulated_m),
            "table": _number(choice.rms_table_m),
        },
        "table": _table(ground),
    }


def _table(ground: YardGround) -> dict[str, Any] | None:
    """Return the large table of ground points, and how it ties to the shots; null without one."""
    if ground.table is None or ground.tie is None:
        return None
    table, tie = ground.table.table, ground.tie
    return {
        "file": table.file,
        "points": len(table.z_m),
        "sd": _number(table.sd_m),
        "shots": tie.shots,
        "shots_above": _number(tie.above_m),
        "sd_above": _number(tie.sd_m),
        "rms": _number(tie.rms_m),
        "differs": tie.significant,
    }


def _aspect(plan: Plan, on_axes_rad: float | None) -> float | None:
    """Return the azimuth straight downhill from true north."""
    if on_axes_rad is None:
        return None
    try:
        return _degrees((on_axes_rad + axes_north_rad(plan.book)) % math.tau)
    except ValueError:
        return None


def _array(name: str, sections: Sequence[ArrayPlan]) -> dict[str, Any]:
    """Return one array; what differs from section to section of a stepped one is null, and in `sections`."""
    fits = [one.fit for one in sections]
    only = fits[0] if len(fits) == 1 else None
    return {
        "name": name,
        "tilt": _degrees(fits[0].plane.tilt_rad),
        "azimuth": _degrees(fits[0].plane.facing_rad),
        **(dict.fromkeys(_OF_ONE_PLANE) if only is None else _plane(only)),
        "clearance": _number(min(fit.clearance_m for fit in fits)),
        "highest": _number(max(fit.highest_m for fit in fits)),
        "total_above_grade": _number(math.fsum(fit.total_above_grade_m for fit in fits)),
        "sections": [_section(one) for one in sections],
    }


def _tilt_found(plan: Plan, name: str) -> dict[str, Any] | None:
    """Return which tilt was found for an array; null where it was given."""
    for one in plan.tilted:
        if one.array == name:
            return {
                "tilt": _degrees(one.tilt_rad),
                "max_tilt": _degrees(one.max_tilt_rad),
                "limit": one.limit or None,
            }
    return None


def _place_found(plan: Plan, name: str) -> dict[str, Any] | None:
    """Return how the place of an array was found in its area; null where it was given."""
    for one in plan.sited:
        if one.array == name:
            place = one.place
            return {
                "pier": one.pier,
                "east": _number(place.placed_en_m[0]),
                "north": _number(place.placed_en_m[1]),
                "keys": place.keys,
                "room": _number(place.room_m2),
                "places": place.places,
                "spacing": _number(place.spacing_m),
            }
    return None


_OF_ONE_PLANE = ("cross_slope", "true_tilt", "true_azimuth", "rail_slope", "skew")


def _plane(fit: Fit) -> dict[str, Any]:
    return {
        "cross_slope": _degrees(fit.plane.cross_slope_rad),
        "true_tilt": _degrees(fit.true_tilt_rad),
        "true_azimuth": _degrees(fit.true_azimuth_rad),
        "rail_slope": _degrees(fit.rail_slope_rad),
        "skew": _number(fit.skew_m),
    }


def _section(array: ArrayPlan) -> dict[str, Any]:
    fit = array.fit
    return {
        "section": array.job.section,
        "modules_along": array.job.array.modules_along,
        "bay": _number(fit.bay_m),
        "gap": _number(array.gap_m),
        "step": _number(array.step_m),
        **_plane(fit),
        "clearance": _number(fit.clearance_m),
        "highest": _number(fit.highest_m),
        "total_above_grade": _number(fit.total_above_grade_m),
    }


def _piers(array: ArrayPlan) -> list[dict[str, Any]]:
    fit, lengths = array.fit, array.fit.lengths
    dug: tuple[Hole | None, ...] = array.holes or (None,) * len(fit.piers.names)
    sd_ground_m = np.sqrt(np.diag(lengths.ground_cov_m2))
    return [
        {
            "array": array.name,
            "section": array.job.section,
            "pier": array.pier_name(name),
            "east": _number(fit.piers.en_m[i, 0]),
            "north": _number(fit.piers.en_m[i, 1]),
            "ground": _number(lengths.ground_m[i]),
            "sd_ground": _number(sd_ground_m[i]),
            "top": _number(lengths.top_m[i]),
            "sd_top": _number(lengths.sd_top_m),
            "above_grade": _number(lengths.above_grade_m[i]),
            **_hole(hole),
        }
        for i, (name, hole) in enumerate(zip(fit.piers.names, dug, strict=True))
    ]


def _hole(hole: Hole | None) -> dict[str, float | None]:
    names = ("embedment", "lip", "bottom_cover", "post_length", "hole_depth")
    return {
        **{name: None if hole is None else _number(getattr(hole, f"{name}_m")) for name in names},
        "concrete": None if hole is None else _number(hole.concrete_m3),
        "bags": None if hole is None else _number(hole.bags),
    }


def _beams(array: ArrayPlan, plan: Plan) -> list[dict[str, Any]]:
    joints = {} if plan.cuts is None else plan.cuts.joints_m
    return [
        {
            "array": array.name,
            "section": array.job.section,
            "beam": beam.letter,
            "length": _number(beam.length_m),
            "first_post": _number(beam.first_post_m),
            "overhang_left": _number(beam.overhang_left_m),
            "overhang_right": _number(beam.overhang_right_m),
            "rise": _number(beam.rise_m),
            "rails": [_number(rail) for rail in beam.rails_m],
            "joints": [_number(joint) for joint in joints.get(array.beam_name(beam.letter), ())],
        }
        for beam in array.fit.beams
    ]


def _concrete(plan: Plan) -> dict[str, Any] | None:
    """Return the concrete of all holes, cubic metres; null where no hole is given."""
    holes = [hole for array in plan.arrays for hole in array.holes]
    footing = plan.book.job.footing
    if not holes or footing is None:
        return None
    concrete = concrete_of(holes)
    return {
        "volume": _number(concrete.concrete_m3),
        "over_dig": _number(footing.over_dig),
        "bag_yield": _number(footing.bag_yield_m3),
        "bags": concrete.bags,
        "bags_fresh": concrete.bags_fresh,
    }


def _cuts(plan: Plan) -> dict[str, Any] | None:
    cuts = plan.cuts
    if cuts is None:
        return None
    pipe = plan.book.job.pipe
    return {
        "sticks": [
            {
                "stock": _number(stick.stock_m),
                "pieces": [{"piece": p.piece, "length": _number(p.length_m)} for p in stick.pieces],
                "drop": _number(stick.drop_m),
                "stick": stick.name or str(number),
                "pipe": stick.pipe,
                "price": _number(stick.price),
                "on_hand": stick.on_hand,
                "useful": stick.useful(None if pipe is None else pipe.useful_drop_m),
            }
            for number, stick in enumerate(cuts.sticks, start=1)
        ],
        "count": cuts.count,
        "bound": cuts.bound,
        "cost": _number(cuts.cost),
        "cost_bound": _number(cuts.cost_bound),
        "joints": cuts.joints,
        "on_hand": cuts.on_hand,
        "again": None if cuts.again is None else _again(cuts.again),
    }


def _again(again: Again) -> dict[str, Any]:
    """Return what is cut again from what is left, against the list that was sawn from."""
    return {
        "sawn": [{"piece": piece.piece, "length": _number(piece.length_m)} for piece in again.sawn],
        "changed": [{"piece": piece, "what": what} for piece, what in again.changed.items()],
        "to_buy": again.to_buy,
    }


def _order(one: Certainty) -> dict[str, Any]:
    """Return how sure the order of one pipe is, as listed and with sticks more."""
    return {
        "pipe": one.pipe,
        "sticks": one.sticks,
        "draws": one.draws,
        "seed": one.seed,
        "steps": [_order_step(one, step) for step in one.steps],
        "enough_95": None if one.enough_95 is None else one.sticks + one.enough_95.extra,
        "enough_99": None if one.enough_99 is None else one.sticks + one.enough_99.extra,
        "cheapest": None if one.cheapest is None else one.sticks + one.cheapest.extra,
        "pays_from": _number(one.pays_from),
        "within_limits": _number(one.within),
    }


def _order_step(one: Certainty, step: Step) -> dict[str, Any]:
    return {
        "sticks": one.sticks + step.extra,
        "more": step.extra,
        "stock": _number(step.stock_m),
        "price": _number(step.price),
        "at_least": _number(step.certain),
        "at_most": _number(step.at_most),
        "expected": _number(step.expected),
    }


def _record(plan: Plan) -> dict[str, Any] | None:
    """Return what the whole job comes to; null where nothing is cut."""
    record = plan.record()
    if record is None:
        return None
    return {
        "modules": record.modules,
        "rails": record.rails,
        "rail_length": _number(record.rails_m),
        "posts": record.posts,
        "post_length": _number(record.posts_m),
        "beams": record.beams,
        "beam_length": _number(record.beams_m),
        "joints": record.joints,
        "weight": _number(record.pieces_kg),
    }
