"""Places that most readings agree with, and how far readings miss them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from staking.control.equations import Stack, evaluated, misfits
from staking.control.network import NetworkResult
from staking.control.settling import approached

Floats = NDArray[np.float64]

PLAIN_SDS = 1.5
"""Misses up to so many standard deviations keep their full weight."""
FAR_SDS = 8.0
"""A reading that misses by more does not count worse for missing by much more: it is a blunder or none."""
BRIEF_STEPS = 15
"""Steps from one weighting to the next."""


def misses(stack: Stack, coordinates: Floats) -> Floats:
    """Return by how many standard deviations each reading misses."""
    predicted, _ = evaluated(stack, coordinates)
    return np.abs(misfits(stack, predicted)) / stack.sd


def sum_missed(stack: Stack, coordinates: Floats) -> float:
    """Return the sum of squares with each miss counted up to `FAR_SDS`."""
    return float((np.minimum(misses(stack, coordinates), FAR_SDS) ** 2).sum())


def gross_rows(stack: Stack, coordinates: Floats) -> set[int]:
    """Return the rows of the readings that miss grossly."""
    return {int(row) for row in np.flatnonzero(misses(stack, coordinates) > FAR_SDS)}


def reweighted(stack: Stack, result: NetworkResult, coordinates: Floats) -> Floats:
    """Return places found with weights that fall as readings miss.

    First as for the least sum of absolute misses, then faster, which leaves a blunder behind where others
    check it. Source: P. J. Huber, Robust Statistics (Wiley, 1981), ch. 7 (from memory).
    """
    for power in (*[0.5] * 8, *[1.0] * 4):
        miss = np.maximum(misses(stack, coordinates) / PLAIN_SDS, 1.0)
        near = approached(
            replace(stack, sd=stack.sd * miss**power), coordinates, result.free, most_steps=BRIEF_STEPS
        )
        if near is not None:
            coordinates = near[0]
    return coordinates
