"""How well each cause, alone or with others, explains a survey: joint weights in closed form.

With residuals ``u`` (observed less adjusted, in standard deviations), redundancy matrix ``R`` and sum of
squares ``T``, adding ``a f`` to the readings (in standard deviations) leaves ``T + 2a f·u + a² f·R f``. With
a normal prior of ``a`` everything stays normal, so the weight of a cause, and what is left for a second one,
follow from the numbers ``b = f·u`` and ``g = f·R f`` of each direction. Exact where the equations are linear.

Stated accuracies that are too small are an alternative like any other: all weights are summed over `SCALES`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from staking.control.hypotheses import Field
from staking.control.network import NOTHING_CHECKS
from staking.control.variance_test import largest_passed, variance_passes

Floats = NDArray[np.float64]

SCALES = ((1.0, 0.93), (1.5, 0.03), (2.0, 0.015), (3.0, 0.01), (5.0, 0.01), (10.0, 0.005))
"""How much larger the readings' errors may be than stated, with the chance of each (a judgement)."""
LARGE_W = 3.29
"""Normal deviate passed once in a thousand readings."""
LARGEST_BY_CHANCE = 0.05
"""Share of clean surveys whose largest residual is looked into."""
MOST_BLUNDERS = 4
"""Blunders looked for at once."""
BREADTH = 16
"""Explanations to which one more blunder is added."""
TELLING = 14.0
"""Explanations less likely than the best by this logarithm (odds of a million) are dropped."""
MOST_STORIES = 400
"""Explanations kept of each size, the likeliest."""

_SCALE = np.array([s for s, _ in SCALES])
_LOG_PRIOR = np.log([p for _, p in SCALES])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Story:
    """One explanation: no, one or several causes at once."""

    causes: tuple[int, ...]
    hypotheses: tuple[int, ...]
    amounts: tuple[float, ...]
    """Estimated, one for each cause."""
    least: float
    """Sum of squares that it leaves."""
    rest: Floats
    """(scales,) logarithm of everything else in its weight."""
    log_weight: float
    """Logarithm of its chance, less a constant of the survey."""

    def leaving(self, least: float) -> Story:
        """Return the story with another sum of squares."""
        return replace(self, least=least, log_weight=_log_sum(self.rest - least / (2 * _SCALE**2)))


@dataclass(slots=True, kw_only=True)
class _State:
    """A story while more causes are added."""

    story: Story
    along: Floats
    between: Floats
    total: float
    prior: Floats
    """(scales,) of its causes and amounts."""


def large_w(checked: int) -> float:
    """Return what the largest of so many w passes in `LARGEST_BY_CHANCE` of clean surveys."""
    return largest_passed(checked, LARGEST_BY_CHANCE)


def weighed(field: Field) -> list[Story]:
    """Return the explanations worth telling, first that nothing is wrong.

    Blunders that hide each other are found together: another cause is added to each of the likeliest
    explanations, whatever the best one is, until what is left of the best looks clean.
    """
    base = _LOG_PRIOR - field.redundancy * np.log(_SCALE)
    nothing = Story(
        causes=(), hypotheses=(), amounts=(), least=field.total, rest=base, log_weight=0.0
    ).leaving(field.total)
    start = _State(
        story=nothing,
        along=field.along,
        between=field.between,
        total=field.total,
        prior=np.zeros(len(_SCALE)),
    )
    stories: dict[frozenset[int], Story] = {}
    frontier, best = [start], -math.inf
    for _ in range(MOST_BLUNDERS):
        found: dict[frozenset[int], tuple[_State, Story]] = {}
        for state in frontier:
            for story in _extended(field, state, base):
                found.setdefault(frozenset(story.hypotheses), (state, story))
        if not found:
            break
        ranked = sorted(found.values(), key=lambda item: -item[1].log_weight)
        top = ranked[0][1].log_weight
        stories |= {
            frozenset(story.hypotheses): story
            for _, story in ranked[:MOST_STORIES]
            if story.log_weight > top - TELLING
        }
        if top < best:
            break
        best = top
        after = _added(field, *ranked[0])
        if _clean(field, after):
            break
        frontier = [_added(field, state, story) for state, story in _various(field, ranked)]
    kept = [s for s in stories.values() if s.log_weight > max(best, nothing.log_weight) - TELLING]
    kept = [_estimated(field, story) for story in sorted(kept, key=lambda s: -s.log_weight)]
    return [nothing, *kept]


def _estimated(field: Field, story: Story) -> Story:
    """Return a story with its unknown amounts estimated together: one changes with the other."""
    hypotheses = list(story.hypotheses)
    freed = [k for k, h in enumerate(hypotheses) if field.variance[h] != 0]
    if len(hypotheses) < 2 or not freed:
        return story
    j = field.direction[hypotheses]
    amounts = np.array([0.0 if k in freed else story.amounts[k] for k in range(len(hypotheses))])
    between = field.between[np.ix_(j, j)]
    right = field.along[j] + between @ amounts
    amounts[freed] = -np.linalg.lstsq(between[np.ix_(freed, freed)], right[freed])[0]
    return replace(story, amounts=tuple(float(a) for a in amounts))


def scale_of(story: Story) -> float:
    """Return how much larger than stated the errors are under a story, the likeliest of `SCALES`."""
    return float(_SCALE[np.argmax(story.rest - story.least / (2 * _SCALE**2))])


def _various(field: Field, ranked: Sequence[tuple[_State, Story]]) -> list[tuple[_State, Story]]:
    """Return the likeliest explanations, of those along the same directions the best known and best free."""
    taken: dict[tuple[frozenset[int], bool], tuple[_State, Story]] = {}
    for state, story in ranked:
        at = frozenset(int(field.direction[h]) for h in story.hypotheses)
        free = bool(field.variance[story.hypotheses[-1]] != 0)
        taken.setdefault((at, free), (state, story))
        if len(taken) == 2 * BREADTH:
            break
    return list(taken.values())


def _extended(field: Field, state: _State, base: Floats) -> list[Story]:
    """Return a state's story with each further cause, the likeliest ones."""
    j = field.direction
    g = np.diag(state.between)[j]
    checked = g > NOTHING_CHECKS * field.length2[j]
    for h in state.story.hypotheses:
        checked &= j != j[h]
    at = np.flatnonzero(checked)
    if not len(at):
        return []
    j, g = j[at], g[at]
    b, mean, variance = state.along[j], field.mean[at], field.variance[at]
    amount, gain = -b / g, b**2 / g
    is_known = variance == 0
    # (hypotheses, scales)
    own = _SCALE**2 / g[:, None]
    spread = np.maximum(own + variance[:, None], 1e-3 * own)
    off2 = (amount - mean) ** 2
    rest = base + state.prior + field.log_prior[at, None] + 0.5 * np.log(own / spread)
    rest = rest - np.where(is_known[:, None], 0.0, off2[:, None] / (2 * spread))
    least = state.total - gain + np.where(is_known, off2 * g, 0.0)
    terms = rest - least[:, None] / (2 * _SCALE**2)
    top = terms.max(axis=1)
    weight = top + np.log(np.exp(terms - top[:, None]).sum(axis=1))
    order = np.argsort(-weight)[:MOST_STORIES]
    order = order[weight[order] > weight[order[0]] - TELLING] if state.story.causes else order
    amount = np.where(is_known, mean, amount)
    return [
        Story(
            causes=(*state.story.causes, int(field.cause_of[at[k]])),
            hypotheses=(*state.story.hypotheses, int(at[k])),
            amounts=(*state.story.amounts, float(amount[k])),
            least=float(least[k]),
            rest=rest[k],
            log_weight=float(weight[k]),
        )
        for k in order
    ]


def _added(field: Field, state: _State, story: Story) -> _State:
    """Return the state after the last cause of a story was added to an earlier state."""
    h = story.hypotheses[-1]
    j, mean, variance = int(field.direction[h]), float(field.mean[h]), float(field.variance[h])
    column = state.between[:, j]
    g = float(column[j])
    total = state.total + 2 * mean * float(state.along[j]) + mean**2 * g
    along = state.along + mean * column
    between = state.between
    prior = state.prior + field.log_prior[h]
    if variance != 0:
        # Its amount stays unknown by `variance`: what it would explain is taken out of the rest.
        weight = variance / max(1 + g * variance, NOTHING_CHECKS)
        total -= weight * float(along[j]) ** 2
        along = along - weight * column * along[j]
        between = between - weight * np.outer(column, column)
        own = _SCALE**2 / g
        prior = prior + 0.5 * np.log(own / np.maximum(own + variance, 1e-3 * own))
    return _State(story=story, along=along, between=between, total=total, prior=prior)


def _clean(field: Field, state: _State) -> bool:
    """Return whether what a story leaves looks like readings as good as stated."""
    freed = sum(field.variance[h] != 0 for h in state.story.hypotheses)
    left = max(field.redundancy - freed, 0)
    g = np.diag(state.between)
    checked = g > NOTHING_CHECKS * field.length2
    w = np.abs(state.along[checked]) / np.sqrt(g[checked])
    passes = variance_passes(max(state.story.least, 0.0), left)
    return passes is not False and float(w.max(initial=0.0)) <= large_w(field.redundancy)


def _log_sum(terms: Floats) -> float:
    top = float(terms.max())
    return top + math.log(float(np.exp(terms - top).sum()))
