"""What lies round an array: the line it is placed by, what it must keep clear of, what it takes room for."""

from __future__ import annotations

from dataclasses import dataclass, field

from staking.lines.obstacles import Obstacle


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What an array takes room for besides its modules."""

    hole_m: float = 0.0
    """Radius of a hole."""
    hub_m: float | None = None
    """From a pier to its two offset hubs; None: no hubs."""
    stick_m: float = 0.0
    """Length of the longest stick that is stood up at a pier."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Around:
    """What lies round an array."""

    ahead: tuple[float, float] | None = None
    """Unit vector (east, north) along the line that its place names."""
    obstacles: tuple[Obstacle, ...] = ()
    """What all of it must keep clear of."""
    needs: Needs = field(default_factory=Needs)
