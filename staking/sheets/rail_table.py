"""Where the rails cross the beams: from the beam's end and either end post, and what proves them square."""

from __future__ import annotations

import math
from collections.abc import Sequence

from staking.layout.frame import Beam
from staking.plan import ArrayPlan
from staking.sheets.notation import Notation
from staking.sheets.table import Column, Table

_SIZE_PT = 11.5
_BEAMS = 2
"""Beams beside each other: three columns each."""


def rail_tables(array: ArrayPlan, *, notation: Notation) -> list[Table]:
    """Return the rails' marks, some beams a table."""
    beams = array.fit.beams
    return [_rails(array, beams[k : k + _BEAMS], notation) for k in range(0, len(beams), _BEAMS)]


def _rails(array: ArrayPlan, beams: Sequence[Beam], notation: Notation) -> Table:
    unit, first = notation.unit, array.job.first_pier
    columns = [Column(heading="Rail", name="rail", align="center", strong=True)]
    for beam in beams:
        letter = array.beam_letter(beam.letter)
        start, end = (array.pier_name(f"{beam.letter}{first + k}") for k in (0, len(beam.posts_m) - 1))
        columns += [
            Column(heading=f"Beam {letter}, from its left end", name=f"beam_{letter.lower()}", unit=unit),
            Column(heading=f"from {start}", name=f"from_{start.lower()}", unit=unit),
            Column(heading=f"from {end}", name=f"from_{end.lower()}", unit=unit),
        ]
    rows = []
    for n in range(len(beams[0].rails_m)):
        row = [str(n + 1)]
        for beam in beams:
            at = beam.rails_m[n]
            row += [
                notation.length(at),
                _from_post(at - beam.posts_m[0], notation),
                _from_post(at - beam.posts_m[-1], notation),
            ]
        rows.append(tuple(row))
    return Table(
        title="Rails along the beam",
        columns=tuple(columns),
        rows=tuple(rows),
        size_pt=_SIZE_PT,
        notes=("Left and right are seen from the low side. Mark from one post, prove from the other.",),
    )


def _from_post(along_m: float, notation: Notation) -> str:
    """Return how far a rail lies from a post and on which side; never a minus sign to puzzle over."""
    text = notation.length(abs(along_m))
    if text == notation.length(0.0):
        return text
    return f"{text} {'right' if along_m > 0.0 else 'left'}"


def rail_square(array: ArrayPlan, *, notation: Notation) -> Table | None:
    """Return sides and diagonals of the outer rails' marks, lying in the array's own plane; None of one beam.

    Rails are square to the beams, so the marks of the outer rails on the outer beams are a true rectangle in
    that plane whatever the cross-slope, of the rails' distance along the beams and the beams' up the rails.
    """
    beams, at = array.fit.beams, array.job.frame.beams_at_m
    if len(beams) < 2 or len(beams[0].rails_m) < 2:
        return None
    low, high = (array.beam_letter(beam.letter) for beam in (beams[0], beams[-1]))
    last = len(beams[0].rails_m)
    along, up = beams[0].rails_m[-1] - beams[0].rails_m[0], at[-1] - at[0]
    rows = (
        (f"rail 1 to rail {last}: along {low}; along {high}", along),
        (f"{low} to {high}: along rail 1; along rail {last}", up),
        (f"rail 1 on {low} to rail {last} on {high}; the other diagonal", math.hypot(along, up)),
    )
    return Table(
        title="Square in the array's own plane",
        columns=(
            Column(heading="From mark to mark, on the beams", name="between", align="left"),
            Column(heading="Length", name="length", unit=notation.unit, strong=True),
            Column(heading="The first", name="first", kind="blank"),
            Column(heading="The second", name="second", kind="blank"),
            Column(heading="By", name="by", kind="blank"),
        ),
        rows=tuple((between, notation.length(length), "", "", "") for between, length in rows),
        size_pt=_SIZE_PT,
        notes=(
            "Taped from mark to mark up the slope. Here the diagonals ARE equal: shift a beam along itself "
            "until they are.",
        ),
    )
