"""How one pack writes its lengths: one notation for all of its sheets, whatever the survey was typed in."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from staking.base.units import format_angle, format_length, from_unit, parse_length, unit_label

_STEP_M = {"feet-inches": from_unit(1.0, "in") / 16, "decimal feet": 0.003048, "metric": 0.001}
"""The last place that each style prints, metres: 1/16 in, 0.01 ft, 1 mm."""
STYLES = tuple(_STEP_M)
_BARE_UNIT = {"feet-inches": "ft", "decimal feet": "ft", "metric": "mm"}
_SNAP = 1e-9
"""Share of a step by which a float may stand above a whole step and still be that step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Notation:
    """Prints lengths in one style; `style` is feet-inches, decimal feet or metric."""

    style: str

    @property
    def unit(self) -> str:
        """Unit to print in a heading; empty where the numbers carry their own marks."""
        return "" if self.style == "feet-inches" else unit_label(self.style)

    @property
    def step_m(self) -> float:
        """Return the last place printed, metres."""
        return _STEP_M[self.style]

    def length(self, value_m: float) -> str:
        """Return a length as printed in a table."""
        return format_length(value_m, style=self.style)

    @property
    def place_unit(self) -> str:
        """Unit of coordinates and elevations in a heading: metres on a metric sheet, as on rods and maps."""
        return unit_label("metres") if self.style == "metric" else self.unit

    def place(self, value_m: float) -> str:
        """Return a coordinate or an elevation as printed in a table."""
        return format_length(value_m, style="metres") if self.style == "metric" else self.length(value_m)

    def place_words(self, value_m: float) -> str:
        """Return a coordinate or an elevation for a sentence, with its unit."""
        unit = self.place_unit
        return f"{self.place(value_m)} {unit}" if unit else self.place(value_m)

    def small(self, value_m: float) -> str:
        """Return a length that is mostly less than a foot: in inches alone where feet would be nought."""
        if self.style == "feet-inches" and abs(value_m) < from_unit(1.0, "ft"):
            return format_length(value_m, style="inches")
        return self.length(value_m)

    def sd(self, value_m: float) -> str:
        """Return a standard deviation rounded up to the last place printed: never nought, never flattered."""
        if not math.isfinite(value_m):
            return "–"
        steps = max(1, math.ceil(value_m / self.step_m - _SNAP))
        return "±" + self.small(steps * self.step_m)

    def fine_words(self, value_m: float) -> str:
        """Return an accuracy with its unit, in decimals one place finer than lengths are built to."""
        if self.style == "feet-inches":
            return self.small_words(value_m)
        places = 3 if self.style == "decimal feet" else 1
        return self._with_unit(format_length(value_m, style=self.style, places=places))

    def words(self, value_m: float) -> str:
        """Return a length for a sentence, with its unit."""
        return self._with_unit(self.length(value_m))

    def small_words(self, value_m: float) -> str:
        """Return a small length for a sentence, with its unit."""
        return self._with_unit(self.small(value_m))

    def total(self, values_m: Iterable[float]) -> str:
        """Return the sum of the lengths as printed, so that a copied column can be added up and proven."""
        printed = (parse_length(self.length(v), unit=_BARE_UNIT[self.style]) for v in values_m)
        return self.length(math.fsum(printed))

    def total_words(self, values_m: Iterable[float]) -> str:
        """Return the sum of the lengths as printed, for a sentence."""
        return self._with_unit(self.total(values_m))

    def _with_unit(self, text: str) -> str:
        return f"{text} {self.unit}" if self.unit else text


def sentence(text: str) -> str:
    """Return a remark with a sentence's capital and stop; names of files and shots keep their letters."""
    first = text.split(" ", 1)[0]
    begun = text[:1].upper() + text[1:] if first.isalpha() else text
    return begun if begun.endswith((".", "!", "?")) else begun + "."


def chance_words(chance: float) -> str:
    """Return a chance in whole percent, never as certain and never as impossible."""
    percent = 100.0 * chance
    return "more than 99 %" if percent > 99.0 else "less than 1 %" if percent < 1.0 else f"{percent:.0f} %"


def count_words(number: int, one: str, many: str = "") -> str:
    """Return a number with its noun."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def degrees(angle_rad: float, places: int = 1) -> str:
    """Return an angle with its sign for degrees."""
    return f"{format_angle(angle_rad, places)}°"


def step_words(step_m: float, notation: Notation) -> str:
    """Return how far a section's beams stand above or below those of its neighbour."""
    if abs(step_m) < notation.step_m / 2.0:
        return "level with"
    return f"{notation.words(abs(step_m))} {'above' if step_m > 0.0 else 'below'}"
