"""What a cutting makes least."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from staking.pipes.joints import START
from staking.pipes.task import Cutting, Load, Task

COARSE = 0.1
"""With a finer step, in the heaviest sticks, nearly any sum of weights may be the least."""
CENTS = 100
"""Prices are whole hundredths, so sums of prices are multiples of their greatest common divisor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """The sum of `weights`, one per kind of stick, over the sticks used, and of the joints' weight."""

    weights: tuple[float, ...]
    step: float
    """Every sum of weights is a multiple of this."""
    cap_weights: tuple[float, ...] | None = None
    """A second sum that must not go above `cap`."""
    cap: float = math.inf
    joint_weight: float = 0.0
    """Of every joint."""

    @property
    def fine(self) -> bool:
        """Whether sums of weights lie so near one another that hardly any cutting reaches its bound."""
        return self.step < COARSE * max(self.weights)

    def weight(self, task: Task, load: Load) -> float:
        """Return what one stick with this load weighs; a joint counts with the part on its right."""
        weight = self.weights[load.kind]
        if self.joint_weight:
            weight += self.joint_weight * sum(task.parts[p].left != START for p in load.parts)
        return weight

    def worth(self, cutting: Cutting | None) -> float:
        """Return the sum of weights of a cutting, its joints not counted; infinite when there is none."""
        return math.inf if cutting is None else total(cutting, self.weights)

    def meets(self, cutting: Cutting | None, bound: float) -> bool:
        """Whether a cutting weighs no more than `bound`."""
        return self.worth(cutting) <= bound + self.step / 2

    def lighter(self, found: Cutting | None, best: Cutting | None) -> Cutting | None:
        """Return `found` where it weighs less than `best`, else `best`."""
        return found if self.worth(found) < self.worth(best) - self.step / 2 else best


def total(cutting: Cutting, weights: Sequence[float]) -> float:
    """Return the sum of weights of the sticks."""
    return sum(weights[load.kind] for load in cutting.loads)


def price_step(prices: Sequence[float]) -> float:
    """Return a sum of money of which every sum of these prices is a multiple."""
    cents = [round(p * CENTS) for p in prices]
    if any(abs(p * CENTS - c) > 1e-6 for p, c in zip(prices, cents, strict=True)):
        return 1.0 / CENTS**2
    return (math.gcd(*cents) or 1) / CENTS
