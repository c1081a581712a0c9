"""Where something that fits turns into something that does not, between two values."""

from __future__ import annotations

from collections.abc import Callable


def halved(fits_at: Callable[[float], bool], fits: float, misses: float, *, within: float) -> float:
    """Return a value at which it fits, not further than `within` from one at which it does not.

    Parameters
    ----------
    fits_at
        Whether it fits at a value; neither end is asked again.
    fits, misses
        A value at which it fits and one at which it does not, whichever is greater.
    within
        How near the two must come.
    """
    while abs(fits - misses) > within:
        middle = (fits + misses) / 2
        if fits_at(middle):
            fits = middle
        else:
            misses = middle
    return fits
