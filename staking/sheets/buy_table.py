"""What to buy or take from store, and what the record asks for: pipe, joints, concrete, rails, modules."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from staking.base.quantities import KG_PER_POUND, mass_words, total_mass_words
from staking.book.records import Job
from staking.pipes.concrete import concrete_of
from staking.pipes.cutlist import CutList, Stick
from staking.pipes.stock import weights_kg_per_m
from staking.plan import Plan
from staking.sheets.concrete_table import order_words
from staking.sheets.notation import Notation, count_words
from staking.sheets.order_table import order_table
from staking.sheets.sheet import Sheet
from staking.sheets.table import Column, Table

_NONE = "–"
ONE_PERSON_KG = 51 * KG_PER_POUND
"""Load constant of the revised NIOSH lifting equation (Waters and others, 1994)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bought:
    """Sticks of one kind."""

    pipe: str
    stock_m: float
    price: float | None
    on_hand: bool
    number: int


def kinds_of(sticks: Sequence[Stick]) -> tuple[Bought, ...]:
    """Return the sticks by kind, those on hand after those to buy."""
    kinds: dict[tuple[bool, str, float, float | None], int] = {}
    for stick in sticks:
        kind = (stick.on_hand, stick.pipe, stick.stock_m, stick.price)
        kinds[kind] = kinds.get(kind, 0) + 1
    return tuple(
        Bought(pipe=pipe, stock_m=stock, price=price, on_hand=on_hand, number=number)
        for (on_hand, pipe, stock, price), number in sorted(kinds.items(), key=lambda kind: kind[0][0])
    )


def buy_sheet(plan: Plan, cuts: CutList, *, notation: Notation) -> Sheet:
    """Return the sheet for the buyer and the record."""
    return Sheet(
        name="buy",
        title="To buy and for the record",
        blocks=(
            shopping_table(
                cuts,
                weights_kg_per_m(plan.book.job),
                notation=notation,
                told=joints_apart(plan.book.job, cuts),
            ),
            *(
                (order_table(plan.order, [stick.pipe for stick in cuts.sticks], notation=notation),)
                if plan.order
                else ()
            ),
            record_table(plan, cuts, notation=notation),
        ),
    )


def shopping_table(
    cuts: CutList, weights: Mapping[str, float | None], *, notation: Notation, told: Sequence[str] = ()
) -> Table:
    """Return how many sticks of each kind to buy or take from store, how long and heavy they are.

    `told` are notes that come first.
    """
    kinds = kinds_of(cuts.sticks)
    feet = notation.style != "metric"
    priced = all(kind.price is not None for kind in kinds)
    stored = any(kind.on_hand for kind in kinds)
    weighed = [(weights.get(kind.pipe) or 0.0) * kind.stock_m for kind in kinds]
    known = all(weights.get(kind.pipe) is not None for kind in kinds)
    rows = [
        (
            kind.pipe,
            *(("on hand" if kind.on_hand else "buy",) if stored else ()),
            notation.length(kind.stock_m),
            str(kind.number),
            notation.total([kind.stock_m] * kind.number),
            mass_words(each, feet=feet) if each else _NONE,
            mass_words(kind.number * each, feet=feet) if each else _NONE,
            *((f"{kind.price or 0.0:.2f}", f"{kind.number * (kind.price or 0.0):.2f}") if priced else ()),
        )
        for kind, each in zip(kinds, weighed, strict=True)
    ]
    columns = [
        Column(heading="Pipe", name="pipe", align="left", wide=True),
        *([Column(heading="From", name="from", align="left")] if stored else []),
        Column(heading="Stick", name="stock", unit=notation.unit),
        Column(heading="Number", name="number", strong=True),
        Column(heading="Pipe in all", name="all", unit=notation.unit),
        Column(heading="A stick weighs", name="weight"),
        Column(heading="All weigh", name="weights"),
    ]
    heavy = [kind.number * each for kind, each in zip(kinds, weighed, strict=True)]
    totals: tuple[str, ...] = (
        "Total",
        *(("",) if stored else ()),
        str(cuts.count),
        notation.total(kind.stock_m for kind in kinds for _ in range(kind.number)),
        "",
        total_mass_words(heavy, feet=feet) if known else _NONE,
    )
    totals = (*totals[: 2 if stored else 1], "", *totals[2 if stored else 1 :])
    if priced:
        columns += [Column(heading="Price each", name="price"), Column(heading="Cost", name="cost")]
        total = math.fsum(kind.number * (kind.price or 0.0) for kind in kinds)
        totals = (*totals, "", f"{total:.2f}")
    return Table(
        title="To buy or take from store",
        columns=tuple(columns),
        rows=tuple(rows),
        totals=totals,
        notes=(*told, *_weight_notes(kinds, weighed, stored=stored)),
    )


def _weight_notes(kinds: Sequence[Bought], weighed: Sequence[float], *, stored: bool) -> tuple[str, ...]:
    notes = []
    if any(weighed):
        notes.append(
            "Weights are those of plain steel pipe by ASME B36.10M; zinc and couplings add some percent."
        )
    if any(each > ONE_PERSON_KG for each in weighed):
        notes.append(
            "A stick is more than one person should lift: 51 lb (23 kg) is the NIOSH lifting equation's load "
            "constant. Two persons, or a cut before it is carried."
        )
    if stored:
        buy = sum(kind.number for kind in kinds if not kind.on_hand)
        notes.append(
            f"On hand are the sticks and offcuts told with their count: {count_words(buy, 'stick')} to buy."
        )
    return tuple(notes)


BOUGHT_BEFORE = "those bought before among them"
"""Of joints, on a list that is cut again."""


def joint_words(job: Job, number: int) -> str:
    """Return the joints to buy: sleeves or couplings."""
    threaded = job.pipe is not None and job.pipe.joint == "threaded"
    return count_words(number, "coupling" if threaded else "sleeve")


def joints_apart(job: Job, cuts: CutList) -> tuple[str, ...]:
    """Return that the cost is that of the pipe alone, where it has a cost and there are joints to pay."""
    if cuts.cost is None or not cuts.joints:
        return ()
    if cuts.again is not None:
        return (
            f"The cost is that of new pipe alone: {joint_words(job, cuts.joints)} in all, {BOUGHT_BEFORE}.",
        )
    verb = "is" if cuts.joints == 1 else "are"
    return (f"The cost is that of the pipe: {joint_words(job, cuts.joints)} {verb} to be paid on top.",)


def record_table(plan: Plan, cuts: CutList, *, notation: Notation) -> Table:
    """Return numbers and lengths of all parts, an array after the other where there are several."""
    rows: list[tuple[str, str, str, str]] = []
    for array in plan.arrays:
        name = f"{array.title}: " if array.title else ""
        design, fit = array.job.array, array.fit
        modules = design.modules_along * design.modules_up
        rows += [
            (
                f"{name}Modules, {notation.words(design.module_along_m)} × "
                f"{notation.words(design.module_up_m)}",
                str(modules),
                "",
                "",
            ),
            (
                f"{name}Rails",
                str(fit.rails),
                notation.length(fit.rail_length_m),
                notation.total([fit.rail_length_m] * fit.rails),
            ),
            (
                f"{name}Beams",
                str(len(fit.beams)),
                "",
                notation.total(beam.length_m for beam in fit.beams),
            ),
            (
                f"{name}Posts, with their allowance",
                str(len(array.holes)),
                "",
                notation.total(hole.post_length_m for hole in array.holes),
            ),
        ]
    job = plan.book.job
    threaded = job.pipe is not None and job.pipe.joint == "threaded"
    rows.append(("Couplings of the beams" if threaded else "Sleeves of the beams", str(cuts.joints), "", ""))
    holes = [hole for array in plan.arrays for hole in array.holes]
    rows.append(("Holes", str(len(holes)), "", notation.total(hole.hole_depth_m for hole in holes)))
    notes = ["Lengths in all add up the single lengths as they are printed on their own sheets."]
    record = plan.record()
    if record is not None and record.pieces_kg is not None:
        notes.append(
            f"Posts and beams as cut weigh {mass_words(record.pieces_kg, feet=notation.style != 'metric')}."
        )
    if job.footing is not None and holes:
        notes.append(f"Concrete: {order_words(concrete_of(holes), job.footing, notation)}.")
    return Table(
        title="For the record",
        columns=(
            Column(heading="Part", name="part", align="left", wide=True),
            Column(heading="Number", name="number", strong=True),
            Column(heading="Each", name="each", unit=notation.unit),
            Column(heading="In all", name="all", unit=notation.unit),
        ),
        rows=tuple(rows),
        notes=tuple(notes),
    )
