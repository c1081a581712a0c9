"""How each pier is found in the yard; metres and radians."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Tie:
    """One distance from a pin or pier to a stake."""

    point: str
    """From this pin (or other pier's stake)."""
    level_m: float
    slope_m: float
    """As the tape reads it, hub to hub on that ground."""
    sd_m: float
    """Of the level distance, from the pin's own uncertainty and the tape."""
    sd_slope_m: float | None = None
    """Of the slope distance: the same, and the uncertain rise between the two hubs."""


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
    """As the whole job calls it: with several arrays ``name-A1``; so are all piers in marks."""
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
    side: Literal["left", "right"] | None = None
    """Where the stake lies from the line first tie's pin → second tie's pin; None without ties."""
    check_allowed_m: float | None = None
    """Three times the standard deviation of the check, taped less expected; None where it is not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """A side or diagonal of the rectangle of the outer stakes."""

    name: str
    """``A1 to A5``."""
    level_m: float
    slope_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Recovery:
    """Where a lost stake stood, from two stakes that are still there."""

    pier: str
    ties: tuple[Tie, Tie]
    """From two other piers' stakes; their sd is the tape's alone."""
    crossing_rad: float
    side: Literal["left", "right"]
    """Where the lost stake lies from the line first tie's stake → second tie's stake."""
    sd_place_m: float
    """Against those two stakes, the longer half-axis."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StakeOut:
    """The marks of one array."""

    baseline: tuple[str, str]
    """From the first point toward the second."""
    marks: tuple[Mark, ...]
    sides: tuple[Side, ...]
    diagonals: tuple[Side, ...]
    warnings: tuple[str, ...] = ()
    recoveries: tuple[Recovery, ...] = ()
    """One for each lost stake that two surviving ones can give back."""
