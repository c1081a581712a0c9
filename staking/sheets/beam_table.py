"""The beam sheet: where posts, joints and rails meet each beam, all from its left end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from staking.book.records import Pipe
from staking.layout.frame import Beam
from staking.plan import ArrayPlan, Plan
from staking.sheets.cautions import here, overhead
from staking.sheets.notation import Notation, degrees, step_words
from staking.sheets.rail_table import rail_square, rail_tables
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table

_SIZE_PT = 11.5
_MOST_BEAMS = 6
"""Columns side by side on one table."""


def beam_sheet(plan: Plan, array: ArrayPlan, *, notation: Notation) -> Sheet:
    """Return the sheet of one array's beams."""
    title = "Beams and rails" + (f", {array.title}" if array.title else "")
    fit = array.fit
    blocks: list[Words | Table] = [
        Words(
            lines=(
                "Standing on the low side and looking at the array, every distance runs along the beam "
                "from its LEFT end. Mark them all from that one zero; never add up from mark to mark.",
                f"{fit.rails} rails, each {notation.words(fit.rail_length_m)} long.",
                *_jointless(plan, array),
                *_gap_words(array, notation),
                *here(overhead(notation)),
            ),
        ),
        _lengths(array, notation),
        *([] if (joints := _joints(plan, array, notation)) is None else [joints]),
        *([_braces(array, notation)] if array.braced.braces else []),
    ]
    for k in range(0, len(fit.beams), _MOST_BEAMS):
        some = fit.beams[k : k + _MOST_BEAMS]
        heads = [array.beam_letter(beam.letter) for beam in some]
        posts = [beam.posts_m for beam in some]
        blocks.append(_marks("Posts", "Post", posts, heads, notation, first=array.job.first_pier))
    blocks += rail_tables(array, notation=notation)
    if (square := rail_square(array, notation=notation)) is not None:
        blocks.append(square)
    return Sheet(name="beams", title=title, blocks=tuple(blocks))


def _joints_m(plan: Plan, array: ArrayPlan, beam: Beam) -> tuple[float, ...]:
    return () if plan.cuts is None else plan.cuts.joints_m.get(array.beam_name(beam.letter), ())


def _jointless(plan: Plan, array: ArrayPlan) -> list[str]:
    """Say which beams are one piece; nothing where nothing is cut."""
    names = [array.beam_letter(b.letter) for b in array.fit.beams if not _joints_m(plan, array, b)]
    if plan.cuts is None or not names:
        return []
    every = len(names) == len(array.fit.beams)
    return ["No beam has a joint." if every else f"No joint in beam {', '.join(names)}."]


def _gap_words(array: ArrayPlan, notation: Notation) -> list[str]:
    """Say of a section how it stands beside the one to its left; nothing of the first."""
    if array.step_m is None or array.gap_m is None:
        return []
    return [
        f"These beams are their own: nothing joins them to section {array.job.section - 1}. In the middle of "
        f"the gap they lie {step_words(array.step_m, notation)} its beams; between the modules of the two "
        f"{notation.words(array.gap_m)} are left, measured level."
    ]


def _lengths(array: ArrayPlan, notation: Notation) -> Table:
    """Return each beam's length, how it lies past its end posts and against level, and what the array is."""
    fit = array.fit
    plane = fit.plane
    notes = [
        f"A level laid along a rail reads {degrees(fit.rail_slope_rad, 2)}, along a beam "
        f"{degrees(abs(plane.cross_slope_rad), 2)}.",
    ]
    if plane.cross_slope_rad:
        notes.append(
            f"Tilt wished {degrees(plane.tilt_rad, 2)}, real {degrees(fit.true_tilt_rad, 2)}; facing "
            f"wished {degrees(plane.facing_rad % math.tau, 2)}, real {degrees(fit.true_azimuth_rad, 2)}."
        )
        side = "left" if fit.skew_m > 0 else "right"
        notes.append(
            f"Skew: in plan the rails meet the high beam {notation.small_words(abs(fit.skew_m))} further to "
            f"the {side} than the low beam. That is why the overhangs differ."
        )
    return Table(
        title="Lengths, past the end posts, from end to end",
        columns=(
            Column(heading="Beam", name="beam", align="center", strong=True),
            Column(heading="Length", name="length", unit=notation.unit, strong=True),
            Column(heading="Past the first post", name="overhang_left", unit=notation.unit),
            Column(heading="Past the last post", name="overhang_right", unit=notation.unit),
            Column(heading="Right end against the left", name="rise", unit=notation.unit),
        ),
        rows=tuple(
            (
                array.beam_letter(beam.letter),
                notation.length(beam.length_m),
                notation.length(beam.overhang_left_m),
                notation.length(beam.overhang_right_m),
                _rise_words(beam.rise_m, notation),
            )
            for beam in fit.beams
        ),
        size_pt=_SIZE_PT,
        notes=tuple(notes),
    )


def _rise_words(rise_m: float, notation: Notation) -> str:
    """Return how the right end of a beam lies against its left end; never a minus sign to puzzle over."""
    if abs(rise_m) < notation.step_m / 2.0:
        return "level"
    return f"{'higher' if rise_m > 0.0 else 'lower'} by {notation.small(abs(rise_m))}"


def _braces(array: ArrayPlan, notation: Notation) -> Table:
    """Return each brace between its fixing points."""
    unit = notation.unit
    return Table(
        title="Braces of tall posts",
        columns=(
            Column(heading="On post", name="post", align="left", strong=True),
            Column(heading="To post", name="to", align="left"),
            Column(heading="Length", name="length", unit=unit, strong=True),
            Column(heading="Known to", name="sd", unit=unit),
            Column(heading="Above level", name="above_level"),
        ),
        rows=tuple(
            (
                brace.post,
                brace.to,
                notation.length(brace.length_m),
                notation.sd(brace.sd_m),
                degrees(brace.above_level_rad),
            )
            for brace in array.braced.braces
        ),
        size_pt=_SIZE_PT,
        notes=(
            "From fixing to fixing, between the posts' centrelines; take off what the fittings ask for. "
            "Whether and of what a brace is needed is the engineer's or the supplier's word. Measure before "
            "cutting.",
        ),
    )


def _joints(plan: Plan, array: ArrayPlan, notation: Notation) -> Table | None:
    """Return each beam's joints, with the nearest thing that must keep clear of each; None without any."""
    rows: list[tuple[str, ...]] = []
    starts: list[int] = []
    for beam in array.fit.beams:
        joints = _joints_m(plan, array, beam)
        if rows and joints:
            starts.append(len(rows))
        for joint in joints:
            between, nearest, gap = _round_joint(array, beam, joint)
            rows.append(
                (
                    array.beam_letter(beam.letter),
                    notation.length(joint),
                    between,
                    nearest,
                    notation.small(gap),
                )
            )
    unit = notation.unit
    pipe = plan.book.job.pipe
    if not rows:
        return None
    notes = [] if pipe is None else _rules(pipe, notation)
    return Table(
        title="Joints",
        columns=(
            Column(heading="Beam", name="beam", align="center", strong=True),
            Column(heading="Joint at", name="joint", unit=unit, strong=True),
            Column(heading="Between", name="between", align="left"),
            Column(heading="Nearest", name="nearest", align="left"),
            Column(heading="Clear of it by", name="clear", unit=unit),
        ),
        rows=tuple(rows),
        size_pt=_SIZE_PT,
        rules_above=tuple(starts),
        notes=tuple(notes),
    )


def _rules(pipe: Pipe, notation: Notation) -> list[str]:
    """Say what the joints keep to."""
    notes = [f"No joint comes nearer than {notation.small_words(pipe.joint_clear_m)} to a post or a rail."]
    shares = pipe.no_joint_shares
    if shares is not None and shares[0] < shares[1]:
        a, b = shares
        notes.append(f"None stands between {a:.3g} and {b:.3g} of a bay, counted from its left post.")
    if pipe.posts_per_piece > 1:
        notes.append(f"Every piece of a beam with joints rests on at least {pipe.posts_per_piece} posts.")
    return notes


def _round_joint(array: ArrayPlan, beam: Beam, joint_m: float) -> tuple[str, str, float]:
    """Return the posts on both sides of a joint, and the post or rail nearest to it with its distance."""
    first = array.job.first_pier
    names = [array.pier_name(f"{beam.letter}{n}") for n, _ in enumerate(beam.posts_m, start=first)]
    between = "past the end post"
    for (a, at), (b, until) in pairwise(zip(names, beam.posts_m, strict=True)):
        if at <= joint_m <= until:
            between = f"{a} and {b}"
    things = [(f"post {name}", at) for name, at in zip(names, beam.posts_m, strict=True)]
    things += [(f"rail {n}", at) for n, at in enumerate(beam.rails_m, start=1)]
    name, at = min(things, key=lambda thing: abs(thing[1] - joint_m))
    return between, name, abs(at - joint_m)


def _marks(
    title: str,
    what: str,
    at_m: Sequence[Sequence[float]],
    beams: Sequence[str],
    notation: Notation,
    *,
    first: int = 1,
) -> Table:
    most = max(len(some) for some in at_m)
    return Table(
        title=f"{title}, from the left end of the beam",
        columns=(
            Column(heading=what, name=what.lower(), align="center", strong=True),
            *(
                Column(heading=f"Beam {beam}", name=f"beam_{beam.lower()}", unit=notation.unit)
                for beam in beams
            ),
        ),
        rows=tuple(
            (str(n + first), *(notation.length(some[n]) if n < len(some) else "" for some in at_m))
            for n in range(most)
        ),
        size_pt=_SIZE_PT,
    )
