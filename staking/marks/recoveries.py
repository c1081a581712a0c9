"""A lost stake set again from two that are still there."""

from __future__ import annotations

import numpy as np

from staking.book.records import Accuracy
from staking.layout.frame import Fit
from staking.marks.stakeout import Recovery
from staking.marks.swing import best_swing, rays, side_of
from staking.marks.ties import stake_tie


def recoveries(fit: Fit, *, lost: tuple[str, ...], accuracy: Accuracy) -> tuple[Recovery, ...]:
    """Return, for each lost stake, the two surviving stakes of the array that give it back most surely.

    The surviving stakes are taken as they stand: the place found is true to them, and the tape alone is
    uncertain.

    Parameters
    ----------
    fit : Fit
        The array.
    lost : tuple of str
        Names of the piers whose stakes are gone.
    accuracy : Accuracy
        Of the tape.
    """
    gone = {name.strip().casefold() for name in lost}
    there = [i for i, name in enumerate(fit.piers.names) if name.casefold() not in gone]
    places = fit.piers.en_m
    found = []
    for i, name in enumerate(fit.piers.names):
        if name.casefold() not in gone:
            continue
        swing = best_swing(
            rays(
                stake_en_m=places[i],
                points_en_m=places[there],
                points_cov_m2=np.zeros((2 * len(there), 2 * len(there))),
                accuracy=accuracy,
            )
        )
        if swing is None:
            continue
        first, second = (there[k] for k in swing.pair)
        found.append(
            Recovery(
                pier=name,
                ties=(
                    stake_tie(fit, start=first, to=i, accuracy=accuracy),
                    stake_tie(fit, start=second, to=i, accuracy=accuracy),
                ),
                crossing_rad=swing.crossing_rad,
                side=side_of(start_en_m=places[first], end_en_m=places[second], at_en_m=places[i]),
                sd_place_m=swing.semi_major_m,
            )
        )
    return tuple(found)
