"""A site in plan at its true coordinates, on its way to drawing programs: metres, nothing of the job."""

from __future__ import annotations

from dataclasses import dataclass

from staking.sheets.drawing import Dash

ENZ = tuple[float, float, float]
"""East, north, elevation; an elevation that is not known is NaN."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """What belongs together and is switched on and off together."""

    name: str
    """Capitals and underscores: every drawing program takes them."""
    words: str
    """What is on it, for people."""
    dash: Dash = "solid"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A point with its name."""

    layer: str
    name: str
    enz_m: ENZ


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A line from point to point, or a closed outline."""

    layer: str
    enz_m: tuple[ENZ, ...]
    closed: bool = False
    level: bool = False
    """Whether it is drawn in plan, at elevation 0: its elevations mean nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """A level circle."""

    layer: str
    enz_m: ENZ
    radius_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Words at a place."""

    layer: str
    enz_m: ENZ
    text: str
    tall_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteModel:
    """Everything on the site, layer by layer."""

    unit: str
    """Of the drawing's coordinates: the survey's own, ft, in, m or mm."""
    layers: tuple[Layer, ...]
    """Only those that something is on."""
    items: tuple[Spot | Run | Ring | Label, ...]
    facts: tuple[tuple[str, str], ...]
    """What the file says of itself: job, date, inputs, unit, north, benchmark."""
