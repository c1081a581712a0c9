"""A map as a sheet: the canvas in its frame, with scale bar, key and north arrow below."""

from __future__ import annotations

import math

from staking.plan import Plan
from staking.sheets.drawing import Drawing
from staking.sheets.map_canvas import Canvas
from staking.sheets.map_page import page_frame, strip_items
from staking.sheets.names import axes_north, north_name
from staking.sheets.notation import Notation, degrees
from staking.sheets.sheet import Sheet, TitleBlock

_ALIGNED_RAD = math.radians(0.005)
"""An angle less than this prints as nought."""


def map_sheet(
    plan: Plan,
    canvas: Canvas,
    name: str,
    title: str,
    block: TitleBlock,
    notation: Notation,
    *,
    remark: str,
) -> Sheet:
    """Return the sheet of a canvas whose labels are placed; the `remark` stands below the scale bar."""
    view = canvas.view
    items = [*canvas.drawn, *page_frame(view.page, title=title, block=block)]
    items += strip_items(
        view.page,
        scale=view.scale,
        notation=notation,
        north=_north(plan),
        magnetic=_magnetic(plan),
        key=tuple(canvas.key.values()),
        remark=remark,
    )
    drawing = Drawing(
        width_mm=view.page.width_mm,
        height_mm=view.page.height_mm,
        scale=view.scale.ratio,
        items=tuple(items),
    )
    return Sheet(name=name, title=title, drawing=drawing, landscape=not view.page.upright)


def _north(plan: Plan) -> tuple[str, ...]:
    """Return which north is up, and on a grid how far it lies from true north."""
    name, turned = north_name(plan), axes_north(plan)
    if not plan.book.on_grid:
        return (name,)
    if turned is None:
        return (name, "true north not known")
    if abs(turned) < _ALIGNED_RAD:
        return (name, "is true north here")
    return (name, f"{degrees(abs(turned), 2)} {'E' if turned > 0.0 else 'W'} of true")


def _magnetic(plan: Plan) -> tuple[float, tuple[str, ...]] | None:
    """Return magnetic north from the axes' north and its words, None where place or date is not known."""
    site, turned = plan.book.job.site, axes_north(plan)
    if site.latitude_rad is None or site.longitude_rad is None or site.date is None or turned is None:
        return None
    from staking.north.declination import declination_rad

    try:
        found = declination_rad(site.latitude_rad, site.longitude_rad, site.date)
    except ValueError:
        return None  # Outside the model's years: no arrow rather than an old one.
    angle = found.declination_rad
    side = "E" if angle >= 0.0 else "W"
    lies, good_to = f"magnetic {degrees(abs(angle))} {side}", f"± {degrees(found.sd_rad)}"
    day = f"on {site.date.isoformat()}"
    if plan.book.on_grid:
        # The arrow's own north is the grid's, so it is said from which the angle counts.
        return angle - turned, (f"{lies} of true", f"{good_to} {day}")
    return angle, (lies, f"{good_to} {day}", f"model to {found.valid_until.isoformat()}")
