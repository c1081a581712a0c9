"""The site plan that a permit desk asks for: outline, piers, contours, boundaries and their dimensions."""

from __future__ import annotations

import numpy as np

from staking.layout.field import edges_of, plan_outline
from staking.layout.shape import shape_of
from staking.lines.obstacles import obstacles_of
from staking.plan import ArrayPlan, Plan
from staking.sheets import map_symbols as sign
from staking.sheets.dimensions import dimension_along
from staking.sheets.drawing import Text
from staking.sheets.labels import Label
from staking.sheets.letters import text_width_mm
from staking.sheets.map_canvas import Canvas, stroke
from staking.sheets.map_extent import control_marks, map_view
from staking.sheets.map_scale import OUT_OF_SIGHT
from staking.sheets.map_sheet import map_sheet
from staking.sheets.map_things import draw_areas, draw_front, draw_ground, draw_lines, draw_marks, draw_trees
from staking.sheets.notation import Notation
from staking.sheets.sheet import Paper, Sheet, TitleBlock

TITLE = "Site plan, for the permit desk"
_AS_FAR = 2.0 * OUT_OF_SIGHT
"""A desk wants the whole parcel: its corners may make this map coarser than the stake-out map."""
_OFF_MM = 6.0
"""How far dimension lines stand off what they measure."""


def permit_plan(plan: Plan, *, paper: Paper, block: TitleBlock, notation: Notation) -> Sheet | None:
    """Return the sheet; None without arrays."""
    if not plan.arrays:
        return None
    marks = control_marks(plan)
    view = map_view(plan, marks, paper, notation.style, as_far=_AS_FAR)
    if view is None:
        return None
    canvas = Canvas(view=view)
    draw_ground(canvas, plan, notation)
    draw_lines(canvas, plan)
    draw_areas(canvas, plan)
    draw_trees(canvas, plan)
    for array in plan.arrays:
        _draw_array(canvas, array, notation)
        _draw_setbacks(canvas, plan, array, notation)
    draw_marks(canvas, plan, marks, notation)
    canvas.place()
    remark = canvas.remark or "Utilities, trench and buildings: not surveyed unless drawn."
    return map_sheet(plan, canvas, "permit_plan", TITLE, block, notation, remark=remark)


def _draw_array(canvas: Canvas, array: ArrayPlan, notation: Notation) -> None:
    view, fit = canvas.view, array.fit
    outline = [view.xy(en) for en in fit.modules_outline_en_m]
    canvas.line(outline, closed=True, width_mm=0.6, layer="modules", shun=8)
    canvas.key["modules"] = (stroke(0.6, "solid"), "outline of the modules")
    for name, beam, en in zip(fit.piers.names, fit.piers.beam, fit.piers.en_m, strict=True):
        xy = view.xy(en)
        canvas.sign(sign.pier(xy, sign.PIER_MM), xy, sign.PIER_MM + sign.PIER_CROSS_MM)
        lines = ((array.pier_name(name), 9.0, False),)
        reach = sign.PIER_MM + sign.PIER_CROSS_MM
        canvas.labels.append(
            Label(xy_mm=xy, radius_mm=reach, lines=lines, layer="pier names", row=f"{array.title} {beam}")
        )
    canvas.key["piers"] = (lambda xy: sign.pier(xy, 1.2), "pier, in the schedule")
    draw_front(canvas, outline, array.title)
    corners = fit.modules_outline_en_m
    # A section's depth stands where no neighbour does: left of the first, right of the last.
    job = array.job
    beside = 1 if job.section == job.sections else 3 if job.section == 1 else None
    for k in (2, *(() if beside is None else (beside,))):
        a, b = outline[k], outline[(k + 1) % 4]
        length = float(np.hypot(*(corners[(k + 1) % 4] - corners[k])))
        _dimension(canvas, a, b, -_OFF_MM, notation.words(length))


def _draw_setbacks(canvas: Canvas, plan: Plan, array: ArrayPlan, notation: Notation) -> None:
    """Draw how far the modules keep from each boundary and area, where they come nearest."""
    for a, b, apart_m in setbacks(plan, array):
        ends = canvas.view.xy(a), canvas.view.xy(b)
        if canvas.view.shows(a) and canvas.view.shows(b) and ends[0] != ends[1]:
            _dimension(canvas, *ends, 0.0, notation.words(apart_m))


def setbacks(
    plan: Plan, array: ArrayPlan
) -> tuple[tuple[tuple[float, float], tuple[float, float], float], ...]:
    """Return from where to where the modules come nearest to each boundary or area, and how far that is.

    Only where they keep off it: what reaches over is told in words.
    """
    from shapely import LineString, Polygon
    from shapely.ops import nearest_points

    shape = shape_of(array.job, style="metric")
    field = Polygon(plan_outline(edges_of(shape, array.fit.plane)))
    found = []
    for obstacle in obstacles_of(plan.book, plan.adjustment.points).placed:
        if obstacle.kind not in ("boundary", "no_build"):
            continue
        ring = [*obstacle.en_m, obstacle.en_m[0]] if obstacle.closed else obstacle.en_m
        line = LineString(ring)
        if field.intersects(line):
            continue
        a, b = nearest_points(field, line)
        found.append(((a.x, a.y), (b.x, b.y), float(field.distance(line))))
    return tuple(found)


def _dimension(
    canvas: Canvas, a: tuple[float, float], b: tuple[float, float], off_mm: float, words: str
) -> None:
    """Draw a dimension and keep labels off its text."""
    items = dimension_along(a, b, off_mm=off_mm, text=words)
    canvas.signs += items
    canvas.key["dimensions"] = (stroke(0.18, "solid"), "dimension, level")
    for item in items:
        if isinstance(item, Text):
            half = text_width_mm(item.text, size_pt=item.size_pt) / 2.0
            turn = np.radians(item.turn_deg)
            for share in np.linspace(-1.0, 1.0, 7):
                at = (
                    item.xy_mm[0] + share * half * float(np.cos(turn)) - 1.2 * float(np.sin(turn)),
                    item.xy_mm[1] + share * half * float(np.sin(turn)) + 1.2 * float(np.cos(turn)),
                )
                canvas.take(at, 1.8)
