"""Magnetic and grid north told in words: which side, how sure, on what date, until when."""

from __future__ import annotations

from datetime import date as Date
from datetime import timedelta

from staking.base.units import format_angle
from staking.north.declination import Declination

NEAR_ITS_END = timedelta(days=365)
"""Before the model's last day: field work a year on would lean on a model that has run out."""


def declination_words(found: Declination, date: Date) -> str:
    """Return the declination with its side, standard deviation, date and last day, and if that is near."""
    degrees, sd = format_angle(abs(found.declination_rad), 2), format_angle(found.sd_rad, 2)
    side, sign = ("east", "+") if found.declination_rad >= 0.0 else ("west", "−")
    text = (
        f"magnetic north lies {degrees}° {side} of true north on {date} (one standard deviation {sd}°): true "
        f"bearing = magnetic bearing {sign} {degrees}°, by the World Magnetic Model 2025, whose last day is "
        f"{found.valid_until}"
    )
    if date > found.valid_until - NEAR_ITS_END:
        text += (
            f". THE MODEL RUNS OUT within a year of {date}: take a newer version of this program for "
            "work after "
            "its last day"
        )
    return text


def convergence_words(grid: str, convergence_rad: float) -> str:
    """Return the grid convergence with its side in words and how it is applied."""
    degrees = format_angle(abs(convergence_rad), 3)
    if float(degrees) == 0.0:
        return f"grid north of {grid} is true north here, to 0.001°"
    side, sign = ("east", "+") if convergence_rad > 0.0 else ("west", "−")
    return (
        f"grid north of {grid} lies {degrees}° {side} of true north: true azimuth = grid bearing {sign} "
        f"{degrees}°"
    )
