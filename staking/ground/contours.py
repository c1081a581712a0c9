"""Lines of equal elevation, for maps."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contour:
    """One unbroken line of equal elevation; a closed one ends where it begins."""

    level_m: float
    en_m: Floats
    """(k, 2)."""


def contours(
    z: Callable[[Floats], Floats],
    levels_m: Floats | list[float],
    *,
    low_en_m: tuple[float, float],
    high_en_m: tuple[float, float],
    step_m: float,
) -> tuple[Contour, ...]:
    """Draw contours inside a box.

    Parameters
    ----------
    z
        Elevations (m,) at places (m, 2), such as a `Ground`'s.
    levels_m
        Elevations to draw, metres.
    low_en_m, high_en_m
        The south-west and north-east corners of the box.
    step_m
        Largest step of the grid; the lines are straight between its cells' sides.
    """
    import contourpy

    axes = [
        np.linspace(low, high, max(1, math.ceil((high - low) / step_m)) + 1)
        for low, high in zip(low_en_m, high_en_m, strict=True)
    ]
    east, north = np.meshgrid(*axes)
    heights = z(np.column_stack([east.ravel(), north.ravel()])).reshape(east.shape)
    drawer = contourpy.contour_generator(axes[0], axes[1], heights, line_type="Separate")
    return tuple(
        Contour(level_m=float(level), en_m=np.asarray(line))
        for level in levels_m
        for line in drawer.lines(float(level))
    )
