"""What a cutting makes least."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from staking.pipes.task import Cutting


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """The sum of `weights`, one per kind of stick, over the sticks used."""

    weights: tuple[float, ...]
    step: float
    """Every sum of weights is a multiple of this."""
    cap_weights: tuple[float, ...] | None = None
    """A second sum that must not go above `cap`."""
    cap: float = math.inf


def total(cutting: Cutting, weights: Sequence[float]) -> float:
    """Return the sum of weights of the sticks."""
    return sum(weights[load.kind] for load in cutting.loads)
