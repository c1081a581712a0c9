"""What a survey would and would not notice: the least blunder that shows, and what an unseen one does.

Source: W. Baarda, A Testing Procedure for Use in Geodetic Networks, Netherlands Geodetic Commission,
Publications on Geodesy, vol. 2, no. 5 (1968) (from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from staking.control.network import NOTHING_CHECKS

Floats = NDArray[np.float64]

SHOWS = 4.13
"""Shift of a normal deviate that passes 3.29, which chance does once in a thousand, in four cases of five:
3.29 + 0.84."""


def detectable(sd: Floats, redundancy_numbers: Floats) -> Floats:
    """Return the least blunder of each reading that its residual would show, NaN where nothing checks it.

    ``δ0·sd/√r``: the test of w at 0.1 % notices it with a power of 80 %. In the unit of the readings.
    """
    return SHOWS * sd / np.sqrt(_checked(redundancy_numbers))


def carried_sds(redundancy_numbers: Floats) -> Floats:
    """Return how far the least blunder that shows may carry results, NaN where nothing checks the reading.

    ``δ0·√((1 - r)/r)``: no coordinate, nor anything else that follows from the adjustment, is carried along
    by more times its own standard deviation.
    """
    r = _checked(redundancy_numbers)
    return SHOWS * np.sqrt((1.0 - r) / r)


def _checked(redundancy_numbers: Floats) -> Floats:
    return np.where(redundancy_numbers >= NOTHING_CHECKS, redundancy_numbers, np.nan)
