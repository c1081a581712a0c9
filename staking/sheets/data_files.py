"""The tables for other programs: stakes, piers, ties, hubs, points, cuts, what is sawn from, the order."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from staking.base.quantities import FOOT3_M3
from staking.base.units import format_angle
from staking.marks.stakeout import Tie
from staking.plan import Plan
from staking.sheets.bare_table import bare, bare_table
from staking.sheets.cut_table import cut_ends_m
from staking.sheets.going import by_piece, going
from staking.sheets.map_extent import control_marks
from staking.sheets.order_table import order_file
from staking.sheets.saw_list import saw_list
from staking.sheets.sheet import DataFile
from staking.sheets.table import Table

Floats = NDArray[np.float64]


def data_files(plan: Plan) -> tuple[DataFile, ...]:
    """Return the files that apply: none for a survey without an array."""
    if not plan.arrays:
        return ()
    files = [
        DataFile(name="stakes.csv", table=_stakes(plan)),
        DataFile(name="piers.csv", table=_piers(plan)),
        DataFile(name="ties.csv", table=_ties(plan)),
        DataFile(name="hubs.csv", table=_hubs(plan)),
        DataFile(name="point_list.csv", table=_point_list(plan)),
    ]
    if plan.cuts is not None:
        files.append(DataFile(name="cuts.csv", table=_cuts(plan)))
        files.append(DataFile(name="saw_list.csv", table=saw_list(plan, plan.cuts.sticks)))
    if plan.order:
        files.append(DataFile(name="order.csv", table=order_file(plan, plan.order)))
    return tuple(files)


def _stakes(plan: Plan) -> Table:
    """Return where each stake belongs, in the columns of ``staked.csv``."""
    unit = plan.book.job.site.units
    rows = [
        (array.pier_name(name), bare(float(en[0]), unit), bare(float(en[1]), unit), "")
        for array in plan.arrays
        for name, en in zip(array.fit.piers.names, array.fit.piers.en_m, strict=True)
    ]
    return bare_table("stakes", (("pier", ""), ("east", ""), ("north", ""), ("note", "")), rows)


def _piers(plan: Plan) -> Table:
    unit = plan.book.job.site.units
    rows = []
    for array in plan.arrays:
        fit, lengths = array.fit, array.fit.lengths
        sd_ground = lengths.ground_cov_m2.diagonal() ** 0.5
        for i, hole in enumerate(array.holes):
            values = (
                fit.piers.en_m[i, 0],
                fit.piers.en_m[i, 1],
                lengths.ground_m[i],
                sd_ground[i],
                lengths.above_grade_m[i],
                lengths.sd_above_grade_m[i],
                lengths.top_m[i],
                lengths.sd_top_m,
                hole.post_length_m,
                hole.hole_depth_m,
                hole.embedment_m,
                hole.lip_m,
                hole.bottom_cover_m,
            )
            rows.append(
                (
                    array.pier_name(hole.pier),
                    *(bare(float(value), unit) for value in values),
                    f"{hole.concrete_m3 / (FOOT3_M3 if unit in ('ft', 'in') else 1.0):.4f}",
                    "" if hole.bags is None else f"{hole.bags:.2f}",
                )
            )
    names = (
        "east",
        "north",
        "ground",
        "sd_ground",
        "above_grade",
        "sd_above_grade",
        "top",
        "sd_top",
        "post_length",
        "hole_depth",
        "embedment",
        "lip",
        "bottom_cover",
    )
    cubic = "ft3" if unit in ("ft", "in") else "m3"
    columns = (("pier", ""), *((name, unit) for name in names), ("concrete", cubic), ("bags", ""))
    return bare_table("piers", columns, rows)


def _ties(plan: Plan) -> Table:
    unit = plan.book.job.site.units
    rows = []
    for array in plan.arrays:
        for mark in array.stakeout.marks:
            first, second = (mark.ties[k] if len(mark.ties) > k else None for k in range(2))
            rows.append(
                (
                    mark.pier,
                    bare(mark.station_m, unit),
                    bare(mark.offset_m, unit),
                    bare(mark.running_m, unit),
                    *_tie(first, unit),
                    *_tie(second, unit),
                    "" if mark.crossing_rad is None else format_angle(mark.crossing_rad, 2),
                    *_tie(mark.check, unit),
                )
            )
    columns = [("pier", ""), ("station", unit), ("offset", unit), ("along_beam", unit)]
    for tie in ("tie_1", "tie_2"):
        columns += [(f"{tie}_from", ""), (f"{tie}_level", unit), (f"{tie}_slope", unit)]
    columns += [("crossing", "deg"), ("check_from", ""), ("check_level", unit), ("check_slope", unit)]
    return bare_table("ties", columns, rows)


def _tie(tie: Tie | None, unit: str) -> tuple[str, str, str]:
    return ("", "", "") if tie is None else (tie.point, bare(tie.level_m, unit), bare(tie.slope_m, unit))


def _hubs(plan: Plan) -> Table:
    unit = plan.book.job.site.units
    rows = [
        (
            mark.pier,
            hub.name.removeprefix(mark.pier).strip() or hub.name,
            *(bare(value, unit) for value in (*hub.en_m, hub.ground_m, hub.sd_ground_m, hub.up_to_top_m)),
        )
        for array in plan.arrays
        for mark in array.stakeout.marks
        for hub in mark.hubs
    ]
    columns = [("pier", ""), ("hub", "")]
    columns += [(name, unit) for name in ("east", "north", "ground", "sd_ground", "up_to_top")]
    return bare_table("hubs", columns, rows)


def _point_list(plan: Plan) -> Table:
    """Return everything with a name and a place: marks to set up on, stakes, hubs; the ground at each."""
    unit = plan.book.job.site.units
    rows = []
    for lasting in control_marks(plan):
        rows.append((lasting.name, lasting.kind, *_placed(lasting.en_m, lasting.elevation_m, unit)))
    for array in plan.arrays:
        piers = array.fit.piers
        for name, en, ground in zip(piers.names, piers.en_m, array.fit.lengths.ground_m, strict=True):
            rows.append((array.pier_name(name), "stake", *_placed(en, float(ground), unit)))
        for mark in array.stakeout.marks:
            for hub in mark.hubs:
                rows.append((hub.name, "hub", *_placed(hub.en_m, hub.ground_m, unit)))
    columns = [("point", ""), ("kind", ""), ("east", unit), ("north", unit), ("elevation", unit)]
    return bare_table("points", columns, rows)


def _placed(en_m: tuple[float, float] | Floats, elevation_m: float | None, unit: str) -> tuple[str, str, str]:
    return bare(float(en_m[0]), unit), bare(float(en_m[1]), unit), bare(elevation_m, unit)


def _cuts(plan: Plan) -> Table:
    unit = plan.book.job.site.units
    assert plan.cuts is not None
    kerf = 0.0 if plan.book.job.pipe is None else plan.book.job.pipe.kerf_m
    labels = by_piece(going(plan, plan.cuts))
    again = plan.cuts.again
    rows = [
        (
            stick.name or str(n),
            stick.pipe,
            bare(stick.stock_m, unit),
            piece.piece,
            bare(piece.length_m, unit),
            bare(end, unit),
            bare(stick.drop_m, unit),
            "yes" if stick.on_hand else "no",
            labels[piece.piece].label if piece.piece in labels else "",
            *(() if again is None else (again.changed.get(piece.piece, ""),)),
        )
        for n, stick in enumerate(plan.cuts.sticks, start=1)
        for piece, end in zip(stick.pieces, cut_ends_m(stick, kerf), strict=True)
    ]
    columns = (
        ("stick", ""),
        ("pipe", ""),
        ("stock", unit),
        ("piece", ""),
        ("length", unit),
        ("cut_at", unit),
        ("drop", unit),
        ("on_hand", ""),
        ("label", ""),
        *(() if again is None else (("changed", ""),)),
    )
    return bare_table("cuts", columns, rows)
