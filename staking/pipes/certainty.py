"""How sure an order of sticks is enough, and what more sticks cost against a second trip."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from staking.book.records import Stock
from staking.pipes.enough import Group, Sticks, enough_for

Floats = NDArray[np.float64]

MOST_EXTRA = 5
"""Sticks more than ordered that are looked at, of each kind."""
MOST_KINDS = 3
"""Kinds of stick of which more are looked at, the longest."""
SURE = 0.999
"""Surer than this no more sticks are looked at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """The order as listed, or with some sticks more."""

    extra: int
    stock_m: float | None
    """Of one stick more; None without any."""
    price: float | None
    """Of one stick more; None where not known."""
    certain: float
    """Share of the draws for which a cutting was found."""
    at_most: float
    """Share for which the pipe is not plainly too short: between the two it is not known."""
    expected: float | None = None
    """Of the sticks more, and of a second trip with a stick times its chance; None without prices."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Certainty:
    """How sure the order of one pipe is, before its posts are measured for good."""

    pipe: str
    sticks: int
    """As listed."""
    draws: int
    seed: int
    steps: tuple[Step, ...]
    """The order as listed first, then more of each kind."""
    enough_95: Step | None
    """The least that is enough with 95 %; None where nothing looked at is."""
    enough_99: Step | None
    cheapest: Step | None
    """What costs least with the chance of a second trip; None where its cost is not given."""
    pays_from: float | None
    """The cost of a second trip from which one stick more pays; None without a price or a gain."""
    within: float
    """Share of the draws in which some plane meets the limits."""


def certainty_of(
    sticks: Sticks,
    buyable: Sequence[Stock],
    lengths_m: Floats,
    *,
    pipe: str,
    seed: int,
    trip_cost: float | None,
    within: float,
    groups: Sequence[Group] = (),
) -> Certainty:
    """Return how sure the sticks are enough for posts of the lengths (N, n) drawn, and what more would do.

    `groups` tell the beams of each draw, where they are not those of `sticks` in all.
    """
    draws = len(lengths_m)
    prices = [one.price for one in buyable if one.price is not None]
    if len(prices) < len(buyable):
        trip_cost = None  # Which stick is cheaper nobody can say.
    none = np.zeros(draws, dtype=bool)
    first = enough_for(sticks, lengths_m, none, groups)
    steps = [_step(0, None, float(first.enough.mean()), float(1 - first.short.mean()), trip_cost)]
    longest_first = sorted(buyable, key=lambda one: -one.length_m)[:MOST_KINDS]
    for one in longest_first:
        known, certain = first.enough, steps[0].certain
        for extra in range(1, MOST_EXTRA + 1):
            if certain >= SURE:
                break
            more = replace(sticks, stock=(*sticks.stock, replace(one, count=extra)))
            found = enough_for(more, lengths_m, known, groups)
            known, certain = found.enough, float(found.enough.mean())
            steps.append(_step(extra, one, certain, float(1 - found.short.mean()), trip_cost))
    if trip_cost is not None:
        steps[0] = _first_expected(steps, trip_cost, prices)
    priced = [step for step in steps if step.expected is not None]
    return Certainty(
        pipe=pipe,
        sticks=sum(stock.count or 0 for stock in sticks.stock),
        draws=draws,
        seed=seed,
        steps=tuple(steps),
        enough_95=_least(steps, 0.95),
        enough_99=_least(steps, 0.99),
        cheapest=min(priced, key=lambda step: (step.expected or 0.0, step.extra)) if priced else None,
        pays_from=_pays_from(steps),
        within=within,
    )


def _step(extra: int, stock: Stock | None, certain: float, at_most: float, trip_cost: float | None) -> Step:
    price = None if stock is None else stock.price
    expected = None
    if trip_cost is not None and price is not None:
        expected = extra * price + (1 - certain) * (trip_cost + price)
    return Step(
        extra=extra,
        stock_m=None if stock is None else stock.length_m,
        price=price,
        certain=certain,
        at_most=max(at_most, certain),
        expected=expected,
    )


def _first_expected(steps: Sequence[Step], trip_cost: float, prices: Sequence[float]) -> Step:
    """Return the order as listed with its expected cost: the stick fetched then is the cheapest looked at.

    Of those that can be bought where none was looked at.
    """
    looked = [step.price for step in steps if step.price is not None] or prices
    if not looked and steps[0].certain < 1:
        return steps[0]
    each = min(looked, default=0.0)
    return replace(steps[0], expected=(1 - steps[0].certain) * (trip_cost + each))


def _least(steps: Sequence[Step], sure: float) -> Step | None:
    """Return the cheapest step that is so sure; without prices that of fewest sticks, then shortest."""
    enough = [step for step in steps if step.certain >= sure]
    priced = all(step.price is not None for step in enough if step.extra)
    return min(
        enough,
        key=lambda step: (
            step.extra * (step.price or 0.0) if priced else step.extra,
            step.extra,
            step.stock_m or 0.0,
        ),
        default=None,
    )


def _pays_from(steps: Sequence[Step]) -> float | None:
    """Return the cost of a second trip from which one stick more, of the kind that pays soonest, is cheaper.

    Without it the trip and a stick are paid with the chance 1 − c₀; with it the stick, and both again with
    the chance 1 − c₁: it pays where price < (c₁ − c₀)·(trip + price).
    """
    pays = [
        max(0.0, step.price / (step.certain - steps[0].certain) - step.price)
        for step in steps
        if step.extra == 1 and step.price is not None and step.certain > steps[0].certain
    ]
    return min(pays, default=None)
