"""Which reading is wrong, and what was probably meant: with the chance of each, and of none.

Every way of going wrong is a cause (`causes.py`); alone and together they are weighed against each other and
against "nothing is wrong" and "the accuracies were stated too small" (`weighing.py`). A reading's chance is
the share of all explanations in which it is wrong.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from staking.base.lsq import RankDeficient
from staking.control.adjustment import Misclosure, Suspect, where_words
from staking.control.causes import WRONG_READINGS, single_causes
from staking.control.directions import Norths
from staking.control.equations import stacked
from staking.control.explaining import DISAGREE, Explained, Suspicion, explained_about
from staking.control.near_truth import across_the_line, near_the_truth
from staking.control.network import Network, NetworkResult, standardised
from staking.control.observing import Observed
from staking.control.other_units import in_other_units
from staking.control.settling import written_about
from staking.control.side_words import against_sides
from staking.control.variance_test import variance_passes
from staking.control.weighing import large_w

__all__ = ["DISAGREE", "WRONG_READINGS", "Suspicion", "suspected", "suspicious"]

Floats = NDArray[np.float64]

MOST_OTHERS = 3
"""Readings of the other side named with one of this."""
MOST_AGAIN = 2
"""Times that the equations are written anew about where the likeliest explanation puts the points, while the
survey fails all the same: about places that gross blunders dragged along another one looks likelier."""


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
    """Return who is suspected of a survey that is `suspicious`.

    Parameters
    ----------
    observed, network, result
        The survey as read and as adjusted.
    loops
        Its misclosures.
    norths
        Its norths, with the book.
    """
    unit = norths.book.job.site.units

    def meant(number: int) -> list[float]:
        causes = single_causes(observed, network.equations, [number], unit)
        changes = [change for cause in causes if cause.known for change in cause.changes]
        return [network.equations[number].value + c.by for c in changes if not math.isnan(c.by)]

    whole = in_other_units(observed, network, result, unit)
    if whole is not None:
        return Suspicion(suspects=(whole,))
    near = near_the_truth(network, result, meant)
    own = _explained(near, result, observed, network, norths).suspicion
    across = across_the_line(network, result, near)
    if across is None or not own.suspects:
        return own
    there = explained_about(across, result, observed, network, norths).suspicion
    if network.sides.default is None and not network.sides.by_point:
        return _either(own, there, network, observed)
    # What was said of a side decides.
    return there if there.suspects and _against(network, across) < _against(network, near) else own


def _explained(
    near: NetworkResult, result: NetworkResult, observed: Observed, network: Network, norths: Norths
) -> Explained:
    """Return what explains a survey, written anew about other places while nothing does."""
    best = explained_about(near, result, observed, network, norths)
    last = best
    for _ in range(MOST_AGAIN):
        if last.passes or last.places is None:
            break
        stack = stacked([network.equations[k] for k in result.used])
        try:
            there = result.again(written_about(stack, last.places, result.free))
        except RankDeficient:
            break
        last = explained_about(there, result, observed, network, norths)
        if last.log_weight > best.log_weight:
            best = last
    return best


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
        return [replace(one.rarer(0.5), same_as=(*names, *one.same_as), would_tell=tell) for one in these]

    both = [*shared(own.suspects, across.suspects), *shared(across.suspects, own.suspects)]
    return Suspicion(suspects=tuple(sorted(both, key=lambda one: -one.chance)), warnings=own.warnings)
