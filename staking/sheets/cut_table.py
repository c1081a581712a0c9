"""The cutting sheet: each stick, its pieces in order, where each saw cut comes, what is left."""

from __future__ import annotations

from staking.pipes.cutlist import Again, CutList, Stick
from staking.plan import Plan
from staking.sheets.buy_table import joints_apart
from staking.sheets.carry_table import carry_tables
from staking.sheets.cautions import here, sparks, zinc
from staking.sheets.going import by_piece, going
from staking.sheets.notation import Notation, count_words
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table

_SIZE_PT = 12.0
_UPRIGHT_COLUMNS = 10
"""More columns of sticks do not go beside each other on an upright page: numbers would break."""
_NO_CUT_M = 5e-5
"""Less than this past the last piece is the stick's own end: no saw takes so little."""


def cut_sheet(plan: Plan, cuts: CutList, *, notation: Notation) -> Sheet:
    """Return the cutting sheet."""
    table = _table(plan, cuts, notation)
    return Sheet(
        name="cuts",
        title="Cutting",
        blocks=(_summary(plan, cuts, notation), table, *carry_tables(plan, cuts, notation=notation)),
        landscape=len(table.columns) > _UPRIGHT_COLUMNS,
    )


def cut_ends_m(stick: Stick, kerf_m: float) -> tuple[float, ...]:
    """Return where each piece is marked, from the stick's first end.

    That is its far end: the running sum with kerfs. A last piece that keeps the thread of the stick's other
    end is marked at its near end instead, so much short of that end.
    """
    ends, start = [], 0.0
    for piece in stick.pieces:
        ends.append(start + piece.length_m)
        start = ends[-1] + kerf_m
    if stick.last_from_far_end:
        ends[-1] = stick.stock_m - stick.pieces[-1].length_m
    return tuple(ends)


def _kerf_m(plan: Plan) -> float:
    return 0.0 if plan.book.job.pipe is None else plan.book.job.pipe.kerf_m


def _useful_drop_m(plan: Plan) -> float | None:
    return None if plan.book.job.pipe is None else plan.book.job.pipe.useful_drop_m


def _summary(plan: Plan, cuts: CutList, notation: Notation) -> Words:
    stored = f", {cuts.on_hand} of them on hand" if cuts.on_hand else ""
    lines = [
        count_words(cuts.count, "stick")
        + stored
        + (f", cost {cuts.cost:.2f}." if cuts.cost is not None else "."),
        *joints_apart(plan.book.job, cuts),
    ]
    if cuts.again is not None and not cuts.sticks:
        lines.append("Every piece is sawn: nothing is left to do here.")
    elif cuts.proven:
        lines.append(
            "Proven: no other way of cutting, with the joints anywhere they may be, "
            + (
                "costs less."
                if cuts.cost is not None
                else "takes fewer sticks."
                if cuts.again is None
                else "takes less pipe that must be bought."
            )
        )
    elif cuts.again is not None and not cuts.cost_bound:
        lines.append("Not proven best: it is not ruled out that what is left does without buying.")
    else:
        bound = f"{cuts.cost_bound:.2f}" if cuts.cost_bound is not None else f"{cuts.bound} sticks"
        lines.append(f"Not proven best: no cutting can do with less than {bound}.")
    lines.append(
        "Lay the tape along the stick once, from its square first end, and mark every “cut at” from that "
        f"one zero. The mark is the far end of the piece; the saw's kerf, "
        f"{notation.small_words(_kerf_m(plan))}, lies beyond it."
    )
    pipe = plan.book.job.pipe
    if pipe is not None and pipe.joint == "threaded":
        lines.append(
            "Threaded: the first and the last piece of a stick keep its threaded ends; do not turn a stick "
            "round."
        )
    if any(stick.last_from_far_end for stick in cuts.sticks):
        lines.append(
            "A piece marked “to the end” keeps the thread of the stick's other end: its mark is its near "
            "end, the kerf lies short of it, and what drops lies before it."
        )
    if cuts.again is not None:
        lines += _again_lines(cuts, cuts.again)
    lines += [*cuts.warnings, *(f"{note}." for note in cuts.notes)]
    lines.append("Deburr each end; coat bare steel before a fitting hides it: zinc-rich repair, ASTM A780.")
    lines += here(f"{zinc()} {sparks(notation)}")
    return Words(lines=tuple(lines))


def _again_lines(cuts: CutList, again: Again) -> list[str]:
    done = ", ".join(piece.piece for piece in again.sawn)
    return [
        "CUT AGAIN from what is left (sawn.csv). Only lines with a word under CHANGED are other than on the "
        "list that was sawn from. A stick from which something was sawn is measured anew from its fresh end; "
        "“left” is pipe that was on no list.",
        f"Sawn and good, not listed here: {done or 'nothing'}. To buy: {count_words(again.to_buy, 'stick')}.",
    ]


def _table(plan: Plan, cuts: CutList, notation: Notation) -> Table:
    unit, kerf_m, useful_drop_m = notation.unit, _kerf_m(plan), _useful_drop_m(plan)
    goes = by_piece(going(plan, cuts))
    rows: list[tuple[str, ...]] = []
    starts = []
    marks: list[float] = []
    stored, again = cuts.on_hand > 0, cuts.again
    sizes = len({stick.pipe for stick in cuts.sticks}) > 1
    for n, stick in enumerate(cuts.sticks, start=1):
        if n > 1:
            starts.append(len(rows))
        ends = cut_ends_m(stick, kerf_m)
        marks += ends
        for k, (piece, end) in enumerate(zip(stick.pieces, ends, strict=True)):
            last = k == len(stick.pieces) - 1
            useful = stick.useful(useful_drop_m)
            to = "" if piece.piece not in goes else goes[piece.piece].briefly
            if last and stick.last_from_far_end:
                to = f"{to}; to the end".removeprefix("; ")
            use = "" if not last or stick.drop_m == 0.0 else "keep" if useful else "scrap"
            rows.append(
                (
                    stick.name or str(n),
                    *((stick.pipe if k == 0 else "",) if sizes else ()),
                    *((("hand" if stick.on_hand else "buy") if k == 0 else "",) if stored else ()),
                    notation.length(stick.stock_m) if k == 0 else "",
                    piece.piece,
                    *((again.changed.get(piece.piece, ""),) if again is not None else ()),
                    to,
                    notation.length(piece.length_m),
                    notation.length(end),
                    notation.length(stick.drop_m) if last else "",
                    *((use,) if useful is not None else ()),
                    "",
                )
            )
    pieces = [piece.length_m for stick in cuts.sticks for piece in stick.pieces]
    judged = useful_drop_m is not None
    kept = sum(bool(stick.useful(useful_drop_m)) for stick in cuts.sticks)
    return Table(
        title="Stick by stick",
        columns=(
            Column(heading="Stick", name="stick", align="center"),
            *([Column(heading="Pipe", name="pipe", align="left")] if sizes else []),
            *([Column(heading="From", name="from", align="left")] if stored else []),
            Column(heading="Stock", name="stock", unit=unit),
            Column(heading="Piece", name="piece", align="left", strong=True),
            *(
                [Column(heading="CHANGED", name="changed", align="left", wide=True)]
                if again is not None
                else []
            ),
            Column(heading="Goes to", name="goes_to", align="left"),
            Column(heading="Length", name="length", unit=unit, strong=True),
            Column(heading="Cut at", name="cut_at", unit=unit, strong=True),
            Column(heading="Drop", name="drop", unit=unit),
            *([Column(heading="Drop is to", name="use", align="left")] if judged else []),
            Column(heading="Sawn", name="sawn", kind="tick", align="center"),
        ),
        rows=tuple(rows),
        totals=(
            "Total",
            *(("",) if sizes else ()),
            *(("",) if stored else ()),
            notation.total(stick.stock_m for stick in cuts.sticks),
            f"{len(pieces)} pieces",
            *((f"{len(again.changed)} changed",) if again is not None else ()),
            "",
            notation.total(pieces),
            "",
            notation.total(stick.drop_m for stick in cuts.sticks),
            *((f"keep {kept}",) if judged else ()),
            "",
        ),
        size_pt=_SIZE_PT,
        rules_above=tuple(starts),
        notes=tuple(_notes(cuts, marks, kerf_m, useful_drop_m, notation)),
    )


def _notes(
    cuts: CutList, marks: list[float], kerf_m: float, useful_drop_m: float | None, notation: Notation
) -> list[str]:
    pieces = [piece.length_m for stick in cuts.sticks for piece in stick.pieces]
    sawn = sum(_saw_cuts(stick, kerf_m) for stick in cuts.sticks)
    notes = [
        "Totals add up the lengths as they are printed. Stock less pieces less drop is what "
        f"{count_words(sawn, 'saw cut')} of {notation.small_words(kerf_m)} take, give or take the rounding. "
        f"To prove a copied list: all marks “cut at” add up to {notation.total_words(marks)}, which is no "
        "length of pipe."
    ]
    if sawn < len(pieces):
        notes.append(
            "Where nothing drops, the last piece ends with the stick: measure the stick first, "
            "it must not be short."
        )
    if useful_drop_m is not None:
        kept = [stick.drop_m for stick in cuts.sticks if stick.useful(useful_drop_m)]
        notes.append(
            f"Drops of {notation.words(useful_drop_m)} or more are worth keeping: {len(kept)}, "
            f"{notation.total_words(kept)} together."
        )
    return notes


def _saw_cuts(stick: Stick, kerf_m: float) -> int:
    """Return how many cuts free the pieces: the last needs none where it ends with the stick."""
    ends = cut_ends_m(stick, kerf_m)
    if stick.last_from_far_end and len(ends) > 1:
        spare_m = ends[-1] - ends[-2] - kerf_m
    else:
        spare_m = stick.stock_m - stick.pieces[-1].length_m - (ends[-2] + kerf_m if len(ends) > 1 else 0.0)
    return len(stick.pieces) - (1 if spare_m < _NO_CUT_M else 0)
