"""A `Drawing` as SVG: true size in millimetres, text as text.

The same text is embedded as a vector picture in the PDF, so the two cannot disagree. `textLength` holds every
label to the width it was placed with, so that a viewer without the typeface cannot make labels run into
each other.
"""

from __future__ import annotations

from itertools import groupby
from xml.sax.saxutils import escape, quoteattr

from staking.sheets.drawing import Circle, Dash, Drawing, Item, Line, Text
from staking.sheets.letters import MM_PER_PT, text_width_mm

FONT_FAMILY = "IBM Plex Sans Condensed"
_FALLBACK = "'IBM Plex Sans', 'Roboto Condensed', 'Arial Narrow', 'DejaVu Sans Condensed', sans-serif"

_DASHES: dict[Dash, str] = {
    "dashed": "2.4 1.2",
    "dotted": "0.35 0.9",
    "dashdot": "5 1 0.6 1",
    "dashdotdot": "3.2 0.8 0.5 0.8 0.5 0.8",
}
"""Millimetres of line and gap."""
_HALO_MM = 0.9
"""Width of the white stroke behind a haloed text: 0.45 mm show on each side."""


def svg_text(drawing: Drawing) -> str:
    """Return the drawing as one SVG document."""
    width, height = _n(drawing.width_mm), _n(drawing.height_mm)
    parts = [
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" fill="none" stroke-linejoin="round" stroke-linecap="butt" '
        f'font-family="{FONT_FAMILY}, {_FALLBACK}">\n'
        f'<rect width="{width}" height="{height}" fill="white"/>\n'
    ]
    for layer, items in groupby(drawing.items, key=lambda item: item.layer):
        inside = "".join(_item(item, drawing.height_mm) for item in items)
        parts.append(f"<g class={quoteattr(layer)}>\n{inside}</g>\n" if layer else inside)
    parts.append("</svg>\n")
    return "".join(parts)


def _item(item: Item, height_mm: float) -> str:
    if isinstance(item, Line):
        return _line(item, height_mm)
    if isinstance(item, Circle):
        x, y = item.xy_mm
        return (
            f'<circle cx="{_n(x)}" cy="{_n(height_mm - y)}" r="{_n(item.radius_mm)}"'
            f"{_fill(item.fill_gray)}{_stroke(item.width_mm, item.gray)}/>\n"
        )
    return _text(item, height_mm)


def _line(line: Line, height_mm: float) -> str:
    points = " ".join(f"{_n(x)},{_n(height_mm - y)}" for x, y in line.xy_mm)
    tag = "polygon" if line.closed else "polyline"
    dash = f' stroke-dasharray="{_DASHES[line.dash]}"' if line.dash in _DASHES else ""
    return f'<{tag} points="{points}"{_fill(line.fill_gray)}{_stroke(line.width_mm, line.gray)}{dash}/>\n'


def _text(text: Text, height_mm: float) -> str:
    x, y = _n(text.xy_mm[0]), _n(height_mm - text.xy_mm[1])
    width = text_width_mm(text.text, size_pt=text.size_pt, strong=text.strong)
    attributes = [
        f'x="{x}" y="{y}" font-size="{_n(text.size_pt * MM_PER_PT)}" fill="black"',
        f'textLength="{_n(width)}" lengthAdjust="spacingAndGlyphs"' if text.text else "",
        f'text-anchor="{text.anchor}"' if text.anchor != "start" else "",
        'font-weight="700"' if text.strong else "",
        f'stroke="white" stroke-width="{_n(_HALO_MM)}" paint-order="stroke"' if text.halo else "",
        f'transform="rotate({_n(-text.turn_deg)} {x} {y})"' if text.turn_deg else "",
    ]
    return f"<text {' '.join(filter(None, attributes))}>{escape(text.text)}</text>\n"


def _fill(gray: float | None) -> str:
    return "" if gray is None else f' fill="{_gray(gray)}"'


def _stroke(width_mm: float, gray: float) -> str:
    return f' stroke="{_gray(gray)}" stroke-width="{_n(width_mm)}"' if width_mm > 0.0 else ""


def _gray(gray: float) -> str:
    level = round(255 * min(1.0, max(0.0, gray)))
    return f"#{level:02x}{level:02x}{level:02x}"


def _n(value: float) -> str:
    """Return a number to a thousandth of a millimetre, as short as it goes and never ``-0``."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def svg_bytes(drawing: Drawing) -> bytes:
    """Return the drawing as the bytes of an SVG file."""
    return svg_text(drawing).encode()
