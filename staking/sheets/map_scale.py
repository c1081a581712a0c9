"""The standard scales, and the largest at which a site fills a sheet."""

from __future__ import annotations

from dataclasses import dataclass

_FEET_INCHES = (
    (24, "1/2\" = 1'"),
    (48, "1/4\" = 1'"),
    (60, "1\" = 5'"),
    (64, "3/16\" = 1'"),
    (96, "1/8\" = 1'"),
    (120, "1\" = 10'"),
    (128, "3/32\" = 1'"),
    (192, "1/16\" = 1'"),
    *(
        (12 * feet, f"1\" = {feet}'")
        for feet in (20, 30, 40, 50, 60, 100, 150, 200, 300, 400, 500, 1000, 2000)
    ),
)
"""Architect's and engineer's scales."""
_DECIMAL_FEET = tuple(
    (12 * feet, f"1 in = {feet} ft")
    for feet in (2, 5, 10, 20, 30, 40, 50, 60, 100, 200, 300, 400, 500, 1000, 2000)
)
"""Engineer's scales."""
_METRIC = tuple(
    (scale, "")
    for scale in (20, 25, 50, 75, 100, 125, 200, 250, 300, 400, 500, 1000, 1250, 2000, 2500, 5000, 10000)
)
"""Those of metric scale rules."""

_BY_STYLE = {"feet-inches": _FEET_INCHES, "decimal feet": _DECIMAL_FEET, "metric": _METRIC}

OUT_OF_SIGHT = 3.3
"""Points that would make the map coarser by more than this factor are shown by an arrow at its edge."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """One millimetre on paper is `ratio` on the ground."""

    ratio: int
    rule: str
    """In the words of the scale rule, ``1/4" = 1'``; empty for a metric one."""

    @property
    def words(self) -> str:
        """As printed: ``1:48, 1/4" = 1'``."""
        return f"1:{self.ratio}, {self.rule}" if self.rule else f"1:{self.ratio}"


def largest_scale(*, width_m: float, height_m: float, width_mm: float, height_mm: float, style: str) -> Scale:
    """Return the largest standard scale at which an extent on the ground fits a room on paper.

    Beyond the coarsest standard scale the next power of ten that fits is taken.
    """
    needed = 1000.0 * max(width_m / width_mm, height_m / height_mm)
    for ratio, rule in _BY_STYLE[style]:
        if ratio >= needed:
            return Scale(ratio=ratio, rule=rule)
    ratio = 100_000
    while ratio < needed:
        ratio *= 10
    return Scale(ratio=ratio, rule="")


def scale_with_room(*, least_m: float, least_mm: float, style: str) -> Scale:
    """Return the coarsest standard scale at which a length on the ground has so much room on paper.

    The finest standard scale where none gives that much.
    """
    room = [(ratio, rule) for ratio, rule in _BY_STYLE[style] if 1000.0 * least_m / ratio >= least_mm]
    ratio, rule = room[-1] if room else _BY_STYLE[style][0]
    return Scale(ratio=ratio, rule=rule)
