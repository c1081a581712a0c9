"""The as-built sheet: every top as designed, with room for what the rod shows after the concrete holds."""

from __future__ import annotations

from staking.plan import ArrayPlan, Plan
from staking.sheets.notation import Notation
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table

_SIZE_PT = 12.0
"""Rows high enough for a pencil."""


def as_built_sheet(plan: Plan, array: ArrayPlan, *, notation: Notation) -> Sheet:
    """Return the sheet of one array; the columns to fill are those of built.csv, in its order."""
    title = "As built" + (f", {array.title}" if array.title else "")
    lengths, unit, tolerance = array.fit.lengths, notation.unit, plan.book.job.tolerance
    small = notation.small_words
    beams = [int(b) for b in array.fit.piers.beam]
    table = Table(
        title="",
        columns=(
            Column(heading="Pier", name="pier", align="left", strong=True),
            Column(heading="Top, designed", name="design_top", unit=unit, strong=True),
            *(
                Column(heading=heading, name=name, kind="blank", align="left")
                for heading, name in (
                    ("ROD", "rod"),
                    ("HI", "hi"),
                    ("TOP measured", "top"),
                    ("DIFFERENCE", "difference"),
                    ("VERDICT", "verdict"),
                    ("BY", "by"),
                    ("NOTE", "note"),
                )
            ),
        ),
        rows=tuple(
            (array.pier_name(name), notation.length(float(top)), *[""] * 7)
            for name, top in zip(array.fit.piers.names, lengths.top_m, strict=True)
        ),
        rules_above=tuple(i for i in range(1, len(beams)) if beams[i] != beams[i - 1]),
        size_pt=_SIZE_PT,
    )
    how = Words(
        lines=(
            "From a new set-up, after the posts are cut: sight the benchmark, then the top of every post, "
            "then the benchmark again. TOP = HI − ROD; DIFFERENCE = measured − designed, high is +.",
            f"VERDICT: right when within {small(tolerance.tops_m)} of the design and within "
            f"{small(tolerance.neighbours_m)} of its neighbour's difference; else high or low, and by how "
            "much. High can be cut; ask the engineer before a low post is packed.",
        ),
    )
    return Sheet(name="as_built", title=title, blocks=(how, table), landscape=True)
