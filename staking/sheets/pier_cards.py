"""Pier cards, four a sheet: what one person needs at one hole, to be cut apart and carried."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from staking.marks.stakeout import Mark
from staking.pipes.holes import Hole
from staking.plan import ArrayPlan, Plan
from staking.sheets.concrete_table import hole_words
from staking.sheets.drawing import Drawing, Item, Line, Text
from staking.sheets.letters import shortened, text_width_mm
from staking.sheets.map_page import MapPage, page_frame
from staking.sheets.notation import Notation
from staking.sheets.sheet import PAPER_MM, Paper, Sheet, TitleBlock

ACROSS, DOWN = 2, 2
"""Cards on a sheet."""
_PAD_MM = 4.5
"""From a card's edge to its text."""
_NAME_PT, _CUT_PT, _LINE_PT, _SMALL_PT = 40.0, 26.0, 11.5, 9.0
_PITCH_MM = 5.8
"""From line to line of the list."""
_BOX_MM = 4.0
_TICKS = ("hole", "set", "plumb", "poured", "cut")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Card:
    """One card's words."""

    name: str
    above_grade: str
    lines: tuple[tuple[str, str], ...]
    """Label and value."""
    checks: tuple[str, ...]


def pier_card_sheets(
    plan: Plan, array: ArrayPlan, *, paper: Paper, block: TitleBlock, notation: Notation
) -> tuple[Sheet, ...]:
    """Return the sheets of one array's cards; none without holes."""
    if not array.holes:
        return ()
    marks = {mark.pier: mark for mark in array.stakeout.marks}
    cards = [
        _card(plan, array, i, hole, marks.get(hole.pier), notation) for i, hole in enumerate(array.holes)
    ]
    title = "Pier cards" + (f", {array.name}" if array.name else "")
    each = ACROSS * DOWN
    return tuple(
        Sheet(
            name="pier_cards",
            title=title,
            drawing=_drawing(cards[k : k + each], title=title, paper=paper, block=block),
        )
        for k in range(0, len(cards), each)
    )


def _card(plan: Plan, array: ArrayPlan, i: int, hole: Hole, mark: Mark | None, notation: Notation) -> _Card:
    lengths, words, small = array.fit.lengths, notation.words, notation.small_words
    pipe = plan.book.job.pipe
    lines = [
        ("Hole depth", words(hole.hole_depth_m)),
        ("Embedment, from the downhill lip", words(hole.embedment_m)),
        ("The lip lies below the middle by", small(hole.lip_m)),
        ("Bottom cover under the post", small(hole.bottom_cover_m)),
        ("Post as cut from the stick", words(hole.post_length_m)),
        ("Top of post, elevation", words(float(lengths.top_m[i]))),
    ]
    if pipe is not None:
        lines.append(("Trim to the mark, after setting", small(pipe.cut_allowance_m)))
    lines.append(("Concrete", hole_words(hole.concrete_m3, hole.bags, notation)))
    checks = []
    if mark is not None and mark.check is not None:
        allowed = mark.check_allowed_m
        stop = "" if allowed is None else f"; STOP if off by more than {small(allowed)}"
        checks.append(
            f"Check: {mark.check.point} to this hub, taped level, {words(mark.check.level_m)}{stop}."
        )
    if hole.off_mark_m is not None:
        checks.append(f"STOP if the post stands more than {small(max(hole.off_mark_m, 0.0))} off its mark.")
    return _Card(
        name=array.pier_name(hole.pier),
        above_grade=words(float(lengths.above_grade_m[i])),
        lines=tuple(lines),
        checks=tuple(checks),
    )


def _drawing(cards: Sequence[_Card], *, title: str, paper: Paper, block: TitleBlock) -> Drawing:
    width_mm, height_mm = PAPER_MM[paper]
    page = MapPage(width_mm=width_mm, height_mm=height_mm)
    left, _, right, top = page.window
    bottom = page.strip[1]
    wide, tall = (right - left) / ACROSS, (top - bottom) / DOWN
    items: list[Item] = list(page_frame(page, title=title, block=block, window=(left, bottom, right, top)))
    items.append(_rule((left + wide, bottom), (left + wide, top)))
    items.append(_rule((left, bottom + tall), (right, bottom + tall)))
    for k, card in enumerate(cards):
        x, y = left + (k % ACROSS) * wide, top - (k // ACROSS) * tall
        items += _drawn(card, x, y, wide, tall)
    return Drawing(width_mm=width_mm, height_mm=height_mm, scale=1, items=tuple(items))


def _rule(start: tuple[float, float], end: tuple[float, float]) -> Line:
    """Return where the cards are cut apart."""
    return Line(xy_mm=(start, end), width_mm=0.25, dash="dashed", layer="cut here")


def _drawn(card: _Card, x: float, top: float, wide: float, tall: float) -> list[Item]:
    left, right, room = x + _PAD_MM, x + wide - _PAD_MM, wide - 2 * _PAD_MM
    name_pt = _fitting(card.name, room, _NAME_PT)
    items: list[Item] = [
        Text(xy_mm=(left, top - 15.5), text=card.name, size_pt=name_pt, strong=True, layer="name"),
        Text(xy_mm=(left, top - 22.5), text="CUT: above grade", size_pt=_LINE_PT, layer="cut"),
        Text(
            xy_mm=(left, top - 33.0),
            text=card.above_grade,
            size_pt=_fitting(card.above_grade, room, _CUT_PT),
            strong=True,
            layer="cut",
        ),
        Line(xy_mm=((left, top - 36.5), (right, top - 36.5)), width_mm=0.42, layer="card"),
    ]
    y = top - 42.5
    for label, value in card.lines:
        value_mm = text_width_mm(value, size_pt=_LINE_PT, strong=True)
        text = shortened(label, width_mm=room - value_mm - 2.0, size_pt=_LINE_PT, strong=False)
        items.append(Text(xy_mm=(left, y), text=text, size_pt=_LINE_PT, layer="card"))
        items.append(
            Text(xy_mm=(right, y), text=value, size_pt=_LINE_PT, strong=True, anchor="end", layer="card")
        )
        y -= _PITCH_MM
    y -= 0.5
    for check in card.checks:
        for text in _broken(check, room):
            items.append(Text(xy_mm=(left, y), text=text, size_pt=_SMALL_PT, layer="check"))
            y -= 4.0
        y -= 0.8
    foot = top - tall + 5.0
    step = room / len(_TICKS)
    for k, word in enumerate(_TICKS):
        at = left + k * step
        items.append(
            Line(
                xy_mm=(
                    (at, foot),
                    (at + _BOX_MM, foot),
                    (at + _BOX_MM, foot + _BOX_MM),
                    (at, foot + _BOX_MM),
                ),
                width_mm=0.3,
                closed=True,
                layer="ticks",
            )
        )
        items.append(
            Text(xy_mm=(at + _BOX_MM + 1.2, foot + 0.8), text=word, size_pt=_SMALL_PT, layer="ticks")
        )
    return items


def _fitting(text: str, room_mm: float, size_pt: float) -> float:
    """Return the size at which a text fits its room, `size_pt` at the most."""
    return min(size_pt, size_pt * room_mm / text_width_mm(text, size_pt=size_pt, strong=True))


def _broken(text: str, room_mm: float) -> list[str]:
    """Return a sentence in lines that fit."""
    lines, line = [], ""
    for word in text.split():
        longer = f"{line} {word}".strip()
        if line and text_width_mm(longer, size_pt=_SMALL_PT) > room_mm:
            lines.append(line)
            longer = word
        line = longer
    return [*lines, line]
