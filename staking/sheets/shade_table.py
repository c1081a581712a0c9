"""The sheet of shade: which array shades which between the given hours, and the spacing that would do."""

from __future__ import annotations

from staking.plan import Plan
from staking.shading import clock_words, hours_words, shade_words
from staking.sheets.notation import Notation, sentence
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table

_MINUTE_S = 60.0


def shade_sheet(plan: Plan, *, notation: Notation) -> Sheet | None:
    """Return the sheet, None where no pair of arrays was looked at."""
    found = plan.shading
    if not found.shades:
        return None
    blocks: list[Words | Table] = []
    if found.failing:
        lines = tuple(sentence(shade_words(one, found, notation.style)) for one in found.failing)
        blocks.append(Words(heading="Arrays in the shade of others", lines=lines, alarm=True))
    unit = notation.unit
    blocks.append(
        Table(
            title=f"Shade {hours_words(found)}",
            columns=(
                Column(heading="Array", name="back", align="left", strong=True),
                Column(heading="behind", name="front", align="left"),
                Column(heading="Shaded", name="share"),
                Column(heading="at", name="worst"),
                Column(heading="for h:min", name="shaded"),
                Column(heading="Gap", name="gap", unit=unit),
                Column(heading="Least gap", name="least_gap", unit=unit, strong=True),
            ),
            rows=tuple(
                (
                    one.back,
                    one.front,
                    f"{100 * one.share:.0f} %" if one.worst_s is not None else "none",
                    "–" if one.worst_s is None else clock_words(one.worst_s),
                    _hours(one.shaded_s) if one.worst_s is not None else "–",
                    notation.length(one.gap_m),
                    "–" if one.least_gap_m is None else notation.length(one.least_gap_m),
                )
                for one in found.shades
            ),
            notes=(
                "Gap: in plan, from the high edge of the one in front to the low edge of the one behind, "
                "along the way the one in front faces. Least gap: at which no module is shaded in those "
                "hours, the one behind fitted anew on its ground there.",
                "The sun's own time: 12:00 is when it stands on the meridian. Trees, buildings, the ground, "
                "posts and beams cast no shadow here; the sun is taken as a point.",
            ),
        )
    )
    return Sheet(name="shade", title="Shade", blocks=tuple(blocks))


def _hours(seconds: float) -> str:
    minutes = round(seconds / _MINUTE_S)
    return f"{minutes // 60}:{minutes % 60:02d}"
