"""How likely a repair is right too: that a reading is wrong, and was meant to be what is told.

A reading may be wrong for certain and its repair a guess: of an amount that no rule foresees the other
readings tell no more than they know, and a slip may fit by accident. The chance of the repair is the share of
all explanations in which the reading should be as told, to within `NEAR_SDS` of its standard deviations.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from staking.control.causes import Change
from staking.control.telling import Blame, Scene, change_of, trust
from staking.control.weighing import Story

Floats = NDArray[np.float64]

NEAR_SDS = 3.0
"""A repaired reading is right that misses what was meant by less than so many of its standard deviations."""


def repair_chance(scene: Scene, blame: Blame, stories: Sequence[Story], weights: Floats) -> float:
    """Return the chance that a reading is wrong and its repair, as it is told, is right.

    Parameters
    ----------
    scene
        The survey.
    blame
        The reading, with the repair that is told of it.
    stories, weights
        The explanations and their shares.
    """
    told, by = change_of(scene, blame)
    every, right = [], []
    for story, weight in zip(stories, weights, strict=True):
        shares = [
            (share, place)
            for place, c in enumerate(story.causes)
            for number, share in scene.field.causes[c].guilty
            if number == blame.number
        ]
        if not shares:
            continue
        share, place = max(shares, key=lambda item: item[0])
        every.append(float(weight) * trust(scene, story) * share)
        other, other_by = change_of(scene, Blame(number=blame.number, chance=0.0, story=story, cause=place))
        right.append(every[-1] * _agrees(scene, blame.number, (told, by), (other, other_by), story, place))
    whole = math.fsum(every)
    return blame.chance * math.fsum(right) / whole if whole > 0 else 0.0


def _agrees(
    scene: Scene,
    number: int,
    told: tuple[Change, float],
    other: tuple[Change, float],
    story: Story,
    place: int,
) -> float:
    """Return how likely the repair of another explanation is the one told."""
    (change, by), (meant, meant_by) = told, other
    if change.column != meant.column:
        return 0.0
    if change.likely and change.likely == meant.likely:
        return 1.0
    if math.isnan(by) or math.isnan(meant_by) or change.column != scene.source(number).column:
        return 0.0
    field, h = scene.field, story.hypotheses[place]
    sd = scene.equations[number].sd
    off_sds = (meant_by - by) / sd
    variance = float(field.variance[h])
    if variance <= 0:
        return float(abs(off_sds) < NEAR_SDS)
    # The amount is known from the other readings and from how large blunders are.
    g = float(field.between[field.direction[h], field.direction[h]])
    own_sds = math.sqrt(1.0 / (g + 1.0 / variance))
    cause = field.causes[story.causes[place]]
    if len(cause.changes) > 1:
        # Of one reading the amount is in its standard deviations, of several in metres.
        own_sds *= abs(cause.steps[0]) / sd
    return 0.5 * math.fsum(
        math.erf((NEAR_SDS + side * off_sds) / (own_sds * math.sqrt(2.0))) for side in (1.0, -1.0)
    )
