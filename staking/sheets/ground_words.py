"""What lies between the shots, in a sentence: which surface, and how well each predicts left-out shots."""

from __future__ import annotations

from staking.ground.yard import YardGround
from staking.plan import Plan
from staking.sheets.notation import Notation


def ground_words(plan: Plan, notation: Notation) -> str | None:
    """Return the sentence; None without ground or without a choice."""
    if plan.ground is None or plan.ground.choice is None:
        return None
    choice, names = plan.ground.choice, _names(plan.ground)
    figures = {
        "statistical": choice.rms_statistical_m,
        "triangulated": choice.rms_triangulated_m,
        "table": choice.rms_table_m,
    }
    used = names[choice.used] + (", as job.toml asks" if choice.asked else "")
    told = {kind: rms for kind, rms in figures.items() if rms is not None}
    if choice.used not in told:
        return f"{used}; too few shots to leave any out and see how well it predicts them"
    left = f"{choice.shots} shots" if choice.shots > 1 else "the one shot"
    others = "".join(
        f"; the {names[kind]} to {notation.fine_words(rms)}"
        for kind, rms in told.items()
        if kind != choice.used
    )
    return (
        f"{used}; predicts {left} that others surround, left out in turn, to "
        f"{notation.fine_words(told[choice.used])} rms{others}"
    )


def tie_words(plan: Plan, notation: Notation) -> str | None:
    """Return how the survey's shots stand to the large table; None without one."""
    if plan.ground is None or plan.ground.table is None or plan.ground.tie is None:
        return None
    tie, table = plan.ground.tie, plan.ground.table.table
    side = "above" if tie.above_m >= 0.0 else "below"
    shots = (
        f"{tie.shots} of the survey's shots stand" if tie.shots > 1 else "one of the survey's shots stands"
    )
    verdict = "more than chance" if tie.significant else "no more than chance"
    noted = f"; {table.note}" if table.note else ""
    fine = notation.fine_words
    return (
        f"{len(table.z_m):,} points; {shots} {fine(abs(tie.above_m))} {side} it in the mean (1 sd "
        f"{fine(tie.sd_m)}: {verdict}), {fine(tie.rms_m)} rms{noted}"
    )


def _names(ground: YardGround) -> dict[str, str]:
    return {
        "statistical": "statistical surface",
        "triangulated": "triangles between the shots",
        "table": "table"
        if ground.table is None
        else f"triangles between the points of {ground.table.table.file}",
    }
