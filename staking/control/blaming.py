"""Who is blamed: each reading's share of all explanations, and the readings that nothing tells apart."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from staking.control.network import NOTHING_CHECKS
from staking.control.telling import Blame, Scene, trust
from staking.control.weighing import Story

Floats = NDArray[np.float64]

SAME_EQUATIONS = 0.999
"""Correlation of two residuals from which on no reading tells the two apart."""
WORTH_MENTIONING = 0.1
"""Share of a reading's chance from which on a second way in which it may be wrong is told."""


def blamed(
    scene: Scene, stories: Sequence[Story], weights: Floats, rows: Sequence[int]
) -> tuple[dict[int, Blame], list[list[int]]]:
    """Return who is blamed by equation, and the groups of readings that nothing tells apart.

    Parameters
    ----------
    scene
        The survey.
    stories, weights
        Its explanations and their shares.
    rows
        Places of the readings looked at among those used.
    """
    chance: dict[int, float] = {}
    by_cause: dict[int, dict[int, float]] = {}
    best: dict[tuple[int, int], tuple[float, Story, int]] = {}
    for story, weight in zip(stories, weights, strict=True):
        blame: dict[int, float] = {}
        for place, c in enumerate(story.causes):
            for number, share in scene.field.causes[c].guilty:
                blame[number] = max(share, blame.get(number, 0.0))
                inside = by_cause.setdefault(number, {})
                inside[c] = inside.get(c, 0.0) + float(weight) * share
                if (number, c) not in best or weight > best[number, c][0]:
                    best[number, c] = float(weight), story, place
        told = float(weight) * trust(scene, story)
        for number, share in blame.items():
            chance[number] = chance.get(number, 0.0) + told * share
    weight_of = dict(chance)
    groups = groups_of(scene, rows, chance)
    for group, alone in groups:
        if alone:
            mean = math.fsum(chance.get(number, 0.0) for number in group) / len(group)
            for number in group:
                if number in chance:
                    chance[number] = min(mean, 0.5)
    blames = {}
    for number, inside in by_cause.items():
        likeliest = _likeliest(scene, number, inside)
        _, story, place = best[number, likeliest]
        second = max((c for c in inside if c != likeliest), key=lambda c: inside[c], default=likeliest)
        blames[number] = Blame(
            number=number,
            chance=min(chance[number], 1.0),
            weight=weight_of[number],
            story=story,
            cause=place,
            instead=second if inside[second] > WORTH_MENTIONING * math.fsum(inside.values()) else None,
        )
    return blames, [group for group, _ in groups]


def _likeliest(scene: Scene, number: int, weights: dict[int, float]) -> int:
    """Return the likeliest cause of a reading's being wrong.

    That its number is right and a name or a word in its row is wrong must be likelier than all wrong numbers
    together.
    """

    def elsewhere(c: int) -> bool:
        column = scene.source(number).column
        return any(x.equation == number and x.column != column for x in scene.field.causes[c].changes)

    own = math.fsum(weight for c, weight in weights.items() if not elsewhere(c))
    return max(
        weights,
        key=lambda c: weights[c] if not elsewhere(c) or weights[c] > own else -1.0,
    )


def groups_of(scene: Scene, rows: Sequence[int], chance: dict[int, float]) -> list[tuple[list[int], bool]]:
    """Return groups of fully correlated readings, and whether each is one closed loop by itself.

    Within a group any error of one reading looks the same as one of another; only what is known of habits
    parts them. A loop that nothing else touches has one redundancy among all its readings: it is one number,
    which many habits fit by accident, so there habit is not believed.
    """
    number_at = [scene.result.used[row] for row in rows]
    matrix = scene.result.redundancy_matrix(rows)
    own = np.diag(matrix)
    left = dict.fromkeys(k for k, number in enumerate(number_at) if number in chance)
    groups = []
    while left:
        first = next(iter(left))
        limit = SAME_EQUATIONS * np.sqrt(own[first] * own)
        same = [int(k) for k in np.flatnonzero((np.abs(matrix[first]) >= limit) & (own > NOTHING_CHECKS))]
        if first not in same:
            same.append(first)
        groups.append(([number_at[k] for k in same], bool(own[same].sum() > SAME_EQUATIONS)))
        for k in same:
            left.pop(k, None)
    return groups
