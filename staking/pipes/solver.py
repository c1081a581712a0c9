"""The linear and integer programming solver, silent and always answering alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import highspy

INFINITE = float("inf")
FEASIBLE = 1e-9
"""By how much the solver may miss a limit: lengths in metres, so far below anything a saw can do."""


def new_solver() -> highspy.Highs:
    """Return a solver of one thread; imported here because most cuttings are proven without it."""
    import highspy

    class Silent(highspy.Highs):
        """The solver without call-backs, which print a banner as soon as they are set."""

        def __init__(self) -> None:
            super(highspy.Highs, self).__init__()
            self.setOptionValue("output_flag", False)

    solver = Silent()
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("primal_feasibility_tolerance", FEASIBLE)
    solver.setOptionValue("dual_feasibility_tolerance", FEASIBLE)
    solver.setOptionValue("mip_feasibility_tolerance", FEASIBLE)
    return solver


def has_solution(solver: highspy.Highs) -> bool:
    """Whether the solver found anything, be it the best or not."""
    import highspy

    status = solver.getInfo().primal_solution_status
    return bool(status == highspy.SolutionStatus.kSolutionStatusFeasible)
