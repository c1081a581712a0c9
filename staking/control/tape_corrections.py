"""What a tape read, to what a true tape would have read: length of the tape, heat, pull, sag, slope.

Source of the formulas: C. D. Ghilani and P. R. Wolf, Elementary Surveying, 13th ed. (Pearson, 2012), ch. 6,
"Correcting systematic errors in taping" (from memory). Lengths in metres, forces in newtons, °C.
Each correction is to be added to the length read; signs are those of measuring between two points.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from staking.base.quantities import GRAVITY_M_S2
from staking.book.records import Supports, Tape

STEEL_KG_M3 = 7850.0
"""Density of steel, for a cross-section where only the weight is known. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """How a tape lay when it was read; None: not noted."""

    temperature_c: float | None = None
    pull_n: float | None = None
    supports: Supports | None = None


def length_correction(read_m: float, *, true_m: float, nominal_m: float) -> float:
    """Return ``L (true − nominal) / nominal``: a tape that is too long reads too little."""
    return read_m * (true_m - nominal_m) / nominal_m


def temperature_correction(
    read_m: float, *, temperature_c: float, standard_c: float, per_degree: float
) -> float:
    """Return ``α (T − T₀) L``: a warm tape is long and reads too little."""
    return per_degree * (temperature_c - standard_c) * read_m


def pull_correction(
    read_m: float, *, pull_n: float, standard_n: float, area_m2: float, modulus_pa: float
) -> float:
    """Return ``(P − P₀) L / (A E)``: a tape pulled harder is longer and reads too little."""
    return (pull_n - standard_n) * read_m / (area_m2 * modulus_pa)


def sag_correction(spans_m: tuple[float, ...], *, weight_n_per_m: float, pull_n: float) -> float:
    """Return ``−Σ w² l³ / (24 P²)`` over the free spans: the chord is shorter than the tape in its curve."""
    return -math.fsum(weight_n_per_m**2 * span_m**3 / (24 * pull_n**2) for span_m in spans_m)


def level_of_slope(slope_m: float, rise_m: float) -> float:
    """Return the level distance ``√(s² − v²)``; raises ValueError when the rise is not less than the tape."""
    if abs(rise_m) >= slope_m:
        message = "a rise as large as the length itself"
        raise ValueError(message)
    return math.sqrt(slope_m**2 - rise_m**2)


def spans(read_m: float, supports: Supports, *, nominal_m: float | None) -> tuple[float, ...]:
    """Return the free spans of a tape as it was laid; empty when it was supported throughout.

    Held at its ends it hangs over its own nominal length, laid again and again, and the rest; supported
    every so far, over so much and the rest; on a number of supports, in equal spans.
    """
    if supports.way == "throughout":
        return ()
    if supports.way == "number":
        parts = (supports.number or 2) - 1
        return (read_m / parts,) * parts
    every_m = supports.every_m if supports.way == "every" else nominal_m
    if every_m is None:
        return (read_m,)
    whole = int(read_m / every_m + 1e-9)
    rest_m = read_m - whole * every_m
    return (every_m,) * whole + ((rest_m,) if rest_m > 1e-9 * read_m else ())


def area_of(tape: Tape) -> float | None:
    """Return a tape's cross-section in square metres: given, or from the weight of its steel."""
    if tape.area_m2 is not None:
        return tape.area_m2
    if tape.weight_n is None or tape.nominal_m is None:
        return None
    return tape.weight_n / (tape.nominal_m * STEEL_KG_M3 * GRAVITY_M_S2)


def correction(read_m: float, tape: Tape, laid: Laid) -> float:
    """Return the sum of the corrections that what was noted allows, slope apart.

    Raises
    ------
    ValueError
        When a tape hangs free and its weight or pull is not known; the message says what is missing.
    """
    total_m = 0.0
    if tape.nominal_m is not None and tape.true_m is not None:
        total_m += length_correction(read_m, true_m=tape.true_m, nominal_m=tape.nominal_m)
    if laid.temperature_c is not None:
        total_m += temperature_correction(
            read_m,
            temperature_c=laid.temperature_c,
            standard_c=tape.temperature_c,
            per_degree=tape.expansion_per_c,
        )
    pull_n = laid.pull_n if laid.pull_n is not None else tape.pull_n
    area_m2 = area_of(tape)
    if laid.pull_n is not None and tape.pull_n is not None and area_m2 is not None:
        total_m += pull_correction(
            read_m,
            pull_n=laid.pull_n,
            standard_n=tape.pull_n,
            area_m2=area_m2,
            modulus_pa=tape.modulus_pa,
        )
    free = () if laid.supports is None else spans(read_m, laid.supports, nominal_m=tape.nominal_m)
    if free:
        if tape.weight_n is None or tape.nominal_m is None:
            message = "the tape hangs free, and its sag needs [tape] weight and nominal"
            raise ValueError(message)
        if pull_n is None:
            message = "the tape hangs free, and its sag needs the pull, in this row or as [tape] pull"
            raise ValueError(message)
        total_m += sag_correction(free, weight_n_per_m=tape.weight_n / tape.nominal_m, pull_n=pull_n)
    return total_m
