"""The sections on paper: ground, holes, posts and beam at a stated scale, the numbers in a band below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from staking.plan import ArrayPlan, Plan
from staking.sheets.drawing import Anchor, Dash, Drawing, Item, Line, Text
from staking.sheets.labels import Box
from staking.sheets.letters import shortened, text_width_mm
from staking.sheets.map_page import MapPage, page_frame
from staking.sheets.map_scale import Scale, largest_scale
from staking.sheets.notation import Notation
from staking.sheets.section_lines import (
    Section,
    SectionPost,
    extent,
    heights,
    line_sections,
    row_sections,
)
from staking.sheets.sheet import PAPER_MM, Paper, Sheet, TitleBlock

DOWN = (2, 3)
"""Sections below each other on a sheet: the second where that saves a sheet at the same scale."""
_RULE_MM = 8.0
"""From line to line of the notes, for a pencil."""
_PT, _TITLE_PT = 9.0, 11.0
_PITCH_MM = 4.4
"""From line to line of the band of numbers."""
_LABEL_MM = 27.0
"""Width of the names at the left of the band."""
_PAD_MM = 3.0
_TITLE_MM = 12.0
"""Room above a section for its title, scale and the posts' names."""
_ENDS_MM = 5.5
"""Room above the band for what lies left and right."""
_SIDE_MM = 5.0
"""White left and right of what is drawn."""
_BETWEEN_MM = 2.5
"""Least white between two numbers beside each other."""
_STEEPER = 3.0
"""Heights are drawn at a larger scale of their own only where that is at least so much larger."""


def section_sheets(
    plan: Plan, array: ArrayPlan, *, paper: Paper, block: TitleBlock, notation: Notation
) -> tuple[Sheet, ...]:
    """Return the sheets of one array's sections: first the rows, then the lines of piers."""
    width_mm, height_mm = PAPER_MM[paper]
    page = MapPage(width_mm=width_mm, height_mm=height_mm)
    left, _, right, top = page.window
    window = (left, page.strip[1], right, top)
    sheets: list[Sheet] = []
    for along_rows in (True, False):
        sections = row_sections(plan, array) if along_rows else line_sections(plan, array)
        what = "Sections along the rows" if along_rows else "Sections up the slope"
        title = what + (f", {array.title}" if array.title else "")
        column = _column_mm(sections, notation)
        most = int((right - left - 2 * _PAD_MM - _LABEL_MM) / column)
        pieces = [piece for section in sections for piece in _split(section, most)]
        across = 1 if along_rows else _across(pieces, column, right - left)
        lines = len(_band(pieces, notation))
        each, cells, scales = _dealt(pieces, across, (right - left, top - window[1]), lines, notation.style)
        for k in range(0, len(pieces), each):
            items: list[Item] = list(page_frame(page, title=title, block=block, window=window))
            for n in range(each):
                x, y = left + (n % across) * cells[0], top - (n // across) * cells[1]
                box = (x, y - cells[1], x + cells[0], y)
                if k + n < len(pieces):
                    items += _drawn(pieces[k + n], box, scales, column, notation)
                elif n % across == 0 or k + n == len(pieces):
                    lower = y - cells[1] if n % across else window[1]
                    items += _notes((x, lower, right, y), headed=k + n == len(pieces))
                    if n % across == 0:
                        break
            drawing = Drawing(
                width_mm=width_mm, height_mm=height_mm, scale=scales[0].ratio, items=tuple(items)
            )
            sheets.append(Sheet(name="sections", title=title, drawing=drawing))
    return tuple(sheets)


def _band(sections: Sequence[Section], notation: Notation) -> list[str]:
    """Return what the numbers below a section are called, from above."""
    place, unit = (f" ({text})" if text else "" for text in (notation.place_unit, notation.unit))
    names = [f"Top of post{place}", f"Ground{place}", f"Above grade{unit}"]
    posts = [post for section in sections for post in section.posts]
    if any(post.lips_m is not None for post in posts):
        first, second = sections[0].ends
        names += [f"{first.capitalize()} lip{place}", f"{second.capitalize()} lip{place}"]
    if any(post.hole_bottom_m is not None for post in posts):
        names.append(f"Hole bottom{place}")
    return ["Pier", *names]


def _numbers(post: SectionPost, notation: Notation) -> list[str]:
    texts = [notation.place(post.top_m), notation.place(post.ground_m), notation.length(post.above_grade_m)]
    texts += [notation.place(value) for value in post.lips_m or ()]
    texts += [] if post.hole_bottom_m is None else [notation.place(post.hole_bottom_m)]
    return [post.name, *texts]


def _column_mm(sections: Sequence[Section], notation: Notation) -> float:
    """Return how wide one pier's numbers are, with the white beside them."""
    texts = [text for section in sections for post in section.posts for text in _numbers(post, notation)]
    return max(text_width_mm(text, size_pt=_PT, strong=True) for text in texts) + _BETWEEN_MM


def _split(section: Section, most: int) -> list[Section]:
    """Return a section in pieces of at most so many posts, as even as can be."""
    n = len(section.posts)
    count = -(-n // max(1, most))
    if count == 1:
        return [section]
    pieces = []
    for k in range(count):
        posts = section.posts[k * n // count : (k + 1) * n // count]
        low = -float("inf") if k == 0 else (section.posts[k * n // count - 1].s_m + posts[0].s_m) / 2.0
        high = float("inf")
        if k < count - 1:
            high = (posts[-1].s_m + section.posts[(k + 1) * n // count].s_m) / 2.0
        pieces.append(
            replace(
                section,
                title=f"{section.title}: {posts[0].name} to {posts[-1].name}",
                posts=posts,
                shot=_within(section.shot, low, high),
                guessed=_within(section.guessed, low, high),
                heavy=_heavy_within(section.heavy, low, high),
            )
        )
    return pieces


def _within(
    pieces: Sequence[tuple[tuple[float, float], ...]], low: float, high: float
) -> tuple[tuple[tuple[float, float], ...], ...]:
    kept = (tuple(at for at in piece if low <= at[0] <= high) for piece in pieces)
    return tuple(piece for piece in kept if len(piece) > 1)


def _heavy_within(
    heavy: tuple[tuple[float, float], tuple[float, float]], low: float, high: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    (a, z), (b, until) = heavy
    rise = (until - z) / (b - a)
    first, last = max(a, low), min(b, high)
    return (first, z + rise * (first - a)), (last, z + rise * (last - a))


def _across(sections: Sequence[Section], column: float, room: float) -> int:
    """Return how many sections stand beside each other: as many as their numbers leave room for."""
    posts = max(len(section.posts) for section in sections)
    widest = max(posts * column, 40.0) + _LABEL_MM + 2 * _PAD_MM
    return max(1, min(len(sections), int(room / widest)))


def _dealt(
    pieces: Sequence[Section], across: int, room: tuple[float, float], lines: int, style: str
) -> tuple[int, tuple[float, float], tuple[Scale, Scale]]:
    """Return how many sections stand on a sheet, the size of each one's cell, and their scales."""
    ways = []
    for down in DOWN:
        cell = (room[0] / across, room[1] / down)
        ways.append((across * down, cell, _scales(pieces, cell, lines, style)))
    roomy, close = ways
    saves = -(-len(pieces) // close[0]) < -(-len(pieces) // roomy[0])
    return close if saves and close[2] == roomy[2] else roomy


def _notes(box: Box, *, headed: bool) -> list[Item]:
    """Rule what the last sheet has left, for what is found where the holes are dug."""
    left, bottom, right, top = box
    items: list[Item] = []
    if headed:
        at = (left + _PAD_MM, top - 5.0)
        items.append(Text(xy_mm=at, text="Notes, as found", size_pt=_TITLE_PT, strong=True, layer="notes"))
    y = top - 7.0 - _RULE_MM
    while y > bottom + _PAD_MM:
        ends = ((left + _PAD_MM, y), (right - _PAD_MM, y))
        items.append(Line(xy_mm=ends, width_mm=0.13, gray=0.5, layer="notes"))
        y -= _RULE_MM
    return items


def _scales(
    sections: Sequence[Section], cell: tuple[float, float], lines: int, style: str
) -> tuple[Scale, Scale]:
    """Return the scale along and that of heights: one for both unless heights would be too small."""
    spans = [(extent(section), heights(section)) for section in sections]
    wide = max(s[1] - s[0] for s, _ in spans)
    tall = max(z[1] - z[0] for _, z in spans)
    width_mm = cell[0] - _LABEL_MM - 2 * _PAD_MM - 2 * _SIDE_MM
    height_mm = cell[1] - _TITLE_MM - lines * _PITCH_MM - 2 * _PAD_MM - _ENDS_MM
    along = largest_scale(width_m=wide, height_m=0.01, width_mm=width_mm, height_mm=height_mm, style=style)
    up = largest_scale(width_m=0.01, height_m=tall, width_mm=width_mm, height_mm=height_mm, style=style)
    if along.ratio >= _STEEPER * up.ratio:
        return along, up
    both = max(along, up, key=lambda scale: scale.ratio)
    return both, both


def _scale_words(scales: tuple[Scale, Scale]) -> str:
    along, up = scales
    if along == up:
        return f"Scale {along.words}, heights alike"
    steep = along.ratio / up.ratio
    return f"Scale {along.words}; heights {up.words}, {steep:.3g} times as steep"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """From a section's metres to the millimetres of its box."""

    box: Box
    band_mm: float
    """Top of the band of numbers."""
    room: tuple[float, float]
    """Left and right end of what is drawn."""
    across_mm: float
    up_mm: float
    middle: tuple[float, float]
    """The section's own middle: s, and the lowest z."""
    low_mm: float

    def at(self, s_m: float, z_m: float) -> tuple[float, float]:
        """Return where a place of the section stands on paper."""
        x = (self.room[0] + self.room[1]) / 2.0 + self.across_mm * (s_m - self.middle[0])
        return x, self.low_mm + self.up_mm * (z_m - self.middle[1])


def _frame(section: Section, box: Box, scales: tuple[Scale, Scale], lines: int) -> _Frame:
    left, bottom, right, top = box
    band = bottom + _PAD_MM + lines * _PITCH_MM
    across, up = 1000.0 / scales[0].ratio, 1000.0 / scales[1].ratio
    s_low, s_high = extent(section)
    z_low, z_high = heights(section)
    spare = top - _TITLE_MM - band - _ENDS_MM - up * (z_high - z_low)
    return _Frame(
        box=box,
        band_mm=band,
        room=(left + _LABEL_MM + _PAD_MM, right - _PAD_MM),
        across_mm=across,
        up_mm=up,
        middle=((s_low + s_high) / 2.0, z_low),
        low_mm=band + _ENDS_MM + spare / 2.0,
    )


def _drawn(
    section: Section, box: Box, scales: tuple[Scale, Scale], column: float, notation: Notation
) -> list[Item]:
    names = _band([section], notation)
    frame = _frame(section, box, scales, len(names))
    items = _head(section, frame, scales)
    pieces: tuple[tuple[Sequence[tuple[tuple[float, float], ...]], Dash], ...] = (
        (section.shot, "solid"),
        (section.guessed, "dashed"),
    )
    for paths, dash in pieces:
        for path in paths:
            xy = tuple(frame.at(*sz) for sz in path)
            items.append(Line(xy_mm=xy, width_mm=0.3, dash=dash, layer="ground"))
    for post in section.posts:
        items += _post(post, frame)
    heavy = tuple(frame.at(*sz) for sz in section.heavy)
    items.append(Line(xy_mm=heavy, width_mm=0.9, layer="beam"))
    return [*items, *_band_drawn(section, names, frame, column, notation)]


def _head(section: Section, frame: _Frame, scales: tuple[Scale, Scale]) -> list[Item]:
    left, bottom, right, top = frame.box
    room = right - left - 2 * _PAD_MM
    corners = ((left, bottom), (right, bottom), (right, top), (left, top))
    items: list[Item] = [Line(xy_mm=corners, width_mm=0.13, gray=0.5, closed=True, layer="frame")]
    said = _scale_words(scales)
    for text, size, down, strong in ((section.title, _TITLE_PT, 5.0, True), (said, _PT, 9.4, False)):
        words = shortened(text, width_mm=room, size_pt=size, strong=strong)
        at = (left + _PAD_MM, top - down)
        items.append(Text(xy_mm=at, text=words, size_pt=size, strong=strong, layer="section title"))
    y = frame.band_mm + 1.5
    ends: tuple[tuple[float, str, Anchor], ...] = (
        (frame.room[0], section.ends[0], "start"),
        ((frame.room[0] + frame.room[1]) / 2.0, f"heavy: {section.heavy_name}", "middle"),
        (frame.room[1], section.ends[1], "end"),
    )
    items += [
        Text(xy_mm=(x, y), text=text, size_pt=_PT, anchor=anchor, layer="ends") for x, text, anchor in ends
    ]
    return items


def _post(post: SectionPost, frame: _Frame) -> list[Item]:
    """Draw a post from its foot to its top, and its hole from lip to lip."""
    foot = post.ground_m if post.foot_m is None else post.foot_m
    items: list[Item] = [
        Line(xy_mm=(frame.at(post.s_m, foot), frame.at(post.s_m, post.top_m)), width_mm=0.55, layer="posts")
    ]
    if post.hole_bottom_m is not None and post.hole_radius_m is not None and post.lips_m is not None:
        low, high = post.s_m - post.hole_radius_m, post.s_m + post.hole_radius_m
        corners = (
            frame.at(low, post.lips_m[0]),
            frame.at(low, post.hole_bottom_m),
            frame.at(high, post.hole_bottom_m),
            frame.at(high, post.lips_m[1]),
        )
        items.append(Line(xy_mm=corners, width_mm=0.2, layer="holes"))
    return items


def _band_drawn(
    section: Section, names: Sequence[str], frame: _Frame, column: float, notation: Notation
) -> list[Item]:
    """Write the numbers, each pier's under its post, or side by side where posts stand too close."""
    left, right = frame.box[0] + _PAD_MM, frame.room[1]
    x = [frame.at(post.s_m, 0.0)[0] for post in section.posts]
    half = column / 2.0
    close = any(b - a < column for a, b in pairwise(x)) or x[0] - half < frame.room[0] or x[-1] + half > right
    if close:
        each = min((right - frame.room[0]) / len(x), 1.6 * column)
        centre = (x[0] + x[-1]) / 2.0
        start = min(max(centre - each * len(x) / 2.0, frame.room[0]), right - each * len(x))
        x = [start + each * (k + 0.5) for k in range(len(x))]
    items: list[Item] = []
    for k, name in enumerate(names):
        y = frame.band_mm - 3.4 - _PITCH_MM * k
        if k:
            above = y + 3.4
            items.append(Line(xy_mm=((left, above), (right, above)), width_mm=0.13, gray=0.5, layer="band"))
        items.append(Text(xy_mm=(left, y), text=name, size_pt=_PT, layer="band"))
        for at, post in zip(x, section.posts, strict=True):
            items.append(
                Text(
                    xy_mm=(at, y),
                    text=_numbers(post, notation)[k],
                    size_pt=_PT,
                    strong=k in (0, 3),
                    anchor="middle",
                    layer="band",
                )
            )
    return items
