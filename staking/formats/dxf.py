"""A `SiteModel` as DXF, the exchange format of drawing programs (version AC1024), written by ezdxf.

Coordinates are the site's own in the survey's unit, which ``$INSUNITS`` names; a layer for each kind of
thing. No date of writing and no random identifiers: the same model gives the same bytes.
"""

from __future__ import annotations

import io
import math
from typing import TYPE_CHECKING, Any

from staking.base.units import in_unit
from staking.sheets.site_model import ENZ, Label, Ring, Run, SiteModel, Spot

if TYPE_CHECKING:
    from ezdxf.document import Drawing

INSUNITS = {"in": 1, "ft": 2, "mm": 4, "m": 6}
"""Codes of the header variable $INSUNITS."""
_DECIMALS = 6
"""Of coordinates in the drawing's unit: a micrometre or less."""
_LINE_TYPES = {
    "solid": "CONTINUOUS",
    "dashed": "DASHED",
    "dotted": "DOT",
    "dashdot": "DASHDOT",
    "dashdotdot": "DIVIDE",
}
_LONGEST_TEXT = 250
"""Signs of a text that every reader takes (from memory: 255 in old ones)."""
_DASH_M = 0.5
"""Length on the ground to which a line type's pattern is scaled: a few dashes to a bay."""
_POINT_M = 0.06
"""Size of the sign of a point."""
_POINT_SIGN = 34
"""$PDMODE 32 + 2: a cross in a circle."""


def dxf_bytes(model: SiteModel) -> bytes:
    """Return the model as the bytes of a DXF file."""
    from ezdxf import filemanagement
    from ezdxf._options import options

    # Its own switch for files without the time of writing and random identifiers.
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        document = filemanagement.new("R2010", setup=["linetypes"], units=INSUNITS[model.unit])
        _fill(document, model)
        _in_order(document)
        out = io.StringIO()
        document.write(out)
    finally:
        options.write_fixed_meta_data_for_testing = before
    return out.getvalue().encode("utf-8")


def _in_order(document: Drawing) -> None:
    """Sort the classes that the library declares from a set, whose order is another in every process."""
    classes = document.classes
    classes.add_required_classes(document.dxfversion)
    ordered = sorted(classes.classes.items())
    classes.classes.clear()
    classes.classes.update(ordered)


def _fill(document: Drawing, model: SiteModel) -> None:
    header, unit = document.header, model.unit
    header["$MEASUREMENT"] = 0 if unit in ("in", "ft") else 1
    header["$LUNITS"] = 2
    header["$LTSCALE"] = _size(_DASH_M, unit)
    header["$PDMODE"] = _POINT_SIGN
    header["$PDSIZE"] = _size(_POINT_M, unit)
    for name, text in model.facts:
        header.custom_vars.append(name, _plain(text))
    for layer in model.layers:
        made = document.layers.add(layer.name, linetype=_LINE_TYPES[layer.dash])
        made.description = _plain(layer.words)
    space = document.modelspace()
    for item in model.items:
        _add(space, item, unit)
    low, high = _extent(model)
    header["$EXTMIN"], header["$EXTMAX"] = low, high


def _add(space: Any, item: Spot | Run | Ring | Label, unit: str) -> None:
    on = {"layer": item.layer}
    if isinstance(item, Spot):
        space.add_point(_place(item.enz_m, unit), dxfattribs=on)
    elif isinstance(item, Ring):
        space.add_circle(_place(item.enz_m, unit), radius=_size(item.radius_m, unit), dxfattribs=on)
    elif isinstance(item, Label):
        text = space.add_text(_plain(item.text), height=_size(item.tall_m, unit), dxfattribs=on)
        text.set_placement(_place(item.enz_m, unit))
    elif item.level:
        path = [_place(at, unit)[:2] for at in item.enz_m]
        space.add_lwpolyline(path, close=item.closed, dxfattribs=on)
    elif len(item.enz_m) == 2:
        space.add_line(*(_place(at, unit) for at in item.enz_m), dxfattribs=on)
    else:
        space.add_polyline3d([_place(at, unit) for at in item.enz_m], close=item.closed, dxfattribs=on)


def _size(length_m: float, unit: str) -> float:
    return round(in_unit(length_m, unit), _DECIMALS)


def _place(at: ENZ, unit: str) -> tuple[float, float, float]:
    """Return coordinates in the drawing's unit; an elevation that is not known is drawn at 0."""
    east, north, up = (0.0 if math.isnan(value) else round(in_unit(value, unit), _DECIMALS) for value in at)
    return east + 0.0, north + 0.0, up + 0.0


def _plain(text: str) -> str:
    """Return a text on one line, not too long: a line end would break the file's pairs of lines."""
    plain = " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())
    return plain[:_LONGEST_TEXT] or "-"


def _extent(model: SiteModel) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    places = [
        _place(at, model.unit)
        for item in model.items
        for at in (item.enz_m if isinstance(item, Run) else (item.enz_m,))
    ]
    lows, highs = zip(*((min(axis), max(axis)) for axis in zip(*places, strict=True)), strict=True)
    return (lows[0], lows[1], lows[2]), (highs[0], highs[1], highs[2])
