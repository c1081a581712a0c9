"""Pier cards, four a sheet: what one person needs at one hole, to be cut apart and carried."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from staking.marks.stakeout import Mark
from staking.pipes.holes import Hole
from staking.plan import ArrayPlan, Plan
from staking.sheets.concrete_table import hole_words
from staking.sheets.drawing import Drawing, Item, Line, Text
from staking.sheets.letters import broken, shortened, text_width_mm
from staking.sheets.map_page import MapPage, page_frame
from staking.sheets.notation import Notation
from staking.sheets.sheet import PAPER_MM, Paper, Sheet, TitleBlock

ACROSS, DOWN = 2, 2
"""Cards on a sheet."""
_PAD_MM = 4.5
"""From a card's edge to its text."""
_NAME_PT, _CUT_PT, _LINE_PT, _ALARM_PT, _SMALL_PT = 40.0, 26.0, 11.5, 10.0, 9.0
_CUT_LABEL = ("CUT:", "above grade")
_PITCH_MM = 5.8
"""From line to line of the list, closer where there is much to say."""
_CHECK_MM = 4.0
"""From line to line of the checks."""
_BOX_MM = 4.0
_TO_FILL = "____________"
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
    plan: Plan, sections: Sequence[ArrayPlan], *, paper: Paper, block: TitleBlock, notation: Notation
) -> tuple[Sheet, ...]:
    """Return the sheets of one array's cards, all its sections'; none without holes."""
    if not all(section.holes for section in sections):
        return ()
    marks = {mark.pier: mark for section in sections for mark in section.stakeout.marks}
    cards = [
        _card(plan, section, i, hole, marks.get(section.pier_name(hole.pier)), notation)
        for section in sections
        for i, hole in enumerate(section.holes)
    ]
    title = "Pier cards" + (f", {sections[0].name}" if sections[0].name else "")
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
        ("Top of post, elevation", notation.place_words(float(lengths.top_m[i]))),
    ]
    if pipe is not None:
        lines.append(("Trim to the mark, after setting", small(pipe.cut_allowance_m + hole.stands_high_m)))
    lines.append(("Concrete", hole_words(hole.concrete_m3, hole.bags, notation)))
    checks = []
    if mark is not None and mark.check is not None:
        allowed = mark.check_allowed_m
        stop = "" if allowed is None else f"; STOP if off by more than {small(allowed)}"
        checks.append(
            f"Check: {mark.check.point} to this stake, taped level, {words(mark.check.level_m)}{stop}."
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
    spare = [_spare(cards[0])] * (ACROSS * DOWN - len(cards))
    for k, card in enumerate([*cards, *spare]):
        x, y = left + (k % ACROSS) * wide, top - (k // ACROSS) * tall
        items += _drawn(card, block, (x, y, wide, tall))
    return Drawing(width_mm=width_mm, height_mm=height_mm, scale=1, items=tuple(items))


def _spare(card: _Card) -> _Card:
    """Return a card to fill in by hand, of the lines that another has."""
    return _Card(
        name="Pier",
        above_grade="_______",
        lines=tuple((label, _TO_FILL) for label, _ in card.lines),
        checks=(
            "Spare: for a hole or post that comes out otherwise. Change the files and plan again first.",
        ),
    )


def _rule(start: tuple[float, float], end: tuple[float, float]) -> Line:
    """Return where the cards are cut apart."""
    return Line(xy_mm=(start, end), width_mm=0.25, dash="dashed", layer="cut here")


def _drawn(card: _Card, block: TitleBlock, box: tuple[float, float, float, float]) -> list[Item]:
    """Draw one card in a box: left, top, width, height."""
    x, top, wide, tall = box
    left, right, room = x + _PAD_MM, x + wide - _PAD_MM, wide - 2 * _PAD_MM
    items, y = _whose(block, left, top - 6.0, room)
    y -= 13.0
    name_pt = _fitting(card.name, room, _NAME_PT)
    items.append(Text(xy_mm=(left, y), text=card.name, size_pt=name_pt, strong=True, layer="name"))
    y -= 12.0
    for text, up in zip(_CUT_LABEL, (4.2, 0.0), strict=True):
        items.append(Text(xy_mm=(left, y + up), text=text, size_pt=_LINE_PT, layer="label"))
    start = 3.0 + max(text_width_mm(text, size_pt=_LINE_PT) for text in _CUT_LABEL)
    cut_pt = _fitting(card.above_grade, room - start, _CUT_PT)
    items.append(
        Text(xy_mm=(left + start, y), text=card.above_grade, size_pt=cut_pt, strong=True, layer="cut")
    )
    y -= 3.5
    items.append(Line(xy_mm=((left, y), (right, y)), width_mm=0.42, layer="card"))
    y -= 6.0
    checks = [broken(check, width_mm=room, size_pt=_SMALL_PT) for check in card.checks]
    told = sum(_CHECK_MM * len(lines) + 0.8 for lines in checks)
    foot = top - tall + 3.5
    pitch = min(_PITCH_MM, (y - foot - _BOX_MM - 3.5 - told) / len(card.lines))
    for label, value in card.lines:
        value_mm = text_width_mm(value, size_pt=_LINE_PT, strong=True)
        text = shortened(label, width_mm=room - value_mm - 2.0, size_pt=_LINE_PT, strong=False)
        items.append(Text(xy_mm=(left, y), text=text, size_pt=_LINE_PT, layer="card"))
        items.append(
            Text(xy_mm=(right, y), text=value, size_pt=_LINE_PT, strong=True, anchor="end", layer="card")
        )
        y -= pitch
    y -= 0.5
    for lines in checks:
        for text in lines:
            items.append(Text(xy_mm=(left, y), text=text, size_pt=_SMALL_PT, layer="check"))
            y -= _CHECK_MM
        y -= 0.8
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


def _whose(block: TitleBlock, left: float, y: float, room: float) -> tuple[list[Item], float]:
    """Return a card's job, date and inputs, below them what every sheet must say; and where they end."""
    revision = shortened(block.revision, width_mm=room / 6.0, size_pt=_SMALL_PT, strong=False)
    right = "  ".join(filter(None, (block.date, revision, block.fingerprint)))
    spare = room - text_width_mm(right, size_pt=_SMALL_PT) - 3.0
    job = shortened(block.job, width_mm=spare, size_pt=_SMALL_PT, strong=False)
    items: list[Item] = [
        Text(xy_mm=(left, y), text=job, size_pt=_SMALL_PT, layer="whose"),
        Text(xy_mm=(left + room, y), text=right, size_pt=_SMALL_PT, anchor="end", layer="whose"),
    ]
    if not block.alarm:
        return items, y
    what = "; ".join(part.partition(":")[0] for part in block.alarm.split("; "))
    lines = broken(f"{what}: do not dig or cut yet.", width_mm=room - 3.0, size_pt=_ALARM_PT, strong=True)
    upper, lower = y - 1.8, y - 1.8 - 4.3 * len(lines) - 1.4
    corners = ((left, upper), (left + room, upper), (left + room, lower), (left, lower))
    items.append(Line(xy_mm=corners, width_mm=0.6, closed=True, layer="alarm"))
    for k, text in enumerate(lines):
        at = (left + 1.5, upper - 3.9 - 4.3 * k)
        items.append(Text(xy_mm=at, text=text, size_pt=_ALARM_PT, strong=True, layer="alarm"))
    return items, lower + 1.0


def _fitting(text: str, room_mm: float, size_pt: float) -> float:
    """Return the size at which a text fits its room, `size_pt` at the most."""
    return min(size_pt, size_pt * room_mm / text_width_mm(text, size_pt=size_pt, strong=True))
