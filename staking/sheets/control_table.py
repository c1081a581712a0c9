"""The control sheet: every adjusted point, what closes and what does not, which readings to doubt."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from staking.control.adjustment import Adjustment, Misclosure, where_words
from staking.control.circuits import ALLOWED_SDS, allowed_sds
from staking.control.ellipses import WITHIN_95, ellipses
from staking.plan import Plan
from staking.sheets.doubted import false_alarm_words, groups_of, not_told_apart
from staking.sheets.notation import Notation, chance_words, count_words, degrees, sentence
from staking.sheets.pin_table import between_pins
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table

_KINDS_FIRST = ("benchmark", "pin", "turning", "corner", "tree", "other", "ground")
"""Order of the points: what lasts comes first."""
_MOST_RESIDUALS = 8
_WORTH_LISTING = 2.0
"""Readings whose residual is at least this many times its own standard deviation are listed."""


_HELD_M = 1e-9
"""What is less unsure was given, not measured."""


def control_sheet(plan: Plan, *, notation: Notation) -> Sheet:
    """Return the control sheet."""
    adjustment = plan.adjustment
    blocks: list[Words | Table] = [quality_words(adjustment, notation)]
    if adjustment.suspects:
        blocks.append(_suspects(adjustment))
    if adjustment.misclosures:
        blocks.append(_misclosures(adjustment, notation))
    worst = _residuals(adjustment, notation)
    if worst is not None:
        blocks.append(worst)
    sure = _pins(adjustment, notation)
    if sure is not None:
        blocks.append(sure)
    if (between := between_pins(plan, notation=notation)) is not None:
        blocks.append(between)
    # The long table last: what is short shares the first page.
    blocks.append(_points(plan, notation))
    return Sheet(name="control", title="Control", blocks=tuple(blocks))


def quality_words(adjustment: Adjustment, notation: Notation) -> Words:
    """Return what can be said of the survey's quality, in a heavy frame when something is wrong."""
    lines = []
    if adjustment.passes is None:
        lines.append("Nothing in this survey checks anything else: no reading has a second one to prove it.")
    else:
        factor = adjustment.variance_factor
        said = "" if factor is None else f" Variance factor {factor:.2f} (1 is as expected)"
        checks = count_words(
            adjustment.redundancy, "reading more than unknowns.", "readings more than unknowns."
        )
        verdict = (
            "The survey passes its test at 1 %."
            if adjustment.passes
            else (
                "THE SURVEY FAILS ITS TEST at 1 %: the readings disagree by more than their stated "
                "accuracy. Find the reading at fault before digging."
            )
        )
        lines.append(f"{verdict}{said}; {checks}" if said else f"{verdict} {checks}")
    failed = [m for m in adjustment.misclosures if not m.passes]
    if adjustment.misclosures:
        lines.append(_loops_words(len(adjustment.misclosures), [m.loop for m in failed]))
    if adjustment.suspects:
        lines.append(
            "Readings to doubt: listed with their likely repair on the control sheet. None was changed. "
            + sentence(false_alarm_words())
        )
    if adjustment.sighted_once:
        names = adjustment.sighted_once_points
        listed = f": {', '.join(names)}" if 0 < len(names) <= 14 else ""
        lines.append(
            f"{count_words(adjustment.sighted_once, 'shot')} sighted once: nothing checks such a shot, and "
            f"an error in it goes unseen into the piers{listed}."
        )
    sums = adjustment.level_sums
    if sums is not None:
        unclosed = f", {sums.unclosed_setups} not closed by a foresight" if sums.unclosed_setups else ""
        lines.append(
            f"Level book: {count_words(sums.setups, 'set-up')}{unclosed}; sum of BS "
            f"{notation.place_words(sums.sum_bs_m)}, sum of FS {notation.place_words(sums.sum_fs_m)}, "
            f"difference {notation.place_words(sums.sum_bs_m - sums.sum_fs_m)}."
        )
    lines += [sentence(text) for text in adjustment.instruments]
    alarm = fails_tests(adjustment) or bool(adjustment.suspects)
    return Words(heading="Quality of the survey", lines=tuple(lines), alarm=alarm)


def _loops_words(number: int, failed: list[str]) -> str:
    if not failed:
        return f"{count_words(number, 'loop closes', 'loops close')} within what is allowed."
    return f"{len(failed)} of {count_words(number, 'loop')} NOT within what is allowed: {', '.join(failed)}."


FAILS = "THE SURVEY FAILS ITS TESTS. Do not dig or cut from it; find the reading at fault first."


def fails_tests(adjustment: Adjustment) -> bool:
    """Return whether the survey's own test or one of its loops fails."""
    return adjustment.passes is False or not all(m.passes for m in adjustment.misclosures)


def _points(plan: Plan, notation: Notation) -> Table:
    points = plan.adjustment.points
    sd_m = points.sd_m()
    order = sorted(
        range(len(points.names)),
        key=lambda i: (_KINDS_FIRST.index(points.kinds[i]), i),
    )
    lost = {row.point.strip().casefold() for row in plan.book.lost}
    stakes = {array.pier_name(p).casefold() for array in plan.arrays for p in array.fit.piers.names}
    once = {name.strip().casefold() for name in plan.adjustment.sighted_once_points}
    rows = []
    for i in order:
        key = points.names[i].strip().casefold()
        remarks = [word for word, said in (("lost", key in lost), ("sighted once", key in once)) if said]
        places = [_length(value, notation) for value in points.enz_m[i]]
        sds = [_sd(value, float(sd), notation) for value, sd in zip(points.enz_m[i], sd_m[i], strict=True)]
        kind = "stake" if key in stakes and points.kinds[i] == "ground" else points.kinds[i]
        rows.append((points.names[i], kind, *places, *sds, ", ".join(remarks)))
    unit = notation.unit
    return Table(
        title="Points",
        columns=(
            Column(heading="Point", name="point", align="left", strong=True),
            Column(heading="Kind", name="kind", align="left"),
            Column(heading="East", name="east", unit=notation.place_unit),
            Column(heading="North", name="north", unit=notation.place_unit),
            Column(heading="Elevation", name="elevation", unit=notation.place_unit),
            Column(heading="± east", name="sd_east", unit=unit),
            Column(heading="± north", name="sd_north", unit=unit),
            Column(heading="± elev.", name="sd_elevation", unit=unit),
            Column(heading="Remark", name="remark", align="left"),
        ),
        rows=tuple(rows),
        notes=(
            "± is one standard deviation, from the accuracies stated for the readings: two points in three "
            "lie within it, nineteen in twenty within twice as much. “held” is given beforehand, – not "
            "known: a stake shot for its elevation alone is where the stake sheet sets it.",
        ),
    )


def _pins(adjustment: Adjustment, notation: Notation) -> Table | None:
    """Return how sure the pins are in plan, None when none was measured."""
    points = adjustment.points
    rows = []
    for name, kind, around in zip(points.names, points.kinds, ellipses(points), strict=True):
        if kind != "pin" or around is None or around.semi_major_m < _HELD_M:
            continue
        rows.append(
            (
                name,
                notation.sd(around.semi_major_m * WITHIN_95),
                degrees(around.azimuth_rad, 0),
                notation.sd(around.semi_minor_m * WITHIN_95),
            )
        )
    if not rows:
        return None
    unit = notation.unit
    return Table(
        title="Pins: where each surely stands",
        columns=(
            Column(heading="Pin", name="pin", align="left", strong=True),
            Column(heading="Least sure by", name="semi_major_95", unit=unit),
            Column(heading="that is, along", name="azimuth"),
            Column(heading="Across that, by", name="semi_minor_95", unit=unit),
        ),
        rows=tuple(rows),
        notes=(
            "An ellipse about the pin that holds its true place 19 times in 20, seen from the origin. "
            "Directions run clockwise from north.",
        ),
    )


def _length(value_m: float, notation: Notation) -> str:
    return notation.place(float(value_m)) if math.isfinite(value_m) else "–"


def _sd(value_m: float, sd_m: float, notation: Notation) -> str:
    if not math.isfinite(value_m) or not math.isfinite(sd_m):
        return "–"
    return "held" if sd_m < _HELD_M else notation.sd(sd_m)


def _misclosures(adjustment: Adjustment, notation: Notation) -> Table:
    unit = notation.unit
    return Table(
        title="Loops: does each come back to where it began?",
        columns=(
            Column(heading="Loop", name="loop", align="left", wide=True),
            Column(heading="Off by (misclosure)", name="value", unit=unit),
            Column(heading="Allowed", name="allowed", unit=unit),
            Column(heading="Verdict", name="passes", align="left", strong=True),
        ),
        rows=tuple(
            (
                m.loop,
                notation.small(m.value_m),
                notation.small(m.allowed_m),
                "closes" if m.passes else "FAILS",
            )
            for m in adjustment.misclosures
        ),
        notes=(_allowed_words(adjustment.misclosures),),
    )


def _allowed_words(misclosures: Sequence[Misclosure]) -> str:
    """Return what the loops' limit is, and why it is more where there are many."""
    times = allowed_sds(len(misclosures))
    if times <= ALLOWED_SDS:
        return "Allowed is three times what the stated accuracies lead one to expect."
    return (
        f"Allowed is {times:.1f} times what the stated accuracies lead one to expect: of {len(misclosures)} "
        "good loops the worst is off by more in 1 book of 100."
    )


def _undecided(adjustment: Adjustment) -> tuple[str, ...]:
    for group in groups_of(adjustment.suspects)[:1]:
        if len(group) > 1:
            return (
                f"Any of the first {len(group)} may be wrong, and the readings cannot tell which. Take them "
                "again, one after the other: one that reads otherwise is wrong.",
            )
        first = group[0]
        if first.same_as:
            return (f"{where_words(first.table, first.row)}: {not_told_apart(first)} {first.would_tell}",)
    return ()


def _suspects(adjustment: Adjustment) -> Table:
    return Table(
        title="Readings to doubt, the likeliest first",
        columns=(
            Column(heading="Table, row", name="row", align="left"),
            Column(heading="Column", name="column", align="left"),
            Column(heading="Read", name="read", strong=True),
            Column(heading="Likely", name="likely", strong=True),
            Column(heading="Why", name="why", align="left", wide=True),
            Column(heading="Chance", name="chance"),
            Column(heading="Repair", name="repair_chance"),
        ),
        rows=tuple(
            (
                f"{s.table}, {s.row}" if s.row else s.table,
                s.column,
                s.read,
                s.likely,
                s.why,
                chance_words(s.chance),
                "" if s.repair_chance is None else chance_words(s.repair_chance),
            )
            for group in groups_of(adjustment.suspects)
            for s in group
        ),
        notes=(
            *_undecided(adjustment),
            "Chance: that the reading is wrong. Repair: that the likely one is right too, to three times how "
            "good the reading is.",
            "No reading was changed. Go back and read these again; correct the file only from the notebook.",
        ),
    )


def _residuals(adjustment: Adjustment, notation: Notation) -> Table | None:
    checked = [r for r in adjustment.readings if r.w is not None and abs(r.w) >= _WORTH_LISTING]
    if not checked:
        return None
    checked.sort(key=lambda r: -abs(r.w or 0.0))
    rows = []
    for r in checked[:_MOST_RESIDUALS]:
        residual, shows = (
            f"{np.degrees(size):.3f}°" if r.angular else notation.small(size)
            for size in (r.residual, r.detectable or 0.0)
        )
        rows.append((f"{r.table}, {r.row}", r.what, r.read, residual, f"{abs(r.w or 0.0):.1f}", shows))
    return Table(
        title="Readings that fit worst",
        columns=(
            Column(heading="Table, row", name="row", align="left"),
            Column(heading="What", name="what", align="left", wide=True),
            Column(heading="Read", name="read"),
            Column(heading="Adjusted minus read", name="residual", unit=notation.unit),
            Column(heading="Times its usual error", name="w"),
            Column(heading="Least mistake that would show", name="shows", unit=notation.unit),
        ),
        rows=tuple(rows),
        notes=(
            "The usual error of a reading is one standard deviation of what adjusted minus read comes to; "
            "three times that is rare. A mistake less than the last column mostly goes unnoticed.",
        ),
    )
