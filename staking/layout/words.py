"""Lengths in this room's messages: with their unit, and as they can be pasted into ``job.toml``."""

from __future__ import annotations

import math

from staking.base.units import format_length, from_unit, unit_label

STEP_M = {
    "feet-inches": from_unit(1, "in") / 16,
    "inches": from_unit(1, "in") / 16,
    "decimal feet": from_unit(0.005, "ft"),
    "metric": 0.001,
    "metres": 0.001,
}
"""What a limit that would do is rounded to: readable on a tape, and under 2 mm."""
_PLACES = {"decimal feet": 3}
_FEET_STYLES = ("feet-inches", "inches", "decimal feet")


def told_volume(value_m3: float, style: str) -> str:
    """Return a volume rounded up to hundredths, in cubic yards or cubic metres."""
    feet = style in _FEET_STYLES
    value = value_m3 / from_unit(3, "ft") ** 3 if feet else value_m3
    return f"{math.ceil(value * 100 - 1e-6) / 100:.2f} {'yd³' if feet else 'm³'}"


def told_area(value_m2: float, style: str) -> str:
    """Return an area rounded up to whole square feet or tenths of a square metre."""
    if style in _FEET_STYLES:
        return f"{math.ceil(value_m2 / from_unit(1, 'ft') ** 2 - 1e-6)} sq ft"
    return f"{math.ceil(value_m2 * 10 - 1e-6) / 10:.1f} m²"


def pasted(value_m: float, style: str) -> str:
    """Return a length as a quoted TOML value; inches without the mark, which TOML would end the text at."""
    if style in ("feet-inches", "inches"):
        sign = "-" if value_m < 0 else ""
        inches = format_length(abs(value_m), style="inches").rstrip('"').replace("-", " ")
        return f'"{sign}{inches} in"'
    return f'"{format_length(value_m, style=style, places=_PLACES.get(style))} {unit_label(style)}"'


def outward(value_m: float, style: str, *, up: bool) -> float:
    """Round a length to the style's step, up or down, never past it by rounding noise."""
    step_m = STEP_M[style]
    steps = value_m / step_m
    # A millionth of a step is rounding noise: 8.415 ft exactly must not become 8.420 ft.
    whole = math.ceil(steps - 1e-6) if up else math.floor(steps + 1e-6)
    return whole * step_m
