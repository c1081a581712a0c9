"""The sheet of boundaries, areas, buried and overhead lines and trees: what keeps how far from each."""

from __future__ import annotations

from staking.clearances import called
from staking.lines.keeping import Distance
from staking.plan import Plan
from staking.sheets.notation import Notation
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table


def line_sheet(plan: Plan, *, notation: Notation) -> Sheet:
    """Return the sheet of what keeps clear of what; every conflict, and the nearest thing of each kind."""
    failing = plan.clearances.failing
    nearest = [d for d in plan.clearances.nearest() if not d.fails]
    blocks: list[Words | Table] = []
    if failing:
        lines = ("Do not dig or lift there before this is settled.",)
        blocks.append(Words(heading="Too near", lines=lines, bullets=False, alarm=True, size_pt=11.5))
        blocks.append(_table("What is too near, the worst first", failing, notation))
    if nearest:
        blocks.append(_table("What comes nearest and keeps its distance", nearest, notation))
    blocks.append(Words(heading="What this rests on", lines=(*plan.clearances.unplaced, *_LIMITS)))
    return Sheet(name="lines", title="Lines and trees", blocks=tuple(blocks))


_LIMITS = (
    "Distances run from edge to edge: from the rim of a hole, the end of a hub's stake, the edge of the "
    "modules in plan. Less than nothing means over the line or inside the area.",
    "Overhead: straight through the air from the line at its given height to the modules' faces, and to the "
    "end of a stick stood up at each pier, whichever way it falls.",
    "Only what was surveyed is here. Have utilities located and marked before you dig (29 CFR 1926.651(b)); "
    "only a licensed surveyor says where the boundary is.",
)


def _table(title: str, found: tuple[Distance, ...] | list[Distance], notation: Notation) -> Table:
    unit = notation.unit
    return Table(
        title=title,
        columns=(
            Column(heading="From", name="line", align="left", strong=True),
            Column(heading="To", name="thing", align="left", wide=True),
            Column(heading="Distance", name="distance", unit=unit, strong=True),
            Column(heading="Known to", name="known", unit=unit),
            Column(heading="Wanted", name="wanted", unit=unit),
            Column(heading="To spare", name="spare", unit=unit),
        ),
        rows=tuple(
            (
                called(d),
                d.thing,
                notation.length(d.distance_m),
                notation.sd(2 * d.sd_m) if d.sd_m else "–",
                notation.length(d.wanted_m) if d.wanted_m else "–",
                notation.length(-d.short_m),
            )
            for d in found
        ),
        size_pt=10.5,
    )
