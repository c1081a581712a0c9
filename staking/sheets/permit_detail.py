"""A footing and the side of an array, drawn to scale with named dimensions, for the permit desk."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from staking.book.records import Footing
from staking.layout.frame import Fit
from staking.pipes.holes import Hole
from staking.plan import ArrayPlan, Plan, post_od_m
from staking.sheets.dimensions import dimension_along, dimension_up, dimensions_up
from staking.sheets.drawing import Drawing, Item, Line, Text
from staking.sheets.labels import Box
from staking.sheets.letters import broken
from staking.sheets.map_page import MapPage, page_frame
from staking.sheets.map_scale import Scale, largest_scale
from staking.sheets.notation import Notation, degrees
from staking.sheets.permit_table import ranged
from staking.sheets.section_lines import Section, extent, heights, line_sections
from staking.sheets.sheet import PAPER_MM, Paper, Sheet, TitleBlock

_FOOTING_SHARE = 0.46
"""Of the sheet's width."""
_HEAD_MM, _FOOT_MM, _SIDE_MM = 16.0, 26.0, 40.0
"""Room above, below and beside what is drawn to scale."""
_ABOVE_GROUND_MM = 1.0
"""White between the ground and the words above it."""
_PT = 9.0


def permit_details(
    plan: Plan, array: ArrayPlan, *, paper: Paper, block: TitleBlock, notation: Notation
) -> tuple[Sheet, ...]:
    """Return the sheet of one array, none without holes."""
    footing = plan.book.job.footing
    if footing is None or not array.holes or plan.ground is None:
        return ()
    height_mm, width_mm = PAPER_MM[paper]
    page = MapPage(width_mm=width_mm, height_mm=height_mm)
    left, _, right, top = page.window
    window = (left, page.strip[1], right, top)
    title = "Footing and side view, for the permit desk" + (f", {array.title}" if array.title else "")
    parted = left + _FOOTING_SHARE * (right - left)
    items: list[Item] = list(page_frame(page, title=title, block=block, window=window))
    items.append(Line(xy_mm=((parted, window[1]), (parted, top)), width_mm=0.25, layer="frame"))
    detail = _Footing(
        footing=footing,
        holes=array.holes,
        fit=array.fit_in_full,
        od_m=post_od_m(array.job),
        notation=notation,
    )
    items += detail.drawn((left, window[1], parted, top))
    items += _side_view(plan, array, (parted, window[1], right, top), notation)
    drawing = Drawing(width_mm=width_mm, height_mm=height_mm, scale=1, items=tuple(items))
    return (Sheet(name="permit_detail", title=title, drawing=drawing, landscape=True),)


def _titled(box: Box, title: str, scale: Scale) -> list[Item]:
    at = (box[0] + 3.0, box[3] - 5.5)
    below = (box[0] + 3.0, box[3] - 10.0)
    return [
        Text(xy_mm=at, text=title, size_pt=11.0, strong=True, layer="detail title"),
        Text(xy_mm=below, text=f"Scale {scale.words}", size_pt=_PT, layer="detail title"),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Footing:
    """The footing of the pier with the deepest hole; words give the range over all piers."""

    footing: Footing
    holes: tuple[Hole, ...]
    fit: Fit
    od_m: float
    notation: Notation

    def drawn(self, box: Box) -> list[Item]:
        """Draw it in a box."""
        i = int(np.argmax([hole.hole_depth_m for hole in self.holes]))
        hole, wide = self.holes[i], self.footing.hole_diameter_m
        above = float(self.fit.lengths.above_grade_m[i])
        left, bottom, right, top = box
        scale = largest_scale(
            width_m=1.6 * wide,
            height_m=above + hole.hole_depth_m,
            width_mm=right - left - 2 * _SIDE_MM,
            height_mm=top - bottom - _HEAD_MM - _FOOT_MM,
            style=self.notation.style,
        )
        mm = 1000.0 / scale.ratio
        x, grade = (left + right) / 2.0, bottom + _FOOT_MM + mm * hole.hole_depth_m
        half, post = mm * wide / 2.0, mm * self.od_m / 2.0
        low, foot = grade - mm * hole.hole_depth_m, grade - mm * (hole.hole_depth_m - hole.bottom_cover_m)
        end, drop = grade + mm * above, mm * hole.lip_m
        lip = grade - drop
        tilt = drop / half
        items = _titled(box, f"Footing, as at {self.fit.piers.names[i]}", scale)
        hole_at = ((x - half, lip), (x - half, low), (x + half, low), (x + half, grade + drop))
        items.append(Line(xy_mm=hole_at, width_mm=0.3, closed=True, fill_gray=0.88, layer="hole"))
        ground = ((x - 2.2 * half, grade - 2.2 * half * tilt), (x + 2.2 * half, grade + 2.2 * half * tilt))
        items.append(Line(xy_mm=ground, width_mm=0.5, layer="ground"))
        pipe = ((x - post, foot), (x + post, foot), (x + post, end), (x - post, end))
        items.append(Line(xy_mm=pipe, width_mm=0.4, closed=True, fill_gray=1.0, layer="post"))
        out_left, out_right = x - 2.2 * half - 3.0, x + 2.2 * half + 3.0
        small = self.notation.small_words
        lines = self.fit.lengths.above_grade_m
        words = self.notation.words
        embedded = ("embedment", "from the downhill lip", words(hole.embedment_m))
        covered = ("bottom cover", ranged([h.bottom_cover_m for h in self.holes], self.notation))
        above_grade = ("above grade", ranged([float(v) for v in lines], self.notation))
        deep = ("hole depth", "at the middle", ranged([h.hole_depth_m for h in self.holes], self.notation))
        items += dimensions_up(out_left, ((foot, lip, embedded), (low, foot, covered)), reach=x - half)
        items += dimensions_up(out_right, ((grade, end, above_grade), (low, grade, deep)), reach=x + half)
        items += dimension_along(
            (x - half, low), (x + half, low), off_mm=-6.0, text=f"hole {small(wide)}", beyond=True
        )
        return [*items, *self._notes(box, hole)]

    def _notes(self, box: Box, hole: Hole) -> list[Item]:
        small, footing = self.notation.small_words, self.footing
        frost = "NOT GIVEN" if footing.frost_depth_m is None else self.notation.words(footing.frost_depth_m)
        side = "NOT GIVEN" if footing.side_cover_m is None else small(footing.side_cover_m)
        text = (
            f"Post {small(self.od_m)} outside. Side cover at least {side}. Frost depth {frost}. The lip lies "
            f"{ranged([h.lip_m for h in self.holes], self.notation)} below the middle. Concrete to grade, "
            "its top crowned. Dimensions as given, not checked for strength."
        )
        return _at_foot(text, box)


def _side_view(plan: Plan, array: ArrayPlan, box: Box, notation: Notation) -> list[Item]:
    """Draw the section with the greatest height of the modules above the ground, from the array's left."""
    section = max(line_sections(plan, array), key=lambda one: _edge_heights(one)[1])
    low_m, high_m = _edge_heights(section)
    left, bottom, right, top = box
    s_low, s_high = extent(section)
    z_low, z_high = heights(section)
    scale = largest_scale(
        width_m=s_high - s_low,
        height_m=z_high - z_low,
        width_mm=right - left - 1.55 * _SIDE_MM,
        height_mm=top - bottom - _HEAD_MM - _FOOT_MM,
        style=notation.style,
    )
    mm = 1000.0 / scale.ratio
    start_x = (left + right) / 2.0 - mm * (s_low + s_high) / 2.0

    def at(s_m: float, z_m: float) -> tuple[float, float]:
        return start_x + mm * s_m, bottom + _FOOT_MM + mm * (z_m - z_low)

    items = _titled(box, f"From the left, through {section.title.removeprefix('Piers ')}", scale)
    for paths, dash in ((section.shot, "solid"), (section.guessed, "dashed")):
        for path in paths:
            xy = tuple(at(*sz) for sz in path)
            items.append(
                Line(xy_mm=xy, width_mm=0.5, dash="dashed" if dash == "dashed" else "solid", layer="ground")
            )
    for post in section.posts:
        foot = post.ground_m if post.foot_m is None else post.foot_m
        items.append(Line(xy_mm=(at(post.s_m, foot), at(post.s_m, post.top_m)), width_mm=0.6, layer="posts"))
    (a, za), (b, zb) = section.heavy
    items.append(Line(xy_mm=(at(a, za), at(b, zb)), width_mm=1.0, layer="modules"))
    drawn = [sz for path in (*section.shot, *section.guessed) for sz in path]
    for s, z, gap, name, far in ((a, za, low_m, "low edge", -6.0), (b, zb, high_m, "high edge", 6.0)):
        x, y = at(s, z)
        words = (name, "above grade", notation.words(gap))
        beside = [at(*sz)[1] for sz in drawn if (sz[0] - s) * far >= 0.0]
        floor = max([y - mm * gap, *beside]) + _ABOVE_GROUND_MM
        items += dimension_up(x + far, y - mm * gap, y, reach=x, lines=words, above=floor)
    first, last = section.posts[0], section.posts[-1]
    if len(section.posts) > 1:
        floor = min(at(0.0, post.hole_bottom_m or post.ground_m)[1] for post in section.posts) - 2.0
        ends = (at(first.s_m, 0.0)[0], floor), (at(last.s_m, 0.0)[0], floor)
        items += dimension_along(*ends, off_mm=-4.0, text=notation.words(last.s_m - first.s_m))
    return [*items, *_side_notes(array, box, notation)]


def _edge_heights(section: Section) -> tuple[float, float]:
    """Return how high the modules' underside lies above the ground at its low and its high edge."""
    places = sorted(sz for piece in (*section.shot, *section.guessed) for sz in piece)
    s, z = np.array(places).T
    return tuple(float(edge - np.interp(at, s, z)) for at, edge in section.heavy)  # type: ignore[return-value]


def _side_notes(array: ArrayPlan, box: Box, notation: Notation) -> list[Item]:
    fit, frame = array.fit, array.job.frame
    text = (
        f"Tilt {degrees(fit.true_tilt_rad, 2)}. Heavy: underside of the modules, "
        f"{notation.small_words(frame.stack_m)} off the beams' middle, square to them. Greatest height of "
        f"the upper face above existing grade anywhere: {notation.words(fit.highest_m)}; least clearance: "
        f"{notation.words(fit.clearance_m)}. Posts "
        f"{frame.post_pipe or 'as in job.toml'}, beams {frame.beam_pipe or 'as in job.toml'}."
    )
    return _at_foot(text, box)


def _at_foot(text: str, box: Box) -> list[Item]:
    """Return a text in lines at the foot of its box."""
    lines = broken(text, width_mm=box[2] - box[0] - 6.0, size_pt=_PT)
    return [
        Text(
            xy_mm=(box[0] + 3.0, box[1] + 3.0 + 4.1 * (len(lines) - 1 - k)),
            text=line,
            size_pt=_PT,
            layer="notes",
        )
        for k, line in enumerate(lines)
    ]
