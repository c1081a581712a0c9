"""Designs side by side: one table for paper and screen, one for other programs."""

from __future__ import annotations

import math
from collections.abc import Sequence

from staking.base.units import in_unit
from staking.compare import Compared
from staking.plan import ArrayPlan
from staking.remarks import piers_outside
from staking.sheets.bare_table import bare
from staking.sheets.compare_picture import TITLE, compare_pictures
from staking.sheets.control_table import FAILS, fails_tests
from staking.sheets.notation import Notation, degrees, sentence
from staking.sheets.pack import title_block
from staking.sheets.sheet import HALF, DataFile, Pack, Paper, Sheet, Words
from staking.sheets.table import Column, Table
from staking.sheets.wrapped import bullets

_NONE = "–"


def compare_pack(designs: Sequence[Compared], *, paper: Paper | None = None) -> Pack:
    """Return the table and the picture of designs side by side, and the table for other programs."""
    own = designs[0].plan
    assert own is not None
    notation = Notation(style=own.book.job.site.show)
    if paper is None:
        paper = "a4" if notation.style == "metric" else "letter"
    paper = HALF[paper]
    block = title_block(own, notation)
    sheets = [
        Sheet(
            name="compare",
            title="Designs side by side",
            blocks=(compare_table(designs, notation), *_unbuilt(designs), _reading(designs)),
            landscape=True,
        )
    ]
    drawings = compare_pictures(designs, paper=paper, block=block, notation=notation)
    sheets += [Sheet(name="rows", title=TITLE, drawing=drawing) for drawing in drawings]
    names = ["compare.svg", *(f"compare_{n}.svg" for n in range(2, len(drawings) + 1))]
    data = DataFile(name="compare.csv", table=_for_programs(designs, own.book.job.site.units))
    return Pack(
        paper=paper,
        title_block=block,
        sheets=tuple(sheets),
        drawings=tuple(zip(names, drawings, strict=False)),
        data=(data,),
    )


def compare_lines(designs: Sequence[Compared]) -> list[str]:
    """Return what ``staking compare`` prints."""
    own = designs[0].plan
    assert own is not None
    table = compare_table(designs, Notation(style=own.book.job.site.show))
    names = [column.name for column in table.columns if column.name != "design"]
    units = [f"({column.unit})" if column.unit else "" for column in table.columns if column.name != "design"]
    rows = [names, units, *([cell for k, cell in enumerate(row) if k != 1] for row in table.rows)]
    widths = [max(len(row[k]) for row in rows) for k in range(len(names))]
    title = f"{own.book.job.site.name or 'Survey'}: designs side by side"
    lines = [title, "=" * len(title)]
    if fails_tests(own.adjustment):
        lines += ["", FAILS, ""]
    lines += [f"  {number:>2}  {one.name}" for number, one in enumerate(designs, start=1)]
    lines += ["", *("  ".join(f"{c:>{w}}" for c, w in zip(row, widths, strict=True)) for row in rows)]
    troubles = [f"{number}: {text}" for number, text in _troubles(designs)]
    if troubles:
        lines += ["", "NOT BUILT AS THEY ARE", *bullets(troubles)]
    key = (
        "Tallest: the tallest post above grade. Posts: all of them together. Pipe: all posts and beams as "
        "cut. Clear: least clearance under the modules."
    )
    return [*lines, "", *bullets((key, *_reading(designs).lines))]


def compare_table(designs: Sequence[Compared], notation: Notation) -> Table:
    """Return one row for each array of each design."""
    unit = notation.unit
    columns = (
        Column(heading="No.", name="no", align="center"),
        Column(heading="Design", name="design", align="left", wide=True),
        Column(heading="Tallest post", name="tallest", unit=unit, strong=True),
        Column(heading="All posts above grade", name="posts", unit=unit),
        Column(heading="Pipe cut", name="pipe", unit="m" if notation.style == "metric" else "ft"),
        Column(heading="Sticks", name="sticks"),
        Column(heading="Price", name="price"),
        Column(heading="True tilt", name="tilt", unit="°"),
        Column(heading="True facing", name="facing", unit="°"),
        Column(heading="Skew", name="skew", unit=unit),
        Column(heading="Drop of a beam", name="drop", unit=unit),
        Column(heading="Least clearance", name="clear", unit=unit),
    )
    rows: list[tuple[str, ...]] = []
    starts: list[int] = []
    for number, one in enumerate(designs, start=1):
        starts.append(len(rows))
        if not one.arrays:
            rows.append((str(number), one.name, *[_NONE] * (len(columns) - 2)))
        for k, array in enumerate(one.arrays):
            name = f"{one.name}, array {array.name}" if array.name else one.name
            name += f", section {array.job.section}" if array.stepped else ""
            shared = _cut(one, notation) if k == 0 else ("", "", "")
            rows.append((str(number), name, *_heights(array, notation), *shared, *_plane(array, notation)))
    several = any(len(one.arrays) > 1 for one in designs)
    return Table(
        title="Each design planned whole, on the same survey",
        columns=columns,
        rows=tuple(rows),
        size_pt=9.5,
        rules_above=tuple(starts[1:]) if several else (),
    )


def _heights(array: ArrayPlan, notation: Notation) -> tuple[str, str]:
    above_m = [float(value) for value in array.fit.lengths.above_grade_m]
    return notation.length(max(above_m)), notation.total(above_m)


def _cut(one: Compared, notation: Notation) -> tuple[str, str, str]:
    plan = one.plan
    if plan is None or plan.cuts is None or one.pipe_m is None:
        return _NONE, _NONE, _NONE
    pipe = f"{in_unit(one.pipe_m, 'm' if notation.style == 'metric' else 'ft'):.1f}"
    cost = _NONE if plan.cuts.cost is None else f"{plan.cuts.cost:.2f}"
    return pipe, str(plan.cuts.count), cost


def _plane(array: ArrayPlan, notation: Notation) -> tuple[str, ...]:
    fit = array.fit
    return (
        degrees(fit.true_tilt_rad, 2).rstrip("°"),
        degrees(fit.true_azimuth_rad, 2).rstrip("°"),
        notation.small(abs(fit.skew_m)),
        notation.small(abs(fit.beams[0].rise_m)),
        notation.length(fit.clearance_m),
    )


def _troubles(designs: Sequence[Compared]) -> list[tuple[int, str]]:
    found = []
    for number, one in enumerate(designs, start=1):
        if one.why:
            shave = f"; with ground shaved, {one.shaved}, it would" if one.shaved else ""
            found.append((number, sentence(f"{one.name}: {one.why}{shave}")))
    return found


def _outside(one: Compared, only: ArrayPlan | None = None) -> tuple[str, ...]:
    """Return the piers of a design, or of one of its arrays, that stand outside the shots."""
    if one.plan is None or one.plan.ground is None:
        return ()
    return tuple(
        array.pier_name(pier)
        for array in one.arrays
        if only is None or array is only
        for pier in piers_outside(array.fit, one.plan.ground.for_array(array.name))
    )


def _conflicts(one: Compared) -> str:
    """Return in short what a design stands too near, empty for nothing."""
    if one.plan is None:
        return ""
    found = ["line or tree"] if one.plan.clearances.failing else []
    return "; ".join([*found, *(["arrays overlap"] if one.plan.overlaps else [])])


def _unbuilt(designs: Sequence[Compared]) -> tuple[Words, ...]:
    lines = tuple(f"{number}. {text}" for number, text in _troubles(designs))
    return (Words(heading="Not built as they are", lines=lines, bullets=False),) if lines else ()


def _reading(designs: Sequence[Compared]) -> Words:
    lines = [
        "Skew: in plan the rails meet the high beam this much nearer its low end. Drop: of the low beam, "
        "from end to end.",
        "A shot at a stake stays where the stake stands by job.toml or staked.csv, whatever a design moves.",
        "Geometry, not strength: a taller post or another tilt is for an engineer or the supplier's table to "
        "allow.",
    ]
    if any(one.plan is not None and one.plan.clearances.failing for one in designs):
        failing = [
            str(k)
            for k, one in enumerate(designs, start=1)
            if one.plan is not None and one.plan.clearances.failing
        ]
        lines.insert(0, f"TOO NEAR A LINE OR TREE: {', '.join(failing)}.")
    guessed = [
        f"{k} ({', '.join(piers)})" for k, one in enumerate(designs, start=1) if (piers := _outside(one))
    ]
    if guessed:
        lines.insert(0, f"OUTSIDE THE SHOTS, where lengths are guesses: {', '.join(guessed)}.")
    crossing = [
        str(k) for k, one in enumerate(designs, start=1) if one.plan is not None and one.plan.overlaps
    ]
    if crossing:
        lines.insert(0, f"ARRAYS OVERLAP in plan: {', '.join(crossing)}.")
    return Words(heading="Reading the table", lines=tuple(lines))


def _for_programs(designs: Sequence[Compared], unit: str) -> Table:
    lengths = ("tallest_post", "posts_above_grade", "pipe")
    more = ("skew", "beam_rise", "clearance")
    columns = (
        Column(heading="design", name="design"),
        Column(heading="array", name="array"),
        Column(heading="section", name="section"),
        *(Column(heading=name, name=name, unit=unit) for name in lengths),
        Column(heading="sticks", name="sticks"),
        Column(heading="price", name="price"),
        Column(heading="true_tilt", name="true_tilt", unit="deg"),
        Column(heading="true_azimuth", name="true_azimuth", unit="deg"),
        *(Column(heading=name, name=name, unit=unit) for name in more),
        Column(heading="why_not", name="why_not"),
        Column(heading="ground_to_shave", name="ground_to_shave"),
        Column(heading="survey", name="survey"),
        Column(heading="outside_shots", name="outside_shots"),
        Column(heading="conflicts", name="conflicts"),
    )
    rows: list[tuple[str, ...]] = []
    own = designs[0].plan
    assert own is not None
    tested = own.adjustment.passes is not None or bool(own.adjustment.misclosures)
    survey = "fails" if fails_tests(own.adjustment) else "passes" if tested else "untested"
    for one in designs:
        if not one.arrays:
            rows.append((one.name, *[""] * (len(columns) - 6), one.why, one.shaved, survey, "", ""))
        for k, array in enumerate(one.arrays):
            fit = array.fit
            above_m = fit.lengths.above_grade_m
            cuts = None if one.plan is None or k else one.plan.cuts
            rows.append(
                (
                    one.name,
                    array.name,
                    str(array.job.section),
                    bare(float(above_m.max()), unit),
                    bare(float(above_m.sum()), unit),
                    bare(None if k else one.pipe_m, unit),
                    "" if cuts is None else str(cuts.count),
                    "" if cuts is None or cuts.cost is None else f"{cuts.cost:.2f}",
                    f"{math.degrees(fit.true_tilt_rad):.4f}",
                    f"{math.degrees(fit.true_azimuth_rad):.4f}",
                    bare(fit.skew_m, unit),
                    bare(fit.beams[0].rise_m, unit),
                    bare(fit.clearance_m, unit),
                    "",
                    "",
                    survey,
                    " ".join(_outside(one, array)),
                    _conflicts(one),
                )
            )
    return Table(title="compare", columns=columns, rows=tuple(rows))
