"""Which reading is wrong, and what was probably meant: with the chance of each, and of none.

Every way of going wrong is a cause (`causes.py`); alone and together they are weighed against each other and
against "nothing is wrong" and "the accuracies were stated too small" (`weighing.py`). A reading's chance is
the share of all explanations in which it is wrong.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from staking.control.adjustment import Misclosure, Suspect, where_words
from staking.control.blaming import blamed
from staking.control.causes import WRONG_READINGS, Cause, exchanges, other_how, single_causes
from staking.control.directions import Norths
from staking.control.equations import PLAN, stacked
from staking.control.hypotheses import field_of
from staking.control.mistaken_names import mistaken_names
from staking.control.movements import movements
from staking.control.near_truth import across_the_line, near_the_truth
from staking.control.network import Network, NetworkResult, standardised
from staking.control.observing import Observed
from staking.control.repairs import NOTICED_SDS
from staking.control.settling import approached
from staking.control.side_words import against_sides
from staking.control.telling import Scene, alike_of, possible, suspect_of
from staking.control.variance_test import variance_passes
from staking.control.weighing import LARGE_W, MANY_CHECKED, Story, large_w, scale_of, weighed
from staking.control.wrong_clocks import wrong_clocks
from staking.control.wrong_norths import wrong_norths

__all__ = ["WRONG_READINGS", "Suspicion", "suspected", "suspicious"]

Floats = NDArray[np.float64]

WORTH_TELLING = 0.05
"""Suspects whose chance is a smaller share of the first one's are not told."""
DISAGREE = "the readings disagree"
MOST_OTHERS = 3
"""Readings of the other side named with one of this."""
LIKELY_NONE = 0.8
"""Chance of no blunder from which on nobody is named: what is left is shared by many, a few percent each."""
MOST_READINGS = 240
"""Readings that are looked at in a large survey, those that fit worst."""
MOST_ANEW = 24
"""Repairs of the plan that are adjusted anew, the likeliest first."""
BRIEF_STEPS = 15
"""Steps for one repair of the plan: a good one settles in a few."""
GROSS = 1e4
"""Factor on the sd of a reading that is taken out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspicion:
    """What is suspected of a survey."""

    suspects: tuple[Suspect, ...] = ()
    """The best repair of each suspicious reading, most likely first."""
    warnings: tuple[str, ...] = ()


def suspicious(result: NetworkResult, sd: Floats, loops: Sequence[Misclosure] = ()) -> bool:
    """Return whether the variance factor, a single residual or a misclosure says that something is wrong."""
    w = standardised(result.residuals, sd, result.redundancy_numbers)
    return (
        variance_passes(result.vtpv, result.redundancy) is False
        or bool(np.nanmax(np.abs(w), initial=0.0) > large_w(int(np.isfinite(w).sum())))
        or not all(loop.passes for loop in loops)
    )


def suspected(
    observed: Observed,
    network: Network,
    result: NetworkResult,
    loops: Sequence[Misclosure],
    norths: Norths,
) -> Suspicion:
    """Return who is suspected; empty when nothing is suspicious.

    Parameters
    ----------
    observed, network, result
        The survey as read and as adjusted.
    loops
        Its misclosures.
    norths
        Its norths, with the book.
    """
    if not suspicious(result, result.sd, loops):
        return Suspicion()
    unit = norths.book.job.site.units

    def meant(number: int) -> list[float]:
        causes = single_causes(observed, network.equations, [number], unit)
        changes = [change for cause in causes if cause.known for change in cause.changes]
        return [network.equations[number].value + c.by for c in changes if not math.isnan(c.by)]

    near = near_the_truth(network, result, meant)
    own = _suspicion_about(near, result, observed, network, norths)
    across = across_the_line(network, result, near)
    if across is None or not own.suspects:
        return own
    there = _suspicion_about(across, result, observed, network, norths)
    if network.sides.default is None and not network.sides.by_point:
        return _either(own, there, network, observed)
    # What was said of a side decides.
    return there if there.suspects and _against(network, across) < _against(network, near) else own


def _against(network: Network, result: NetworkResult) -> int:
    """Return how many points stand on another side than was said of them, or of all for the pins."""
    own, pins = against_sides(network, result)
    return len(own) + len(pins)


def _either(own: Suspicion, across: Suspicion, network: Network, observed: Observed) -> Suspicion:
    """Return the suspects of both sides of the line, where as many readings speak for each."""
    if not across.suspects or not (own.suspects[0].passes_after and across.suspects[0].passes_after):
        return own
    assert network.sides.line is not None
    a, b = (observed.names[p] for p in network.sides.line)
    tell = f"Write in points.csv the side of a point that you know, left or right looking from {a} to {b}."

    def shared(these: Sequence[Suspect], those: Sequence[Suspect]) -> list[Suspect]:
        names = tuple(
            f"{one.why.partition(': ')[0]} ({where_words(one.table, one.row)})" for one in those[:MOST_OTHERS]
        )
        return [
            replace(one, chance=0.5 * one.chance, same_as=(*names, *one.same_as), would_tell=tell)
            for one in these
        ]

    both = [*shared(own.suspects, across.suspects), *shared(across.suspects, own.suspects)]
    return Suspicion(suspects=tuple(sorted(both, key=lambda one: -one.chance)), warnings=own.warnings)


def _suspicion_about(
    near: NetworkResult, result: NetworkResult, observed: Observed, network: Network, norths: Norths
) -> Suspicion:
    """Return who is suspected with the equations written about some places."""
    fails, unit = variance_passes(result.vtpv, result.redundancy) is False, norths.book.job.site.units
    rows = _looked_at(observed, near)
    scene = _scene(observed, network, near, rows, norths, unit)
    if scene is None:
        return Suspicion(warnings=_nobody(result, 1.0, named=False) if fails else ())
    stories, explained = weighed(scene.field)
    stories = [story for story in stories if possible(scene, story)]
    stories = _plan_anew(scene, stories)
    weights = _shares(stories)
    if weights[0] > LIKELY_NONE:
        scale = scale_of(stories[0])
        return Suspicion(warnings=_nobody(result, scale, named=False) if fails else ())
    blames, groups = blamed(scene, stories, weights, rows)
    alike = alike_of(blames, groups)
    order = sorted(blames.values(), key=lambda blame: -round(blame.chance, 9))
    floor = WORTH_TELLING * order[0].chance
    told = tuple(
        suspect_of(scene, blame, [b for b in alike.get(blame.number, ()) if b.chance >= floor])
        for blame in order
        if blame.chance >= floor
    )
    return Suspicion(
        suspects=told,
        warnings=() if explained else _nobody(result, scale_of(stories[0]), named=True),
    )


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
        *mistaken_names(observed, equations, result, worst),
    ]
    noticed = [cause for cause in causes if _noticed(cause, network)]
    at = np.array(rows, dtype=np.int64)
    field = field_of(
        noticed,
        {number: k for k, number in enumerate(numbers)},
        result.sd[at],
        -result.residuals[at] / result.sd[at],
        result.redundancy_matrix(rows),
        result.vtpv,
        result.redundancy,
        rarer=min(1.0, MANY_CHECKED / max(int(np.isfinite(w).sum()), 1)),
    )
    return Scene(observed=observed, equations=equations, result=result, field=field, unit=unit)


def _noticed(cause: Cause, network: Network) -> bool:
    return not cause.known or any(
        abs(change.by) > NOTICED_SDS * network.equations[change.equation].sd for change in cause.changes
    )


def _plan_anew(scene: Scene, stories: list[Story]) -> list[Story]:
    """Return the stories with the likeliest repairs of the plan adjusted anew, where linear is only near."""
    result = scene.result
    anew = []
    for k, story in enumerate(stories):
        causes = [scene.field.causes[c] for c in story.causes]
        numbers = [change.equation for cause in causes for change in cause.changes]
        if k > MOST_ANEW or not any(scene.equations[n].kind in PLAN for n in numbers):
            anew.append(story)
            continue
        equations = list(scene.equations)
        for cause in causes:
            for change in cause.changes:
                old = equations[change.equation]
                if math.isnan(change.by):
                    equations[change.equation] = replace(old, sd=old.sd * GROSS)
                else:
                    equations[change.equation] = replace(old, value=old.value + change.by)
        near = approached(
            stacked([equations[n] for n in result.used]),
            np.nan_to_num(result.coordinates),
            result.free,
            most_steps=BRIEF_STEPS,
        )
        anew.append(story if near is None else story.leaving(near[1]))
    return anew


def _shares(stories: Sequence[Story]) -> Floats:
    logs = np.array([story.log_weight for story in stories])
    weights = np.exp(logs - logs.max())
    shares: Floats = weights / weights.sum()
    return shares
