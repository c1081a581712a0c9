"""The stake-out map: the site in plan at a true scale, north at the top."""

from __future__ import annotations

from collections.abc import Callable

from staking.plan import Plan
from staking.sheets.map_canvas import Canvas
from staking.sheets.map_extent import Control, MapView, control_marks, map_view
from staking.sheets.map_parts import MapPart, draw_part, map_parts
from staking.sheets.map_sheet import map_sheet
from staking.sheets.map_things import (
    draw_areas,
    draw_array,
    draw_baseline,
    draw_ground,
    draw_lines,
    draw_marks,
    draw_shots,
    draw_trees,
)
from staking.sheets.notation import Notation
from staking.sheets.sheet import Paper, Sheet, TitleBlock


def stakeout_map(plan: Plan, *, paper: Paper, block: TitleBlock, notation: Notation) -> Sheet | None:
    """Return the map's sheet, None when not a single point is placed in plan."""
    sheets = stakeout_maps(plan, paper=paper, block=block, notation=notation)
    return sheets[0] if sheets else None


def stakeout_maps(plan: Plan, *, paper: Paper, block: TitleBlock, notation: Notation) -> tuple[Sheet, ...]:
    """Return the map's sheets: one, or where names find no room a key map and its parts at a larger scale."""
    marks = control_marks(plan)
    view = map_view(plan, marks, paper, notation.style)
    if view is None:
        return ()
    title = "Stake-out map" if plan.arrays else "Survey map"
    canvas = _canvas(plan, view, marks, notation)
    if canvas.remark and plan.arrays and (parts := map_parts(plan, view, notation.style)):
        ends = _end_piers(plan)
        key = _canvas(plan, view, marks, notation, named=ends.__contains__, parts=parts)
        sheets = [_sheet(plan, key, f"{title}: key to its parts", block, notation)]
        for number, part in enumerate(parts, start=1):
            own = _canvas(plan, part.view, marks, notation, named=part.piers.__contains__)
            which = "at a larger scale" if len(parts) == 1 else f"part {number} of {len(parts)}"
            sheets.append(_sheet(plan, own, f"{title}, {which}", block, notation, part=len(parts) > 1))
        return tuple(sheets)
    return (_sheet(plan, canvas, title, block, notation),)


def _canvas(
    plan: Plan,
    view: MapView,
    marks: tuple[Control, ...],
    notation: Notation,
    *,
    named: Callable[[str], bool] | None = None,
    parts: tuple[MapPart, ...] = (),
) -> Canvas:
    """Return a canvas with everything on it, its labels placed.

    Only piers that `named` accepts have their names and lengths beside them; `parts` are those of a key map.
    """
    canvas = Canvas(view=view)
    draw_ground(canvas, plan, notation)
    draw_lines(canvas, plan)
    draw_areas(canvas, plan)
    draw_trees(canvas, plan)
    for array in plan.arrays:
        draw_array(canvas, plan, array, notation, named=named)
    draw_baseline(canvas, plan)
    draw_marks(canvas, plan, [m for m in marks if named is None or parts or view.shows(m.en_m)], notation)
    if not parts:
        draw_shots(canvas, plan)
    for number, part in enumerate(parts, start=1):
        draw_part(canvas, part, number)
    canvas.place()
    return canvas


def _end_piers(plan: Plan) -> frozenset[str]:
    """Return the first and the last pier of each row."""
    names = set()
    for array in plan.arrays:
        piers = array.fit.piers
        for beam in range(len(array.fit.beams)):
            row = [name for name, own in zip(piers.names, piers.beam, strict=True) if own == beam]
            names |= {array.pier_name(row[0]), array.pier_name(row[-1])}
    return frozenset(names)


def _sheet(
    plan: Plan, canvas: Canvas, title: str, block: TitleBlock, notation: Notation, *, part: bool = False
) -> Sheet:
    remark = canvas.remark or ("Piers without a name: on another part." if part else "")
    return map_sheet(plan, canvas, "stakeout_map", title, block, notation, remark=remark)
