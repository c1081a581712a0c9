"""An integer program written row by row, and its solution."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from staking.pipes.solver import INFINITE, new_solver

if TYPE_CHECKING:
    import highspy


class Rows:
    """Variables from zero to an upper limit, rows between two limits, and what stands in them."""

    def __init__(self) -> None:
        self.cost: list[float] = []
        self.upper: list[float] = []
        self.whole: list[bool] = []
        self.low: list[float] = []
        self.high: list[float] = []
        self.row: list[int] = []
        self.col: list[int] = []
        self.value: list[float] = []

    def variable(self, cost: float, upper: float, *, whole: bool = False) -> int:
        """Add a variable from zero to `upper`."""
        self.cost.append(cost)
        self.upper.append(upper)
        self.whole.append(whole)
        return len(self.cost) - 1

    def limit(self, low: float = -INFINITE, high: float = INFINITE) -> int:
        """Add a row between two limits."""
        self.low.append(low)
        self.high.append(high)
        return len(self.low) - 1

    def put(self, row: int, col: int, value: float) -> None:
        """Add to what stands in a row before a variable."""
        self.row.append(row)
        self.col.append(col)
        self.value.append(value)

    def back_to(self, variables: int, rows: int, entries: int) -> None:
        """Take back what was added last, down to these numbers."""
        del self.cost[variables:], self.upper[variables:], self.whole[variables:]
        del self.low[rows:], self.high[rows:]
        del self.row[entries:], self.col[entries:], self.value[entries:]

    def program(self) -> highspy.HighsLp:
        """Return the program as the solver wants it."""
        import highspy

        program = highspy.HighsLp()
        program.num_col_, program.num_row_ = len(self.cost), len(self.low)
        program.col_cost_ = np.array(self.cost)
        program.col_lower_ = np.zeros(len(self.cost))
        program.col_upper_ = np.array(self.upper)
        program.row_lower_, program.row_upper_ = np.array(self.low), np.array(self.high)
        order = np.lexsort((self.row, self.col))
        col, row, value = (np.array(x)[order] for x in (self.col, self.row, self.value))
        # What was put in one place more than once is added up: the solver takes each place once.
        first = np.ones(len(col), dtype=bool)
        first[1:] = (np.diff(col) != 0) | (np.diff(row) != 0)
        value = np.add.reduceat(value, np.flatnonzero(first))
        col, row = col[first], row[first]
        program.a_matrix_.format_ = highspy.MatrixFormat.kColwise
        program.a_matrix_.start_ = np.searchsorted(col, np.arange(len(self.cost) + 1)).astype(np.int32)
        program.a_matrix_.index_ = row.astype(np.int32)
        program.a_matrix_.value_ = value
        program.integrality_ = [
            highspy.HighsVarType.kInteger if w else highspy.HighsVarType.kContinuous for w in self.whole
        ]
        return program


def with_least(rows: Rows, solution: Sequence[float], least: Sequence[int]) -> list[float]:
    """Return a solution with the same whole numbers in which the sum of the variables `least` is least."""
    program = rows.program()
    lower, upper = np.zeros(len(rows.cost)), np.array(rows.upper)
    for i, whole in enumerate(rows.whole):
        if whole:
            lower[i] = upper[i] = round(solution[i])
    cost = np.zeros(len(rows.cost))
    cost[list(least)] = 1.0
    program.col_cost_, program.col_lower_, program.col_upper_ = cost, lower, upper
    program.integrality_ = []
    solver = new_solver()
    solver.passModel(program)
    solver.run()
    better = list(solver.getSolution().col_value)
    return better if len(better) == len(solution) else list(solution)
