"""What earth and air do to a level sight: the earth falls away from it, the air bends it after the earth."""

from __future__ import annotations

EARTH_RADIUS_M = 6_371_000.0
"""Mean radius (IUGG, from memory)."""
REFRACTION = 0.14
"""The air bends a sight by this share of the earth's curvature, on an ordinary day: C. D. Ghilani and P. R.
Wolf, Elementary Surveying, 13th ed., section 4.4 (from memory); 1/7 is in print too."""


def curvature_and_refraction(dist_m: float, *, refraction: float = REFRACTION) -> float:
    """Return by how much a rod reads too high at the end of a level sight, ``(1 − k) d² / (2 R)``, metres."""
    return (1 - refraction) * dist_m**2 / (2 * EARTH_RADIUS_M)
