"""What to shoot again before the tripod moves: for one setup, short and in order."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from staking.book.records import FieldBook
from staking.control.adjusting import Worked
from staking.control.equations import Kind
from staking.control.kinds import key_of
from staking.control.network import NOTHING_CHECKS

ODD_W = 2.0
"""A residual of so many times its own sd is worth a second look: one good reading in twenty has it."""
CHECKS_A_SETUP = 2
"""Points of known elevation that a setup must have sighted before an error in it can be laid at one reading:
with one only, its height of instrument takes up whatever that reading is wrong by; with two a misread one
shows."""
Why = Literal["doubted", "odd", "mark", "turning", "pier", "shot"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """One sight to take again."""

    point: str
    row: int
    column: str
    why: Why
    """doubted: among the suspects; odd: its residual is large; then sighted once: a pin or benchmark, a
    turning point, a pier's stake, a shot of the ground."""
    w: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupAgain:
    """What one setup lacks, before the tripod moves."""

    row: int
    """Where it was opened."""
    closed: bool
    close_on: str
    """The point of its backsight: to sight again last, as a foresight."""
    again: tuple[Again, ...]
    checked_on: tuple[str, ...]
    """Points sighted here whose elevation something else gives too."""
    sight_too: tuple[str, ...]
    """Pins that would make it checkable; empty where it is."""


def shoot_again(
    book: FieldBook, survey: Worked, *, piers: Iterable[str] = (), last_alone: bool = False
) -> tuple[SetupAgain, ...]:
    """Return what every setup of the level lacks, in the order of the book; the last is the one that stands.

    Parameters
    ----------
    book, survey
        The survey, adjusted.
    piers
        Names of piers, whole: a shot at such a stake carries a post.
    last_alone
        Whether only the setup that stands is asked about.
    """
    observed, result, adjustment = survey.observed, survey.result, survey.adjustment
    place = {k: i for i, k in enumerate(result.used)}
    doubted = {(s.table, s.row, s.column) for s in adjustment.suspects}
    odd = {(r.table, r.row, r.column): r.w for r in adjustment.readings if r.w is not None}
    kinds = {
        key_of(name): kind
        for name, kind in zip(adjustment.points.names, adjustment.points.kinds, strict=True)
    }
    stakes = {key_of(name) for name in piers}
    closing = _closing_rows(book)
    found = []
    ways = _ways(survey)
    numbers = range(len(observed.setups))
    for number in numbers[-1:] if last_alone else numbers:
        setup = observed.setups[number]
        again: list[Again] = []
        for k in setup.readings:
            source, equation = observed.sources[k], survey.network.equations[k]
            if source is None:
                continue
            name = observed.names[equation.at[1]]
            at = (source.table, source.row, source.column)
            w = odd.get(at)
            why = _sighted_once(kinds.get(key_of(name), "ground"), key_of(name) in stakes)
            if at in doubted:
                why = "doubted"
            elif not doubted and w is not None and abs(w) > ODD_W:
                # With a suspect about, good readings fit badly only because it drags them.
                why = "odd"
            elif k in place and result.redundancy_numbers[place[k]] >= NOTHING_CHECKS:
                continue
            again.append(Again(point=name, row=source.row, column=source.column, why=why, w=w))
        order: tuple[Why, ...] = ("doubted", "odd", "mark", "turning", "pier", "shot")
        again.sort(key=lambda one: (order.index(one.why), -abs(one.w or 0.0) if one.why == "odd" else 0.0))
        elsewhere = _heights_elsewhere(survey, number, ways)
        checked = _known_elsewhere(survey, number, elsewhere)
        more = () if len(checked) >= CHECKS_A_SETUP else _pins_to_sight(survey, elsewhere, checked)
        first = survey.network.equations[setup.readings[0]]
        found.append(
            SetupAgain(
                row=setup.first_row,
                closed=closing.get(setup.first_row, False),
                close_on=observed.names[first.at[1]],
                again=tuple(again),
                checked_on=checked,
                sight_too=more,
            )
        )
    return tuple(found)


def _sighted_once(kind: str, is_pier: bool) -> Why:
    if is_pier:
        return "pier"
    if kind in ("pin", "benchmark"):
        return "mark"
    return "turning" if kind == "turning" else "shot"


def _closing_rows(book: FieldBook) -> dict[int, bool]:
    """Return whether each setup, by the row it was opened in, was closed by a foresight."""
    closed: dict[int, bool] = {}
    opened: int | None = None
    for row in book.levels:
        if row.fs_m is not None and opened is not None:
            closed[opened] = True
            opened = None
        if row.bs_m is not None:
            opened = row.row
            closed[opened] = False
    return closed


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ways:
    """How heights are carried: between points by rises, through instruments by sights."""

    known: frozenset[int]
    """Points of known elevation."""
    nodes: Mapping[int, set[int]]
    """Points and instruments, which count down from -1, by each other."""


def _ways(survey: Worked) -> _Ways:
    points = survey.network.points
    known = {p for p in range(points) if survey.network.held[3 * p + 2]}
    nodes: dict[int, set[int]] = {}
    for e in survey.network.equations:
        if e.kind is Kind.COORDINATE and e.at[0] < 3 * points and e.at[0] % 3 == 2:
            known.add(e.at[0] // 3)
        if e.kind not in (Kind.ROD, Kind.RISE):
            continue
        a, b = (-e.at[0] - 1, e.at[1]) if e.kind is Kind.ROD else e.at
        nodes.setdefault(a, set()).add(b)
        nodes.setdefault(b, set()).add(a)
    return _Ways(known=frozenset(known), nodes=nodes)


def _heights_elsewhere(survey: Worked, number: int, ways: _Ways) -> set[int]:
    """Return the points that the readings reach from known elevations without one setup."""
    instrument = -survey.network.equations[survey.observed.setups[number].readings[0]].at[0] - 1
    queue, reached = list(ways.known), {*ways.known, instrument}
    while queue:
        for near in ways.nodes.get(queue.pop(), set()) - reached:
            reached.add(near)
            queue.append(near)
    return {p for p in reached if p >= 0}


def _known_elsewhere(survey: Worked, number: int, elsewhere: set[int]) -> tuple[str, ...]:
    sighted = [survey.network.equations[k].at[1] for k in survey.observed.setups[number].readings]
    twice = {p for p in sighted if sighted.count(p) > 1}
    return tuple(survey.observed.names[p] for p in dict.fromkeys(sighted) if p in elsewhere | twice)


def _pins_to_sight(survey: Worked, elsewhere: set[int], checked: tuple[str, ...]) -> tuple[str, ...]:
    """Return up to as many pins and benchmarks as the setup lacks, those known from elsewhere first."""
    points, seen = survey.adjustment.points, {key_of(name) for name in checked}
    marks = [
        name
        for name, kind in zip(points.names, points.kinds, strict=True)
        if kind in ("benchmark", "pin", "turning") and key_of(name) not in seen
    ]
    marks.sort(key=lambda name: survey.observed.numbers[key_of(name)] not in elsewhere)
    return tuple(marks[: CHECKS_A_SETUP - len(checked)])
