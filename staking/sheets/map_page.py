"""The frame of the map's sheet: title, title block, scale bar, north arrow, key of signs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from staking.base.units import format_length, from_unit
from staking.sheets.drawing import Item, Line, Text
from staking.sheets.labels import Box
from staking.sheets.letters import shortened, text_width_mm
from staking.sheets.map_scale import Scale
from staking.sheets.map_symbols import north_arrow
from staking.sheets.notation import Notation
from staking.sheets.sheet import (
    ALARM_DOWN_MM,
    FOOTER_MM,
    HEADER_MM,
    MARGIN_MM,
    TITLE_GUTTER_MM,
    TITLE_PT,
    TitleBlock,
)

BAR_MM = 100.0
"""Length of the scale bar on paper."""
_BAR_TALL_MM = 2.4
_KEY_ROWS_MM = (5.4, 4.8, 4.0)
"""From one row of the key to the next, the widest that fits."""
_KEY_SIGN_MM = 9.0
"""Width of a sign before its words."""
_KEY_ABOVE_FOOTER_MM = 4.0
_ARROW_MM = 36.0
"""Width kept for the north arrow."""

KeyEntry = tuple[Callable[[tuple[float, float]], Sequence[Item]], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class MapPage:
    """One way of dividing a sheet: the window of the map and the strip below it."""

    width_mm: float
    height_mm: float

    @property
    def upright(self) -> bool:
        """Whether the sheet is taller than wide."""
        return self.height_mm > self.width_mm

    @property
    def strip(self) -> Box:
        """The strip for bar, key and arrow."""
        bottom = MARGIN_MM + FOOTER_MM + _KEY_ABOVE_FOOTER_MM
        return MARGIN_MM, bottom, self.width_mm - MARGIN_MM, bottom + (52.0 if self.upright else 29.5)

    @property
    def window(self) -> Box:
        """Where the map is drawn."""
        top = self.height_mm - MARGIN_MM - HEADER_MM
        return MARGIN_MM, self.strip[3] + 2.5, self.width_mm - MARGIN_MM, top


def page_frame(
    page: MapPage, *, title: str, block: TitleBlock, window: Box | None = None
) -> tuple[Item, ...]:
    """Return the sheet's title, its title block and the border of its window, the map's unless given."""
    left, bottom, right, top = page.window if window is None else window
    items: list[Item] = [
        Text(
            xy_mm=(MARGIN_MM, page.height_mm - MARGIN_MM - 5.2),
            text=title,
            size_pt=19.0,
            strong=True,
            layer="title",
        ),
        Line(
            xy_mm=((left, bottom), (right, bottom), (right, top), (left, top)),
            width_mm=0.25,
            closed=True,
            layer="frame",
        ),
    ]
    if block.alarm:
        below_number = (right, page.height_mm - MARGIN_MM - ALARM_DOWN_MM)
        items.append(
            Text(xy_mm=below_number, text=block.alarm, size_pt=11.0, anchor="end", strong=True, layer="title")
        )
    rule = MARGIN_MM + FOOTER_MM
    items.append(Line(xy_mm=((left, rule), (right, rule)), width_mm=0.42, layer="title"))
    x = left
    for label, text, width in block.fitted(right - left):
        items.append(Text(xy_mm=(x, rule - 4.4), text=label, size_pt=TITLE_PT, layer="title"))
        items.append(Text(xy_mm=(x, rule - 8.6), text=text, size_pt=TITLE_PT, strong=True, layer="title"))
        x += width + TITLE_GUTTER_MM
    return tuple(items)


def strip_items(
    page: MapPage,
    *,
    scale: Scale,
    notation: Notation,
    north: tuple[str, ...],
    magnetic: tuple[float, tuple[str, ...]] | None,
    key: Sequence[KeyEntry],
    remark: str,
) -> tuple[Item, ...]:
    """Return the scale bar, the key of signs and the north arrow."""
    left, bottom, right, top = page.strip
    arrow_foot = (right - _ARROW_MM / 2.0, top - 15.5)
    items: list[Item] = list(scale_bar((left, top - 7.0), scale=scale, notation=notation, remark=remark))
    items += north_arrow(arrow_foot, height_mm=10.5, names=north, magnetic=magnetic)
    if page.upright:
        key_box = (left, bottom, right, top - 34.0)
    else:
        key_box = (left + BAR_MM + 10.0, bottom, right - _ARROW_MM - 4.0, top - 1.0)
    return (*items, *_key(key_box, key))


def _key(box: Box, key: Sequence[KeyEntry]) -> tuple[Item, ...]:
    """Return the key in columns, its rows closer together where there would be too many columns."""
    left, bottom, right, top = box
    for pitch in _KEY_ROWS_MM:
        rows = max(1, int((top - bottom) / pitch + 1e-6))
        columns = [key[k : k + rows] for k in range(0, len(key), rows)]
        widths = [max(text_width_mm(words, size_pt=9.0) for _, words in column) for column in columns]
        spare = right - left - sum(widths) - _KEY_SIGN_MM * len(columns)
        if spare >= 0.0:
            break
    gap = min(9.0, max(0.0, spare / max(1, len(columns) - 1)))
    items: list[Item] = []
    x = left
    for column, width in zip(columns, widths, strict=True):
        for r, (sign, words) in enumerate(column):
            y = top - 3.6 - r * pitch
            text = shortened(words, width_mm=right - x - _KEY_SIGN_MM, size_pt=9.0, strong=False)
            items += sign((x + 3.5, y + 1.1))
            items.append(Text(xy_mm=(x + _KEY_SIGN_MM, y), text=text, layer="key"))
        x += width + _KEY_SIGN_MM + gap
    return tuple(items)


def scale_bar(at: tuple[float, float], *, scale: Scale, notation: Notation, remark: str) -> tuple[Item, ...]:
    """Return a bar of exactly 100 mm with the round lengths on the ground ticked along it."""
    x, y = at
    ground_m = BAR_MM * scale.ratio / 1000.0
    step_m, words = _ticks(ground_m, notation.style)
    step_mm = step_m * 1000.0 / scale.ratio
    items: list[Item] = [
        Line(
            xy_mm=((x, y), (x + BAR_MM, y), (x + BAR_MM, y + _BAR_TALL_MM), (x, y + _BAR_TALL_MM)),
            width_mm=0.0,
            closed=True,
            fill_gray=0.0,
            layer="scale bar",
        )
    ]
    half = _BAR_TALL_MM / 2.0
    count = int(BAR_MM / step_mm + 1e-9)
    for k in range(0, count + 1, 2):
        a, b = x + k * step_mm, min(x + (k + 1) * step_mm, x + BAR_MM)
        if b - a < 0.5:
            continue
        low = y + 0.25
        items.append(
            Line(
                xy_mm=((a, low), (b, low), (b, low + half), (a, low + half)),
                width_mm=0.0,
                closed=True,
                fill_gray=1.0,
                layer="scale bar",
            )
        )
    every = next(e for e in (1, 2, 5, 10) if e * step_mm >= 11.0)
    for k in range(count + 1):
        tick = x + k * step_mm
        tall = 1.6 if k % every == 0 else 0.9
        items.append(
            Line(
                xy_mm=((tick, y + _BAR_TALL_MM), (tick, y + _BAR_TALL_MM + tall)),
                width_mm=0.25,
                layer="scale bar",
            )
        )
        if k % every == 0:
            items.append(
                Text(
                    xy_mm=(tick, y + _BAR_TALL_MM + 2.2),
                    text=words(k),
                    anchor="start" if k == 0 else "middle",
                    layer="scale bar",
                )
            )
    below = [
        (f"Scale {scale.words}", True, 11.0),
        (f"The bar is 100 mm long: {notation.words(ground_m)} on the ground.", False, 9.0),
        ("Measure it on the print; if it is not 100 mm, take nothing off this map by rule.", False, 9.0),
        *(((remark, False, 9.0),) if remark else ()),
    ]
    down = y - 5.2
    for text, strong, size in below:
        items.append(Text(xy_mm=(x, down), text=text, strong=strong, size_pt=size, layer="scale bar"))
        down -= 4.3
    return tuple(items)


def _ticks(ground_m: float, style: str) -> tuple[float, Callable[[int], str]]:
    """Return a round length of which the bar holds four to ten, and how a number of them is written."""
    metric = style == "metric"
    unit_m = 1.0 if metric else from_unit(1.0, "ft")
    count = next(
        c
        for c in (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10**4, 10**5, 10**6)
        if ground_m / (c * unit_m) <= 10.0
    )
    step_m = count * unit_m

    def words(k: int) -> str:
        if metric:
            return format_length(k * step_m, style="metric")
        if style == "decimal feet":
            return f"{k * count:g}"
        return f"{k * count:g}'" if count >= 1 else format_length(k * step_m, style="feet-inches")

    return step_m, words
