"""Concrete of all holes together: how much to order, and how many bags to buy."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from staking.pipes.holes import Hole

_ROUND = 1e-9
"""A number of bags that is whole but for rounding is whole."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Concrete:
    """What a set of holes takes."""

    concrete_m3: float
    bags: int | None
    """Whole bags when what is left in one goes into the next hole; None where no bag's yield is given."""
    bags_fresh: int | None
    """Whole bags when each hole is begun with a fresh one."""


def concrete_of(holes: Sequence[Hole]) -> Concrete:
    """Return the concrete of all these holes."""
    bags = [hole.bags for hole in holes if hole.bags is not None]
    known = bool(bags) and len(bags) == len(holes)
    return Concrete(
        concrete_m3=math.fsum(hole.concrete_m3 for hole in holes),
        bags=whole(bags) if known else None,
        bags_fresh=sum(math.ceil(one - _ROUND) for one in bags) if known else None,
    )


def whole(bags: Iterable[float]) -> int:
    """Return how many whole bags hold these parts together."""
    return math.ceil(math.fsum(bags) - _ROUND)
