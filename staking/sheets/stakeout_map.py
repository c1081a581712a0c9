"""The stake-out map: the site in plan at a true scale, north at the top."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from staking.plan import ArrayPlan, Plan
from staking.sheets import map_symbols as sign
from staking.sheets.drawing import Dash, Drawing, Item, Line, Text
from staking.sheets.labels import Box, Label, clipped, place_labels, points_along
from staking.sheets.map_extent import Control, MapView, control_marks, map_view
from staking.sheets.map_ground import contour_label, contours
from staking.sheets.map_page import KeyEntry, page_frame, strip_items
from staking.sheets.names import north_name, on_grid
from staking.sheets.notation import Notation, degrees
from staking.sheets.sheet import Paper, Sheet, TitleBlock

Floats = NDArray[np.float64]
XY = tuple[float, float]

_NAME_PT = 10.5
_SMALL_PT = 9.5
_FRONT_MM = 9.0
"""Length of the arrow to the low side."""

_LINE_KINDS: dict[str, tuple[str, float, Dash]] = {
    "break": ("break of the ground", 0.3, "dotted"),
    "boundary": ("boundary", 0.7, "dashdot"),
    "no_build": ("no-build area", 0.5, "dotted"),
    "buried": ("buried line", 0.6, "dashed"),
    "overhead": ("overhead line", 0.9, "dotted"),
}


@dataclass(slots=True, kw_only=True)
class _Canvas:
    """What is drawn so far, from the bottom up, and what the labels must heed."""

    view: MapView
    lines: list[Item] = field(default_factory=list)
    signs: list[Item] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    taken: list[Box] = field(default_factory=list)
    paths: list[Floats] = field(default_factory=list)
    key: dict[str, KeyEntry] = field(default_factory=dict)

    def line(
        self,
        ends: Sequence[XY],
        *,
        closed: bool = False,
        width_mm: float,
        dash: Dash = "solid",
        gray: float = 0.0,
        layer: str,
    ) -> None:
        """Draw a path, cut off at the window."""
        path = [*ends, ends[0]] if closed else list(ends)
        for piece in _inside(path, self.view.page.window):
            self.lines.append(Line(xy_mm=piece, width_mm=width_mm, dash=dash, gray=gray, layer=layer))
            self.paths.append(points_along(piece))

    def take(self, xy: XY, radius_mm: float) -> None:
        """Keep labels off a sign."""
        self.taken.append((xy[0] - radius_mm, xy[1] - radius_mm, xy[0] + radius_mm, xy[1] + radius_mm))


def stakeout_map(plan: Plan, *, paper: Paper, block: TitleBlock, notation: Notation) -> Sheet | None:
    """Return the map's sheet, None when not a single point is placed in plan."""
    marks = control_marks(plan)
    view = map_view(plan, marks, paper, notation.style)
    if view is None:
        return None
    canvas = _Canvas(view=view)
    contoured = _draw_ground(canvas, plan, notation)
    _draw_lines(canvas, plan)
    for array in plan.arrays:
        _draw_array(canvas, plan, array, notation)
    _draw_baseline(canvas, plan)
    _draw_marks(canvas, plan, marks, notation)
    _draw_shots(canvas, plan)
    title = "Stake-out map" if plan.arrays else "Survey map"
    items = [*canvas.lines, *_labelled(canvas, contoured)]
    items += page_frame(view.page, title=title, block=block)
    items += strip_items(
        view.page,
        scale=view.scale,
        notation=notation,
        north=north_name(plan),
        magnetic=_magnetic(plan),
        key=tuple(canvas.key.values()),
    )
    drawing = Drawing(
        width_mm=view.page.width_mm, height_mm=view.page.height_mm, scale=view.scale.ratio, items=tuple(items)
    )
    return Sheet(name="stakeout_map", title=title, drawing=drawing, landscape=not view.page.upright)


def _labelled(canvas: _Canvas, contoured: Sequence[tuple[Line, str]]) -> list[Item]:
    """Return signs, leaders and labels, those of the contours last and only where there is room."""
    window = _shrunk(canvas.view.page.window, 1.0)
    along = np.vstack(canvas.paths) if canvas.paths else np.zeros((0, 2))
    placed = place_labels(canvas.labels, window=window, taken=canvas.taken, lines_mm=along)
    found = [p for p in placed if p is not None]
    taken = [*canvas.taken, *(p.box for p in found)]
    words: list[Text] = []
    for line, text in contoured:
        for label, box in contour_label(line, text, taken, window):
            words.append(label)
            taken.append(box)
    leaders = [p.leader for p in found if p.leader is not None]
    missing = [label.lines[0][0] for label, p in zip(canvas.labels, placed, strict=True) if p is None]
    if missing:
        canvas.key["missing"] = (lambda xy: (), f"No room for {len(missing)} names: see the tables")
    return [*words, *leaders, *canvas.signs, *(text for p in found for text in p.texts)]


def _draw_ground(canvas: _Canvas, plan: Plan, notation: Notation) -> list[tuple[Line, str]]:
    if plan.ground is None:
        return []
    view = canvas.view
    step, found = contours(plan.ground, extent_m=view.extent_m, scale=view.scale.ratio, style=notation.style)
    labelled = []
    for contour in found:
        path = tuple(view.xy(en) for en in contour.en_m)
        line = Line(xy_mm=path, width_mm=0.2, gray=0.35, layer="contours")
        canvas.lines.append(line)
        canvas.paths.append(points_along(path))
        labelled.append((line, notation.length(contour.elevation_m)))
    if found:
        words = f"ground contours, every {notation.small_words(step)}"
        canvas.key["contours"] = (_stroke(0.2, "solid", 0.35), words)
    return labelled


def _draw_lines(canvas: _Canvas, plan: Plan) -> None:
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
        canvas.line(places, closed=row.kind == "no_build", width_mm=width, dash=dash, layer=row.kind)
        canvas.key[row.kind] = (_stroke(width, dash), words)
        path = [xy for piece in _inside(places, canvas.view.page.window) for xy in points_along(piece)]
        if path and row.kind != "break":
            x, y = path[len(path) // 2]
            text = f"{words} {row.line}".strip()
            canvas.labels.append(
                Label(xy_mm=(float(x), float(y)), radius_mm=0.5, lines=((text, 9.0, False),), layer=row.kind)
            )


def _draw_array(canvas: _Canvas, plan: Plan, array: ArrayPlan, notation: Notation) -> None:
    view = canvas.view
    outline = [view.xy(en) for en in array.fit.modules_outline_en_m]
    canvas.line(outline, closed=True, width_mm=0.35, dash="dashed", layer="modules")
    canvas.key["modules"] = (_stroke(0.35, "dashed"), "edge of the modules")
    for beam in array.fit.beams:
        ends = (view.xy(beam.left_end_enz_m[:2]), view.xy(beam.right_end_enz_m[:2]))
        canvas.line(ends, width_mm=0.55, dash="dashdot", layer="beams")
        canvas.key["beams"] = (_stroke(0.55, "dashdot"), "beam")
    _draw_front(canvas, outline, array.name)
    for mark in array.stakeout.marks:
        for hub in mark.hubs:
            xy = view.xy(hub.en_m)
            canvas.signs += sign.hub(xy)
            canvas.take(xy, sign.HUB_MM)
            canvas.key["hubs"] = (sign.hub, "offset hub")
    footing = plan.book.job.footing
    hole_mm = 0.0 if footing is None else footing.hole_diameter_m * 500.0 / view.scale.ratio
    radius = max(sign.PIER_MM, hole_mm)
    for name, en, above in zip(
        array.fit.piers.names, array.fit.piers.en_m, array.fit.lengths.above_grade_m, strict=True
    ):
        xy = view.xy(en)
        canvas.signs += sign.pier(xy, radius)
        canvas.take(xy, radius + 0.7)
        canvas.labels.append(
            Label(
                xy_mm=xy,
                radius_mm=radius + 0.7,
                lines=(
                    (array.pier_name(name), _NAME_PT, True),
                    (notation.length(float(above)), _SMALL_PT, False),
                ),
                layer="pier names",
            )
        )
    words = "pier: name, above-grade length" + (f" ({notation.unit})" if notation.unit else "")
    canvas.key["piers"] = (lambda xy: sign.pier(xy, min(radius, 1.9)), words)


def _draw_front(canvas: _Canvas, outline: Sequence[XY], name: str) -> None:
    """Draw an arrow out of the middle of the low edge: from there one looks at the array."""
    low = _middle(outline[0], outline[1])
    high = _middle(outline[2], outline[3])
    length = math.hypot(low[0] - high[0], low[1] - high[1])
    if length == 0.0:
        return
    dx, dy = (low[0] - high[0]) / length, (low[1] - high[1]) / length
    start = (low[0] + 1.5 * dx, low[1] + 1.5 * dy)
    end = (start[0] + _FRONT_MM * dx, start[1] + _FRONT_MM * dy)
    canvas.signs += sign.arrow(start, end, width_mm=0.6, layer="front")
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        canvas.take((start[0] + share * _FRONT_MM * dx, start[1] + share * _FRONT_MM * dy), 1.0)
    text = "FRONT: low side" + (f" of {name}" if name else "")
    canvas.labels.append(
        Label(xy_mm=_middle(start, end), radius_mm=1.6, lines=((text, _SMALL_PT, True),), layer="front")
    )


def _draw_baseline(canvas: _Canvas, plan: Plan) -> None:
    points = plan.adjustment.points
    for array in plan.arrays:
        try:
            ends = [points.enz_m[points.index(name), :2] for name in array.stakeout.baseline]
        except KeyError:
            continue
        if np.isfinite(ends).all():
            canvas.line([canvas.view.xy(en) for en in ends], width_mm=0.45, layer="baseline")
            first, second = array.stakeout.baseline
            canvas.key["baseline"] = (_stroke(0.45, "solid"), f"baseline, {first} toward {second}")


def _draw_marks(canvas: _Canvas, plan: Plan, marks: Sequence[Control], notation: Notation) -> None:
    named = plan.book.job.control.benchmark
    benchmark = "" if named is None else named.point.strip().casefold()
    for mark in marks:
        is_benchmark = mark.kind == "benchmark" or mark.name.strip().casefold() == benchmark
        symbol: Callable[[XY], tuple[Item, ...]]
        if is_benchmark:
            symbol, kind, words = sign.benchmark, "benchmark", "benchmark, elevation"
        elif mark.kind == "pin":
            symbol, kind, words = sign.pin, "pin", "pin"
        else:
            symbol, kind, words = sign.other_mark, "other", "tree, corner or other mark"
        lines: tuple[tuple[str, float, bool], ...] = ((mark.name, _NAME_PT, True),)
        if is_benchmark and mark.elevation_m is not None:
            lines = (*lines, (notation.length(mark.elevation_m), _SMALL_PT, False))
        if canvas.view.shows(mark.en_m):
            xy = canvas.view.xy(mark.en_m)
            canvas.signs += symbol(xy)
            canvas.take(xy, sign.PIN_MM)
            canvas.labels.insert(0, Label(xy_mm=xy, radius_mm=sign.PIN_MM, lines=lines, layer="pin names"))
            canvas.key[kind] = (symbol, words)
        elif is_benchmark or mark.kind == "pin":
            _draw_beyond(canvas, plan, mark, notation)


def _draw_beyond(canvas: _Canvas, plan: Plan, mark: Control, notation: Notation) -> None:
    """Draw an arrow at the window's edge toward a mark that lies off the map, with how far it is."""
    box = _shrunk(canvas.view.page.window, 1.5)
    middle = ((box[0] + box[2]) / 2.0, (box[1] + box[3]) / 2.0)
    there = canvas.view.xy(mark.en_m)
    cut = clipped(middle, there, box)
    if cut is None:
        return
    tip = cut[1]
    length = math.hypot(tip[0] - middle[0], tip[1] - middle[1])
    tail = (tip[0] - 7.0 * (tip[0] - middle[0]) / length, tip[1] - 7.0 * (tip[1] - middle[1]) / length)
    canvas.signs += sign.arrow(tail, tip, width_mm=0.35, layer="beyond")
    for share in (0.0, 0.5, 1.0):
        canvas.take((tail[0] + share * (tip[0] - tail[0]), tail[1] + share * (tip[1] - tail[1])), 1.2)
    start_name, start = _first_stake(plan)
    far = math.hypot(mark.en_m[0] - start[0], mark.en_m[1] - start[1])
    text = f"{notation.words(far)} from {start_name}"
    canvas.labels.insert(
        0,
        Label(
            xy_mm=_middle(tail, tip),
            radius_mm=3.6,
            lines=((mark.name, _NAME_PT, True), (text, 9.0, False)),
            layer="beyond",
        ),
    )


def _first_stake(plan: Plan) -> tuple[str, XY]:
    array = plan.arrays[0]
    east, north = array.fit.piers.en_m[0]
    return array.pier_name(array.fit.piers.names[0]), (float(east), float(north))


def _draw_shots(canvas: _Canvas, plan: Plan) -> None:
    """Draw a dot for each ground shot; on a survey alone, with its name."""
    points = plan.adjustment.points
    for i, name in enumerate(points.names):
        en = points.enz_m[i, :2]
        if points.kinds[i] != "ground" or not np.isfinite(points.enz_m[i]).all():
            continue
        xy = canvas.view.xy(en)
        if not canvas.view.shows((float(en[0]), float(en[1]))) or _is_taken(xy, canvas.taken):
            continue
        canvas.signs += sign.shot(xy)
        canvas.key["shots"] = (sign.shot, "ground shot")
        if plan.arrays:
            # Names of shots are in the control table; here their dots only turn labels aside.
            canvas.paths.append(np.full((6, 2), xy) + np.linspace(-0.1, 0.1, 6)[:, None])
        else:
            canvas.take(xy, sign.SHOT_MM)
            label = Label(xy_mm=xy, radius_mm=sign.SHOT_MM, lines=((name, 9.0, False),), layer="shot names")
            canvas.labels.append(label)


def _magnetic(plan: Plan) -> tuple[float, str] | None:
    """Return magnetic north from true north and its words, None where place or date is not known."""
    site = plan.book.job.site
    if site.latitude_rad is None or site.longitude_rad is None or site.date is None or on_grid(plan):
        return None
    from staking.north.declination import declination_rad

    try:
        angle = declination_rad(site.latitude_rad, site.longitude_rad, site.date).declination_rad
    except ValueError:
        return None  # Outside the model's years: no arrow rather than an old one.
    side = "E" if angle >= 0.0 else "W"
    return angle, f"mag. {degrees(abs(angle))} {side}, {site.date.isoformat()}"


def _stroke(width_mm: float, dash: Dash, gray: float = 0.0) -> Callable[[XY], tuple[Item, ...]]:
    """Return what draws a short piece of a line for the key."""

    def draw(xy: XY) -> tuple[Item, ...]:
        ends = ((xy[0] - 3.5, xy[1]), (xy[0] + 3.5, xy[1]))
        return (Line(xy_mm=ends, width_mm=width_mm, dash=dash, gray=gray, layer="key"),)

    return draw


def _inside(path: Sequence[XY], box: Box) -> list[tuple[XY, ...]]:
    """Return the parts of a path inside a box."""
    pieces: list[list[XY]] = []
    for a, b in pairwise(path):
        cut = clipped(a, b, box)
        if cut is None:
            continue
        if pieces and pieces[-1][-1] == cut[0]:
            pieces[-1].append(cut[1])
        else:
            pieces.append([cut[0], cut[1]])
    return [tuple(piece) for piece in pieces]


def _middle(a: XY, b: XY) -> XY:
    return (a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0


def _shrunk(box: Box, by_mm: float) -> Box:
    return box[0] + by_mm, box[1] + by_mm, box[2] - by_mm, box[3] - by_mm


def _is_taken(xy: XY, taken: Sequence[Box]) -> bool:
    return any(b[0] <= xy[0] <= b[2] and b[1] <= xy[1] <= b[3] for b in taken)
