"""A map being drawn: what is on it so far, and what its labels must heed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from staking.sheets.drawing import Dash, Item, Line, Text
from staking.sheets.labels import Box, Label, clipped, place_labels, points_along
from staking.sheets.map_extent import MapView
from staking.sheets.map_ground import contour_label
from staking.sheets.map_page import KeyEntry
from staking.sheets.notation import count_words

Floats = NDArray[np.float64]
XY = tuple[float, float]


@dataclass(slots=True, kw_only=True)
class Canvas:
    """Filled from the bottom up: lines, then signs, then labels."""

    view: MapView
    lines: list[Item] = field(default_factory=list)
    signs: list[Item] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    contours: list[tuple[Line, str]] = field(default_factory=list)
    """Those to be labelled along themselves, each with its words."""
    taken: list[Box] = field(default_factory=list)
    """Signs that no label may touch."""
    dots: list[Box] = field(default_factory=list)
    """Signs that a label may cover only where there is no other room."""
    paths: list[Floats] = field(default_factory=list)
    """Points along lines that labels should rather not cover."""
    key: dict[str, KeyEntry] = field(default_factory=dict)
    drawn: list[Item] = field(default_factory=list)
    """Everything in drawing order, once the labels are placed."""
    remark: str = ""
    """What the map leaves out."""

    def line(
        self,
        path: Sequence[XY],
        *,
        layer: str,
        width_mm: float,
        dash: Dash = "solid",
        gray: float = 0.0,
        closed: bool = False,
        shun: int = 1,
    ) -> None:
        """Draw a path, cut off at the window; labels keep off it as if it were `shun` lines."""
        for piece in inside([*path, path[0]] if closed else path, self.view.page.window):
            self.lines.append(Line(xy_mm=piece, width_mm=width_mm, dash=dash, gray=gray, layer=layer))
            self.paths += [points_along(piece)] * shun

    def sign(self, items: Sequence[Item], xy: XY, radius_mm: float) -> None:
        """Draw a sign and keep labels off it."""
        self.signs += items
        self.take(xy, radius_mm)

    def take(self, xy: XY, radius_mm: float) -> None:
        """Keep labels off a place."""
        self.taken.append((xy[0] - radius_mm, xy[1] - radius_mm, xy[0] + radius_mm, xy[1] + radius_mm))

    def is_taken(self, xy: XY) -> bool:
        """Return whether a sign stands on a place already."""
        return any(b[0] <= xy[0] <= b[2] and b[1] <= xy[1] <= b[3] for b in self.taken)

    def place(self) -> None:
        """Place the labels, those of contours last where there is room, and put all in drawing order."""
        window = shrunk(self.view.page.window, 1.0)
        along = np.vstack(self.paths) if self.paths else np.zeros((0, 2))
        placed = place_labels(self.labels, window=window, taken=self.taken, shunned=self.dots, lines_mm=along)
        found = [p for p in placed if p is not None]
        short = sum(not p.whole for p in found)
        lost = len(placed) - len(found)
        if short or lost:
            left_out = [count_words(n, what) for n, what in ((short, "length"), (lost, "name")) if n]
            self.remark = f"No room on the map, in the tables only: {', '.join(left_out)}."
        taken = [*self.taken, *self.dots, *(p.box for p in found)]
        words: list[Text] = []
        for line, text in self.contours:
            for label, box in contour_label(line, text, taken, window):
                words.append(label)
                taken.append(box)
        leaders = [p.leader for p in found if p.leader is not None]
        self.drawn = [*self.lines, *words, *leaders, *self.signs, *(text for p in found for text in p.texts)]


def stroke(width_mm: float, dash: Dash, gray: float = 0.0) -> Callable[[XY], tuple[Item, ...]]:
    """Return what draws a short piece of a line for the key."""

    def draw(xy: XY) -> tuple[Item, ...]:
        ends = ((xy[0] - 3.5, xy[1]), (xy[0] + 3.5, xy[1]))
        return (Line(xy_mm=ends, width_mm=width_mm, dash=dash, gray=gray, layer="key"),)

    return draw


def inside(path: Sequence[XY], box: Box) -> list[tuple[XY, ...]]:
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


def shrunk(box: Box, by_mm: float) -> Box:
    """Return a box with its edges moved in."""
    return box[0] + by_mm, box[1] + by_mm, box[2] - by_mm, box[3] - by_mm


def middle(a: XY, b: XY) -> XY:
    """Return the point half-way."""
    return (a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0
