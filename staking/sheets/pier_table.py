"""The pier sheet: how long each post stands out of the ground, and its hole."""

from __future__ import annotations

from collections.abc import Sequence

from staking.pipes.concrete import concrete_of
from staking.plan import ArrayPlan, Plan
from staking.sheets.cautions import augers, here, holes, utilities
from staking.sheets.concrete_table import order_words, over_dig_words
from staking.sheets.notation import Notation
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table

_READ_AT_ARMS_LENGTH_PT = 12.0


def pier_sheet(plan: Plan, sections: Sequence[ArrayPlan], *, notation: Notation) -> Sheet:
    """Return the sheet of one array's piers, all its sections'."""
    title = "Piers" + (f", {sections[0].name}" if sections[0].name else "")
    return Sheet(
        name="piers",
        title=title,
        blocks=(
            _table(sections, notation),
            _notes(plan, sections, notation),
        ),
        landscape=True,
    )


def _table(sections: Sequence[ArrayPlan], notation: Notation) -> Table:
    unit = notation.unit
    rows: list[tuple[str, ...]] = []
    starts, last = [], None
    piers = [(array, i, hole) for array in sections for i, hole in enumerate(array.holes)]
    for array, i, hole in piers:
        lengths = array.fit.lengths
        beam = (array.job.section, int(array.fit.piers.beam[i]))
        if last is not None and beam != last:
            starts.append(len(rows))
        last = beam
        rows.append(
            (
                array.pier_name(hole.pier),
                notation.place(float(lengths.ground_m[i])),
                notation.length(float(lengths.above_grade_m[i])),
                notation.sd(float(lengths.sd_above_grade_m[i])),
                notation.place(float(lengths.top_m[i])),
                notation.length(hole.post_length_m),
                notation.length(hole.hole_depth_m),
                notation.length(hole.embedment_m),
                notation.small(hole.lip_m),
                notation.small(hole.bottom_cover_m),
                "",
            )
        )
    totals = (
        "Total",
        "",
        notation.total(float(array.fit.lengths.above_grade_m[i]) for array, i, _ in piers),
        "",
        "",
        notation.total(hole.post_length_m for _, _, hole in piers),
        notation.total(hole.hole_depth_m for _, _, hole in piers),
        "",
        "",
        "",
        "",
    )
    return Table(
        title="",
        columns=(
            Column(heading="Pier", name="pier", align="left", strong=True),
            Column(heading="Ground at stake", name="ground", unit=notation.place_unit),
            Column(heading="ABOVE-GRADE LENGTH", name="above_grade", unit=unit, strong=True, main=True),
            Column(heading="±", name="sd_above_grade", unit=unit),
            Column(heading="Top of post, elevation", name="top", unit=notation.place_unit),
            Column(heading="Post length with allowance", name="post_length", unit=unit, strong=True),
            Column(heading="Hole depth", name="hole_depth", unit=unit, strong=True),
            Column(heading="Embedment", name="embedment", unit=unit),
            Column(heading="Lip", name="lip", unit=unit),
            Column(heading="Bottom cover", name="bottom_cover", unit=unit),
            Column(heading="Done", name="done", kind="tick", align="center"),
        ),
        rows=tuple(rows),
        totals=totals,
        size_pt=_READ_AT_ARMS_LENGTH_PT,
        rules_above=tuple(starts),
    )


def _notes(plan: Plan, sections: Sequence[ArrayPlan], notation: Notation) -> Words:
    dug = [hole for array in sections for hole in array.holes]
    sd_top_m = max(array.fit.lengths.sd_top_m for array in sections)
    sd_neighbour_m = max(array.fit.lengths.sd_top_neighbour_m for array in sections)
    lines = [
        "Above-grade length: from the ground at the stake, as it lay when it was shot, to the top end of "
        "the post. Post length: above-grade length + embedment + lip + the allowance that is sawn off at "
        "the mark; it is the length in the cut list.",
        "Hole depth is at the centre of the hole. The lip is what the ground falls from there to the place "
        "that embedment counts from.",
        "± is one standard deviation of the above-grade length. A top stands "
        f"{_bare(sd_top_m, notation)} against the benchmark, and "
        f"{_bare(sd_neighbour_m, notation)} against its neighbour's marked from the same set-up: "
        "the rails are true when the cut marks are.",
    ]
    rooms = [hole.off_mark_m for hole in dug if hole.off_mark_m is not None]
    if rooms:
        lines.append(
            f"A post may stand up to {notation.small_words(min(rooms))} off the middle of its hole before "
            "the concrete at its side is too thin."
        )
    if plan.book.job.pipe is not None:
        lines.append(
            f"Cut allowance {notation.small_words(plan.book.job.pipe.cut_allowance_m)}: saw each post to its "
            "mark after it is set and plumb."
        )
    footing = plan.book.job.footing
    if footing is not None and dug:
        whole = order_words(concrete_of(dug), footing, notation)
        lines.append(f"Concrete in all {whole}: {over_dig_words(footing)}.")
    lines.append("Totals add up the lengths as they are printed: add a copied list and compare.")
    lines += here(utilities(), holes(), augers())
    return Words(lines=tuple(lines), size_pt=9.5)


def _bare(sd_m: float, notation: Notation) -> str:
    text = notation.sd(sd_m)
    return f"{text} {notation.unit}" if notation.unit else text
