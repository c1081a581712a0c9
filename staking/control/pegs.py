"""The two-peg test: two pegs sighted from the middle and from near one of them give the level's rise.

Any sights do that differ in length: each standing has its height of instrument, each peg its height, the
level its rise, and all are solved by least squares.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from staking.base.covariance import variances
from staking.base.errors import Mistake
from staking.base.lsq import RankDeficient, solved
from staking.book.records import Accuracy, PegRow
from staking.control.curvature import curvature_and_refraction
from staking.control.kinds import key_of
from staking.control.variance_test import variance_passes


@dataclass(frozen=True, slots=True, kw_only=True)
class PegTest:
    """What two pegs say of one level."""

    rise: float
    """How far the line of sight rises per unit of sight."""
    sd: float
    redundancy: int
    passes: bool | None
    """Whether the sights agree as well as stated; None where nothing checks them."""


def peg_tests(rows: Sequence[PegRow], accuracy: Accuracy) -> tuple[dict[str, PegTest], list[Mistake]]:
    """Return the two-peg test of each instrument by its key, and a mistake for each that tells nothing."""
    by_instrument: dict[str, list[PegRow]] = {}
    for row in rows:
        by_instrument.setdefault(key_of(row.instrument), []).append(row)
    found: dict[str, PegTest] = {}
    mistakes: list[Mistake] = []
    for instrument, sights in by_instrument.items():
        try:
            found[instrument] = _solved(sights, accuracy)
        except RankDeficient:
            mistakes.append(
                Mistake(
                    file="pegs.csv",
                    row=sights[0].row,
                    problem="these sights do not tell whether the level's line of sight is level",
                    expected="two pegs, both sighted from two standings, once from the middle and once from "
                    "near one of them",
                    remedy="Check the names of standings and pegs, and the lengths of the sights",
                )
            )
    return found, mistakes


def _solved(sights: Sequence[PegRow], accuracy: Accuracy) -> PegTest:
    setups = list(dict.fromkeys(key_of(row.setup) for row in sights))
    pegs = list(dict.fromkeys(key_of(row.point) for row in sights))
    # Unknown: the rise, heights of instrument, and heights of all pegs above the first.
    design = np.zeros((len(sights), 1 + len(setups) + len(pegs) - 1))
    read_m = np.zeros(len(sights))
    sd = np.zeros(len(sights))
    for k, row in enumerate(sights):
        design[k, 0] = row.dist_m
        design[k, 1 + setups.index(key_of(row.setup))] = 1.0
        peg = pegs.index(key_of(row.point))
        if peg:
            design[k, len(setups) + peg] = -1.0
        read_m[k] = row.rod_m - curvature_and_refraction(row.dist_m)
        sd[k] = row.sd_m or math.hypot(accuracy.rod_m, accuracy.rod_per_m * row.dist_m)
    if len(sights) < design.shape[1]:
        raise RankDeficient(tuple(range(design.shape[1])))
    solution = solved(design, read_m, sd)
    redundancy = len(sights) - design.shape[1]
    return PegTest(
        rise=float(solution.x[0]),
        sd=math.sqrt(float(variances(solution.cov)[0])),
        redundancy=redundancy,
        passes=variance_passes(solution.vtpv, redundancy),
    )


def peg_remarks(tests: Mapping[str, PegTest]) -> list[str]:
    """Return a warning for each test whose own sights disagree by more than stated."""
    return [
        f"pegs.csv: the sights of the two-peg test{f' of {name}' if name else ''} disagree by more than "
        "their stated accuracy: read them again"
        for name, test in tests.items()
        if test.passes is False
    ]
