"""The areas that arrays were given instead of a place, also those in which no place was found."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from staking.plan import Plan
from staking.siting import area_corners

Floats = NDArray[np.float64]


def place_areas(plan: Plan) -> tuple[tuple[str, Floats], ...]:
    """Return each area as the array's name, empty for the only one, and its corners (k, 2) in order."""
    found = [(one.array, one.area_en_m) for one in plan.sited]
    for array in plan.book.job.arrays:
        if array.place.area is not None:
            corners = area_corners(array.place.area, plan.adjustment.points)
            if corners is not None:
                found.append((array.name, corners))
    return tuple(found)
