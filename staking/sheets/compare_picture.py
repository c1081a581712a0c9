"""The high row of each design from in front, all at one scale: ground, posts and beam."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from staking.compare import Compared
from staking.layout.frame import Fit
from staking.sheets.drawing import Drawing, Item, Line, Text
from staking.sheets.labels import Box
from staking.sheets.letters import broken, shortened
from staking.sheets.map_page import BAR_MM, MapPage, page_frame, scale_bar
from staking.sheets.map_scale import Scale, largest_scale
from staking.sheets.notation import Notation
from staking.sheets.sheet import PAPER_MM, Paper, TitleBlock

Floats = NDArray[np.float64]
TITLE = "The high rows side by side"

ROWS = 5
"""Designs on one sheet: more would leave posts too short to tell apart."""
_NAME_MM = 7.0
"""Room above each row for its name."""
_SIDE_MM = 19.0
"""Room at both ends of a row, for the heights of its end posts."""
_BELOW_MM = 26.0
"""Room for the scale bar above the title block."""
_WHY_PT = 10.0


def compare_pictures(
    designs: Sequence[Compared], *, paper: Paper, block: TitleBlock, notation: Notation
) -> tuple[Drawing, ...]:
    """Return the pictures, all at one scale, five designs each; none where no design was laid out.

    A design that was not laid out has its row too, with the reason in it.
    """
    if not any(one.arrays for one in designs):
        return ()
    width_mm, height_mm = PAPER_MM[paper]
    page = MapPage(width_mm=width_mm, height_mm=height_mm)
    left, _, right, top = page.window
    box = (left, page.strip[1] + _BELOW_MM, right, top)
    sheets = -(-len(designs) // ROWS)
    each = -(-len(designs) // sheets)
    each_mm = (top - box[1]) / each
    fits = [_first_array(one) for one in designs if one.arrays]
    tall_m = max(
        float(np.ptp(np.concatenate([array for fit in some for array in (_ground(fit), _tops(fit))])))
        for some in fits
    )
    scale = largest_scale(
        width_m=max(_long_m(fit) for fit in fits),
        height_m=max(tall_m, 0.1),
        width_mm=right - left - 2 * _SIDE_MM,
        height_mm=each_mm - _NAME_MM - 4.0,
        style=notation.style,
    )
    numbered = list(enumerate(designs, start=1))
    return tuple(
        Drawing(
            width_mm=width_mm,
            height_mm=height_mm,
            scale=scale.ratio,
            items=(
                *page_frame(page, title=TITLE, block=block, window=box),
                *_below(box, scale, notation),
                *_rows(numbered[k : k + each], box, each_mm, scale, notation),
            ),
        )
        for k in range(0, len(designs), each)
    )


def _below(box: Box, scale: Scale, notation: Notation) -> list[Item]:
    left, bottom, _, _ = box
    items: list[Item] = list(
        scale_bar(
            (left + 4.0, bottom - 8.0), scale=scale, notation=notation, remark="Heights at the same scale."
        )
    )
    words = (
        "Seen from in front, low side: the highest row",
        "of posts. Heavy: beam. Dashed: ground.",
        "Numbers: above-grade length of the end posts",
        *((f"in {notation.unit}.",) if notation.unit else ()),
    )
    for line, text in enumerate(words):
        at = (left + BAR_MM + 10.0, bottom - 7.0 - 4.5 * line)
        items.append(Text(xy_mm=at, text=text, layer="key"))
    return items


def _rows(
    numbered: Sequence[tuple[int, Compared]], box: Box, each_mm: float, scale: Scale, notation: Notation
) -> list[Item]:
    left, _, right, top = box
    items: list[Item] = []
    for k, (number, one) in enumerate(numbered):
        head = top - k * each_mm
        if k:
            items.append(Line(xy_mm=((left, head), (right, head)), width_mm=0.13, gray=0.5, layer="frame"))
        text = shortened(f"{number}  {one.name}", width_mm=right - left - 6.0, size_pt=10.0, strong=True)
        items.append(Text(xy_mm=(left + 3.0, head - 5.0), text=text, size_pt=10.0, strong=True, layer="name"))
        if one.arrays:
            items += _row(_first_array(one), (left, right, head, each_mm), scale, notation)
            continue
        why = f"Not laid out: {one.why or 'see the table'}"
        lines = broken(why, width_mm=right - left - 6.0, size_pt=_WHY_PT)
        for line, words in enumerate(lines[: int((each_mm - _NAME_MM - 2.0) / 4.6)]):
            at = (left + 3.0, head - 10.5 - 4.6 * line)
            items.append(Text(xy_mm=at, text=words, size_pt=_WHY_PT, layer="why"))
    return items


def _row(fits: Sequence[Fit], box: Box, scale: Scale, notation: Notation) -> list[Item]:
    """Draw the high row of an array, section by section where it is stepped."""
    left, right, head, each_mm = box
    ground = np.concatenate([_ground(fit) for fit in fits])
    tops = np.concatenate([_tops(fit) for fit in fits])
    low = float(min(ground.min(), tops.min()))
    per = 1000.0 / scale.ratio
    middle = (left + right) / 2.0
    along = _along(fits)
    centre = (along[0] + along[-1]) / 2.0
    x = [middle + per * float(s - centre) for s in along]
    foot = head - each_mm + 2.5

    def up(value_m: float) -> float:
        return foot + per * (value_m - low)

    items: list[Item] = []
    at = [(xi, up(float(g))) for xi, g in zip(x, ground, strict=True)]
    items.append(Line(xy_mm=tuple(at), width_mm=0.35, dash="dashed", layer="ground"))
    for xi, g, t in zip(x, ground, tops, strict=True):
        items.append(Line(xy_mm=((xi, up(float(g))), (xi, up(float(t)))), width_mm=0.5, layer="posts"))
    ends: list[tuple[float, float]] = []
    start = 0
    for fit in fits:
        until = start + len(_tops(fit))
        beam = fit.beams[-1]
        rises, lies = math.tan(fit.plane.cross_slope_rad), math.cos(fit.plane.cross_slope_rad)
        left_m, right_m = beam.overhang_left_m * lies, beam.overhang_right_m * lies
        own = [
            (x[start] - per * left_m, up(float(tops[start]) - rises * left_m)),
            (x[until - 1] + per * right_m, up(float(tops[until - 1]) + rises * right_m)),
        ]
        items.append(Line(xy_mm=tuple(own), width_mm=0.9, layer="beam"))
        ends += own
        start = until
    above = np.concatenate([fit.lengths.above_grade_m[_high(fit)] for fit in fits])
    for (end_x, end_y), length_m, anchor, step in (
        (ends[0], above[0], "end", -1.5),
        (ends[-1], above[-1], "start", 1.5),
    ):
        items.append(
            Text(
                xy_mm=(end_x + step, end_y - 1.0),
                text=notation.length(float(length_m)),
                anchor="end" if anchor == "end" else "start",
                layer="heights",
            )
        )
    return items


def _first_array(one: Compared) -> list[Fit]:
    """Return the sections of a design's first array, from the left."""
    return [array.fit for array in one.arrays if array.name == one.arrays[0].name]


def _high(fit: Fit) -> NDArray[np.bool_]:
    return np.asarray(fit.piers.beam == fit.piers.beam.max())


def _ground(fit: Fit) -> Floats:
    return np.asarray(fit.lengths.ground_m[_high(fit)])


def _tops(fit: Fit) -> Floats:
    return np.asarray(fit.lengths.top_m[_high(fit)])


def _along(fits: Sequence[Fit]) -> Floats:
    """Return level distances of the high row's posts from its first."""
    en = np.vstack([fit.piers.en_m[_high(fit)] for fit in fits])
    return np.asarray(np.hypot(*(en - en[0]).T))


def _long_m(fits: Sequence[Fit]) -> float:
    first, last = fits[0].beams[-1], fits[-1].beams[-1]
    return math.dist(first.left_end_enz_m[:2], last.right_end_enz_m[:2]) if len(fits) > 1 else first.length_m
