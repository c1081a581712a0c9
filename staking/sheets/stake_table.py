"""The stake sheet: how to find and check each stake, and the hubs that bring it back after the auger."""

from __future__ import annotations

from staking.marks.stakeout import Hub, Tie
from staking.plan import ArrayPlan
from staking.sheets.notation import Notation, degrees
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table

_SIZE_PT = 11.0
_STRAIGHT_M = 0.0005
"""An offset less than half a millimetre is on the line."""


def stake_sheet(array: ArrayPlan, *, notation: Notation) -> Sheet:
    """Return the sheet of one array's stakes, and of the hubs that bring them back."""
    hubs = any(mark.hubs for mark in array.stakeout.marks)
    title = ("Stakes and offset hubs" if hubs else "Stakes") + (f", {array.title}" if array.title else "")
    first, second = array.stakeout.baseline
    how = Words(
        lines=(
            f"Baseline: from {first} toward {second}. Station is measured along it from {first}, offset "
            "square off it, left or right as seen looking along it. All lengths here are level unless "
            "headed “on slope”.",
            "Swing ties: two tapes, one from each pin, cross at the stake. “On slope” is what the tape "
            "reads lying from pin to stake on that ground. The check was not used to place the stake: "
            "measure it last.",
        ),
        size_pt=9.5,
    )
    blocks: list[Words | Table] = [how, _stakes(array, notation)]
    if any(mark.ties for mark in array.stakeout.marks):
        blocks.append(_ties(array, notation))
    blocks += _recoveries(array, notation)
    blocks += [_hubs(array, notation)] if hubs else []
    blocks += [Words(heading="Mind", lines=array.stakeout.warnings)] if array.stakeout.warnings else []
    return Sheet(name="stakes", title=title, blocks=tuple(blocks))


def offset_words(offset_m: float, notation: Notation) -> str:
    """Return an offset with its side in words."""
    if abs(offset_m) < _STRAIGHT_M:
        return "on line"
    return f"{notation.length(abs(offset_m))} {'right' if offset_m > 0.0 else 'left'}"


def _stakes(array: ArrayPlan, notation: Notation) -> Table:
    unit, marks = notation.unit, array.stakeout.marks
    checked = any(mark.check is not None for mark in marks)
    columns = [
        Column(heading="Pier", name="pier", align="left", strong=True),
        Column(heading="Station", name="station", unit=unit, strong=True),
        Column(heading="Offset", name="offset", unit=unit, strong=True),
        Column(heading="Along beam", name="running", unit=unit),
    ]
    if checked:
        columns += [
            Column(heading="Check from", name="check", align="left"),
            Column(heading="Check, level", name="check_level", unit=unit),
            Column(heading="Check, on slope", name="check_slope", unit=unit),
        ]
    columns.append(Column(heading="Set", name="set", kind="tick", align="center"))
    rows = []
    for mark in marks:
        row = [
            mark.pier,
            notation.length(mark.station_m),
            offset_words(mark.offset_m, notation),
            notation.length(mark.running_m),
        ]
        rows.append((*row, *(_tie(mark.check, notation) if checked else ()), ""))
    return Table(
        title="By station and offset",
        columns=tuple(columns),
        rows=tuple(rows),
        size_pt=_SIZE_PT,
        rules_above=_beam_starts(array),
    )


def _ties(array: ArrayPlan, notation: Notation) -> Table:
    unit = notation.unit
    columns = [Column(heading="Pier", name="pier", align="left", strong=True)]
    for k in (1, 2):
        columns += [
            Column(heading="From", name=f"tie_{k}", align="left", strong=True),
            Column(heading="level", name=f"tie_{k}_level", unit=unit, strong=True),
            Column(heading="on slope", name=f"tie_{k}_slope", unit=unit, strong=True),
        ]
    columns += [
        Column(heading="Cross at", name="crossing"),
        Column(heading="±", name="sd_place", unit=unit),
        Column(heading="Set", name="set", kind="tick", align="center"),
    ]
    rows = []
    for mark in array.stakeout.marks:
        first, second = (mark.ties[k] if len(mark.ties) > k else None for k in range(2))
        rows.append(
            (
                mark.pier,
                *_tie(first, notation),
                *_tie(second, notation),
                "" if mark.crossing_rad is None else degrees(mark.crossing_rad, 0),
                "" if mark.sd_place_m is None else notation.sd(mark.sd_place_m),
                "",
            )
        )
    return Table(
        title="By two swing ties",
        columns=tuple(columns),
        rows=tuple(rows),
        size_pt=_SIZE_PT,
        rules_above=_beam_starts(array),
        notes=(
            f"Two ties also meet on the far side of the line between their pins: {_which_side(array)}. "
            "± is how well they place the stake, one standard deviation, from pins and tape.",
        ),
    )


def _which_side(array: ArrayPlan) -> str:
    """Return where the stakes lie from the lines between their pins, or where that can be seen."""
    sides = {mark.side for mark in array.stakeout.marks if mark.ties}
    if len(sides) == 1 and (side := sides.pop()) is not None:
        return f"every stake lies {side} of the line from its first pin to its second"
    return "the map tells which side"


def _tie(tie: Tie | None, notation: Notation) -> list[str]:
    if tie is None:
        return ["", "", ""]
    return [tie.point, notation.length(tie.level_m), notation.length(tie.slope_m)]


def _beam_starts(array: ArrayPlan) -> tuple[int, ...]:
    beams = [mark.pier.rstrip("0123456789") for mark in array.stakeout.marks]
    return tuple(i for i in range(1, len(beams)) if beams[i] != beams[i - 1])


def _hubs(array: ArrayPlan, notation: Notation) -> Table:
    unit = notation.unit
    most = max(len(mark.hubs) for mark in array.stakeout.marks)
    columns = [Column(heading="Pier", name="pier", align="left", strong=True)]
    for k in range(most):
        columns += [
            Column(heading="Hub", name=f"hub_{k}", align="left"),
            Column(heading="Ground at hub", name=f"ground_{k}", unit=notation.place_unit),
            Column(heading="±", name=f"sd_ground_{k}", unit=unit),
            Column(heading="From hub to top of post", name=f"up_{k}", unit=unit, strong=True),
        ]
    rows = []
    for mark in array.stakeout.marks:
        cells = [mark.pier]
        for k in range(most):
            cells += _hub(mark.hubs[k], mark.pier, notation) if k < len(mark.hubs) else ["", "", "", ""]
        rows.append(tuple(cells))
    return Table(
        title="Offset hubs",
        columns=tuple(columns),
        rows=tuple(rows),
        size_pt=_SIZE_PT,
        rules_above=_beam_starts(array),
        notes=(
            "Hubs stand in line with the beam, where the auger spares them. A string from a stake's left to "
            "its right hub passes over the stake. From the ground at a hub, level across to the post, then "
            "measure UP or DOWN to its top.",
            "± is one standard deviation of the ground at the hub, and all of it goes into the UP or DOWN "
            "beside it. Level and rod from the benchmark to the top's elevation, on the pier sheet, are "
            "better.",
        ),
    )


def _hub(hub: Hub, pier: str, notation: Notation) -> list[str]:
    way = "UP" if hub.up_to_top_m >= 0.0 else "DOWN"
    return [
        hub.name.removeprefix(pier).strip() or hub.name,
        notation.place(hub.ground_m),
        notation.sd(hub.sd_ground_m),
        f"{way} {notation.length(abs(hub.up_to_top_m))}",
    ]


def _recoveries(array: ArrayPlan, notation: Notation) -> list[Table]:
    if not array.stakeout.recoveries:
        return []
    rows = []
    for lost in array.stakeout.recoveries:
        first, second = lost.ties
        rows.append(
            (
                lost.pier,
                *_tie(first, notation),
                *_tie(second, notation),
                f"{lost.side} of {first.point} to {second.point}",
                notation.sd(lost.sd_place_m),
            )
        )
    unit = notation.unit
    return [
        Table(
            title="Lost stakes, from two that still stand",
            columns=(
                Column(heading="Pier", name="pier", align="left", strong=True),
                Column(heading="From", name="tie_1", align="left"),
                Column(heading="level", name="tie_1_level", unit=unit),
                Column(heading="on slope", name="tie_1_slope", unit=unit),
                Column(heading="From", name="tie_2", align="left"),
                Column(heading="level", name="tie_2_level", unit=unit),
                Column(heading="on slope", name="tie_2_slope", unit=unit),
                Column(heading="Side", name="side", align="left"),
                Column(heading="±", name="sd_place", unit=unit),
            ),
            rows=tuple(rows),
            size_pt=_SIZE_PT,
        )
    ]
