"""What explains a survey that does not fit, with its equations written about some places."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from staking.control.adjustment import Suspect
from staking.control.anew import adjusted_anew
from staking.control.blaming import blamed
from staking.control.by_chance import STATED, by_chance, strongest
from staking.control.causes import Cause, exchanges, other_how, single_causes
from staking.control.directions import Norths
from staking.control.exchanged_rows import exchanged_rows
from staking.control.hypotheses import field_of
from staking.control.mistaken_names import mistaken_names
from staking.control.movements import movements
from staking.control.network import Network, NetworkResult, standardised
from staking.control.observing import Observed
from staking.control.repairs import NOTICED_SDS
from staking.control.right_repairs import repair_chance
from staking.control.telling import Scene, alike_of, passes_after, possible, suspect_of
from staking.control.variance_test import variance_passes
from staking.control.weighing import LARGE_W, Story, scale_of, weighed
from staking.control.wrong_clocks import wrong_clocks
from staking.control.wrong_norths import wrong_norths

Floats = NDArray[np.float64]

WORTH_TELLING = 0.05
"""Suspects whose chance is a smaller share of the first one's are not told."""
DISAGREE = "the readings disagree"
LIKELY_NONE = 0.8
"""Chance of no blunder from which on nobody is named: what is left is shared by many, a few percent each."""
MOST_READINGS = 240
"""Readings that are looked at in a large survey, those that fit worst."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspicion:
    """What is suspected of a survey."""

    suspects: tuple[Suspect, ...] = ()
    """The best repair of each suspicious reading, most likely first."""
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Explained:
    """What is suspected, and how well the likeliest explanation does."""

    suspicion: Suspicion
    log_weight: float = -math.inf
    """Logarithm of the weight of all explanations together, less a constant of the survey."""
    passes: bool = True
    """Whether the survey passes its test after the likeliest."""
    places: Floats | None = None
    """Where the points then stand; None where no plan was adjusted anew."""


def explained_about(
    near: NetworkResult, result: NetworkResult, observed: Observed, network: Network, norths: Norths
) -> Explained:
    """Return who is suspected with the equations written about some places.

    Parameters
    ----------
    near
        The adjustment written about those places.
    result
        The adjustment of the survey.
    observed, network
        The survey as read.
    norths
        Its norths, with the book.
    """
    fails, unit = variance_passes(result.vtpv, result.redundancy) is False, norths.book.job.site.units
    rows = _looked_at(observed, near)
    scene = _scene(observed, network, near, rows, norths, unit, robust=near is not result)
    if scene is None:
        return Explained(suspicion=Suspicion(warnings=_nobody(result, 1.0, named=False) if fails else ()))
    stories = [story for story in weighed(scene.field) if possible(scene, story)]
    anew = adjusted_anew(scene, stories)
    stories = [one.story for one in anew]
    weights, log_weight = _shares(stories)
    best = anew[int(np.argmax(weights))]
    passes = passes_after(scene, best.story) is not False
    if weights[0] > LIKELY_NONE or _by_chance(scene, stories, near) > STATED:
        suspicion = Suspicion(warnings=_nobody(result, scale_of(stories[0]), named=False) if fails else ())
        return Explained(suspicion=suspicion, log_weight=log_weight, passes=passes)
    blames, groups = blamed(scene, stories, weights, rows)
    alike = alike_of(blames, groups)
    order = sorted(blames.values(), key=lambda blame: (-round(blame.chance, 9), -round(blame.weight, 9)))
    floor = WORTH_TELLING * order[0].chance
    told: dict[tuple[str, int, str, str], Suspect] = {}
    for blame in order:
        if blame.chance >= floor:
            one = replace(
                suspect_of(scene, blame, [b for b in alike.get(blame.number, ()) if b.chance >= floor]),
                repair_chance=repair_chance(scene, blame, stories, weights),
            )
            # A wrong name is told once, whatever else stands in its row.
            told.setdefault((one.table, one.row, one.column, one.likely), one)
    suspicion = Suspicion(
        suspects=tuple(told.values()),
        warnings=() if passes else _nobody(result, scale_of(stories[0]), named=True),
    )
    return Explained(suspicion=suspicion, log_weight=log_weight, passes=passes, places=best.places)


def _by_chance(scene: Scene, stories: Sequence[Story], result: NetworkResult) -> float:
    """Return at most how often a clean survey would speak as clearly for some explanation."""
    # The first story is that nothing is wrong.
    best = max((story.log_weight for story in stories[1:]), default=-math.inf) - stories[0].log_weight
    w = standardised(result.residuals, result.sd, result.redundancy_numbers)
    more = max(1.0, int(np.isfinite(w).sum()) / MOST_READINGS)
    return by_chance(scene.field, max(best, strongest(scene.field)), more)


def _nobody(result: NetworkResult, scale: float, *, named: bool) -> tuple[str, ...]:
    """Return why nobody is named, or why those named do not explain the survey."""
    factor = result.vtpv / max(result.redundancy, 1)
    what = f"{DISAGREE} more than their accuracies allow (variance factor {factor:.1f})"
    if named:
        return (f"{what}, and the repairs named do not explain all of it: look for more than one mistake",)
    if scale > 1:
        return (
            f"{what}, and no one reading stands out: all of them miss more than stated, by about "
            f"{scale:g} times. Look whether [accuracy] is too small for how the work was done",
        )
    return (f"{what}, but no reading stands out: this happens by chance in 1 of 100 good surveys",)


def _looked_at(observed: Observed, result: NetworkResult) -> list[int]:
    """Return the readings that others check, in a large survey those that fit worst."""
    w = np.abs(standardised(result.residuals, result.sd, result.redundancy_numbers))
    rows = [
        row
        for row, number in enumerate(result.used)
        if observed.sources[number] is not None and not np.isnan(w[row])
    ]
    if len(rows) <= MOST_READINGS:
        return rows
    # Readings of the same equations fit equally badly, so that they come together.
    worst = sorted(rows, key=lambda row: -w[row])[:MOST_READINGS]
    return sorted(worst)


def _scene(
    observed: Observed,
    network: Network,
    result: NetworkResult,
    rows: Sequence[int],
    norths: Norths,
    unit: str,
    *,
    robust: bool,
) -> Scene | None:
    if not rows:
        return None
    equations = network.equations
    numbers = [result.used[row] for row in rows]
    inside = frozenset(numbers)
    w = np.abs(standardised(result.residuals, result.sd, result.redundancy_numbers))
    worst = [row for row in sorted(rows, key=lambda row: -w[row]) if w[row] > LARGE_W]
    causes = [
        *single_causes(observed, equations, numbers, unit),
        *exchanges(observed, equations, inside, unit),
        *other_how(observed, equations, numbers, result),
        *movements(observed, equations, inside),
        *wrong_norths(observed, equations, inside, norths),
        *wrong_clocks(observed, inside, norths.book),
        *mistaken_names(observed, equations, result, worst, robust=robust),
        *exchanged_rows(observed, equations, result, worst, inside, unit),
    ]
    # Of a row of several readings some may not be looked at, or tell nothing.
    noticed = [
        cause
        for cause in causes
        if _noticed(cause, network) and all(change.equation in inside for change in cause.changes)
    ]
    at = np.array(rows, dtype=np.int64)
    field = field_of(
        noticed,
        {number: k for k, number in enumerate(numbers)},
        result.sd[at],
        -result.residuals[at] / result.sd[at],
        result.redundancy_matrix(rows),
        result.vtpv,
        result.redundancy,
    )
    return Scene(observed=observed, equations=equations, result=result, field=field, unit=unit)


def _noticed(cause: Cause, network: Network) -> bool:
    return not cause.known or any(
        abs(change.by) > NOTICED_SDS * network.equations[change.equation].sd for change in cause.changes
    )


def _shares(stories: Sequence[Story]) -> tuple[Floats, float]:
    """Return the shares of the explanations, and the logarithm of their whole weight."""
    logs = np.array([story.log_weight for story in stories])
    weights = np.exp(logs - logs.max())
    shares: Floats = weights / weights.sum()
    return shares, float(logs.max()) + math.log(float(weights.sum()))
