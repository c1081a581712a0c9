"""Posts and beams' pieces in the order in which they are carried, with what to write on each."""

from __future__ import annotations

from dataclasses import dataclass

from staking.base.quantities import mass_words, total_mass_words
from staking.pipes.cutlist import CutList
from staking.pipes.stock import weights_kg_per_m
from staking.plan import Plan
from staking.sheets.going import Going, going
from staking.sheets.notation import Notation, count_words
from staking.sheets.table import Column, Table

_SIZE_PT = 11.0
NONE = "–"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sawn:
    """One piece as it comes from the saw."""

    going: Going
    length_m: float
    stick: str
    kg: float | None


def carry_tables(plan: Plan, cuts: CutList, *, notation: Notation) -> tuple[Table, ...]:
    """Return the table of posts and that of beams' pieces."""
    every = _sawn(plan, cuts)
    posts = [one for one in every if one.going.is_post]
    parts = [one for one in every if not one.going.is_post]
    tables = []
    if posts:
        tables.append(_posts(posts, notation))
    if parts:
        joined = len({(one.going.array, one.going.beam) for one in parts}) < len(parts)
        tables.append(_parts(parts, notation, _couplings(plan, notation) if joined else ()))
    return tuple(tables)


def _sawn(plan: Plan, cuts: CutList) -> list[_Sawn]:
    weights = weights_kg_per_m(plan.book.job)
    cut = {
        piece.piece: (piece.length_m, stick.name or str(number), weights.get(stick.pipe))
        for number, stick in enumerate(cuts.sticks, start=1)
        for piece in stick.pieces
    }
    every = []
    for one in going(plan, cuts):
        if one.piece in cut:
            length_m, stick, kg_per_m = cut[one.piece]
            kg = None if kg_per_m is None else kg_per_m * length_m
            every.append(_Sawn(going=one, length_m=length_m, stick=stick, kg=kg))
    return every


def _rules(every: list[_Sawn]) -> tuple[int, ...]:
    """Return the rows that begin another row of posts or another beam."""
    rows = [(one.going.array, one.going.beam) for one in every]
    return tuple(k for k in range(1, len(rows)) if rows[k] != rows[k - 1])


def _weight(kg: float | None, notation: Notation) -> str:
    return NONE if kg is None else mass_words(kg, feet=notation.style != "metric")


def _all_weigh(every: list[_Sawn], notation: Notation) -> str:
    known = [one.kg for one in every if one.kg is not None]
    if len(known) < len(every):
        return NONE
    return total_mass_words(known, feet=notation.style != "metric")


def _posts(posts: list[_Sawn], notation: Notation) -> Table:
    return Table(
        title="Posts, as they are carried",
        columns=(
            Column(heading="Post", name="piece", align="left", strong=True),
            Column(heading="Write on it", name="label", align="left"),
            Column(heading="Length", name="length", unit=notation.unit, strong=True),
            Column(heading="From stick", name="stick", align="center"),
            Column(heading="Weighs", name="weight"),
            Column(heading="Written", name="written", kind="tick", align="center"),
            Column(heading="At its hole", name="carried", kind="tick", align="center"),
        ),
        rows=tuple(
            (
                one.going.piece,
                one.going.label,
                notation.length(one.length_m),
                one.stick,
                _weight(one.kg, notation),
                "",
                "",
            )
            for one in posts
        ),
        totals=(
            count_words(len(posts), "post"),
            "",
            notation.total(one.length_m for one in posts),
            "",
            _all_weigh(posts, notation),
            "",
            "",
        ),
        size_pt=_SIZE_PT,
        rules_above=_rules(posts),
        notes=(
            "Row by row from the left, as one walks. Write the label as soon as the piece is off the saw, "
            "below the allowance that is trimmed; TOP is the end that goes up.",
        ),
    )


def _couplings(plan: Plan, notation: Notation) -> tuple[str, ...]:
    """Say where a threaded beam's pieces have their threads, and why they do not add up to it, if so."""
    pipe = plan.book.job.pipe
    if pipe is None or pipe.joint != "threaded":
        return ()
    told = (
        "Threaded: a beam's first piece has its thread at the right end, its last at the left end, pieces "
        "between at both. Write LEFT on the end that this asks for.",
    )
    if pipe.make_up_m == 0:
        return told
    more = "longer" if pipe.make_up_m > 0 else "shorter"
    return (
        *told,
        f"Each coupling makes the joined pipe {notation.small_words(abs(pipe.make_up_m))} {more} than its "
        "two pieces (make_up), so these alone do not add up to the beam; the joint is the middle of that.",
    )


def _parts(parts: list[_Sawn], notation: Notation, more: tuple[str, ...]) -> Table:
    unit = notation.unit
    return Table(
        title="Beams' pieces, as they are carried",
        columns=(
            Column(heading="Piece", name="piece", align="left", strong=True),
            Column(heading="Write on it", name="label", align="left"),
            Column(heading="Length", name="length", unit=unit, strong=True),
            Column(heading="From", name="from", unit=unit),
            Column(heading="To", name="to", unit=unit),
            Column(heading="Rests on", name="posts", align="left"),
            Column(heading="From stick", name="stick", align="center"),
            Column(heading="Weighs", name="weight"),
            Column(heading="Laid", name="laid", kind="tick", align="center"),
        ),
        rows=tuple(
            (
                one.going.piece,
                one.going.label,
                notation.length(one.length_m),
                notation.length(one.going.from_m),
                notation.length(one.going.to_m),
                ", ".join(one.going.posts),
                one.stick,
                _weight(one.kg, notation),
                "",
            )
            for one in parts
        ),
        totals=(
            count_words(len(parts), "piece"),
            "",
            notation.total(one.length_m for one in parts),
            "",
            "",
            "",
            "",
            _all_weigh(parts, notation),
            "",
        ),
        size_pt=_SIZE_PT,
        rules_above=_rules(parts),
        notes=(
            "From and to count along the beam from its left end, seen from the low side: a joint stands at "
            "each “to” but the last. LEFT is the end nearer to the beam's left end.",
            *more,
        ),
    )
