"""Readings to one point booked under another's name."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from staking.base.covariance import times
from staking.control.anew import NEAR_PLAN, placed_without
from staking.control.causes import WRONG_READINGS, Amount, Cause, Change, known
from staking.control.equations import ANGULAR, Equation, Kind, evaluated, misfits, points_of, stacked, wrapped
from staking.control.network import NOTHING_CHECKS, NetworkResult, coordinates_of
from staking.control.observing import Observed

Floats = NDArray[np.float64]

SHARE_NEAR_NAME = 0.05
SHARE_KIN_NAME = 0.02
SHARE_FAR_NAME = 0.01
"""Of a reading's blunders (a judgement, no source): among names that differ in one sign, among those that
begin with the same letters, and among all: a pin is seldom taken for a turning point."""
SHARE_NEVER_SHOT = 30.0
"""Against a reading's blunders, where a point is sighted twice from one set-up and one whose name differs in
one sign was never shot: a judgement (no source). Nobody shoots a point twice and forgets its neighbour."""
ANYWHERE_M = 0.5
"""One standard deviation of the difference of elevation of two such points."""
MOST_READINGS = 12
"""Readings for which other names are tried, those that fit worst."""
MOST_NAMES = 60
"""In larger surveys only names that differ in one sign are tried."""
FITS_SDS = 4.0
"""So near another point's own value a reading must come."""

_ENDS = {0: "from", 1: "to"}
_POINT = {0: "point"}
_OFF_A_LINE = {0: "point", 1: "from", 2: "to"}
COLUMNS = {
    Kind.ROD: {1: "point"},
    Kind.RISE: _ENDS,
    Kind.LEVEL_TAPE: _ENDS,
    Kind.SLOPE_TAPE: _ENDS,
    Kind.STATION: _OFF_A_LINE,
    Kind.OFFSET: _OFF_A_LINE,
    Kind.SLOPE_STATION: _OFF_A_LINE,
    Kind.SLOPE_OFFSET: _OFF_A_LINE,
    Kind.ANGLE: {0: "at", 1: "from", 2: "to"},
    Kind.BEARING: _ENDS,
    Kind.COORDINATE: _POINT,
    Kind.FIX_EAST: _POINT,
    Kind.FIX_NORTH: _POINT,
    Kind.FIX_HEIGHT: _POINT,
}
"""Where the names of each kind of reading stand, by place in its equation."""


def mistaken_names(
    observed: Observed,
    equations: Sequence[Equation],
    result: NetworkResult,
    worst: Sequence[int],
    *,
    robust: bool,
) -> Iterator[Cause]:
    """Return rows that would fit, as they stand, if one of their points were another.

    A row's readings are taken out, and what they should be between the other points is predicted with its
    standard deviation; where the equations are linear the weight of the cause is then exact. The names tried
    share the chance.

    Parameters
    ----------
    observed, equations, result
        The survey.
    worst
        Places among the readings used, worst first, each checked by others.
    robust
        Whether the coordinates are places that most readings agree with: they are tried as well as those
        of least squares, which another blunder may have dragged along.
    """
    rows_of: dict[tuple[str, int], list[int]] = {}
    for row, number in enumerate(result.used):
        source = observed.sources[number]
        if source is not None:
            rows_of.setdefault((source.table, source.row), []).append(row)
    place_sets = [_least_squares(equations, result), *([np.nan_to_num(result.coordinates)] if robust else [])]
    done: set[tuple[str, int]] = set()
    for row in worst[:MOST_READINGS]:
        number = result.used[row]
        source = observed.sources[number]
        # What job.toml gives of several points stands in no row.
        if source is None or (source.table, source.row) in done or not source.row:
            continue
        done.add((source.table, source.row))
        together = rows_of[source.table, source.row]
        without = _without(equations, result, together)
        if len(together) == 1:
            yield from _never_shot(observed, equations, result, row)
        for place, column in COLUMNS.get(equations[number].kind, {}).items():
            renaming = _Renaming.of(observed, equations, result, together, place)
            if renaming is not None:
                yield from renaming.causes([*place_sets, *without], column)


def _least_squares(equations: Sequence[Equation], result: NetworkResult) -> Floats:
    """Return the coordinates that fit the linear equations best, written about whatever places."""
    at = np.nan_to_num(result.coordinates)
    stack = stacked([equations[k] for k in result.used])
    predicted, _ = evaluated(stack, at)
    weighted = misfits(stack, predicted) / result.sd**2
    rows, columns, values = result.design.entries()
    right = np.bincount(columns, weights=values * weighted[rows], minlength=result.design.shape[1]).astype(
        np.float64
    )
    step = np.zeros(len(at))
    step[result.free.free] = times(result.unknowns_cov, right)
    for target, _, terms in result.free.tied:
        step[target] = sum(factor * step[other] for other, factor in terms)
    return at + step


def _without(equations: Sequence[Equation], result: NetworkResult, together: Sequence[int]) -> list[Floats]:
    """Return the places found without a row of the plan: its points may stand far from where it put them."""
    out = {result.used[row] for row in together}
    if not any(equations[number].kind in NEAR_PLAN for number in out):
        return []
    return placed_without(equations, result, out)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Renaming:
    """The readings of one row, one name of which may be another."""

    names: Sequence[str]
    result: NetworkResult
    numbers: Sequence[int]
    own: Sequence[Equation]
    """As booked."""
    place: int
    booked: int
    others: Sequence[int]
    """Points that it may have been."""
    near: Sequence[int]
    """Those of them whose names differ in one sign."""
    amounts: Floats
    """What the other readings say that each lacks, in standard deviations."""
    matrix: Floats
    """Redundancy matrix of the row's readings."""

    @staticmethod
    def of(
        observed: Observed,
        equations: Sequence[Equation],
        result: NetworkResult,
        together: Sequence[int],
        place: int,
    ) -> _Renaming | None:
        """Return the row at some places among the readings used; None where nothing checks it."""
        numbers = [result.used[row] for row in together]
        own = [equations[number] for number in numbers]
        matrix = result.redundancy_matrix(together)
        if float(np.linalg.eigvalsh(matrix)[0]) < NOTHING_CHECKS:
            return None
        booked = name_at(own[0], place)
        taken = _taken(observed, equations, numbers).union(*(points_of(one) for one in own), (booked,))
        names = observed.names
        others = [p for p in range(len(names)) if p not in taken]
        near = [p for p in others if one_sign_apart(names[booked], names[p])]
        sd = np.array([one.sd for one in own])
        return _Renaming(
            names=names,
            result=result,
            numbers=numbers,
            own=own,
            place=place,
            booked=booked,
            others=others,
            near=near,
            amounts=np.linalg.solve(matrix, result.residuals[list(together)] / sd),
            matrix=matrix,
        )

    def causes(self, place_sets: Sequence[Floats], column: str) -> Iterator[Cause]:
        """Return the names that fit at one of the given places, the first of which are least squares'."""
        at, count = np.nan_to_num(self.result.coordinates), len(self.own)
        sd = np.array([one.sd for one in self.own])
        meant: dict[int, list[Equation]] = {}
        for p in self.others if len(self.others) <= MOST_NAMES else self.near:
            renamed = [with_name(one, self.place, p) for one in self.own]
            if not np.isnan(self.result.coordinates[[k for e in renamed for k in coordinates_of(e)]]).any():
                meant[p] = renamed
        if not meant:
            return
        every = [*self.own, *(one for renamed in meant.values() for one in renamed)]
        stack = stacked(every)
        predicted, derivatives = evaluated(stack, at)
        jacobian = derivatives.dense()
        columns = np.flatnonzero(jacobian.any(axis=0))
        jacobian = jacobian[:, columns]
        half = jacobian @ self.result.cov_of([int(c) for c in columns])
        # Without the row's readings the places move along cov·jacobian, and are less sure.
        joint = half @ jacobian[:count].T / sd
        variances = np.einsum("ij,ij->i", half, jacobian) + np.einsum(
            "ij,ji->i", joint, np.linalg.solve(self.matrix, joint.T)
        )
        found: set[int] = set()
        for k, places in enumerate(place_sets):
            # Least squares are linear, as all else is weighed there; other places are taken as they are.
            there = predicted + jacobian @ (places - at)[columns] if k == 0 else evaluated(stack, places)[0]
            lacks = there[:count] - np.array([one.value for one in self.own])
            if k == 0:
                there = there + joint @ self.amounts
                lacks = self.amounts * sd
            if self.own[0].kind in ANGULAR:
                lacks = wrapped(lacks)
            for i, (p, renamed) in enumerate(meant.items(), start=1):
                inside = slice(i * count, (i + 1) * count)
                by = there[:count] - there[inside]
                if self.own[0].kind in ANGULAR:
                    by = wrapped(by)
                off = np.abs(lacks - by)
                if p in found or not (off < FITS_SDS * np.sqrt(sd**2 + variances[inside])).all():
                    continue
                found.add(p)
                # In plan the linear equations are only near: how well a name fits is found by adjusting anew.
                exact = self.own[0].kind in NEAR_PLAN
                yield self._cause(
                    p, renamed, self.amounts * sd if exact else by, variances[inside], column, exact=exact
                )

    def _cause(
        self,
        p: int,
        renamed: Sequence[Equation],
        by: Floats,
        variances: Floats,
        column: str,
        *,
        exact: bool,
    ) -> Cause:
        share = SHARE_FAR_NAME / len(self.others)
        if p in self.near:
            share += SHARE_NEAR_NAME / len(self.near)
        kin = [k for k in self.others if _letters(self.names[k]) == _letters(self.names[self.booked])]
        if p in kin:
            share += SHARE_KIN_NAME / len(kin)
        why = f"{self.names[p]} booked as {self.names[self.booked]}"

        def change(k: int, by: float) -> Change:
            return Change(
                equation=self.numbers[k],
                by=by,
                column=column,
                read=self.names[self.booked],
                likely=self.names[p],
                at=renamed[k].at,
            )

        if exact or len(renamed) > 1:
            return known([change(k, float(one)) for k, one in enumerate(by)], share, why)
        sd = self.own[0].sd
        # The readings know an amount to sd²/r. Less than nothing beside: the other point is the surer one.
        variance = float(variances[0]) + sd**2 - sd**2 / float(self.matrix[0, 0])
        variance = variance if variance != 0 else -1e-9 * sd**2
        return Cause(
            changes=(change(0, math.nan),),
            steps=(1.0,),
            amounts=(Amount(mean=float(by[0]), variance=variance, share=1.0),),
            prior=WRONG_READINGS * share,
            why=why,
        )


def _taken(observed: Observed, equations: Sequence[Equation], numbers: Sequence[int]) -> set[int]:
    """Return the points that a row cannot have been: sighted from its set-up, or in a row of their own."""
    first = equations[numbers[0]]
    if first.kind is Kind.COORDINATE:
        return {one.at[0] // 3 for one in equations if one.kind is Kind.COORDINATE}
    taken = set()
    for number in numbers:
        one, source = equations[number], observed.sources[number]
        if one.kind is not Kind.ROD or source is None:
            continue
        # BS and FS may be on one point, to see that the instrument has not moved; no IS is taken twice.
        twin = {"bs": "fs", "fs": "bs"}.get(source.column)
        for k, other in enumerate(equations):
            theirs = observed.sources[k]
            if other.kind is Kind.ROD and other.at[0] == one.at[0] and theirs and theirs.column != twin:
                taken.add(other.at[1])
    return taken


def name_at(equation: Equation, place: int) -> int:
    """Return the point whose name stands at a place of a reading."""
    return equation.at[0] // 3 if equation.kind is Kind.COORDINATE else equation.at[place]


def with_name(equation: Equation, place: int, point: int) -> Equation:
    """Return a reading of another point."""
    mark = 3 * point + equation.at[0] % 3 if equation.kind is Kind.COORDINATE else point
    return replace(equation, at=(*equation.at[:place], mark, *equation.at[place + 1 :]))


def _never_shot(
    observed: Observed, equations: Sequence[Equation], result: NetworkResult, row: int
) -> Iterator[Cause]:
    """Return a sight of a point sighted twice from its set-up that may be one of a point never shot."""
    number = result.used[row]
    equation = equations[number]
    if equation.kind is not Kind.ROD:
        return
    setup, booked = equation.at[:2]
    twice = [e for e in equations if e.kind is Kind.ROD and e.at[:2] == (setup, booked)]
    if len(twice) < 2:
        return
    names = observed.names
    for p, name in enumerate(names):
        if np.isnan(result.coordinates[3 * p + 2]) and one_sign_apart(names[booked], name):
            yield Cause(
                changes=(
                    Change(equation=number, by=math.nan, column="point", read=names[booked], likely=name),
                ),
                steps=(1.0,),
                amounts=(Amount(mean=0.0, variance=ANYWHERE_M**2, share=1.0),),
                prior=WRONG_READINGS * SHARE_NEVER_SHOT / len(twice),
                why=f"{name}, which was never shot, booked as {names[booked]}",
            )


def _letters(name: str) -> str:
    return name.strip().casefold().rstrip("0123456789")


def one_sign_apart(first: str, second: str) -> bool:
    """Return whether two names differ in one sign, or in two neighbours exchanged."""
    a, b = first.strip().casefold(), second.strip().casefold()
    if len(a) == len(b):
        places = [k for k in range(len(a)) if a[k] != b[k]]
        if len(places) == 2 and places[1] == places[0] + 1:
            return a[places[0]] == b[places[1]] and a[places[1]] == b[places[0]]
        return len(places) == 1
    if len(a) > len(b):
        a, b = b, a
    return len(b) == len(a) + 1 and any(b[:k] + b[k + 1 :] == a for k in range(len(b)))
