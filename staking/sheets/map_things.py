"""The things on the map, each with its sign, its name and its line in the key."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from staking.base.units import format_length
from staking.plan import ArrayPlan, Plan
from staking.sheets import map_symbols as sign
from staking.sheets.drawing import Dash, Item, Line
from staking.sheets.labels import Label, clipped, points_along
from staking.sheets.map_canvas import XY, Canvas, inside, middle, shrunk, stroke
from staking.sheets.map_extent import Control
from staking.sheets.map_ground import contours
from staking.sheets.notation import Notation
from staking.sheets.place_areas import place_areas

_NAME_PT = 10.5
_SMALL_PT = 9.5
_FRONT_MM = 9.0
"""Length of the arrow to the low side."""

_SHUN = 8
"""A name keeps off an edge, a beam or a boundary as off so many contours."""

_CIRCLE = 72
"""Corners of a circle drawn as a line, so that the window can cut it."""

_LINE_KINDS: dict[str, tuple[str, float, Dash]] = {
    "break": ("break of the ground", 0.3, "dotted"),
    "boundary": ("boundary", 0.7, "dashdot"),
    "no_build": ("no-build area", 0.5, "dotted"),
    "buried": ("buried line", 0.6, "dashed"),
    "overhead": ("overhead line", 0.9, "dotted"),
}
"""What a line is called, its width and its dash."""


def draw_ground(canvas: Canvas, plan: Plan, notation: Notation) -> None:
    """Draw the contours."""
    if plan.ground is None:
        return
    view = canvas.view
    step, found = contours(plan.ground, extent_m=view.extent_m, scale=view.scale.ratio, style=notation.style)
    for contour in found:
        path = tuple(view.xy(en) for en in contour.en_m)
        line = Line(xy_mm=path, width_mm=0.2, gray=0.35, layer="contours")
        canvas.lines.append(line)
        canvas.paths.append(points_along(path))
        canvas.contours.append((line, _elevation(contour.elevation_m, notation)))
    if found:
        metric = notation.style == "metric"
        every = f"{format_length(step, style='metres', places=1)} m" if metric else notation.small_words(step)
        words = f"contours, every {every}"
        canvas.key["contours"] = (stroke(0.2, "solid", 0.35), words)


def _elevation(value_m: float, notation: Notation) -> str:
    """Return a contour's elevation; in metres on a metric map, where millimetres would feign accuracy."""
    if notation.style != "metric":
        return notation.length(value_m)
    return f"{format_length(value_m, style='metres', places=1)} m"


def draw_lines(canvas: Canvas, plan: Plan) -> None:
    """Draw boundaries, breaks, areas and lines to keep clear of, named at their middle."""
    points = plan.adjustment.points
    for row in plan.book.lines:
        places = []
        for name in row.points:
            try:
                en = points.enz_m[points.index(name), :2]
            except KeyError:
                continue
            if np.isfinite(en).all():
                places.append(canvas.view.xy(en))
        if len(places) < 2:
            continue
        words, width, dash = _LINE_KINDS[row.kind]
        canvas.line(
            places, closed=row.kind == "no_build", width_mm=width, dash=dash, layer=row.kind, shun=_SHUN
        )
        canvas.key[row.kind] = (stroke(width, dash), words)
        if row.kind != "break":
            _name_along(canvas, places, f"{words} {row.line}".strip(), layer=row.kind)


def draw_areas(canvas: Canvas, plan: Plan) -> None:
    """Draw the areas in which arrays were to be placed, named at their middle."""
    for name, corners in place_areas(plan):
        path = [canvas.view.xy((float(east), float(north))) for east, north in corners]
        canvas.line(path, closed=True, width_mm=0.4, dash="dashdotdot", layer="place areas", shun=_SHUN)
        canvas.key["place areas"] = (stroke(0.4, "dashdotdot"), "area the array was to stand in")
        _name_along(canvas, [*path, path[0]], f"area for the array {name}".strip(), layer="place areas")


def _name_along(canvas: Canvas, path: Sequence[XY], text: str, *, layer: str) -> None:
    """Name a line at its middle on the map."""
    along = [xy for piece in inside(path, canvas.view.page.window) for xy in points_along(piece)]
    if along:
        x, y = along[len(along) // 2]
        at = (float(x), float(y))
        canvas.labels.append(Label(xy_mm=at, radius_mm=0.5, lines=((text, 9.0, False),), layer=layer))


def draw_trees(canvas: Canvas, plan: Plan) -> None:
    """Draw the circle round each tree that nothing is dug or built within."""
    points = plan.adjustment.points
    for row in plan.book.points:
        if row.kind != "tree" or not row.radius_m:
            continue
        try:
            en = points.enz_m[points.index(row.point), :2]
        except KeyError:
            continue
        if not np.isfinite(en).all():
            continue
        turns = np.linspace(0.0, math.tau, _CIRCLE, endpoint=False)
        ring = en + row.radius_m * np.column_stack([np.cos(turns), np.sin(turns)])
        path = [canvas.view.xy(at) for at in ring]
        canvas.line(path, closed=True, width_mm=0.3, dash="dotted", layer="trees", shun=2)
        canvas.key["trees"] = (stroke(0.3, "dotted"), "kept clear round a tree")


def draw_array(
    canvas: Canvas,
    plan: Plan,
    array: ArrayPlan,
    notation: Notation,
    *,
    named: Callable[[str], bool] | None = None,
) -> None:
    """Draw the modules' edge, beams, hubs and piers of one array, inside the window.

    Without `named` each pier has its name and length beside it, else those whose whole name it accepts.
    """
    view = canvas.view
    outline = [view.xy(en) for en in array.fit.modules_outline_en_m]
    canvas.line(outline, closed=True, width_mm=0.35, dash="dashed", layer="modules", shun=_SHUN)
    canvas.key["modules"] = (stroke(0.35, "dashed"), "edge of the modules")
    for beam in array.fit.beams:
        ends = (view.xy(beam.left_end_enz_m[:2]), view.xy(beam.right_end_enz_m[:2]))
        canvas.line(ends, width_mm=0.55, dash="dashdot", layer="beams", shun=_SHUN)
        canvas.key["beams"] = (stroke(0.55, "dashdot"), "beam")
    for mark in array.stakeout.marks:
        for hub in mark.hubs:
            if not view.shows(hub.en_m):
                continue
            xy = view.xy(hub.en_m)
            canvas.sign(sign.hub(xy), xy, sign.HUB_MM)
            canvas.key["hubs"] = (sign.hub, "offset hub")
    front = fit_front(array)
    if view.shows(front):
        draw_front(canvas, outline, array.title)
    _draw_piers(canvas, plan, array, notation, named)


def fit_front(array: ArrayPlan) -> tuple[float, float]:
    """Return the middle of the modules' low edge in plan."""
    low = (array.fit.modules_outline_en_m[0] + array.fit.modules_outline_en_m[1]) / 2.0
    return float(low[0]), float(low[1])


def _draw_piers(
    canvas: Canvas, plan: Plan, array: ArrayPlan, notation: Notation, named: Callable[[str], bool] | None
) -> None:
    footing = plan.book.job.footing
    hole_mm = 0.0 if footing is None else footing.hole_diameter_m * 500.0 / canvas.view.scale.ratio
    radius = max(sign.PIER_MM, hole_mm)
    piers, lengths = array.fit.piers, array.fit.lengths
    facing = array.fit.plane.azimuth_rad
    behind = (-math.sin(facing), -math.cos(facing))
    for name, beam, en, above in zip(piers.names, piers.beam, piers.en_m, lengths.above_grade_m, strict=True):
        if not canvas.view.shows(en):
            continue
        xy = canvas.view.xy(en)
        canvas.sign(sign.pier(xy, radius), xy, radius + sign.PIER_CROSS_MM)
        if named is not None and not named(array.pier_name(name)):
            continue
        lines = ((array.pier_name(name), _NAME_PT, True), (notation.length(float(above)), _SMALL_PT, False))
        row = array.beam_name(array.fit.beams[int(beam)].letter)
        # The highest row's names stand outside, so that those of two rows do not share what lies between.
        toward = behind if 0 < int(beam) == len(array.fit.beams) - 1 else None
        reach = radius + sign.PIER_CROSS_MM
        canvas.labels.append(
            Label(xy_mm=xy, radius_mm=reach, lines=lines, layer="pier names", row=row, toward=toward)
        )
    words = "pier, above-grade length" + (f" ({notation.unit})" if notation.unit else "")
    canvas.key["piers"] = (lambda xy: sign.pier(xy, min(radius, 1.2)), words)


def draw_front(canvas: Canvas, outline: Sequence[XY], name: str) -> None:
    """Draw an arrow out of the middle of the low edge: from there one looks at the array."""
    low, high = middle(outline[0], outline[1]), middle(outline[2], outline[3])
    length = math.hypot(low[0] - high[0], low[1] - high[1])
    if length == 0.0:
        return
    dx, dy = (low[0] - high[0]) / length, (low[1] - high[1]) / length
    start = (low[0] + 1.5 * dx, low[1] + 1.5 * dy)
    end = (start[0] + _FRONT_MM * dx, start[1] + _FRONT_MM * dy)
    canvas.signs += sign.arrow(start, end, width_mm=0.6, layer="front")
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        canvas.take((start[0] + share * _FRONT_MM * dx, start[1] + share * _FRONT_MM * dy), 1.0)
    words = "low side" + (f" of {name}" if name else "")
    label = Label(
        xy_mm=middle(start, end),
        radius_mm=1.6,
        lines=(("FRONT", _NAME_PT, True), (words, _SMALL_PT, False)),
        layer="front",
    )
    canvas.labels.insert(0, label)


def draw_baseline(canvas: Canvas, plan: Plan) -> None:
    """Draw the lines that stations run along."""
    points = plan.adjustment.points
    for array in plan.arrays:
        first, second = array.stakeout.baseline
        try:
            ends = [points.enz_m[points.index(name), :2] for name in (first, second)]
        except KeyError:
            continue
        if np.isfinite(ends).all():
            canvas.line([canvas.view.xy(en) for en in ends], width_mm=0.45, layer="baseline", shun=_SHUN)
            canvas.key["baseline"] = (stroke(0.45, "solid"), f"baseline, {first} toward {second}")


def draw_marks(canvas: Canvas, plan: Plan, marks: Sequence[Control], notation: Notation) -> None:
    """Draw pins, benchmarks and other lasting marks; those off the map as arrows at its edge."""
    given = plan.book.job.control.benchmark
    benchmark = "" if given is None else given.point.strip().casefold()
    labels = []
    for mark in marks:
        is_benchmark = mark.kind == "benchmark" or mark.name.strip().casefold() == benchmark
        symbol: Callable[[XY], tuple[Item, ...]]
        if is_benchmark:
            symbol, kind, words = sign.benchmark, "benchmark", "benchmark, elevation"
        elif mark.kind == "pin":
            symbol, kind, words = sign.pin, "pin", "pin"
        else:
            symbol, kind, words = sign.other_mark, "other", "tree, corner or other"
        if canvas.view.shows(mark.en_m):
            lines: tuple[tuple[str, float, bool], ...] = ((mark.name, _NAME_PT, True),)
            if is_benchmark and mark.elevation_m is not None:
                lines = (*lines, (notation.place(mark.elevation_m), _SMALL_PT, False))
            xy = canvas.view.xy(mark.en_m)
            canvas.sign(symbol(xy), xy, sign.PIN_MM)
            labels.append(Label(xy_mm=xy, radius_mm=sign.PIN_MM, lines=lines, layer="pin names"))
            canvas.key[kind] = (symbol, words)
        elif plan.arrays and (is_benchmark or mark.kind == "pin"):
            labels.append(_draw_beyond(canvas, plan.arrays[0], mark, notation))
    canvas.labels[:0] = labels


def _draw_beyond(canvas: Canvas, array: ArrayPlan, mark: Control, notation: Notation) -> Label:
    """Draw an arrow at the window's edge toward a mark off the map; return its name and how far it is."""
    box = shrunk(canvas.view.page.window, 1.5)
    centre = ((box[0] + box[2]) / 2.0, (box[1] + box[3]) / 2.0)
    cut = clipped(centre, canvas.view.xy(mark.en_m), box)
    tip = centre if cut is None else cut[1]
    length = math.hypot(tip[0] - centre[0], tip[1] - centre[1])
    tail = (tip[0] - 7.0 * (tip[0] - centre[0]) / length, tip[1] - 7.0 * (tip[1] - centre[1]) / length)
    canvas.signs += sign.arrow(tail, tip, width_mm=0.35, layer="beyond")
    for share in (0.0, 0.5, 1.0):
        canvas.take((tail[0] + share * (tip[0] - tail[0]), tail[1] + share * (tip[1] - tail[1])), 1.2)
    start = array.fit.piers.en_m[0]
    far = math.hypot(mark.en_m[0] - float(start[0]), mark.en_m[1] - float(start[1]))
    text = f"{notation.words(far)} from {array.pier_name(array.fit.piers.names[0])}"
    return Label(
        xy_mm=middle(tail, tip),
        radius_mm=3.6,
        lines=((mark.name, _NAME_PT, True), (text, 9.0, False)),
        layer="beyond",
    )


def draw_shots(canvas: Canvas, plan: Plan) -> None:
    """Draw a dot for each ground shot; on a survey alone with its name."""
    points = plan.adjustment.points
    for i, name in enumerate(points.names):
        east, north = (float(x) for x in points.enz_m[i, :2])
        if points.kinds[i] != "ground" or not np.isfinite(points.enz_m[i]).all():
            continue
        xy = canvas.view.xy((east, north))
        if not canvas.view.shows((east, north)) or canvas.is_taken(xy):
            continue
        canvas.key["shots"] = (sign.shot, "ground shot")
        if plan.arrays:
            # Their names are in the control table; here the dots only turn labels aside.
            canvas.signs += sign.shot(xy)
            r = sign.SHOT_MM
            canvas.dots.append((xy[0] - r, xy[1] - r, xy[0] + r, xy[1] + r))
        else:
            canvas.sign(sign.shot(xy), xy, sign.SHOT_MM)
            label = Label(xy_mm=xy, radius_mm=sign.SHOT_MM, lines=((name, 9.0, False),), layer="shot names")
            canvas.labels.append(label)
