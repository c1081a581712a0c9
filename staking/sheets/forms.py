"""Blank forms for this site: level book, rises, tape ties, hole log, the names already in.

Columns stand in the order of the tables they are typed into, so that typing in is copying.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from staking.control.kinds import key_of
from staking.plan import Plan
from staking.sheets.cautions import concrete, here, holes
from staking.sheets.concrete_table import concrete_tables
from staking.sheets.notation import Notation
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table

SPARE_ROWS = 8
"""Empty rows below the names, for what nobody foresaw."""
MOST_TIES = 15
"""Pairs of pins with a row of their own; the others find room in the spare rows."""
_SIZE_PT = 12.0
"""Rows high enough for a pencil in a cold hand."""


def form_sheets(plan: Plan, *, notation: Notation) -> tuple[Sheet, ...]:
    """Return the blank forms; of the hole log only where there are holes, of rises where some are read."""
    forms = [_level_book(plan)]
    if plan.book.rises:
        forms.append(_rises(plan))
    forms.append(_tape_ties(plan))
    if any(array.holes for array in plan.arrays):
        forms.append(_hole_log(plan, notation))
    return tuple(forms)


def _level_book(plan: Plan) -> Sheet:
    names = [*_marks(plan), *_piers(plan)]
    # Once over all marks and piers, and back to where it began: that is what closes.
    rows = [(name, *[""] * 7) for name in (*names, *names[:1])] + [("", *[""] * 7)] * SPARE_ROWS
    return Sheet(
        name="form_levels",
        title="Level book",
        blocks=(
            Words(
                lines=(
                    "For levels.csv: point, bs, is, fs, dist, note. A set-up opens with a BS on a known "
                    "point and closes with an FS; sight two pins again from each. HI = elevation + BS; "
                    "elevation = HI − IS or FS.",
                )
            ),
            Table(
                title="",
                columns=(
                    Column(heading="STA (point)", name="point", align="left", strong=True),
                    *_blank(
                        ("BS (+)", "bs"),
                        ("IFS (is)", "is"),
                        ("FS (−)", "fs"),
                        ("DIST", "dist"),
                        ("HI", "hi"),
                        ("ELEV", "elevation"),
                        ("REMARKS (note)", "note"),
                    ),
                ),
                rows=tuple(rows),
                notes=(
                    "Sum of BS ________ − sum of FS ________ = ________ = last ELEV − first ELEV ________",
                ),
                size_pt=_SIZE_PT,
            ),
        ),
    )


def _rises(plan: Plan) -> Sheet:
    marks = _marks(plan)
    # From the first mark to each other one, and from the last one back: that is what closes.
    pairs = [(marks[0], name) for name in marks[1:]] if marks else []
    pairs += [(marks[-1], marks[1])] if len(marks) > 2 else []
    pairs += [(marks[0], name) for name in _piers(plan)] if marks else []
    return Sheet(
        name="form_rises",
        title="Rises",
        blocks=(
            Words(
                lines=(
                    "For rises.csv: from, to, rise, note. With a water level or a line level measure from "
                    "either point up to the water or the string: rise = up at FROM − up at TO, + where TO is "
                    "higher. Read it twice: a water level after the water has run, a line level turned end "
                    "for end.",
                )
            ),
            _from_to(
                pairs,
                ("UP AT FROM", "up_from"),
                ("UP AT TO", "up_to"),
                ("RISE (+ or −)", "rise"),
                ("BY", "by"),
                ("NOTE", "note"),
            ),
        ),
    )


def _tape_ties(plan: Plan) -> Sheet:
    return Sheet(
        name="form_tapes",
        title="Tape ties",
        blocks=(
            Words(
                lines=(
                    "For tapes.csv: from, to, length, length2, how (level or slope), tape_rise, temperature, "
                    "pull, note. Read twice, the second time from another mark.",
                )
            ),
            _from_to(
                list(combinations(_pins(plan), 2))[:MOST_TIES],
                ("READ 1", "length"),
                ("READ 2", "length2"),
                ("LEVEL / SLOPE", "how"),
                ("RISE", "tape_rise"),
                ("TEMP", "temperature"),
                ("PULL", "pull"),
                ("HORIZ", "horizontal"),
                ("BY", "by"),
                ("NOTE", "note"),
            ),
        ),
        landscape=True,
    )


def _hole_log(plan: Plan, notation: Notation) -> Sheet:
    rows = [
        (array.pier_name(hole.pier), notation.length(hole.hole_depth_m), *[""] * 6)
        for array in plan.arrays
        for hole in array.holes
    ]
    return Sheet(
        name="form_holes",
        title="Hole log",
        blocks=(
            Words(
                lines=(
                    "Measure each hole before the post goes in, from the ground at the stake. Where rock or "
                    "a pipe stops the auger, write the depth and ask the engineer; leave the post uncut.",
                    *here(holes(), concrete()),
                )
            ),
            Table(
                title="",
                columns=(
                    Column(heading="Pier", name="pier", align="left", strong=True),
                    Column(heading="Hole depth wanted", name="wanted", unit=notation.unit),
                    *_blank(
                        ("Depth measured", "hole_depth"),
                        ("Covered", "covered"),
                        ("Off its mark", "off"),
                        ("Poured on", "poured"),
                        ("By", "by"),
                        ("Note", "note"),
                    ),
                ),
                rows=tuple(rows),
                size_pt=_SIZE_PT,
            ),
            *concrete_tables(plan, notation=notation),
        ),
    )


def _from_to(pairs: Sequence[tuple[str, str]], *named: tuple[str, str]) -> Table:
    """Return a table with a row for each pair of points, and spare rows, of columns to write in."""
    empty = [""] * len(named)
    return Table(
        title="",
        columns=(
            Column(heading="FROM", name="from", align="left", strong=True),
            Column(heading="TO", name="to", align="left", strong=True),
            *_blank(*named),
        ),
        rows=tuple((start, to, *empty) for start, to in (*pairs, *[("", "")] * SPARE_ROWS)),
        size_pt=_SIZE_PT,
    )


def _blank(*named: tuple[str, str]) -> tuple[Column, ...]:
    return tuple(Column(heading=heading, name=name, kind="blank", align="left") for heading, name in named)


def _marks(plan: Plan) -> list[str]:
    """Return benchmarks, then pins, in the order of the survey."""
    points = plan.adjustment.points
    kinds = ("benchmark", "pin")
    return [
        name for kind in kinds for name, own in zip(points.names, points.kinds, strict=True) if own == kind
    ]


def _pins(plan: Plan) -> list[str]:
    points = plan.adjustment.points
    return [name for name, kind in zip(points.names, points.kinds, strict=True) if kind == "pin"]


def _piers(plan: Plan) -> list[str]:
    lost = {key_of(row.point) for row in plan.book.lost}
    names = [array.pier_name(name) for array in plan.arrays for name in array.fit.piers.names]
    return [name for name in names if key_of(name) not in lost]
