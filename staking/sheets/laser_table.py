"""The laser sheet: cut marks for a range of heights of instrument, so that nobody subtracts in the rain."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from staking.base.units import from_unit
from staking.marks.cut_mark import CutCase, CutMark, cut_mark
from staking.plan import ArrayPlan, Plan
from staking.sheets.cautions import here, laser
from staking.sheets.notation import Notation
from staking.sheets.sheet import Sheet, Words
from staking.sheets.table import Column, Table

_STEP_M = {"feet-inches": from_unit(6, "in"), "decimal feet": from_unit(0.5, "ft"), "metric": 0.15}
"""From one height of instrument to the next: a tripod's head is set to a reading within so much."""
_MOST = 6
"""Heights of instrument beside each other on a sheet."""
_TALLEST_ROD_M = 4.0
"""No backsight beyond it is offered: rods of 13 ft and 4 m are usual. Common practice, no source."""


def laser_sheet(plan: Plan, sections: Sequence[ArrayPlan], *, notation: Notation) -> Sheet | None:
    """Return one array's cut marks by height of instrument, all sections'; None without posts to cut."""
    if not all(section.holes for section in sections) or plan.book.job.pipe is None:
        return None
    title = "Laser and cut marks" + (f", {sections[0].name}" if sections[0].name else "")
    heights_m = instrument_heights_m(_tops_m(sections), notation.style)
    return Sheet(
        name="laser",
        title=title,
        blocks=(
            _setting_up(plan, heights_m),
            _set_up_line(plan, notation),
            _marks(plan, sections, heights_m, plan.book.job.pipe.cut_allowance_m, notation),
            _pole(sections, notation),
        ),
        landscape=True,
    )


def _tops_m(sections: Sequence[ArrayPlan]) -> np.ndarray:
    return np.concatenate([section.fit.lengths.top_m for section in sections])


def instrument_heights_m(tops_m: np.ndarray, style: str) -> tuple[float, ...]:
    """Return round heights of instrument about the middle of the posts' tops, rising, metres."""
    step_m = _STEP_M[style]
    middle = round(float(np.median(tops_m)) / step_m)
    return tuple((middle + k - _MOST // 2) * step_m for k in range(_MOST))


def _setting_up(plan: Plan, heights_m: tuple[float, ...]) -> Words:
    benchmark = plan.book.job.control.benchmark
    lines = [
        "Set the laser up, sight the rod on the benchmark, and raise or lower the head until the backsight "
        "is that of a column; then that column holds for every post of the set-up. Sight the benchmark "
        "again before you move it.",
        "UP: mark the laser's line on the post and measure up. DOWN: mark it and measure down. ROD: the line "
        "passes over the pipe; hold the rod's foot at the mark so that the rod reads this.",
        f"Saw at the mark only once the post stands, plumb, in concrete that holds. {here(laser())[0]}",
    ]
    where = "control.csv" if benchmark is None else benchmark.point
    out_of_reach = any(_backsight_m(plan, hi_m) is None for hi_m in heights_m)
    lines[1:1] = [
        f"A column without BS is out of the rod's reach from {where}: carry the elevation nearer by a "
        "turning point, and set the head by that."
    ] * out_of_reach
    return Words(lines=tuple(lines), size_pt=10.0)


def _set_up_line(plan: Plan, notation: Notation) -> Words:
    """Return room for what the set-up really reads: a backsight, the height of instrument, the proof."""
    benchmark = plan.book.job.control.benchmark
    on = "on ________, elevation __________"
    if benchmark is not None:
        on = f"on {benchmark.point}, elevation {notation.place_words(benchmark.elevation_m)}"
    text = (
        f"This set-up: {on}. BS __________ HI = elevation + BS = __________ BS again, before the "
        "move __________ Date, by __________"
    )
    return Words(lines=(text,), bullets=False, size_pt=11.0)


def _heading(plan: Plan, hi_m: float, notation: Notation) -> str:
    """Return a height of instrument and the backsight that gives it, where a rod shows one."""
    # A name never parts from its number where the heading is broken.
    text = f"HI\u00a0{notation.place_words(hi_m)}"
    bs_m = _backsight_m(plan, hi_m)
    return text if bs_m is None else f"BS\u00a0{notation.place_words(bs_m)}, {text}"


def _backsight_m(plan: Plan, hi_m: float) -> float | None:
    """Return the backsight on the benchmark that gives a height of instrument; None where no rod shows it."""
    benchmark = plan.book.job.control.benchmark
    if benchmark is None or not 0.0 < hi_m - benchmark.elevation_m < _TALLEST_ROD_M:
        return None
    return hi_m - benchmark.elevation_m


def _marks(
    plan: Plan,
    sections: Sequence[ArrayPlan],
    heights_m: tuple[float, ...],
    allowance_m: float,
    notation: Notation,
) -> Table:
    columns = [
        Column(heading="Pier", name="pier", align="left", strong=True),
        Column(heading="Top of post, elevation", name="top", unit=notation.place_unit),
    ]
    columns += [
        Column(heading=_heading(plan, hi_m, notation), name=f"hi_{k}", align="left")
        for k, hi_m in enumerate(heights_m, start=1)
    ]
    columns.append(Column(heading="Marked", name="marked", kind="tick", align="center"))
    rows: list[tuple[str, ...]] = []
    starts: list[int] = []
    piers = [(section, i, hole) for section in sections for i, hole in enumerate(section.holes)]
    for array, i, hole in piers:
        if i == 0 and rows:
            starts.append(len(rows))
        top_m = float(array.fit.lengths.top_m[i])
        marks = [cut_mark(cut_m=top_m, hi_m=hi, uncut_top_m=top_m + allowance_m) for hi in heights_m]
        rows.append(
            (array.pier_name(hole.pier), notation.place(top_m), *(_cell(m, notation) for m in marks), "")
        )
    title = f"Cut marks: UP, DOWN and ROD in {notation.unit}" if notation.unit else "Cut marks"
    return Table(
        title=title, columns=tuple(columns), rows=tuple(rows), size_pt=11.0, rules_above=tuple(starts)
    )


_WORDS = {CutCase.UP: "UP", CutCase.DOWN: "DOWN", CutCase.ROD: "ROD"}


def _cell(mark: CutMark, notation: Notation) -> str:
    return f"{_WORDS[mark.case]} {notation.small(mark.amount_m)}"


def _pole(sections: Sequence[ArrayPlan], notation: Notation) -> Table:
    """Return the marks of a story pole: every top above the lowest one, from one zero."""
    tops_m = _tops_m(sections)
    names = [name for section in sections for name in section.fit_in_full.piers.names]
    lowest = int(np.argmin(tops_m))
    order = np.argsort(tops_m, kind="stable")
    rows = tuple(
        (
            names[i],
            notation.small(float(tops_m[i] - tops_m[lowest])),
            "",
        )
        for i in order
    )
    return Table(
        title="Story pole, one lath and one zero",
        columns=(
            Column(heading="Pier", name="pier", align="left", strong=True),
            Column(heading="Its top above the zero", name="above", unit=notation.unit, strong=True),
            Column(heading="On the lath", name="on_lath", kind="tick", align="center"),
        ),
        rows=rows,
        notes=(
            "The zero is the lowest top. Mark all tops on one straight lath; with its zero mark held at the "
            "height of that top, by laser or water level, every other mark is a cut.",
        ),
        size_pt=10.0,
    )
