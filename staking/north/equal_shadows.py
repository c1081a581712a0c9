"""True north from two shadows of equal length, before and after noon; a clock only for a small correction.

Between the two marks the sun's declination changes by Δδ, so equal elevations are not equal angles from the
meridian. From sin δ = sin φ sin h + cos φ cos h cos A at one elevation h, cos δ dδ = −cos φ cos h sin A dA,
and with sin A = cos δ sin t / cos h the azimuth changes by dδ / (cos φ sin t), t the hour angle. The middle
of the two shadows is off the meridian by half of it. The formula is derived here; the method of equal
altitudes is W. Chauvenet's, A Manual of Spherical and Practical Astronomy, vol. I (1863) (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

from staking.north.sun import SUN_DAY_S, noon_of, sun_at, turning_rad_per_s

NEAR_NOON_RAD = math.radians(7.5)
"""Marks nearer to noon than half an hour each tell too little of it."""
ROUNDED_RAD = 1e-9
"""An hour is an hour."""
SIDEWAYS = 0.2
"""Cosine of the shadows' angle from the meridian below which the chord's middle lies at the line's foot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EqualShadows:
    """The middle between two shadows of equal length."""

    middle_rad: float
    """True direction from the line's foot to the middle of the chord between the marks, in [0, 2π)."""
    correction_rad: float
    """What the change of the sun's declination adds to true north or south in it, clockwise."""
    unequal_rad: float
    """Elevation in the afternoon less that in the morning at the times given."""
    off_noon_s: float
    """Middle of the two times less the sun's passage over the meridian, seconds: some seconds where the
    shadows were equal."""
    along: float
    """Share of the shadow's length at which the chord's middle lies."""
    lengthening: float
    """How far a mark moves along its arc when its shadow is read too long by 1: none when the shadow only
    swings."""

    def sd_rad(self, *, mark_m: float, length_m: float) -> float:
        """Return the standard deviation of the middle's direction.

        Each of the two marks is set on its arc with ``mark_m`` across the shadow, and along it with as much,
        which moves it on the arc by `lengthening`; the direction is their mean. The middle itself is marked
        with ``mark_m`` at `along` of the length.
        """
        marks = math.hypot(1.0, self.lengthening) / math.sqrt(2.0)
        return mark_m / length_m * math.hypot(marks, 1.0 / self.along)


def equal_shadows(lat_rad: float, lon_rad: float, morning: datetime, afternoon: datetime) -> EqualShadows:
    """Return where the middle of two equal shadows lies.

    Parameters
    ----------
    lat_rad, lon_rad : float
        North and east positive.
    morning, afternoon : datetime
        With their time zone; ten minutes matter by a hundredth of a degree or so.

    Raises
    ------
    ValueError
        When the sun was down at one of the times, they are not before and after noon, or the shadows lie so
        nearly east and west that their middle tells no direction.
    """
    first, second = (sun_at(lat_rad, lon_rad, when) for when in (morning, afternoon))
    for name, sun in (("morning", first), ("afternoon", second)):
        if sun.elevation_rad <= 0.0:
            message = (
                f"in the {name} the sun was down, {math.degrees(-sun.elevation_rad):.1f}° below the horizon"
            )
            raise ValueError(message)
    half_rad = (afternoon - morning).total_seconds() / 2.0 * math.tau / SUN_DAY_S
    rising, setting = math.sin(first.azimuth_rad) > 0.0, math.sin(second.azimuth_rad) < 0.0
    noon = noon_of(lat_rad, lon_rad, morning.date()).when.astimezone(morning.tzinfo)
    if not (rising and setting and 0.0 < half_rad < math.pi):
        message = (
            "the two times are not one before and one after noon: the sun stood on the meridian at "
            f"{noon:%H:%M} by this clock"
        )
        raise ValueError(message)
    if half_rad < NEAR_NOON_RAD - ROUNDED_RAD:
        minutes = (afternoon - morning).total_seconds() / 60.0
        message = f"the two marks are {minutes:.0f} min apart: less than an hour tells too little of noon"
        raise ValueError(message)
    # The angle of both shadows from the meridian, from their mean.
    cosine = -(math.cos(first.azimuth_rad) + math.cos(second.azimuth_rad)) / 2.0
    if abs(cosine) < SIDEWAYS:
        message = "the shadows lay nearly east and west: the middle between them tells no direction"
        raise ValueError(message)
    correction_rad = (second.declination_rad - first.declination_rad) / (
        2.0 * math.cos(lat_rad) * math.sin(half_rad)
    )
    elevation_rad = (first.elevation_rad + second.elevation_rad) / 2.0
    turning = turning_rad_per_s(lat_rad, lon_rad, morning)
    climbing = _climbing_rad_per_s(lat_rad, first.azimuth_rad)
    return EqualShadows(
        middle_rad=((0.0 if cosine > 0.0 else math.pi) + correction_rad) % math.tau,
        correction_rad=correction_rad,
        unequal_rad=second.elevation_rad - first.elevation_rad,
        off_noon_s=(morning + (afternoon - morning) / 2 - noon).total_seconds(),
        along=abs(cosine),
        # Length is cot h: it changes by −dh / sin² h, that is by −dh / (sin h cos h) of itself.
        lengthening=abs(turning / climbing) * math.sin(elevation_rad) * math.cos(elevation_rad),
    )


def _climbing_rad_per_s(lat_rad: float, azimuth_rad: float) -> float:
    """Return how fast the sun climbs: cos φ · sin A times its turning (textbook)."""
    return math.cos(lat_rad) * math.sin(azimuth_rad) * math.tau / SUN_DAY_S
