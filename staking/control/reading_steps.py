"""The step to which readings were written, against the accuracy taken: rounding is part of its error.

A length rounded to a step errs by step / √12, one standard deviation (uniform law, textbook). Nobody writes
the step down: it is the coarsest of the usual ones of which all readings of a kind are multiples.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from statistics import median

from staking.base.globe import step_rad
from staking.base.units import METRES_PER, told, told_fine
from staking.book.records import FieldBook

STEPS = (
    *((text, float(METRES_PER["in"]) * part) for text, part in (
        ("1 in", 1.0), ("1/2 in", 0.5), ("1/4 in", 0.25), ("1/8 in", 0.125), ("1/16 in", 0.0625),
    )),
    *((f"{part} ft", float(METRES_PER["ft"]) * part) for part in (0.1, 0.05, 0.02, 0.01, 0.005, 0.001)),
    *((f"{part} mm", part / 1000.0) for part in (100, 50, 20, 10, 5, 2, 1)),
)  # fmt: skip
"""Steps to which rods and tapes are read, with their names."""
LEAST_READINGS = 8
"""Fewer may all be multiples of a coarser step by chance: eight of double the step in 1 of 256."""
SAME_M = 1e-7
"""What is so near to a multiple of a step is one: rows hold whole numbers of small steps in metres."""
EARTH_M = 6_371_000.0
"""Mean radius of the earth."""
TOLD_SHARE = 0.5
"""Rounding that makes up less than half of the accuracy adds less than an eighth to it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rounded:
    """Readings of one kind whose step is a large part of their accuracy."""

    table: str
    key: str
    """Of [accuracy]."""
    step: str
    rounding_m: float
    taken_m: float

    @property
    def more_than_taken(self) -> bool:
        """Whether rounding alone errs by more than is taken for the whole reading."""
        return self.rounding_m > self.taken_m

    def words(self, show: str) -> str:
        """Return what rounding does to the accuracy taken, and what to write; sizes as lengths are shown."""

        def size(value_m: float) -> str:
            return told_fine(value_m, show)

        whole_m = math.hypot(self.rounding_m, self.taken_m)
        write = f'write {self.key} = "{size(whole_m)}" in [accuracy]'
        said = (
            f"{self.table} is read to {self.step}: rounding alone errs by {size(self.rounding_m)} (one "
            "standard deviation)"
        )
        if self.more_than_taken:
            return (
                f"{said}, more than the {size(self.taken_m)} taken for a reading, so that every ± here "
                f"flatters: {write}"
            )
        return (
            f"{said}. The {size(self.taken_m)} taken for a reading holds that too; if it is the instrument's "
            f"own, {write}, else every ± is {100 * (1 - self.taken_m / whole_m):.0f} % too small"
        )


def rounded(book: FieldBook) -> Iterator[Rounded]:
    """Return the kinds of readings whose step makes up half or more of the accuracy taken for them.

    Not offsets: shots on a grid are set out at round numbers, not rounded.
    """
    accuracy = book.job.accuracy
    rods = [
        value
        for row in book.levels
        if row.sd_m is None
        for value in (row.bs_m, row.is_m, row.fs_m)
        if value is not None
    ]
    for table, key, taken_m, values in (
        ("levels.csv", "rod", accuracy.rod_m, rods),
        ("rises.csv", "rise", accuracy.rise_m, [row.rise_m for row in book.rises if row.sd_m is None]),
        ("tapes.csv", "tape", accuracy.tape_m, [row.length_m for row in book.tapes if row.sd_m is None]),
    ):
        found = step_of(values)
        if found is None:
            continue
        step, step_m = found
        rounding_m = step_m / math.sqrt(12.0)
        if rounding_m > TOLD_SHARE * taken_m:
            yield Rounded(table=table, key=key, step=step, rounding_m=rounding_m, taken_m=taken_m)


def rounded_fixes(book: FieldBook) -> str | None:
    """Return a warning where fixes are written to fewer decimals than they are said to be good to.

    The step is the finest of all, for noughts at the end may be dropped; along the meridian.
    """
    steps_rad = [step_rad(row.read.get("lat", "")) for row in book.fixes]
    if not any(steps_rad):
        return None
    finest_rad = min(step for step in steps_rad if step)
    rounding_m = finest_rad * EARTH_M / math.sqrt(12.0)
    stated = [book.job.accuracy.fix_m if row.sd_h_m is None else row.sd_h_m for row in book.fixes]
    taken_m = median(stated)
    if rounding_m <= taken_m:
        return None
    style = "metres" if book.job.site.show == "metric" else "decimal feet"
    return (
        f"fixes.csv is written to {told(finest_rad * EARTH_M, style)}: rounding alone errs by "
        f"{told(rounding_m, style)} (one standard deviation), more than the {told(taken_m, style)} taken for "
        "a fix. Type all decimals that the receiver shows, or state an sd_h that holds it"
    )


def step_of(values_m: Iterable[float]) -> tuple[str, float] | None:
    """Return the coarsest step of which all readings are multiples, and its size; None where none shows."""
    different = sorted({round(abs(value), 7) for value in values_m})
    if len(different) < LEAST_READINGS:
        return None
    for step, step_m in sorted(STEPS, key=lambda one: -one[1]):
        if all(abs(math.remainder(value, step_m)) < SAME_M for value in different):
            return step, step_m
    return None
