"""How sure the order of pipe is before the survey is final: for paper, for the screen, for programs."""

from __future__ import annotations

import math
from collections.abc import Sequence

from staking.pipes.certainty import Certainty, Step
from staking.plan import Plan
from staking.sheets.bare_table import bare
from staking.sheets.notation import Notation, count_words, sentence
from staking.sheets.table import Column, Table

_NONE = "–"
_FILE = ("pipe", "sticks", "more", "stock", "price", "at_least", "at_most", "expected", "draws")


def at_least_words(share: float) -> str:
    """Return a share in percent rounded down, never as certain."""
    percent = math.floor(1000 * share + 1e-9) / 10
    return "> 99.9 %" if percent > 99.9 else f"{percent:.1f} %"


def at_most_words(share: float) -> str:
    """Return a share in percent rounded up."""
    return f"{math.ceil(1000 * share - 1e-9) / 10:.1f} %"


def step_words(one: Certainty, step: Step, notation: Notation) -> str:
    """Return an order in words."""
    if step.stock_m is None:
        return f"as listed, {count_words(one.sticks, 'stick')}"
    return f"{step.extra} × {notation.words(step.stock_m)} more, {one.sticks + step.extra} sticks"


def order_table(order: Sequence[Certainty], pipes: Sequence[str], *, notation: Notation) -> Table:
    """Return each order looked at, and how sure it is enough; `pipes` are all those on the cut list."""
    priced = any(step.price is not None for one in order for step in one.steps)
    tripped = any(step.expected is not None for one in order for step in one.steps)
    rows: list[tuple[str, ...]] = []
    starts = []
    for one in order:
        if rows:
            starts.append(len(rows))
        for step in one.steps:
            more = None if step.price is None else step.extra * step.price
            cost = "0.00" if step.extra == 0 else _NONE if more is None else f"{more:.2f}"
            rows.append(
                (
                    one.pipe,
                    step_words(one, step, notation),
                    at_least_words(step.certain),
                    at_most_words(step.at_most),
                    *((cost,) if priced else ()),
                    *((_NONE if step.expected is None else f"{step.expected:.2f}",) if tripped else ()),
                )
            )
    return Table(
        title="How sure the order is, before every stake is shot",
        columns=(
            Column(heading="Pipe", name="pipe", align="left"),
            Column(heading="Order", name="order", align="left"),
            Column(heading="Enough, at least", name="at_least", strong=True),
            Column(heading="At most", name="at_most"),
            *([Column(heading="More costs", name="more_costs")] if priced else []),
            *([Column(heading="With a second trip when short", name="expected")] if tripped else []),
        ),
        rows=tuple(rows),
        rules_above=tuple(starts),
        notes=(
            *(text for one in order for text in _verdicts(one, notation)),
            *(sentence(text) for text in beams_alone(order, pipes)),
            _method(order),
        ),
    )


def beams_alone(order: Sequence[Certainty], pipes: Sequence[str]) -> list[str]:
    """Return of each pipe without posts why it is not among the orders."""
    posts = {one.pipe for one in order}
    return [
        f"{pipe} is for beams alone: the array's own dimensions set their lengths, and of the survey only a "
        "change of the cross-slope changes them"
        for pipe in dict.fromkeys(pipes)
        if pipe not in posts
    ]


def _verdicts(one: Certainty, notation: Notation) -> list[str]:
    texts = []
    for sure, step in ((95, one.enough_95), (99, one.enough_99)):
        told = "nothing that was looked at" if step is None else step_words(one, step, notation)
        texts.append(f"{one.pipe}: enough with {sure} % certainty: {told}.")
    if one.cheapest is not None:
        texts.append(
            f"{one.pipe}: cheapest with the chance of a second trip: "
            f"{step_words(one, one.cheapest, notation)}."
        )
    elif one.pays_from is not None:
        texts.append(
            f"{one.pipe}: a stick more pays where a second trip costs more than {one.pays_from:.2f} "
            "([pipe] trip_cost)."
        )
    if one.within < 1:
        share = at_most_words(1 - one.within)
        texts.append(
            f"In {share} of the draws no plane meets every limit; its lower limits were kept to there."
        )
    return texts


def _method(order: Sequence[Certainty]) -> str:
    draws = order[0].draws
    known = at_most_words(2 * math.sqrt(0.95 * 0.05 / draws))
    return (
        f"From {draws} draws (seed {order[0].seed}) of the ground at the piers and under the modules, with "
        f"their joint uncertainty, the plane fitted again to each: 95 % so found is itself known to {known}. "
        "Piers whose stake is shot stay as they are. Beams follow the cross-slope, lips the slope that shots "
        "at the stakes would show; the array's place, tilt and steps stay as they are now, and what a saw "
        "spoils is not drawn. At least: a way to cut every piece from these sticks was found. At most: it is "
        "not shown that there is none."
    )


def order_words(one: Certainty, notation: Notation) -> str:
    """Return the verdict for the screen."""
    listed = one.steps[0]
    text = f"{one.pipe}: {count_words(one.sticks, 'stick')} as listed enough with "
    text += at_least_words(listed.certain)
    for sure, step in ((95, one.enough_95), (99, one.enough_99)):
        if listed.certain >= sure / 100:
            continue
        text += f"; for {sure} %: "
        text += "nothing looked at is" if step is None else step_words(one, step, notation)
    if one.cheapest is not None:
        text += f"; cheapest with a second trip when short: {step_words(one, one.cheapest, notation)}"
    elif one.pays_from is not None:
        text += f"; a stick more pays where a second trip costs more than {one.pays_from:.2f}"
    return text


def order_file(plan: Plan, order: Sequence[Certainty]) -> Table:
    """Return every step for other programs."""
    unit = plan.book.job.site.units
    return Table(
        title="order",
        columns=tuple(
            Column(heading=name, name=name, unit=unit if name == "stock" else "", number=name != "pipe")
            for name in _FILE
        ),
        rows=tuple(
            (
                one.pipe,
                str(one.sticks + step.extra),
                str(step.extra),
                bare(step.stock_m, unit),
                "" if step.price is None else f"{step.price:.2f}",
                f"{step.certain:.4f}",
                f"{step.at_most:.4f}",
                "" if step.expected is None else f"{step.expected:.2f}",
                str(one.draws),
            )
            for one in order
            for step in one.steps
        ),
    )
