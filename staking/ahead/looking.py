"""All that looks ahead from a plan: the best next readings, what to shoot again, what can be proved."""

from __future__ import annotations

from dataclasses import dataclass, replace

from staking.ahead.next_readings import NextReadings, next_readings
from staking.ahead.proof import Claim, claims
from staking.ahead.shoot_again import SetupAgain, shoot_again
from staking.control.adjusting import Worked
from staking.laying import names_of_piers
from staking.plan import Plan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ahead:
    """What to do next in the yard."""

    next_readings: NextReadings | None
    """None without a layout."""
    setups: tuple[SetupAgain, ...]
    claims: tuple[Claim, ...]


def looked_ahead(plan: Plan) -> Ahead:
    """Return all that looks ahead from a plan."""
    survey = _worked(plan)
    piers = {
        array.pier_name(name): (float(east), float(north))
        for array in plan.arrays
        for name, (east, north) in zip(array.fit.piers.names, array.fit.piers.en_m, strict=True)
    }
    found = None
    if plan.arrays and plan.ground is not None:
        found = next_readings(
            plan.book, survey, plan.ground, piers_en_m=piers, line=plan.arrays[0].stakeout.baseline
        )
    diagonals = [side.level_m for array in plan.arrays for side in array.stakeout.diagonals]
    diagonal_m = max(diagonals, default=None)
    # The tripod in the middle of the array: no post is farther from it than half a diagonal.
    sight_m = 0.0 if diagonal_m is None else diagonal_m / 2.0
    return Ahead(
        next_readings=found,
        setups=shoot_again(plan.book, survey, piers=names_of_piers(plan.book.job)[0]),
        claims=claims(plan.book, plan.adjustment.points, sight_length_m=sight_m, diagonal_m=diagonal_m),
    )


def setups_of(plan: Plan, *, last_alone: bool = False) -> tuple[SetupAgain, ...]:
    """Return what each setup of the level lacks, or the one that stands."""
    piers = names_of_piers(plan.book.job)[0]
    return shoot_again(plan.book, _worked(plan), piers=piers, last_alone=last_alone)


def _worked(plan: Plan) -> Worked:
    if plan.worked is None:
        message = "the plan carries no adjusted survey to look ahead from"
        raise ValueError(message)
    # The plan's adjustment doubts readings by their neighbours' ground too.
    return replace(plan.worked, adjustment=plan.adjustment)
