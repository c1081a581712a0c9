"""Cutting from sticks that are there already, at no cost, and from what is bought besides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from staking.base.units import Style
from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import BeamToCut, CutList, Piece
from staking.pipes.cutting import NOT_PROVEN, cut
from staking.pipes.goal import price_step
from staking.pipes.simple_bounds import up

LEFT, BOUGHT = 0.01, 10.0
"""What a stick at no cost weighs in the search, and what a unit of money: first the least is spent, then the
fewest sticks are taken from store. With nought for them the search would know no direction. A stick that is
bought weighs some thousands at most: the solver's tolerance of a billionth is beyond what it can do with
numbers of a hundred thousand, and it turned in circles."""
SAME_MONEY = 1e-6
"""Sums of money nearer than this are equal."""


def cut_from_store(
    posts: Sequence[Piece], beams: Sequence[BeamToCut], pipe: Pipe, *, style: Style = "metric"
) -> CutList:
    """Return the best cutting, as `staking.pipes.cutting.cut` does; sticks on hand may cost nothing.

    Raises
    ------
    CannotCut
        As there.
    """
    free = [_is_free(stock) for stock in pipe.stock]
    if not any(free) or any(stock.price is None for stock in pipe.stock):
        return cut(posts, beams, pipe, style=style)
    stock = tuple(
        replace(one, price=LEFT if nought else (one.price or 0.0) * BOUGHT)
        for one, nought in zip(pipe.stock, free, strict=True)
    )
    found = cut(posts, beams, replace(pipe, stock=stock), style=style, money=BOUGHT)
    sticks = tuple(
        replace(stick, price=0.0 if stick.on_hand and stick.price == LEFT else (stick.price or 0.0) / BOUGHT)
        for stick in found.sticks
    )
    cost = round(sum(stick.price or 0.0 for stick in sticks), 6)
    least = cost
    if not found.proven:
        # A cutting of bound B that takes all there is still spends (B − LEFT · all) / BOUGHT at the least.
        every = sum(one.count or 0 for one, nought in zip(pipe.stock, free, strict=True) if nought)
        spent = max(0.0, ((found.cost_bound or 0.0) - LEFT * every) / BOUGHT)
        prices = [one.price or 0.0 for one, nought in zip(pipe.stock, free, strict=True) if not nought]
        least = round(up(spent, price_step(prices)), 6)
    found = replace(found, sticks=sticks, cost=cost, cost_bound=min(cost, least))
    if found.proven or least < cost - SAME_MONEY:
        return found
    # Only how many sticks are taken from store is open: that costs nothing.
    return replace(found, proven=True, warnings=tuple(w for w in found.warnings if NOT_PROVEN not in w))


def _is_free(stock: Stock) -> bool:
    return stock.count is not None and stock.price == 0.0
