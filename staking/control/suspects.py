"""Which reading is wrong, and what was probably meant: with the chance of each, and of none.

One blunder at a time. Each repair is one hypothesis: its likelihood follows from the weighted sum of squares
that it leaves, which for a change ``d`` of the readings (in standard deviations) is exactly, where the
equations are linear, ``T - 2 d·(v/sd) + d·R d`` with the residuals ``v`` and the redundancy matrix ``R``.
Repairs of the plan are adjusted anew. "Some other amount" is averaged over wide normal priors; "none" and
accuracies that were stated too small are alternatives like any other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from staking.base.lsq import RankDeficient
from staking.control.adjustment import Misclosure, Suspect
from staking.control.equations import PLAN, Equation, evaluated, misfits, stacked
from staking.control.network import Network, NetworkResult, standardised
from staking.control.observing import Observed
from staking.control.repairs import LENGTH_KINDS, SHARE_OTHER, Repair, angle_written, repairs, written
from staking.control.settling import NotSettled, approached, settled, written_about
from staking.control.variance_test import variance_passes

Floats = NDArray[np.float64]

LARGE_W = 3.29
"""Normal deviate passed once in a thousand readings."""
WRONG_READINGS = 0.005
"""Share of readings that are blunders (a judgement: common practice, no source)."""
SCALES = ((1.0, 0.85), (1.5, 0.07), (2.0, 0.04), (3.0, 0.02), (5.0, 0.01), (10.0, 0.01))
"""How much larger the readings' errors may be than stated, with the chance of each (a judgement)."""
WIDE = {True: (0.03, 0.3, 3.0), False: (0.01, 0.1, 1.0)}
"""Sizes of blunders of some other amount, in metres and in radians."""
SAME_EQUATIONS = 0.999
"""Correlation of two residuals from which on no reading tells the two apart."""
WORTH_TELLING = 0.05
"""Suspects whose chance is a smaller share of the first one's are not told."""
SURELY_NONE = 0.9
"""Chance of no blunder from which on nobody is named. Invented books whose errors are all four times as large
as stated then accuse somebody 1 time in 20, clean ones 1 in 1000; a half would hide 1 weak blunder in 8."""
MOST_BLUNDERS = 4
"""Blunders looked for one after the other."""
MOST_ANEW = 24
"""Repairs of the plan that are adjusted anew, the likeliest first."""
GROSS_VARIANCE = 1e3
"""Variance factor from which on the places are too far dragged along to count as near."""
PLAIN_SDS = 1.5
"""Misses up to so many standard deviations keep their full weight."""
BRIEF_STEPS = 15
"""Steps for one repair of the plan: a good one settles in a few."""
GROSS = 1e4
"""Factor on the sd of a reading that is taken out."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _State:
    """An adjustment with the matrices that the scores need."""

    equations: Sequence[Equation]
    result: NetworkResult
    sd: Floats
    misfit: Floats
    """Observed less adjusted, in standard deviations."""
    weighted: Floats
    half: Floats
    """``weighted @ cov``: rows of the hat matrix are its rows times rows of `weighted`."""

    def share(self, i: int, j: int) -> float:
        """Return an element of the redundancy matrix."""
        return float(i == j) - float(self.half[i] @ self.weighted[j])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hypothesis:
    """One way in which the survey may be wrong."""

    rows: tuple[int, ...]
    """Places of the changed readings among those used."""
    repair: Repair | None
    """None: some other amount."""
    log_odds: float


def suspicious(result: NetworkResult, sd: Floats, loops: Sequence[Misclosure] = ()) -> bool:
    """Return whether the variance factor, a single residual or a misclosure says that something is wrong."""
    w = standardised(result.residuals, sd, result.redundancy_numbers)
    return (
        variance_passes(result.vtpv, result.redundancy) is False
        or bool(np.nanmax(np.abs(w), initial=0.0) > LARGE_W)
        or not all(loop.passes for loop in loops)
    )


def suspected(
    observed: Observed, network: Network, result: NetworkResult, loops: Sequence[Misclosure], unit: str
) -> tuple[Suspect, ...]:
    """Return the best repair of each suspicious reading, most likely first; empty when nothing is suspicious.

    Parameters
    ----------
    observed, network, result
        The survey as read and as adjusted.
    loops
        Its misclosures.
    unit
        What a bare number of the survey is in.
    """
    equations = list(network.equations)
    if suspicious(result, np.array([equations[k].sd for k in result.used]), loops):
        result = _near_the_truth(equations, result)
    found: list[Suspect] = []
    told: set[tuple[str, int, str]] = set()
    surely = 1.0
    for _ in range(MOST_BLUNDERS):
        state = _state(equations, result)
        if not suspicious(result, state.sd, () if found else loops):
            break
        ranked, innocent = _ranked(observed, state, unit)
        if not ranked or innocent > SURELY_NONE:
            break
        for suspect, _ in ranked:
            key = (suspect.table, suspect.row, suspect.column)
            if key not in told:
                told.add(key)
                found.append(replace(suspect, chance=suspect.chance * surely))
        surely *= 1 - innocent
        for number, by in ranked[0][1]:
            equations[number] = replace(equations[number], value=equations[number].value + by)
        again = _adjusted_anew(equations, result)
        if again is None:
            break
        result = again
    return tuple(sorted(found, key=lambda suspect: -round(suspect.chance, 9)))


def _state(equations: Sequence[Equation], result: NetworkResult) -> _State:
    sd = np.array([equations[k].sd for k in result.used])
    weighted = result.design / sd[:, None]
    return _State(
        equations=equations,
        result=result,
        sd=sd,
        misfit=-result.residuals / sd,
        weighted=weighted,
        half=weighted @ result.unknowns_cov,
    )


def _near_the_truth(equations: Sequence[Equation], result: NetworkResult) -> NetworkResult:
    """Return the adjustment written about places that a gross blunder in plan has not dragged along.

    There the equations are as good as linear for every repair. Readings lose weight as they miss (first as
    for the least sum of absolute misses, then faster), which leaves a blunder behind where others check it.
    Source: P. J. Huber, Robust Statistics (Wiley, 1981), ch. 7 (from memory).
    """
    used = [equations[k] for k in result.used]
    if result.vtpv < GROSS_VARIANCE * max(result.redundancy, 1) or not any(e.kind in PLAN for e in used):
        return result
    stack = stacked(used)
    coordinates = np.nan_to_num(result.coordinates)
    for power in (*[0.5] * 8, *[1.0] * 4):
        predicted, _ = evaluated(stack, coordinates)
        miss = np.maximum(np.abs(misfits(stack, predicted)) / stack.sd / PLAIN_SDS, 1.0)
        near = approached(
            replace(stack, sd=stack.sd * miss**power), coordinates, result.free, most_steps=BRIEF_STEPS
        )
        if near is None:
            continue
        coordinates = near[0]
    try:
        return result.again(written_about(stack, coordinates, result.free))
    except RankDeficient:
        return result


def _adjusted_anew(equations: Sequence[Equation], result: NetworkResult) -> NetworkResult | None:
    """Return the adjustment of changed readings, from where the last one stood."""
    near = approached(
        stacked([equations[k] for k in result.used]), np.nan_to_num(result.coordinates), result.free
    )
    if near is None:
        return None
    try:
        again = settled(stacked([equations[k] for k in result.used]), near[0], result.free)
    except (NotSettled, RankDeficient):
        return None
    return result.again(again)


def _log_likelihood(total: float, redundancy: int) -> float:
    """Return the log likelihood of a sum of squares, over the errors being larger than stated."""
    terms = [math.log(p) - redundancy * math.log(s) - total / (2 * s * s) for s, p in SCALES]
    return _log_sum(terms)


def _log_likelihood_free(
    total: float, gain: float, freedom: float, sd: float, redundancy: int, widths: Sequence[float]
) -> float:
    """Return the same with one reading wrong by an amount from wide normal priors.

    Parameters
    ----------
    total
        Sum of squares without the blunder taken out.
    gain
        By how much taking the reading out lowers it.
    freedom
        Its redundancy number.
    sd
        Its standard deviation.
    redundancy, widths
        Of the survey; of the priors.
    """
    terms = []
    for s, p in SCALES:
        for width in widths:
            spread = width * width * freedom / (s * s * sd * sd)
            terms.append(
                math.log(p / len(widths))
                - redundancy * math.log(s)
                - total / (2 * s * s)
                - 0.5 * math.log1p(spread)
                + 0.5 * gain / (s * s) * spread / (1 + spread)
            )
    return _log_sum(terms)


def _log_sum(terms: Sequence[float]) -> float:
    top = max(terms)
    return top + math.log(math.fsum(math.exp(t - top) for t in terms))


def _ranked(
    observed: Observed, state: _State, unit: str
) -> tuple[list[tuple[Suspect, list[tuple[int, float]]]], float]:
    """Return the suspects with what to add to which reading, best first, and the chance of none."""
    result = state.result
    nothing = _log_likelihood(result.vtpv, result.redundancy)
    hypotheses = _hypotheses(observed, state, unit)
    if not hypotheses:
        return [], 1.0
    top = max(nothing, max(h.log_odds for h in hypotheses))
    weights = [math.exp(h.log_odds - top) for h in hypotheses]
    none = math.exp(nothing - top)
    everything = none + math.fsum(weights)
    chance: dict[int, float] = {}
    best: dict[int, tuple[float, _Hypothesis]] = {}
    for hypothesis, weight in zip(hypotheses, weights, strict=True):
        for row in hypothesis.rows:
            chance[row] = chance.get(row, 0.0) + weight / everything
            if row not in best or weight > best[row][0]:
                best[row] = weight, hypothesis
    evidence = dict(chance)
    _share(chance, state)
    order = sorted(chance, key=lambda row: (-round(chance[row], 9), -evidence[row]))
    floor = WORTH_TELLING * chance[order[0]]
    ranked = []
    for row in order:
        if chance[row] >= floor:
            ranked.append(_told(observed, state, row, best[row][1], min(chance[row], 1.0), unit))
    return ranked, none / everything


def _share(chance: dict[int, float], state: _State) -> None:
    """Give readings that stand in the same equations the same chance, in place.

    Their residuals are fully correlated: any error of one would look the same as one of the other, so that
    only habit could tell them apart, and habit names nobody.
    """
    rows = [row for row in chance if chance[row] > 1e-6]
    left = dict.fromkeys(rows)
    while left:
        first = next(iter(left))
        own = state.share(first, first)
        same = [
            row
            for row in left
            if row == first
            or abs(state.share(first, row)) > SAME_EQUATIONS * math.sqrt(own * state.share(row, row))
        ]
        mean = math.fsum(chance[row] for row in same) / len(same)
        for row in same:
            chance[row] = mean
            del left[row]


def _hypotheses(observed: Observed, state: _State, unit: str) -> list[_Hypothesis]:
    result = state.result
    place = {number: row for row, number in enumerate(result.used)}
    log_wrong = math.log(WRONG_READINGS)
    checked = standardised(result.residuals, state.sd, result.redundancy_numbers)
    found: list[_Hypothesis] = []
    for row, number in enumerate(result.used):
        source = observed.sources[number]
        if source is None or np.isnan(checked[row]):
            continue
        freedom = float(result.redundancy_numbers[row])
        gain = float(state.misfit[row] ** 2 / freedom)
        likelihood = _log_likelihood_free(
            result.vtpv,
            gain,
            freedom,
            float(state.sd[row]),
            result.redundancy,
            WIDE[source.kind in LENGTH_KINDS or source.kind == "control"],
        )
        found.append(
            _Hypothesis(rows=(row,), repair=None, log_odds=log_wrong + math.log(SHARE_OTHER) + likelihood)
        )
    for repair in repairs(observed, state.equations, result.used, result.coordinates, unit):
        rows = tuple(place[change.equation] for change in repair.changes)
        if any(np.isnan(checked[row]) for row in rows):
            continue
        d = [change.by / state.sd[row] for change, row in zip(repair.changes, rows, strict=True)]
        total = result.vtpv + 2 * sum(x * state.misfit[row] for x, row in zip(d, rows, strict=True))
        total += sum(
            x * y * state.share(i, j)
            for x, i in zip(d, rows, strict=True)
            for y, j in zip(d, rows, strict=True)
        )
        likelihood = _log_likelihood(float(total), result.redundancy)
        found.append(
            _Hypothesis(rows=rows, repair=repair, log_odds=log_wrong + math.log(repair.share) + likelihood)
        )
    return _plan_anew(found, observed, state)


def _plan_anew(found: list[_Hypothesis], observed: Observed, state: _State) -> list[_Hypothesis]:
    """Adjust the likeliest repairs of the plan anew, for there the linear score is only near."""
    found.sort(key=lambda hypothesis: -hypothesis.log_odds)
    result = state.result
    scored = []
    for k, hypothesis in enumerate(found):
        numbers = [result.used[row] for row in hypothesis.rows]
        if k >= MOST_ANEW or not any(state.equations[n].kind in PLAN for n in numbers):
            scored.append(hypothesis)
            continue
        equations = list(state.equations)
        if hypothesis.repair is None:
            equations[numbers[0]] = replace(equations[numbers[0]], sd=equations[numbers[0]].sd * GROSS)
        else:
            for change in hypothesis.repair.changes:
                old = equations[change.equation]
                equations[change.equation] = replace(old, value=old.value + change.by)
        near = approached(
            stacked([equations[n] for n in result.used]),
            np.nan_to_num(result.coordinates),
            result.free,
            most_steps=BRIEF_STEPS,
        )
        if near is None:
            scored.append(hypothesis)
            continue
        if hypothesis.repair is not None:
            share = hypothesis.repair.share
            likelihood = _log_likelihood(near[1], result.redundancy)
        else:
            row = hypothesis.rows[0]
            source = observed.sources[numbers[0]]
            share = SHARE_OTHER
            likelihood = _log_likelihood_free(
                result.vtpv,
                max(result.vtpv - near[1], 0.0),
                float(result.redundancy_numbers[row]),
                float(state.sd[row]),
                result.redundancy,
                WIDE[source is not None and (source.kind in LENGTH_KINDS or source.kind == "control")],
            )
        scored.append(replace(hypothesis, log_odds=math.log(WRONG_READINGS) + math.log(share) + likelihood))
    return scored


def _told(
    observed: Observed, state: _State, row: int, hypothesis: _Hypothesis, chance: float, unit: str
) -> tuple[Suspect, list[tuple[int, float]]]:
    number = state.result.used[row]
    source, equation = observed.sources[number], state.equations[number]
    assert source is not None
    if hypothesis.repair is not None:
        change = next(c for c in hypothesis.repair.changes if c.equation == number)
        suspect = Suspect(
            table=source.table,
            row=source.row,
            column=change.column,
            read=change.read,
            likely=change.likely,
            why=f"{source.what}: {hypothesis.repair.why}",
            chance=chance,
        )
        return suspect, [(c.equation, c.by) for c in hypothesis.repair.changes]
    by = float(state.result.residuals[row] / state.result.redundancy_numbers[row])
    value = equation.value + by
    likely = (
        written(value, source, unit)
        if source.kind in LENGTH_KINDS or source.kind == "control"
        else angle_written(equation.value, by, source)
    )
    suspect = Suspect(
        table=source.table,
        row=source.row,
        column=source.column,
        read=source.read,
        likely=likely,
        why=f"{source.what}: wrong by some other amount",
        chance=chance,
    )
    return suspect, [(number, by)]
