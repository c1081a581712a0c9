"""One row of tapes.csv to the length that enters the adjustment, with its standard deviation."""

from __future__ import annotations

import math
from dataclasses import dataclass

from staking.base.errors import Mistake
from staking.base.units import in_unit
from staking.book.records import Job, TapeRow
from staking.control.tape_corrections import Laid, correction, level_of_slope

TWICE_SDS = 3.0
"""Two readings of one laying may differ by so many times the sd of their difference before it is told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueTape:
    """A taped length, corrected."""

    length_m: float
    sd_m: float
    is_level: bool


def true_tape(row: TapeRow, job: Job, mistakes: list[Mistake], warnings: list[str]) -> TrueTape | None:
    """Return the corrected length of a row; None after a mistake, which is added to the list.

    Two readings of one laying enter as their mean with the sd of one: they share marks, pull and heat, so the
    second guards against a misread number and makes nothing more exact.
    """

    def wrong(column: str, problem: str, remedy: str) -> None:
        mistakes.append(
            Mistake(
                file=row.table,
                row=row.row,
                column=column,
                read=row.read.get(column),
                problem=problem,
                remedy=remedy,
            )
        )

    read_m = row.length_m
    sd_m = math.hypot(job.accuracy.tape_m, job.accuracy.tape_per_m * read_m) if row.sd_m is None else row.sd_m
    if row.length2_m is not None:
        apart_m = abs(row.length2_m - read_m)
        if apart_m > TWICE_SDS * math.sqrt(2) * sd_m:
            unit = job.site.units
            warnings.append(
                f"{row.table}, row {row.row}: length and length2 differ by {in_unit(apart_m, unit):.3f} "
                f"{unit}; their mean is taken, but one of them is misread"
            )
        read_m = (read_m + row.length2_m) / 2
    laid = Laid(temperature_c=row.temperature_c, pull_n=row.pull_n, supports=row.supports)
    try:
        true_m = read_m + correction(read_m, job.tape, laid)
    except ValueError as error:
        wrong("supports", str(error), "Give them, or write throughout if the tape lay on the ground.")
        return None
    if row.tape_rise_m is None and row.tape_slope_rad is None:
        return TrueTape(length_m=true_m, sd_m=sd_m, is_level=row.how == "level")
    column = "tape_rise" if row.tape_rise_m is not None else "tape_slope"
    if row.tape_rise_m is not None and row.tape_slope_rad is not None:
        wrong("tape_slope", "tape_rise says the same already", "Keep one of them.")
        return None
    if row.how == "level" and row.read.get("how"):
        wrong(column, "the tape was held level, and its ends differ in height", "Write slope under how.")
        return None
    if row.tape_slope_rad is not None:
        rise_m = true_m * math.sin(row.tape_slope_rad)
        sd_rise_m = true_m * math.cos(row.tape_slope_rad) * job.accuracy.slope_rad
    else:
        assert row.tape_rise_m is not None
        rise_m, sd_rise_m = row.tape_rise_m, job.accuracy.rise_m
    try:
        level_m = level_of_slope(true_m, rise_m)
    except ValueError as error:
        wrong(column, str(error), "Check both.")
        return None
    # H = √(s² − v²), dH = (s ds − v dv) / H; or H = s cos θ, dH = cos θ ds − v dθ, where dv = H dθ.
    along = level_m / true_m if row.tape_slope_rad is not None else true_m / level_m
    return TrueTape(
        length_m=level_m, sd_m=math.hypot(along * sd_m, rise_m / level_m * sd_rise_m), is_level=True
    )
