"""What must be true to an eighth of an inch, what may be off, and how far each post may stand off its mark.

The tolerances are those of ``[tolerance]``; the room in the hole is the engineer's side cover, the room along
the beam is what rails and joints leave. Nothing here is a rule of strength.
"""

from __future__ import annotations

from staking.layout.frame import Beam
from staking.plan import ArrayPlan, Plan
from staking.sheets.notation import Notation
from staking.sheets.table import Column, Table

_NO_LIMIT = "–"


def true_table(plan: Plan, array: ArrayPlan, *, notation: Notation) -> Table:
    """Return the table of what must be true and what need not be, strictest first."""
    small, tolerance = notation.small_words, plan.book.job.tolerance
    rows = [
        (
            "A post's top against its neighbour's",
            small(tolerance.neighbours_m),
            "Rails rest on both. Mark and saw from one set-up.",
        ),
        (
            "A post's top against the benchmark",
            small(tolerance.tops_m),
            "All rows lie in one plane. Sight the benchmark before and after.",
        ),
        (
            "One diagonal against the other, taped level",
            small(tolerance.diagonals_m),
            "Modules are square: so are the rails to lie.",
        ),
        (
            "The tops of one row against each other",
            small(tolerance.row_m),
            "A beam bridges so much, not more.",
        ),
    ]
    starts = len(rows)
    rows += _loose(plan, array, notation)
    return Table(
        title="What must be true, and what may be off",
        columns=(
            Column(heading="What", name="what", align="left", wide=True),
            Column(heading="Within", name="within", strong=True, align="left"),
            Column(heading="Why", name="why", align="left", wide=True),
        ),
        rows=tuple(rows),
        rules_above=(starts,),
        notes=(
            "Tolerances of job.toml [tolerance], where not given common practice; an engineer's or a "
            "supplier's take their place.",
        ),
    )


def _loose(plan: Plan, array: ArrayPlan, notation: Notation) -> list[tuple[str, str, str]]:
    small, pipe = notation.small_words, plan.book.job.pipe
    rooms = [hole.off_mark_m for hole in array.holes if hole.off_mark_m is not None]
    found = []
    if rooms:
        found.append(
            (
                "The hole against its post",
                small(max(0.0, min(rooms))),
                "The post stands on its mark; the concrete at its side stays thick enough.",
            )
        )
    if array.holes:
        found.append(
            (
                "The depth of a hole",
                "deeper only",
                "Too deep costs concrete; measure it. Too shallow is frost and embedment.",
            )
        )
    if pipe is not None:
        found.append(
            (
                "The foot of a post, up or down",
                small(pipe.cut_allowance_m),
                "The allowance is sawn off at the mark; lower than that the post is too short.",
            )
        )
    found.append(
        (
            "The ground at a pier",
            "as it comes",
            "It changes how deep a post stands, never the line of the rails: cut to the mark.",
        )
    )
    return found


def off_mark_table(plan: Plan, array: ArrayPlan, *, notation: Notation) -> Table | None:
    """Return how far each post may stand off its mark; None without holes."""
    if not array.holes:
        return None
    fit, rows = array.fit, []
    for i, hole in enumerate(array.holes):
        beam = fit.beams[int(fit.piers.beam[i])]
        joints = () if plan.cuts is None else plan.cuts.joints_m.get(array.beam_name(beam.letter), ())
        sides = along_m(plan, array, beam, int(fit.piers.number[i]) - array.job.first_pier, joints)
        around = _NO_LIMIT if hole.off_mark_m is None else notation.small(max(0.0, hole.off_mark_m))
        rows.append(
            (
                array.pier_name(hole.pier),
                around,
                *(_NO_LIMIT if side is None else notation.small(side) for side in sides),
            )
        )
    unit = notation.unit
    return Table(
        title="How far each post may stand off its mark",
        columns=(
            Column(heading="Pier", name="pier", align="left", strong=True),
            Column(heading="In its hole, any way", name="around", unit=unit),
            Column(heading="To the left along the beam", name="left", unit=unit),
            Column(heading="To the right", name="right", unit=unit),
        ),
        rows=tuple(rows),
        notes=(
            "In its hole: as far as side cover allows, when the hole is where its mark is. Along the beam: "
            "until the clamp of a rail or a joint is as near as job.toml allows; – where nothing is in the "
            "way. The smallest of them counts. Across the beam a beam bends to its posts: keep the string.",
        ),
    )


def along_m(
    plan: Plan, array: ArrayPlan, beam: Beam, k: int, joints_m: tuple[float, ...]
) -> tuple[float | None, float | None]:
    """Return how far the post with index `k` may shift along its beam to the left and to the right, metres.

    None where neither rail nor joint stands on that side.
    """
    post = beam.posts_m[k]
    joint_clear = 0.0 if plan.book.job.pipe is None else plan.book.job.pipe.joint_clear_m
    kept = [(at, array.job.frame.rail_clear_m) for at in beam.rails_m]
    kept += [(at, joint_clear) for at in joints_m]
    left = [post - at - clear for at, clear in kept if at <= post]
    right = [at - post - clear for at, clear in kept if at >= post]
    return (
        max(0.0, min(left)) if left else None,
        max(0.0, min(right)) if right else None,
    )
