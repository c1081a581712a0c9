"""What the person in the yard should know about a plan, each as one sentence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import accumulate

import numpy as np

from staking.base.quantities import FOOT3_M3
from staking.base.units import format_angle, told
from staking.book.records import ArrayJob, FieldBook, Footing, Job
from staking.control.adjustment import Adjustment, Points
from staking.control.variance_test import chi_square_upper_tail
from staking.ground.doubts import Doubts
from staking.ground.odd import odd_shots
from staking.ground.off_marks import OffMark, off_marks
from staking.ground.shots import known_as
from staking.ground.table_ground import Tie
from staking.ground.yard import STAKE_MOVED_M, YardGround
from staking.layout.braces import Braced
from staking.layout.frame import Fit
from staking.layout.piers import whole_name
from staking.layout.rail_cost import RailCost
from staking.marks.stakeout import StakeOut
from staking.pipes.asked import pipe_remarks
from staking.pipes.holes import Hole
from staking.usual import usual_remarks


def _percent(chance: float) -> str:
    return "more than 99 %" if chance > 0.99 else f"{100.0 * chance:.0f} %"


def _plain(value: float) -> str:
    """Return three figures, never with a power of ten."""
    return f"{value:.0f}" if value >= 100 else f"{value:.3g}"


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names)


LEVELS_OPEN = "THE LEVELS DO NOT CLOSE"
JUST_OPEN = "not every loop of the levels closes within what is allowed"
BEYOND_THREE_SD = 0.0027
"""Share of normal errors larger than three standard deviations."""
SURVEY_FAILS = "THE SURVEY FAILS ITS TEST"


def survey_remarks(adjustment: Adjustment) -> tuple[str, ...]:
    """Return what the tests of the survey say, where they fail."""
    remarks = []
    failing = [m.loop for m in adjustment.misclosures if not m.passes]
    if failing and adjustment.passes:
        loops = len(adjustment.misclosures)
        share = 1 - (1 - BEYOND_THREE_SD) ** loops
        remarks.append(
            f"{JUST_OPEN} ({'; '.join(failing)}), though the whole survey passes its test. Of sound books "
            f"with {'one loop' if loops == 1 else f'{loops} loops'} {share:.1%} have such a one: level it "
            "again before a hole is dug"
        )
    elif failing:
        remarks.append(f"{LEVELS_OPEN}: {'; '.join(failing)}. Everything below rests on them")
    if adjustment.passes is False:
        remarks.append(
            f"{SURVEY_FAILS}: its readings disagree by more than the accuracies stated allow. A reading is "
            "wrong, or the accuracies stated are better than the work was. Find it before a hole is dug"
        )
    if adjustment.passes and too_good(adjustment.variance_factor, adjustment.redundancy):
        remarks.append(
            f"the readings agree far better than stated: variance factor {adjustment.variance_factor:.2g} "
            f"with {adjustment.redundancy} readings more than needed, as fewer than one sound survey in a "
            "thousand has. [accuracy] may be too large or in another unit; then mistakes do not show"
        )
    return tuple(remarks)


TOO_GOOD = 0.001
"""Share of sound surveys that are asked about for agreeing too well."""
LEAST_REDUNDANCY = 5
"""With fewer checks a survey agrees that well by luck, or because the same figure was read twice."""


def too_good(variance_factor: float | None, redundancy: int) -> bool:
    """Return whether readings agree better than all but one sound survey in a thousand."""
    if variance_factor is None or redundancy < LEAST_REDUNDANCY:
        return False
    return chi_square_upper_tail(variance_factor * redundancy, redundancy) > 1.0 - TOO_GOOD


STEEPEST_ASKED_RAD = math.radians(15)
"""A beam steeper than this against level is asked about (common practice, no source)."""


BAGS_M3 = (0.005, 0.030)
"""What a bag that is carried by hand makes, from 10 to 60 kg (common practice, no source)."""


def design_remarks(job: Job) -> tuple[str, ...]:
    """Return questions about values that are allowed but odd."""
    style = job.site.show
    remarks = []
    for array in job.arrays:
        of = f"array {array.name}: " if array.name else ""
        fit = array.fit
        for key, value_m in (("clearance", fit.clearance_m), ("above_grade_min", fit.above_grade_min_m)):
            if value_m < 0:
                remarks.append(
                    f"{of}job.toml fit.{key} is {told(value_m, style)}, below the ground: is that meant?"
                )
        slope = fit.max_cross_slope_rad
        if fit.beams == "sloping" and slope is not None and slope > STEEPEST_ASKED_RAD:
            remarks.append(
                f"{of}job.toml fit.max_cross_slope is {format_angle(slope)}°, steeper than beams are set: is "
                "that what the fitting allows?"
            )
    bag_m3 = None if job.footing is None else job.footing.bag_yield_m3
    if bag_m3 is not None and not BAGS_M3[0] <= bag_m3 <= BAGS_M3[1]:
        remarks.append(
            f"job.toml footing.bag_yield is {_plain(bag_m3 * 1000)} L, {_plain(bag_m3 / FOOT3_M3)} cu ft: no "
            "bag that one person lifts makes so much or so little; is the unit right?"
        )
    return (*remarks, *pipe_remarks(job), *usual_remarks(job))


def ground_remarks(
    book: FieldBook, ground: YardGround | None, doubts: Doubts, points: Points
) -> tuple[str, ...]:
    """Return the shots that disagree with their neighbours, and points of breaks that have no place.

    Parameters
    ----------
    book : FieldBook
        The readings as typed.
    ground : YardGround or None
        None where there are too few shots.
    doubts : Doubts
        What the ground says of single readings; the shots among its suspects are not named again.
    points : Points
        From the adjustment.
    """
    style = book.job.site.show
    remarks = []
    off = doubts.setup
    if off is not None:
        where = "above" if off.above_m > 0 else "below"
        remarks.append(
            f"the {off.shots} shots that the set-up of levels.csv row {off.first_row} alone has taken stand "
            f"{told(abs(off.above_m), style)} {where} what the rest of the ground says (1 sd of that "
            f"{told(off.sd_m, style)}; chance {_percent(off.chance)}): was the instrument bumped, a "
            "turning point moved, the BS misread? Or a bank lies there: sight a pin from both set-ups"
        )
    for odd in () if ground is None else odd_shots(ground.shots, ground.statistical):
        if known_as(odd.name) in doubts.names:
            continue
        where = "above" if odd.above_m > 0 else "below"
        remarks.append(
            f"shot {odd.name} lies {told(abs(odd.above_m), style)} {where} what its neighbours say (1 sd "
            f"of that {told(odd.sd_m, style)}): spoil, a leaning rod, a misread rod or a true "
            "bump; look again"
        )
    marks = () if ground is None else off_marks(points, ground)
    return (
        *remarks,
        *_mark_remarks(marks, style),
        *_break_remarks(book, points),
        *_table_remarks(book, ground),
    )


def _table_remarks(book: FieldBook, ground: YardGround | None) -> list[str]:
    """Return what a person should know of the large table of ground points."""
    if ground is None or ground.table is None or ground.tie is None:
        return []
    style, table, tie = book.job.site.show, ground.table.table, ground.tie
    remarks = []
    if tie.significant:
        where = "above" if tie.above_m > 0.0 else "below"
        used = ground.choice is not None and ground.choice.used == "table"
        so = "every length stands on the table as it is" if used else "the lengths do not rest on the table"
        remarks.append(
            f"the survey's {tie.shots} ground shots stand {told(abs(tie.above_m), style)} {where} "
            f"{table.file} in the mean (1 sd {told(tie.sd_m, style)}): more than chance. Nothing was moved, "
            f"and {so}; if the table counts from elsewhere, state it: [ground] shift = "
            f'"{told(_shift_m(book, tie), style)}"'
        )
    breaks = sum(line.kind == "break" for line in book.lines)
    if breaks and ground.choice is not None and ground.choice.used == "table":
        remarks.append(
            f"the ground is that of {table.file}: breaks of lines.csv are no part of it, its points tell them"
        )
    return remarks


def _shift_m(book: FieldBook, tie: Tie) -> float:
    """Return the shift that would bring the table to the shots."""
    return book.job.ground.shift_m + tie.above_m


MOST_MARKS = 4
"""Told one by one; the others are counted."""


def _mark_remarks(marks: Sequence[OffMark], style: str) -> list[str]:
    """Return a question on the pins, benchmarks and corners that stand off the ground."""
    if not marks:
        return []
    told_of = [
        f"{mark.kind} {mark.name} stands {told(abs(mark.above_m), style)} "
        f"{'above' if mark.above_m > 0 else 'below'} the ground that was shot round it (1 sd of that "
        f"{told(mark.sd_m, style)})"
        for mark in marks[:MOST_MARKS]
    ]
    if len(marks) > MOST_MARKS:
        told_of.append(f"{len(marks) - MOST_MARKS} more marks likewise")
    return [
        f"{'; '.join(told_of)}: is it really on a slab, a post or in a hole? Else its rod was misread or the "
        "yard is laid out mirrored"
    ]


def _break_remarks(book: FieldBook, points: Points) -> list[str]:
    """Return which points of breaks have no place."""
    placed = {
        known_as(name)
        for name, place in zip(points.names, points.enz_m, strict=True)
        if np.isfinite(place[:2]).all()
    }
    remarks = []
    for line in book.lines:
        lacking = [name for name in line.points if known_as(name) not in placed]
        if line.kind == "break" and lacking:
            does = "runs straight past" if len(line.points) - len(lacking) > 1 else "is not used without"
            remarks.append(
                f"lines.csv row {line.row}: {_listed(lacking)} has no place; break {line.line} {does} it"
            )
    return remarks


def stake_remarks(
    array: str, fit: Fit, ground: YardGround, *, staked: frozenset[str], style: str
) -> tuple[str, ...]:
    """Return where the shots at stakes were taken to stand, and which stakes the design has left behind.

    Parameters
    ----------
    array : str
        The array's name, empty when there is only one.
    fit : Fit
        Where the piers stand now.
    ground : YardGround
        With the shots at stakes.
    staked : frozenset of str
        Names, in small letters, of the piers in ``staked.csv``.
    style : str
        Notation of lengths.
    """
    moved = ground.moved_stakes(fit.piers.names, fit.piers.en_m)
    remarks = [
        f"the stake of {whole_name(array, one.pier)} was shot {told(one.moved_m, style)} from where the pier "
        f"stands now, too far to mark it ({told(STAKE_MOVED_M, style)} may be): its shot is taken as an "
        "ordinary ground point"
        + (
            f". It stands where {whole_name(array, one.stands_at)} does: are names exchanged in staked.csv?"
            if one.stands_at
            else ""
        )
        for one in moved
    ]
    assumed = [
        whole
        for name in fit.piers.names
        if (key := (whole := whole_name(array, name)).casefold()) in ground.shots.stakes and key not in staked
    ]
    if assumed:
        remarks.append(
            f"shots on {_listed(assumed)} are taken to stand at the piers of this design; if the stakes were "
            "set from an earlier one, copy its stakes.csv to staked.csv"
        )
    return tuple(remarks)


def stakes_stay_remarks(book: FieldBook, ground: YardGround | None) -> tuple[str, ...]:
    """Return what a remedy that moves piers needs where nothing says where the stakes stood."""
    if ground is None:
        return ()
    unsaid = ground.shots.stakes.keys() - {known_as(row.pier) for row in book.staked}
    assumed = [name for name in ground.shots.names if known_as(name) in unsaid]
    if not assumed:
        return ()
    return (
        f"shots on {_listed(assumed)} are taken to stand at the piers of this design. Another tilt, "
        "cross-slope or place moves the piers, and the shots with them: copy the stakes.csv that the stakes "
        "were set from to staked.csv before such a change is written into job.toml",
    )


def piers_outside(fit: Fit, ground: YardGround) -> tuple[str, ...]:
    """Return the piers that stand outside the shots and have none at their stake."""
    guessed = ground.outside(fit.piers.en_m) & ~ground.at_stakes(fit.piers.names, fit.piers.en_m)
    return tuple(name for name, out in zip(fit.piers.names, guessed, strict=True) if out)


def array_remarks(
    array: str, fit: Fit, holes: Sequence[Hole], footing: Footing | None, ground: YardGround, *, style: str
) -> tuple[str, ...]:
    """Return what stands out of one array: piers outside the shots, thin side cover, frost."""

    def named(some: Sequence[Hole]) -> str:
        return _listed([whole_name(array, hole.pier) for hole in some])

    remarks = []
    beyond = [whole_name(array, pier) for pier in piers_outside(fit, ground)]
    if beyond:
        remarks.append(
            f"{_listed(beyond)} {'stands' if len(beyond) == 1 else 'stand'} OUTSIDE the ground that was "
            "shot: the lengths there are guesses with the uncertainty stated; shoot the ground there"
        )
    thin = [hole for hole in holes if hole.off_mark_m is not None and hole.off_mark_m <= 0]
    if thin:
        remarks.append(
            f"the holes at {named(thin)} leave less than the side cover even with the post in the middle"
        )
    shallow = [h for h in holes if footing is not None and h.embedment_m < footing.embedment_m - 1e-6]
    if footing is not None and shallow:
        short = max(footing.embedment_m - hole.embedment_m for hole in shallow)
        remarks.append(
            f"the holes at {named(shallow)} are dug too shallow: embedment is up to {told(short, style)} "
            "less than given. Dig deeper, or ask the engineer before posts are cut or set"
        )
    if footing is not None and footing.frost_depth_m is not None:
        frozen = [h for h in holes if h.hole_depth_m < footing.frost_depth_m + h.lip_m - 1e-6]
        if frozen:
            remarks.append(f"the holes at {named(frozen)} end above the frost depth")
    frost_m = None if footing is None else footing.frost_depth_m
    if footing is not None and any(
        hole.bottom_cover_m > footing.bottom_cover_m + 1e-9
        and frost_m is not None
        and abs(hole.hole_depth_m - frost_m - hole.lip_m) < 1e-9
        for hole in holes
    ):
        deepest = max(hole.bottom_cover_m for hole in holes)
        remarks.append(
            f"frost depth makes the holes deeper than embedment asks: the bottom cover grows to "
            f"{told(deepest, style)} at the most"
        )
    return tuple(remarks)


def brace_remarks(braced: Braced) -> tuple[str, ...]:
    """Return the tall posts for which there is no neighbour that a brace could run to."""
    if not braced.without:
        return ()
    return (
        f"no brace for {_listed(braced.without)}, which [braces] over asks for: no neighbour that [braces] "
        "to names, or its fixing would not be on its pipe below this one's",
    )


def rail_remarks(job: ArrayJob, cost: RailCost | None, style: str) -> tuple[str, ...]:
    """Return what the least distance from a rail to a post costs one array."""
    if cost is None:
        return ()
    front = f"array {job.name}: " if job.name else ""
    now, free = (f"{math.degrees(abs(one)):.2f}°" for one in (cost.cross_rad, cost.free_cross_rad))
    return (
        f"{front}rail_clear costs {told(cost.steel_m, style)} of posts above grade in all: a rail would come "
        f"too near a post with beams sloping {free}, so they slope {now}. Another rail_inset or bay may not",
    )


def parting_remarks(job: Job, laid: Sequence[tuple[ArrayJob, Fit, StakeOut]]) -> tuple[str, ...]:
    """Return where arrays were parted, so that it can be held, and hubs that a neighbour's hole would take.

    Parameters
    ----------
    job : Job
        As given.
    laid : sequence of (ArrayJob, Fit, StakeOut)
        Every section as laid out, its piers named in full.
    """
    remarks = []
    for array in job.arrays:
        own = [section for section, _, _ in laid if section.name == array.name]
        if not array.fit.stepped or array.fit.break_after is not None or len(own) < 2:
            continue
        after = list(accumulate(section.array.modules_along for section in own[:-1]))
        front = f"array {array.name}: " if array.name else ""
        remarks.append(
            f"{front}the array is parted after line {_listed([str(line) for line in after])} of the modules, "
            f"counted from the left; before stakes are set write break_after = {after} into [fit], or "
            "another shot may part it elsewhere"
        )
    hole_m = 0.0 if job.footing is None else job.footing.hole_diameter_m
    for mine, _, marks in laid:
        for other, fit, _ in laid:
            if mine.sections < 2 or mine.name != other.name or mine.section == other.section:
                continue
            for hub in (hub for mark in marks.marks for hub in mark.hubs):
                apart = np.hypot(*(fit.piers.en_m - np.array(hub.en_m)).T)
                remarks += [
                    f"Offset hub {hub.name} is in the hole of {fit.piers.names[i]}: change "
                    "[stakes] offset_hub"
                    for i in np.flatnonzero(apart <= hole_m / 2)
                ]
    return tuple(remarks)
