"""The as-built sheet: every top as designed, with room for what the rod shows after the concrete holds."""

from __future__ import annotations

from staking.base.units import from_unit
from staking.marks.squareness import top_to_top
from staking.plan import ArrayPlan, Plan
from staking.sheets.notation import Notation
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table

_SIZE_PT = 12.0
"""Rows high enough for a pencil."""
_SAG_M = (from_unit(1 / 8, "in"), from_unit(3 / 8, "in"))
"""What a string of 40 ft sags, pulled by hand: common practice, no source."""


def as_built_sheet(plan: Plan, array: ArrayPlan, *, notation: Notation) -> Sheet:
    """Return the sheet of one array; the columns to fill are those of built.csv, in its order."""
    title = "As built" + (f", {array.title}" if array.title else "")
    lengths, tolerance = array.fit.lengths, plan.book.job.tolerance
    small = notation.small_words
    beams = [int(b) for b in array.fit.piers.beam]
    table = Table(
        title="",
        columns=(
            Column(heading="Pier", name="pier", align="left", strong=True),
            Column(heading="Top, designed", name="design_top", unit=notation.place_unit, strong=True),
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
            (array.pier_name(name), notation.place(float(top)), *[""] * 7)
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
    blocks: list[Words | Table] = [how, table]
    if (frame := _frame(array, notation)) is not None:
        blocks.append(frame)
    return Sheet(name="as_built", title=title, blocks=tuple(blocks), landscape=True)


def _frame(array: ArrayPlan, notation: Notation) -> Table | None:
    """Return the outer posts' tops from one another, with room for the tape; None of a single post."""
    sides = top_to_top(array.fit_in_full)
    if not sides:
        return None
    string_m = 12.0 if notation.style == "metric" else from_unit(40, "ft")
    least, most = (notation.small_words(sag_m) for sag_m in _SAG_M)
    return Table(
        title="From top to top",
        columns=(
            Column(heading="Post to post", name="side", align="left", strong=True),
            Column(heading="Designed", name="designed", unit=notation.unit, strong=True),
            *(
                Column(heading=heading, name=heading.lower(), kind="blank", align="left")
                for heading in ("MEASURED", "DIFFERENCE", "BY")
            ),
        ),
        rows=tuple((side.name, notation.length(side.slope_m), "", "", "") for side in sides),
        size_pt=_SIZE_PT,
        notes=(
            "Taped from middle to middle of the tops, as the tape lies. A string shows bends in plan only: "
            f"{notation.words(string_m)} of it sag by {least} to {most}.",
        ),
    )
