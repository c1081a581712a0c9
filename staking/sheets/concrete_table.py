"""The concrete of each hole and of all: the hole as it is dug, less the post, in volumes and in bags."""

from __future__ import annotations

import math
from collections.abc import Iterable

from staking.base.quantities import FOOT3_M3, YARD3_M3
from staking.book.records import Footing
from staking.pipes.concrete import Concrete, concrete_of
from staking.plan import ArrayPlan, Plan
from staking.sheets.notation import Notation, count_words
from staking.sheets.table import Column, Table

_SIZE_PT = 10.5


def is_metric(notation: Notation) -> bool:
    """Whether volumes are told in cubic metres."""
    return notation.style == "metric"


def _hole_volume(value_m3: float, notation: Notation) -> str:
    """Return one hole's volume in cubic feet to hundredths or cubic metres to thousandths."""
    return f"{value_m3:.3f}" if is_metric(notation) else f"{value_m3 / FOOT3_M3:.2f}"


def _total(texts: Iterable[str]) -> str:
    """Return the sum of numbers as printed, with as many decimals."""
    printed = list(texts)
    places = max((len(text.partition(".")[2]) for text in printed), default=0)
    return f"{math.fsum(float(text) for text in printed):.{places}f}"


def order_volume(value_m3: float, notation: Notation) -> str:
    """Return what to order, rounded up to hundredths, in cubic yards or cubic metres."""
    value = value_m3 if is_metric(notation) else value_m3 / YARD3_M3
    return f"{math.ceil(value * 100 - 1e-6) / 100:.2f} {'m³' if is_metric(notation) else 'yd³'}"


def hole_words(concrete_m3: float, bags: float | None, notation: Notation) -> str:
    """Return one hole's concrete for a card: in bags where their yield is given."""
    unit = "m³" if is_metric(notation) else "ft³"
    text = f"{_hole_volume(concrete_m3, notation)} {unit}"
    return text if bags is None else f"{bags:.1f} bags ({text})"


def order_words(concrete: Concrete, footing: Footing, notation: Notation) -> str:
    """Return the concrete of all holes as a clause."""
    text = order_volume(concrete.concrete_m3, notation)
    if concrete.bags is None or concrete.bags_fresh is None or footing.bag_yield_m3 is None:
        return text
    fresh = ""
    if concrete.bags_fresh > concrete.bags:
        fresh = f" ({concrete.bags_fresh} if each hole is begun with a fresh bag)"
    return (
        f"{text}, {count_words(concrete.bags, 'bag')} of {bag_words(footing.bag_yield_m3, notation)}{fresh}"
    )


def bag_words(yield_m3: float, notation: Notation) -> str:
    """Return what one bag makes: litres or cubic feet."""
    return f"{yield_m3 * 1000:.4g} L" if is_metric(notation) else f"{yield_m3 / FOOT3_M3:.3g} ft³"


def over_dig_words(footing: Footing) -> str:
    """Return what is added for over-dig, or that nothing is."""
    if not footing.over_dig:
        return "nothing added for waste or for what an auger digs wider than its name ([footing] over_dig)"
    share = f"{100 * footing.over_dig:.4g} %"
    return f"with {share} of the hole for waste and what an auger digs wider than its name"


def concrete_table(plan: Plan, array: ArrayPlan, *, notation: Notation) -> Table | None:
    """Return the concrete of one array's holes; None without holes."""
    footing = plan.book.job.footing
    if footing is None or not array.holes:
        return None
    bagged = footing.bag_yield_m3 is not None
    unit = "m³" if is_metric(notation) else "ft³"
    cells = [
        [
            array.pier_name(hole.pier),
            notation.length(hole.hole_depth_m),
            *(
                _hole_volume(value, notation)
                for value in (hole.hole_m3, hole.over_dig_m3, hole.post_m3, hole.concrete_m3)
            ),
            *([] if hole.bags is None else [f"{hole.bags:.1f}"]),
            "",
        ]
        for hole in array.holes
    ]
    columns = [
        Column(heading="Pier", name="pier", align="left", strong=True),
        Column(heading="Hole depth", name="hole_depth", unit=notation.unit),
        Column(heading="Hole to grade", name="hole", unit=unit),
        Column(heading="Over-dig", name="over_dig", unit=unit),
        Column(heading="Post in it", name="post", unit=unit),
        Column(heading="Concrete", name="concrete", unit=unit, strong=True),
        *([Column(heading="Bags", name="bags", strong=True)] if bagged else []),
        Column(heading="Poured", name="poured", kind="tick", align="center"),
    ]
    totals = [
        "Total",
        notation.total(hole.hole_depth_m for hole in array.holes),
        *(_total(row[k] for row in cells) for k in range(2, len(columns) - 1)),
        "",
    ]
    return Table(
        title="Concrete" + (f", {array.title}" if array.title else ""),
        columns=tuple(columns),
        rows=tuple(tuple(row) for row in cells),
        totals=tuple(totals),
        size_pt=_SIZE_PT,
        notes=_notes(array, footing, notation),
    )


def concrete_tables(plan: Plan, *, notation: Notation) -> tuple[Table, ...]:
    """Return the concrete of all arrays' holes, a table each."""
    made = (concrete_table(plan, array, notation=notation) for array in plan.arrays)
    return tuple(table for table in made if table is not None)


def _notes(array: ArrayPlan, footing: Footing, notation: Notation) -> tuple[str, ...]:
    whole = order_words(concrete_of(array.holes), footing, notation)
    return (
        f"Order {whole}: {over_dig_words(footing)}.",
        "The hole is its circle times its depth at the centre, which on a slope is the hole to the ground "
        "as it lies: what the uphill side has more, the downhill side has less. The post is taken off as if "
        "its foot were closed; concrete that rises in an open one comes on top. Totals add up what is "
        "printed; the order is reckoned before rounding.",
    )
