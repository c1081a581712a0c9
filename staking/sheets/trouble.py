"""The sheet of a layout that cannot be: which limit fails where, by how much, and what would do."""

from __future__ import annotations

from staking.plan import Plan
from staking.sheets.notation import Notation, count_words, sentence
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table


def remedies(plan: Plan) -> tuple[str, ...]:
    """Return what would do, without saying so line by line: the heading says it."""
    return tuple(text.removesuffix(" would do").removesuffix(",") for text in plan.would_do)


def remedies_heading(plan: Plan) -> str:
    """Return what stands over the remedies: where several arrays have their own, one of each is wanted."""
    which = "Of each array any" if any(text.startswith("array ") for text in plan.would_do) else "Any"
    return f"{which} one of these would do, in job.toml or in the yard"


def trouble_sheet(plan: Plan, *, notation: Notation) -> Sheet:
    """Return the sheet of conflicts and remedies."""
    blocks: list[Words | Table] = [
        Words(
            heading="No layout meets all limits on this ground",
            lines=(
                "Nothing was laid out. At the plane that comes nearest to meeting all limits together, these "
                f"still fail: {count_words(len(plan.conflicts), 'place')} in the table below.",
            ),
            bullets=False,
            alarm=True,
            size_pt=11.5,
        )
    ]
    if plan.conflicts:
        blocks.append(
            Table(
                title="Which limit fails where",
                columns=(
                    Column(heading="Limit in job.toml", name="limit", align="left"),
                    Column(heading="What fails there", name="what", align="left", wide=True),
                    Column(heading="Short by", name="by", unit=notation.unit, strong=True),
                ),
                rows=tuple((c.limit, sentence(c.text), notation.small(c.by_m)) for c in plan.conflicts),
                size_pt=10.0,
            )
        )
    if plan.would_do:
        blocks.append(
            Words(
                heading=remedies_heading(plan),
                lines=remedies(plan),
                size_pt=11.5,
            )
        )
    blocks.append(
        Words(
            heading="What this pack still holds",
            lines=(
                "The survey's own results stand: the points, the ground and the quality of the readings.",
            ),
        )
    )
    return Sheet(name="trouble", title="What cannot be built", blocks=tuple(blocks))
