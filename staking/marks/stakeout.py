"""How each pier is found in the yard; metres and radians."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Tie:
    """One distance from a pin or pier to a stake."""

    point: str
    """From this pin (or other pier's stake)."""
    level_m: float
    slope_m: float
    """As the tape reads it, hub to hub on that ground."""
    sd_m: float
    """Of the level distance, from the pin's own uncertainty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hub:
    """One offset hub that the auger spares, in line with the beam."""

    name: str
    """``A3 left`` or ``A3 right``."""
    en_m: tuple[float, float]
    ground_m: float
    sd_ground_m: float
    up_to_top_m: float
    """The post's top above the ground at the hub (negative: below)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Everything that places, checks and keeps one pier."""

    pier: str
    station_m: float
    offset_m: float
    """From the baseline, positive to the right looking along it."""
    ties: tuple[Tie, ...]
    """The two swing ties; empty when no two pins cross well."""
    crossing_rad: float | None
    sd_place_m: float | None
    """Of the place that the two ties give, the longer half-axis, from tape and pins."""
    check: Tie | None
    """One distance that did not place the stake."""
    running_m: float
    """Along the beam's line in plan, level, from its first pier: one zero."""
    hubs: tuple[Hub, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """A side or diagonal of the rectangle of the outer stakes."""

    name: str
    """``A1-A5``."""
    level_m: float
    slope_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StakeOut:
    """The marks of one array."""

    baseline: tuple[str, str]
    """From the first point toward the second."""
    marks: tuple[Mark, ...]
    sides: tuple[Side, ...]
    diagonals: tuple[Side, ...]
    warnings: tuple[str, ...] = ()
