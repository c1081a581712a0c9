"""Readings to one point booked under another's name."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from staking.control.causes import WRONG_READINGS, Amount, Cause, Change
from staking.control.equations import ANGULAR, Equation, Kind, evaluated, stacked, wrapped
from staking.control.network import NetworkResult, coordinates_of
from staking.control.observing import Observed

Floats = NDArray[np.float64]

SHARE_NEAR_NAME = 0.02
SHARE_FAR_NAME = 0.01
"""Of a reading's blunders: among names that differ in one sign, and among all."""
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

COLUMNS = {
    Kind.ROD: {1: "point"},
    Kind.RISE: {0: "from", 1: "to"},
    Kind.LEVEL_TAPE: {0: "from", 1: "to"},
    Kind.SLOPE_TAPE: {0: "from", 1: "to"},
    Kind.ANGLE: {0: "at", 1: "from", 2: "to"},
    Kind.BEARING: {0: "from", 1: "to"},
}
"""Where the names of each kind of reading stand, by place in its equation."""


def mistaken_names(
    observed: Observed, equations: Sequence[Equation], result: NetworkResult, worst: Sequence[int]
) -> Iterator[Cause]:
    """Return readings that would fit if one of their points were another.

    The reading is taken out, and what it should be between the other points is predicted with its standard
    deviation; where the equations are linear the weight of the cause is then exact.

    Parameters
    ----------
    observed, equations, result
        The survey.
    worst
        Places among the readings used, worst first, each checked by others.
    """
    # A row with FS and BS holds one name for both: a wrong name would not show between them.
    sights: dict[tuple[str, int], int] = {}
    for source in observed.sources:
        if source is not None:
            sights[source.table, source.row] = sights.get((source.table, source.row), 0) + 1
    for row in worst[:MOST_READINGS]:
        number = result.used[row]
        source = observed.sources[number]
        if source is None or sights[source.table, source.row] > 1:
            continue
        yield from _never_shot(observed, equations, result, row)
        for place, column in COLUMNS.get(equations[number].kind, {}).items():
            yield from _renamed(observed, equations, result, row, place, column)


def _renamed(
    observed: Observed,
    equations: Sequence[Equation],
    result: NetworkResult,
    row: int,
    place: int,
    column: str,
) -> Iterator[Cause]:
    coordinates, number = result.coordinates, result.used[row]
    equation = equations[number]
    booked = equation.at[place]
    # From one set-up no point is sighted twice.
    seen = {e.at[1] for e in equations if e.kind is equation.kind is Kind.ROD and e.at[0] == equation.at[0]}
    others = [p for p in range(len(observed.names)) if p not in equation.at and p not in seen]
    near = [p for p in others if one_sign_apart(observed.names[booked], observed.names[p])]
    tried = others if len(others) <= MOST_NAMES else near
    meant = []
    for p in tried:
        one = replace(equation, at=(*equation.at[:place], p, *equation.at[place + 1 :]))
        if not np.isnan(coordinates[coordinates_of(one)]).any():
            meant.append((p, one))
    if not meant:
        return
    predicted, derivatives = evaluated(
        stacked([equation, *(one for _, one in meant)]), np.nan_to_num(coordinates)
    )
    r, sd = float(result.redundancy_numbers[row]), equation.sd
    amount = float(result.residuals[row]) / r
    jacobian = derivatives.dense()
    columns = np.flatnonzero(jacobian.any(axis=0))
    jacobian = jacobian[:, columns]
    half = jacobian @ result.cov_of([int(c) for c in columns])
    own_variance = np.einsum("ij,ij->i", half, jacobian)
    joint = half @ jacobian[0]
    # Without this reading the places move along cov·jacobian.
    differences = predicted[0] - predicted + (joint[0] - joint) * amount / sd**2
    if equation.kind in ANGULAR:
        differences = wrapped(differences)
    variances = sd**2 + own_variance + joint**2 / (sd**2 * r)
    for k, (p, _) in enumerate(meant, start=1):
        difference, variance = float(differences[k]), float(variances[k])
        if not abs(amount - difference) < FITS_SDS * math.sqrt(variance):
            continue
        share = SHARE_FAR_NAME / len(others) + (SHARE_NEAR_NAME / len(near) if p in near else 0.0)
        names = observed.names
        yield Cause(
            changes=(
                Change(equation=number, by=math.nan, column=column, read=names[booked], likely=names[p]),
            ),
            steps=(1.0,),
            amounts=(Amount(mean=difference, variance=variance - sd**2 / r, share=1.0),),
            prior=WRONG_READINGS * share,
            why=f"{names[p]} booked as {names[booked]}",
        )


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
