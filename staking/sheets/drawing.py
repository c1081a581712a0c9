"""A drawing on its way to paper: millimetres on the sheet, x to the right, y up, nothing of the job."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Dash = Literal["solid", "dashed", "dotted", "dashdot", "dashdotdot"]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A polyline or a closed outline."""

    xy_mm: tuple[tuple[float, float], ...]
    width_mm: float = 0.25
    dash: Dash = "solid"
    closed: bool = False
    gray: float = 0.0
    """0 black, 1 white."""
    fill_gray: float | None = None
    layer: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A circle."""

    xy_mm: tuple[float, float]
    radius_mm: float
    width_mm: float = 0.25
    gray: float = 0.0
    fill_gray: float | None = None
    layer: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """One line of text; `xy_mm` is its anchor on the baseline."""

    xy_mm: tuple[float, float]
    text: str
    size_pt: float = 9.0
    anchor: Anchor = "start"
    strong: bool = False
    halo: bool = False
    """On a white ground, so that lines beneath do not cross it."""
    turn_deg: float = 0.0
    """Counter-clockwise."""
    layer: str = ""


Item = Line | Circle | Text


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A drawing of a stated size at a stated scale."""

    width_mm: float
    height_mm: float
    scale: int
    """One millimetre on paper is this many on the ground."""
    items: tuple[Item, ...]
