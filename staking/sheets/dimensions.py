"""Dimension lines on drawings: two ends, ticks across them, and the length in words beside or along."""

from __future__ import annotations

import math
from collections.abc import Sequence

from staking.sheets.drawing import Item, Line, Text

XY = tuple[float, float]

_TICK_MM = 1.1
"""Half of the slanted stroke across each end."""
_BEYOND_MM = 1.2
"""How far a line from the thing runs past the dimension line."""
_GAP_MM = 0.8
"""White between the thing and the line that leads from it."""
_LINE_MM = 0.18
_PT = 9.0
_LEADING_MM = 3.9
_APART_MM = 1.2
"""White between the words of two dimensions on one line."""
LAYER = "dimensions"


def dimension_along(a: XY, b: XY, *, off_mm: float, text: str, beyond: bool = False) -> tuple[Item, ...]:
    """Return a dimension line beside a → b, its text along it and never upside down.

    Parameters
    ----------
    a, b : (x, y)
        The places measured between.
    off_mm : float
        How far the line stands to the left of a → b; negative: to the right; 0: on it.
    beyond : bool
        Put a text that is wider than the line below it, clear of the lines that lead there.
    """
    length = math.hypot(b[0] - a[0], b[1] - a[1])
    ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    nx, ny = -uy, ux
    side = math.copysign(1.0, off_mm)
    ends = [(at[0] + off_mm * nx, at[1] + off_mm * ny) for at in (a, b)]
    items: list[Item] = [Line(xy_mm=(ends[0], ends[1]), width_mm=_LINE_MM, layer=LAYER)]
    for at, end in zip((a, b), ends, strict=True):
        if not off_mm:
            items.append(_tick(end, math.atan2(uy, ux)))
            continue
        start = (at[0] + side * _GAP_MM * nx, at[1] + side * _GAP_MM * ny)
        until = (end[0] + side * _BEYOND_MM * nx, end[1] + side * _BEYOND_MM * ny)
        items.append(Line(xy_mm=(start, until), width_mm=_LINE_MM, layer=LAYER))
        items.append(_tick(end, math.atan2(uy, ux)))
    turn = math.degrees(math.atan2(uy, ux))
    if turn > 90.0 or turn <= -90.0:
        turn += -180.0 if turn > 90.0 else 180.0
    # The text stands on the line's upper side, as one reads it.
    up = (-math.sin(math.radians(turn)), math.cos(math.radians(turn)))
    middle = ((ends[0][0] + ends[1][0]) / 2.0, (ends[0][1] + ends[1][1]) / 2.0)
    away = -(_BEYOND_MM + 3.2) if beyond else 1.0
    at = (middle[0] + away * up[0], middle[1] + away * up[1])
    items.append(
        Text(xy_mm=at, text=text, size_pt=_PT, anchor="middle", turn_deg=turn, halo=True, layer=LAYER)
    )
    return tuple(items)


def dimensions_up(
    x: float, parts: Sequence[tuple[float, float, tuple[str, ...]]], *, reach: float
) -> tuple[Item, ...]:
    """Return upright dimensions above one another on one line, their words kept apart.

    Parameters
    ----------
    x, reach : float
        As of `dimension_up`.
    parts : sequence of (low, high, lines)
        From above; two at the most.
    """
    moved = [0.0] * len(parts)
    if len(parts) == 2:
        (low, high, over), (under_low, under_high, under) = parts
        apart = (low + high - under_low - under_high) / 2.0
        short = max(0.0, _LEADING_MM * (len(over) + len(under)) / 2.0 + _APART_MM - apart)
        moved = [short / 2.0, -short / 2.0]
    items: list[Item] = []
    for (low, high, lines), up in zip(parts, moved, strict=True):
        items += dimension_up(x, low, high, reach=reach, lines=lines, up_mm=up)
    return tuple(items)


def dimension_up(
    x: float,
    low: float,
    high: float,
    *,
    reach: float,
    lines: tuple[str, ...],
    up_mm: float = 0.0,
    above: float = -math.inf,
) -> tuple[Item, ...]:
    """Return an upright dimension line at `x` with its words, level, beside it.

    Parameters
    ----------
    x, low, high : float
        Where the line stands, and from where to where it measures.
    reach : float
        x of the thing measured; the words stand on the other side of the line.
    lines : tuple of str
        Words from above, about the middle of the line.
    up_mm : float
        How far above that they are moved.
    above : float
        y that the last of them stands on at the lowest.
    """
    away = 1.0 if x >= reach else -1.0
    items: list[Item] = [Line(xy_mm=((x, low), (x, high)), width_mm=_LINE_MM, layer=LAYER)]
    for y in (low, high):
        ends = ((reach + away * _GAP_MM, y), (x + away * _BEYOND_MM, y))
        items += [Line(xy_mm=ends, width_mm=_LINE_MM, layer=LAYER), _tick((x, y), math.pi / 2.0)]
    top = (low + high) / 2.0 + up_mm + (len(lines) * _LEADING_MM) / 2.0 - 2.9
    top = max(top, above + (len(lines) - 1) * _LEADING_MM)
    for k, text in enumerate(lines):
        items.append(
            Text(
                xy_mm=(x + away * 2.2, top - k * _LEADING_MM),
                text=text,
                size_pt=_PT,
                anchor="start" if away > 0.0 else "end",
                strong=k == len(lines) - 1,
                layer=LAYER,
            )
        )
    return tuple(items)


def _tick(at: XY, along_rad: float) -> Line:
    dx = _TICK_MM * math.cos(along_rad + math.pi / 4.0)
    dy = _TICK_MM * math.sin(along_rad + math.pi / 4.0)
    return Line(xy_mm=((at[0] - dx, at[1] - dy), (at[0] + dx, at[1] + dy)), width_mm=0.35, layer=LAYER)
