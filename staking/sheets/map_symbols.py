"""The signs of the map: told apart by shape and kind of line, never by shade alone."""

from __future__ import annotations

import math

from staking.sheets.drawing import Circle, Item, Line, Text

XY = tuple[float, float]

PIN_MM = 1.9
"""From a pin's middle to its corners."""
BENCHMARK_MM = 1.9
PIER_MM = 1.5
"""Radius of a pier's circle, or the hole's own at the map's scale where that is larger."""
PIER_CROSS_MM = 0.7
"""How far a pier's cross reaches past its circle."""
HUB_MM = 0.75
"""Half a hub's side."""
SHOT_MM = 0.5


def pin(xy: XY) -> tuple[Item, ...]:
    """Return a triangle with its point in the middle."""
    corners = tuple(
        (xy[0] + PIN_MM * math.sin(math.radians(a)), xy[1] + PIN_MM * math.cos(math.radians(a)))
        for a in (0, 120, 240)
    )
    return (
        Line(xy_mm=corners, width_mm=0.4, closed=True, fill_gray=1.0, layer="pins"),
        Circle(xy_mm=xy, radius_mm=0.3, width_mm=0.0, fill_gray=0.0, layer="pins"),
    )


def benchmark(xy: XY) -> tuple[Item, ...]:
    """Return a black diamond with a white middle."""
    x, y = xy
    r = BENCHMARK_MM
    return (
        Line(
            xy_mm=((x, y + r), (x + r, y), (x, y - r), (x - r, y)),
            width_mm=0.3,
            closed=True,
            fill_gray=0.0,
            layer="pins",
        ),
        Circle(xy_mm=xy, radius_mm=0.45, width_mm=0.0, fill_gray=1.0, layer="pins"),
    )


def other_mark(xy: XY) -> tuple[Item, ...]:
    """Return a small slanting cross: a tree, a corner."""
    x, y = xy
    r = 1.1
    return (
        Line(xy_mm=((x - r, y - r), (x + r, y + r)), width_mm=0.35, layer="pins"),
        Line(xy_mm=((x - r, y + r), (x + r, y - r)), width_mm=0.35, layer="pins"),
    )


def pier(xy: XY, radius_mm: float) -> tuple[Item, ...]:
    """Return a circle with an upright cross that reaches past it."""
    x, y = xy
    reach = radius_mm + PIER_CROSS_MM
    return (
        Circle(xy_mm=xy, radius_mm=radius_mm, width_mm=0.45, fill_gray=1.0, layer="piers"),
        Line(xy_mm=((x - reach, y), (x + reach, y)), width_mm=0.25, layer="piers"),
        Line(xy_mm=((x, y - reach), (x, y + reach)), width_mm=0.25, layer="piers"),
    )


def hub(xy: XY) -> tuple[Item, ...]:
    """Return a small open square."""
    x, y = xy
    h = HUB_MM
    corners = ((x - h, y - h), (x + h, y - h), (x + h, y + h), (x - h, y + h))
    return (Line(xy_mm=corners, width_mm=0.3, closed=True, fill_gray=1.0, layer="hubs"),)


def shot(xy: XY) -> tuple[Item, ...]:
    """Return a small dot."""
    return (Circle(xy_mm=xy, radius_mm=SHOT_MM, width_mm=0.0, fill_gray=0.0, layer="shots"),)


def arrow(
    start: XY, end: XY, *, head_mm: float = 2.6, width_mm: float = 0.5, layer: str = ""
) -> tuple[Item, ...]:
    """Return a straight arrow with a filled head."""
    length = math.hypot(end[0] - start[0], end[1] - start[1])
    dx, dy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    base = (end[0] - head_mm * dx, end[1] - head_mm * dy)
    wing = 0.33 * head_mm
    head = (end, (base[0] - wing * dy, base[1] + wing * dx), (base[0] + wing * dy, base[1] - wing * dx))
    return (
        Line(xy_mm=(start, base), width_mm=width_mm, layer=layer),
        Line(xy_mm=head, width_mm=0.1, closed=True, fill_gray=0.0, layer=layer),
    )


def north_arrow(
    foot: XY, *, height_mm: float, names: tuple[str, ...], magnetic: tuple[float, tuple[str, ...]] | None
) -> tuple[Item, ...]:
    """Return the arrow to the top of the map, and a thin one to magnetic north with its words.

    Parameters
    ----------
    foot : (x, y)
        Where both arrows start.
    names : tuple of str
        ``True north``, and what else is to be said of it.
    magnetic : (float, words) or None
        Magnetic north from the map's north, radians clockwise, and the lines to print of it.
    """
    x, y = foot
    tip = y + height_mm
    half = 0.17 * height_mm
    left = ((x, tip), (x - half, y), (x, y + 0.22 * height_mm))
    right = ((x, tip), (x + half, y), (x, y + 0.22 * height_mm))
    items: list[Item] = [
        Line(xy_mm=left, width_mm=0.3, closed=True, fill_gray=1.0, layer="north"),
        Line(xy_mm=right, width_mm=0.3, closed=True, fill_gray=0.0, layer="north"),
        Text(xy_mm=(x, tip + 1.0), text="N", size_pt=13, strong=True, anchor="middle", layer="north"),
    ]
    words = list(names)
    if magnetic is not None:
        angle, said = magnetic
        start = (x, y + 0.22 * height_mm)
        reach = 0.95 * height_mm
        end = (start[0] + reach * math.sin(angle), start[1] + reach * math.cos(angle))
        items.append(Line(xy_mm=(start, end), width_mm=0.25, dash="dashed", layer="north"))
        words += said
    items += [
        Text(xy_mm=(x, y - 4.0 - 4.0 * k), text=line, anchor="middle", layer="north")
        for k, line in enumerate(words)
    ]
    return tuple(items)
