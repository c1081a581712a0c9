"""The squareness sheet: sides and diagonals of the outer stakes, with room for what the tape shows."""

from __future__ import annotations

from collections.abc import Sequence

from staking.marks.stakeout import Side
from staking.plan import ArrayPlan, Plan
from staking.sheets.notation import Notation
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table
from staking.sheets.true_table import off_mark_table, true_table

_SIZE_PT = 12.0


def squareness_sheet(plan: Plan, array: ArrayPlan, *, notation: Notation) -> Sheet:
    """Return the sheet that proves the outer stakes square."""
    title = "Squareness" + (f", {array.title}" if array.title else "")
    return Sheet(
        name="squareness",
        title=title,
        blocks=(
            Words(
                lines=(
                    "Measure each length from stake to stake, tack to tack, and write it down. Either hold "
                    "the tape level and compare with “level”, or lay it straight from stake to stake and "
                    "compare with “on slope”.",
                    "In plan the stakes form a true rectangle: the two diagonals are equal measured level. "
                    "On sloping ground they are NOT equal as the tape lies; do not force them.",
                    "Equal diagonals do not prove the array: a trapezoid has them too, and so has a "
                    "rectangle in the wrong place. Sides and ties to the pins must be right as well.",
                ),
            ),
            _table("Sides", array.stakeout.sides, notation),
            _table("Diagonals", array.stakeout.diagonals, notation),
            *_other_sections(array, notation),
            true_table(plan, array, notation=notation),
            *(() if (off := off_mark_table(plan, array, notation=notation)) is None else (off,)),
        ),
    )


def _other_sections(array: ArrayPlan, notation: Notation) -> list[Table]:
    """Return what proves a section square with the one to its left, and the last one with all."""
    tables = []
    if array.across:
        tables.append(_table(f"From section {array.job.section - 1} across the gap", array.across, notation))
    if array.over_all:
        tables.append(_table("Over all sections", array.over_all, notation))
    return tables


def _table(title: str, sides: Sequence[Side], notation: Notation) -> Table:
    unit = notation.unit
    return Table(
        title=title,
        columns=(
            Column(heading="From–to", name="side", align="left", strong=True),
            Column(heading="Level", name="level", unit=unit, strong=True),
            Column(heading="On slope", name="slope", unit=unit, strong=True),
            Column(heading="Measured", name="measured", kind="blank"),
            Column(heading="Difference", name="difference", kind="blank"),
            Column(heading="By", name="by", kind="blank"),
        ),
        rows=tuple(
            (side.name, notation.length(side.level_m), notation.length(side.slope_m), "", "", "")
            for side in sides
        ),
        size_pt=_SIZE_PT,
    )
