"""The cutting sheet: each stick, its pieces in order, where each saw cut comes, what is left."""

from __future__ import annotations

import math

from staking.base.quantities import KG_PER_POUND, mass_words, total_mass_words
from staking.pipes.cutlist import CutList, Stick
from staking.pipes.sizes import pipe_size
from staking.plan import Plan
from staking.sheets.notation import Notation, count_words
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table

_SIZE_PT = 12.0
_NONE = "–"
ONE_PERSON_KG = 51 * KG_PER_POUND
"""Load constant of the revised NIOSH lifting equation (Waters and others, 1994)."""
_NO_CUT_M = 5e-5
"""Less than this past the last piece is the stick's own end: no saw takes so little."""


def cut_sheet(plan: Plan, cuts: CutList, *, notation: Notation) -> Sheet:
    """Return the cutting sheet."""
    kerf = 0.0 if plan.book.job.pipe is None else plan.book.job.pipe.kerf_m
    return Sheet(
        name="cuts",
        title="Cutting",
        blocks=(
            _summary(plan, cuts, kerf, notation),
            _table(cuts, kerf, notation),
            _shopping(cuts, notation),
        ),
    )


def cut_ends_m(stick: Stick, kerf_m: float) -> tuple[float, ...]:
    """Return where the far end of each piece lies from the stick's first end: the running sum with kerfs."""
    ends, start = [], 0.0
    for piece in stick.pieces:
        ends.append(start + piece.length_m)
        start = ends[-1] + kerf_m
    return tuple(ends)


def _summary(plan: Plan, cuts: CutList, kerf_m: float, notation: Notation) -> Words:
    sticks = "stick" if cuts.count == 1 else "sticks"
    lines = [f"{cuts.count} {sticks}" + (f", cost {cuts.cost:.2f}." if cuts.cost is not None else ".")]
    if cuts.proven:
        lines.append(
            "Proven: no other way of cutting, with the joints anywhere they may be, "
            + ("costs less." if cuts.cost is not None else "takes fewer sticks.")
        )
    else:
        bound = f"{cuts.cost_bound:.2f}" if cuts.cost_bound is not None else f"{cuts.bound} sticks"
        lines.append(f"Not proven best: no cutting can do with less than {bound}.")
    lines.append(
        "Lay the tape along the stick once, from its square first end, and mark every “cut at” from that "
        f"one zero. The mark is the far end of the piece; the saw's kerf, {notation.small_words(kerf_m)}, "
        "lies beyond it."
    )
    pipe = plan.book.job.pipe
    if pipe is not None and pipe.joint == "threaded":
        lines.append(
            "Threaded: the first and the last piece of a stick keep its threaded ends; do not turn a stick "
            "round."
        )
    lines += [*cuts.warnings, *(f"{note}." for note in cuts.notes)]
    return Words(lines=tuple(lines))


def _shopping(cuts: CutList, notation: Notation) -> Table:
    """Return how many sticks of each kind to buy, how long and how heavy they are together."""
    kinds: dict[tuple[str, float, float | None], int] = {}
    for stick in cuts.sticks:
        kind = (stick.pipe, stick.stock_m, stick.price)
        kinds[kind] = kinds.get(kind, 0) + 1
    priced = all(price is not None for _, _, price in kinds)
    weights = {pipe: _kg_per_m(pipe) for pipe, _, _ in kinds}
    weighed = [stock * number * (weights[pipe] or 0.0) for (pipe, stock, _), number in kinds.items()]
    known = all(weight is not None for weight in weights.values())
    rows = [
        (
            pipe,
            notation.length(stock),
            str(number),
            notation.length(number * stock),
            _weight(weights[pipe], stock, notation),
            _weight(weights[pipe], number * stock, notation),
            *((f"{price:.2f}", f"{number * price:.2f}") if price is not None and priced else ()),
        )
        for (pipe, stock, price), number in kinds.items()
    ]
    columns = [
        Column(heading="Pipe", name="pipe", align="left", wide=True),
        Column(heading="Stick", name="stock", unit=notation.unit),
        Column(heading="Number", name="number", strong=True),
        Column(heading="Pipe in all", name="all", unit=notation.unit),
        Column(heading="A stick weighs", name="weight"),
        Column(heading="All weigh", name="weights"),
    ]
    totals: tuple[str, ...] = (
        "Total",
        "",
        str(cuts.count),
        notation.total(number * stock for (_, stock, _), number in kinds.items()),
        "",
        total_mass_words(weighed, feet=notation.style != "metric") if known else _NONE,
    )
    if priced:
        columns += [Column(heading="Price each", name="price"), Column(heading="Cost", name="cost")]
        total = math.fsum(number * (price or 0.0) for (_, _, price), number in kinds.items())
        totals = (*totals, "", f"{total:.2f}")
    notes = ["Weights are those of plain steel pipe by ASME B36.10M; zinc and couplings add some percent."]
    if any((weights[pipe] or 0.0) * stock > ONE_PERSON_KG for pipe, stock, _ in kinds):
        notes.append(
            "A stick is more than one person should lift: 51 lb (23 kg) is the NIOSH lifting equation's load "
            "constant. Two persons, or a cut before it is carried."
        )
    return Table(
        title="To buy or take from store",
        columns=tuple(columns),
        rows=tuple(rows),
        totals=totals,
        notes=tuple(notes) if any(weights.values()) else (),
    )


def _kg_per_m(pipe: str) -> float | None:
    """Return what a metre of pipe weighs, None of a person's own size: its wall is not known."""
    try:
        return pipe_size(pipe).kg_per_m
    except ValueError:
        return None


def _weight(kg_per_m: float | None, length_m: float, notation: Notation) -> str:
    return _NONE if kg_per_m is None else mass_words(kg_per_m * length_m, feet=notation.style != "metric")


def _table(cuts: CutList, kerf_m: float, notation: Notation) -> Table:
    unit = notation.unit
    rows: list[tuple[str, ...]] = []
    starts = []
    for n, stick in enumerate(cuts.sticks, start=1):
        if n > 1:
            starts.append(len(rows))
        ends = cut_ends_m(stick, kerf_m)
        for k, (piece, end) in enumerate(zip(stick.pieces, ends, strict=True)):
            last = k == len(stick.pieces) - 1
            rows.append(
                (
                    str(n),
                    notation.length(stick.stock_m) if k == 0 else "",
                    piece.piece,
                    notation.length(piece.length_m),
                    notation.length(end),
                    notation.length(stick.drop_m) if last else "",
                    "",
                )
            )
    pieces = [piece.length_m for stick in cuts.sticks for piece in stick.pieces]
    return Table(
        title="Stick by stick",
        columns=(
            Column(heading="Stick", name="stick", align="center"),
            Column(heading="Stock", name="stock", unit=unit),
            Column(heading="Piece", name="piece", align="left", strong=True),
            Column(heading="Length", name="length", unit=unit, strong=True),
            Column(heading="Cut at", name="cut_at", unit=unit, strong=True),
            Column(heading="Drop", name="drop", unit=unit),
            Column(heading="Sawn", name="sawn", kind="tick", align="center"),
        ),
        rows=tuple(rows),
        totals=(
            "Total",
            notation.total(stick.stock_m for stick in cuts.sticks),
            f"{len(pieces)} pieces",
            notation.total(pieces),
            "",
            notation.total(stick.drop_m for stick in cuts.sticks),
            "",
        ),
        size_pt=_SIZE_PT,
        rules_above=tuple(starts),
        notes=tuple(_notes(cuts, kerf_m, notation)),
    )


def _notes(cuts: CutList, kerf_m: float, notation: Notation) -> list[str]:
    pieces = [piece.length_m for stick in cuts.sticks for piece in stick.pieces]
    sawn = sum(_saw_cuts(stick, kerf_m) for stick in cuts.sticks)
    notes = [
        "Totals add up the lengths as they are printed: add a copied list and compare. "
        f"Stock less pieces less drop is what {count_words(sawn, 'saw cut')} of "
        f"{notation.small_words(kerf_m)} take, give or take the rounding."
    ]
    if sawn < len(pieces):
        notes.append(
            "Where nothing drops, the last piece ends with the stick: measure the stick first, "
            "it must not be short."
        )
    return notes


def _saw_cuts(stick: Stick, kerf_m: float) -> int:
    """Return how many cuts free the pieces: the last needs none where it ends with the stick."""
    end = cut_ends_m(stick, kerf_m)[-1]
    return len(stick.pieces) - (1 if stick.stock_m - end < _NO_CUT_M else 0)
