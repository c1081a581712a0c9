"""Puts names beside things on a map so that no two run into each other.

Each label is tried at sixteen directions and growing distances round its anchor. A place is refused when the
label would leave the window, or touch a symbol or another label; among the rest the one nearest, in the best
direction and over the fewest lines wins. A label that had to move away gets a leader line. Lengths are
millimetres on the sheet, y up.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from staking.sheets.drawing import Line, Text
from staking.sheets.letters import CAP_HEIGHT, DESCENT, MM_PER_PT, text_width_mm

Floats = NDArray[np.float64]

Box = tuple[float, float, float, float]
"""Left, bottom, right, top."""

GAP_MM = 0.7
"""Least white between a label and what stands next to it."""
_RINGS_MM = (0.75, 2.2, 4.5, 7.0, 10.0, 13.5, 17.5, 22.0, 27.0)
"""Distances from a symbol's edge at which a label is tried."""
_NEAR_MM = _RINGS_MM[:6]
"""As far as a label of several lines is moved before its name alone is tried closer by."""
_LEADER_FROM_MM = 2.0
"""A label further off than this has a leader."""
_DIRECTIONS_DEG = (45, 135, 315, 225, 90, 270, 0, 180, 22.5, 157.5, 337.5, 202.5, 67.5, 112.5, 292.5, 247.5)
"""Best first: right above, as map makers do."""
_PER_COVERED_MM = 0.8
"""What covering a millimetre of line costs, against moving the label a millimetre and a half further off."""
_TOUCHING_MM = 0.5
"""A line nearer than this to letters is as good as covered."""
_MISTAKEN_COST = 9.0
"""What standing nearer to another label's thing than to its own costs: it would be read as the other's."""
_BESIDE_MM = 3.0
_BESIDE_COST = 14.0
"""What it costs to stand less than this beside another label on one height: the two would be read as one."""
_TOUCHED_COST = 16.0
"""What touching a small sign costs."""
_UNALIKE_COST = 9.0
"""What it costs to stand otherwise to its thing than the label before it in the same row does to its own."""
_ALIKE_MM = 1.0
_ASIDE_COST = 8.0
"""What it costs not to stand in the direction wished."""
_LEADING = 1.16
"""From one baseline to the next, of the size."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One to three short lines of text that belong to a place."""

    xy_mm: tuple[float, float]
    radius_mm: float
    """Of the symbol at that place."""
    lines: tuple[tuple[str, float, bool], ...]
    """Text, size in points, strong."""
    layer: str
    row: str = ""
    """Labels of one row are placed alike where that costs little."""
    toward: tuple[float, float] | None = None
    """A direction that it should rather stand in."""

    @property
    def name_alone(self) -> Label:
        """The label without the lines below its first."""
        return replace(self, lines=self.lines[:1])

    @property
    def width_mm(self) -> float:
        """Width of the widest line."""
        return max(text_width_mm(text, size_pt=size, strong=strong) for text, size, strong in self.lines)

    @property
    def height_mm(self) -> float:
        """From the first line's capitals to the last line's descenders."""
        first, last = self.lines[0][1], self.lines[-1][1]
        between = sum(size * _LEADING for _, size, _ in self.lines[1:])
        return (first * CAP_HEIGHT + between + last * DESCENT) * MM_PER_PT


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Where a label came to stand."""

    texts: tuple[Text, ...]
    leader: Line | None
    box: Box
    whole: bool = True
    """False where there was room for the name alone."""


def place_labels(
    labels: Sequence[Label],
    *,
    window: Box,
    taken: Sequence[Box],
    lines_mm: Floats,
    shunned: Sequence[Box] = (),
) -> tuple[Placed | None, ...]:
    """Place labels in the order given, first come first served.

    Parameters
    ----------
    labels : sequence of Label
    window : Box
        No label leaves it.
    taken : sequence of Box
        Symbols that no label may touch.
    lines_mm : (s, 2) array
        Points about a millimetre apart along lines that labels should rather not cover.
    shunned : sequence of Box
        Small signs that a label touches only where it finds no other room.

    Returns
    -------
    tuple of Placed or None
        None where a label finds no room, not even for its name alone.
    """
    boxes = list(taken)
    anchors = np.array([label.xy_mm for label in labels]).reshape(-1, 2)
    texts: list[Box] = []
    leaders: list[tuple[tuple[float, float], tuple[float, float]]] = []
    placed: list[Placed | None] = []
    before: dict[str, Floats] = {}
    for label in labels:
        found, around = None, np.array(boxes).reshape(-1, 4)
        for part, rings in ((label, _NEAR_MM), (label.name_alone, _RINGS_MM)):
            unclear = partial(
                _unclear,
                anchors=anchors,
                texts=np.array(texts).reshape(-1, 4),
                shunned=np.array(shunned).reshape(-1, 4),
                before=before.get(label.row) if label.row else None,
            )
            found = _place(part, rings, window, around, lines_mm, leaders, unclear)
            if found is not None:
                found = replace(found, whole=part.lines == label.lines)
                break
        placed.append(found)
        if found is not None:
            boxes.append(found.box)
            texts.append(found.box)
            before[label.row] = _stands(label, np.array([found.box]))[0]
            if found.leader is not None:
                leaders.append((found.leader.xy_mm[0], found.leader.xy_mm[-1]))
    return tuple(placed)


def _place(
    label: Label,
    rings: Sequence[float],
    window: Box,
    boxes: Floats,
    lines_mm: Floats,
    leaders: list[tuple[tuple[float, float], tuple[float, float]]],
    unclear: Callable[[Label, Floats], Floats],
) -> Placed | None:
    places, costs = _candidates(label, rings)
    inside = (
        (places[:, 0] >= window[0])
        & (places[:, 1] >= window[1])
        & (places[:, 2] <= window[2])
        & (places[:, 3] <= window[3])
    )
    free = inside & ~_touch(places, boxes).any(axis=1)
    costs = costs + _PER_COVERED_MM * _covered(places, lines_mm) + unclear(label, places)
    for k in np.argsort(costs, kind="stable"):
        if not free[k]:
            continue
        box: Box = (float(places[k, 0]), float(places[k, 1]), float(places[k, 2]), float(places[k, 3]))
        if any(segment_meets_box(a, b, box) for a, b in leaders):
            continue
        leader = _leader(label, box)
        if leader is not None and any(
            segment_meets_box(leader.xy_mm[0], leader.xy_mm[-1], (b[0], b[1], b[2], b[3]))
            for b in boxes
            if not (b[0] <= label.xy_mm[0] <= b[2] and b[1] <= label.xy_mm[1] <= b[3])
        ):
            continue
        return Placed(texts=_texts(label, box), leader=leader, box=box)
    return None


def _stands(label: Label, places: Floats) -> Floats:
    """Return (k, 4) how places stand to the label's thing: left, middle and right across, the bottom up."""
    x, y = label.xy_mm
    left, right = places[:, 0] - x, places[:, 2] - x
    return np.column_stack([left, (left + right) / 2.0, right, places[:, 1] - y])


def _unclear(
    label: Label, places: Floats, *, anchors: Floats, texts: Floats, shunned: Floats, before: Floats | None
) -> Floats:
    """Return (k,) what each place costs because the label could be read as, or with, another's."""
    costs: Floats = _TOUCHED_COST * _touch(places, shunned).sum(axis=1)
    own = np.hypot(*(anchors - label.xy_mm).T) < 1e-9
    away = _distances(places, anchors)
    if own.any() and not own.all():
        costs += _MISTAKEN_COST * (away[:, ~own].min(axis=1) < away[:, own].min(axis=1) + 1.0)
    if len(texts):
        wider = texts + np.array([-_BESIDE_MM, 0.0, _BESIDE_MM, 0.0])
        costs += _BESIDE_COST * _touch(places, wider).any(axis=1)
    if label.toward is not None:
        middles = (places[:, :2] + places[:, 2:]) / 2.0 - label.xy_mm
        costs += _ASIDE_COST * (middles @ label.toward < 0.5 * np.hypot(*middles.T))
    if before is not None:
        off = np.abs(_stands(label, places) - before)
        costs += _UNALIKE_COST * (np.maximum(off[:, :3].min(axis=1), off[:, 3]) > _ALIKE_MM)
    return costs


def _distances(places: Floats, points: Floats) -> Floats:
    """Return (k, m) how far each point lies outside each box."""
    east = np.maximum(places[:, None, 0] - points[None, :, 0], points[None, :, 0] - places[:, None, 2])
    north = np.maximum(places[:, None, 1] - points[None, :, 1], points[None, :, 1] - places[:, None, 3])
    away: Floats = np.hypot(np.maximum(east, 0.0), np.maximum(north, 0.0))
    return away


def _candidates(label: Label, rings: Sequence[float]) -> tuple[Floats, Floats]:
    """Return (k, 4) boxes round the anchor and what each costs."""
    width, height = label.width_mm, label.height_mm
    x, y = label.xy_mm
    boxes, costs = [], []
    for ring in rings:
        for rank, direction in enumerate(_DIRECTIONS_DEG):
            c, s = math.cos(math.radians(direction)), math.sin(math.radians(direction))
            # Signs are kept off as squares, so the distance is counted square too.
            reach = (label.radius_mm + ring) / max(abs(c), abs(s))
            # The box's own half-extent in that direction is added, so its edge keeps the distance.
            cx = x + c * reach + _sign(c) * width / 2.0
            cy = y + s * reach + _sign(s) * height / 2.0
            boxes.append((cx - width / 2.0, cy - height / 2.0, cx + width / 2.0, cy + height / 2.0))
            costs.append(1.4 * ring + 0.12 * rank)
    return np.array(boxes), np.array(costs)


def _sign(value: float) -> float:
    """Return −1, 0 or 1, slight slants taken as their sign in full beyond 20 degrees."""
    return 0.0 if abs(value) < 0.34 else math.copysign(1.0, value)


def _touch(places: Floats, boxes: Floats) -> NDArray[np.bool_]:
    """Return (k, m) True where a place comes nearer than the gap to a box."""
    return (
        (places[:, None, 0] < boxes[None, :, 2] + GAP_MM)
        & (places[:, None, 2] > boxes[None, :, 0] - GAP_MM)
        & (places[:, None, 1] < boxes[None, :, 3] + GAP_MM)
        & (places[:, None, 3] > boxes[None, :, 1] - GAP_MM)
    )


def _covered(places: Floats, lines_mm: Floats) -> Floats:
    """Return (k,) how many millimetres of line each place lies on."""
    if not len(lines_mm):
        return np.zeros(len(places))
    x, y = lines_mm[:, 0], lines_mm[:, 1]
    near = _TOUCHING_MM
    inside = (
        (x[None, :] > places[:, 0, None] - near)
        & (x[None, :] < places[:, 2, None] + near)
        & (y[None, :] > places[:, 1, None] - near)
        & (y[None, :] < places[:, 3, None] + near)
    )
    covered: Floats = inside.sum(axis=1).astype(np.float64)
    return covered


def _leader(label: Label, box: Box) -> Line | None:
    x, y = label.xy_mm
    near = (min(max(x, box[0]), box[2]), min(max(y, box[1]), box[3]))
    distance = math.hypot(near[0] - x, near[1] - y)
    if distance - label.radius_mm <= _LEADER_FROM_MM:
        return None
    start = (x + (near[0] - x) * label.radius_mm / distance, y + (near[1] - y) * label.radius_mm / distance)
    return Line(xy_mm=(start, near), width_mm=0.18, layer="leaders")


def _texts(label: Label, box: Box) -> tuple[Text, ...]:
    """Set the lines below each other, towards the symbol where the label stands beside it."""
    x = label.xy_mm[0]
    anchor, at = ("start", box[0]) if box[0] > x else ("end", box[2]) if box[2] < x else ("middle", None)
    across = (box[0] + box[2]) / 2.0 if at is None else at
    out, baseline = [], box[3] - label.lines[0][1] * CAP_HEIGHT * MM_PER_PT
    for i, (text, size, strong) in enumerate(label.lines):
        if i:
            baseline -= size * _LEADING * MM_PER_PT
        out.append(
            Text(
                xy_mm=(across, baseline),
                text=text,
                size_pt=size,
                strong=strong,
                anchor=anchor,  # type: ignore[arg-type]
                halo=True,
                layer=label.layer,
            )
        )
    return tuple(out)


def segment_meets_box(a: tuple[float, float], b: tuple[float, float], box: Box) -> bool:
    """Return whether a straight line touches a box (Liang and Barsky's clipping)."""
    return clipped(a, b, box) is not None


def clipped(
    a: tuple[float, float], b: tuple[float, float], box: Box
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Return the part of a straight line inside a box, None when there is none.

    Source: Y.-D. Liang and B. Barsky, "A new concept and method for line clipping", ACM Transactions on
    Graphics 3 (1984) 1-22; from memory.
    """
    t0, t1 = 0.0, 1.0
    dx, dy = b[0] - a[0], b[1] - a[1]
    for step, low in ((-dx, a[0] - box[0]), (dx, box[2] - a[0]), (-dy, a[1] - box[1]), (dy, box[3] - a[1])):
        if step == 0.0:
            if low < 0.0:
                return None
            continue
        t = low / step
        if step < 0.0:
            t0 = max(t0, t)
        else:
            t1 = min(t1, t)
        if t0 > t1:
            return None
    return (a[0] + t0 * dx, a[1] + t0 * dy), (a[0] + t1 * dx, a[1] + t1 * dy)


def points_along(xy_mm: Sequence[tuple[float, float]], *, closed: bool = False) -> Floats:
    """Return points a millimetre apart along a polyline, (s, 2)."""
    corners = np.array(xy_mm, dtype=np.float64).reshape(-1, 2)
    if closed and len(corners):
        corners = np.vstack([corners, corners[:1]])
    if len(corners) < 2:
        return corners
    steps = np.hypot(*np.diff(corners, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    at = np.linspace(0.0, along[-1], max(2, int(along[-1]) + 1))
    return np.column_stack([np.interp(at, along, corners[:, 0]), np.interp(at, along, corners[:, 1])])
