"""What the fewest joints would take, where a cutting has more of them."""

from __future__ import annotations

from dataclasses import dataclass

from staking.pipes.goal import Goal, total
from staking.pipes.remedies import Shown
from staking.pipes.task import Cutting, Task, joints_in

CENT = 0.01
"""Less money than half of this is not told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plainest:
    """A cutting, and beside it the best one found with the fewest joints."""

    task: Task
    goal: Goal
    second: Goal
    """What decides between equals."""
    cutting: Cutting
    plain: Cutting | None
    """With the fewest joints; None where none was found."""
    fewest: int

    @property
    def as_good(self) -> Cutting | None:
        """The one with the fewest joints where it is as good in all that comes before joints, else None."""
        if self.plain is None:
            return None
        for goal in (self.goal, self.second):
            if goal.worth(self.plain) - goal.worth(self.cutting) > goal.step / 2:
                return None
        return self.plain

    def words(self, show: Shown, money: float) -> str:
        """Say what it would take; `money` is what one of the price weighs."""
        joints, kinds = joints_in(self.task, self.cutting), self.task.kinds
        many = "joint" if joints == 1 else "joints"
        said = f"{self.task.pipe}: {joints} {many}, where {self.fewest} would be the fewest"
        if self.plain is None:
            return f"{said}; no cutting with so few was found from the stock there is"
        weights = self.goal.weights
        more = (total(self.plain, weights) - total(self.cutting, weights)) / money
        if all(kind.price is not None for kind in kinds) and more > CENT / 2:
            return f"{said}; the cheapest cutting found with so few costs {more:.2f} more"
        sticks = len(self.plain.loads) - len(self.cutting.loads)
        lengths = [kind.stock_m for kind in kinds]
        if sticks > 0:
            takes = "1 more stick" if sticks == 1 else f"{sticks} more sticks"
        else:
            longer_m = total(self.plain, lengths) - total(self.cutting, lengths)
            takes = f"sticks {show(longer_m)} longer together"
        return f"{said}; the best cutting found with so few takes {takes}"
