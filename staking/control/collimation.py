"""A level's line of sight that is not level: told by two pegs, by unequal sights, or bounded beforehand.

A rod reads ``height of instrument − elevation + c·d + (1 − k)·d²/(2R)`` at a sight of length d: the line of
sight rises by c per unit, and earth and air bend away from each other. Equal sights hide both. Source:
C. D. Ghilani and P. R. Wolf, Elementary Surveying, 13th ed. (Pearson, 2012), eqs. 4.1-4.4 and "Adjustment of
levels" (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from staking.base.units import format_length, told_far, told_fine
from staking.control.adjustment import Collimation
from staking.control.curvature import curvature_and_refraction
from staking.control.network import Network, NetworkResult, standardised
from staking.control.observing import FIRST_EXTRA, Extra, Observed, Sight
from staking.control.pegs import PegTest
from staking.control.variance_test import variance_passes

PROVES = 3.29
"""Normal deviate from which on the readings themselves prove that a line of sight is not level: passed once
in a thousand books of a good level."""
BETTER_BY = 4.0
"""By so much must it lower the sum of squares more than any one blunder would: odds of 7 to 1."""
WORTH_SAYING_M = 0.0005
"""Curvature and refraction that a rod can just show."""


def levers(observed: Observed) -> dict[str, dict[int, float]]:
    """Return by instrument the length of each sight, by equation; setups without any are left out.

    A blank length within a setup is taken as the mean of the setup's others.
    """
    by_setup: dict[tuple[str, int], list[Sight]] = {}
    for sight in observed.sights:
        by_setup.setdefault((sight.instrument, sight.setup), []).append(sight)
    found: dict[str, dict[int, float]] = {}
    for (instrument, _), sights in by_setup.items():
        known = [sight.dist_m for sight in sights if sight.dist_m is not None]
        if not known:
            continue
        mean_m = math.fsum(known) / len(known)
        for sight in sights:
            length_m = mean_m if sight.dist_m is None else sight.dist_m
            found.setdefault(instrument, {})[sight.equation] = length_m
    return found


def with_collimation(
    observed: Observed, pegs: Mapping[str, PegTest], stated: float | None, proven: frozenset[str]
) -> dict[str, int]:
    """Put the rise of the line of sight into the rod equations; return its mark by instrument.

    Parameters
    ----------
    observed
        Changed in place.
    pegs
        Two-peg tests by instrument.
    stated
        ``[accuracy] collimation``, None where absent.
    proven
        Instruments whose own readings prove a rise: free unknowns.
    """
    marks: dict[str, int] = {}
    for instrument, lengths in levers(observed).items():
        weights = [1 / stated**2] if stated else []
        rises = [0.0] if stated else []
        if instrument in pegs:
            weights.append(1 / pegs[instrument].sd ** 2)
            rises.append(pegs[instrument].rise)
        if not weights and instrument not in proven:
            continue
        extra = Extra(start=0.0)
        if weights:
            mean = math.fsum(w * rise for w, rise in zip(weights, rises, strict=True)) / sum(weights)
            extra = Extra(start=mean, sd=1 / math.sqrt(sum(weights)))
        mark = marks[instrument] = observed.extra(extra)
        for number, length_m in lengths.items():
            equation = observed.equations[number]
            observed.equations[number] = replace(equation, at=(*equation.at, mark), factor=length_m)
    return marks


def tested(
    observed: Observed, network: Network, result: NetworkResult, marks: Mapping[str, int]
) -> list[Collimation]:
    """Return what the readings say of each level whose rise is not an unknown yet.

    One unknown more would take ``c = aᵀm / aᵀRa`` and lower the sum of squares by ``w² = (aᵀm)² / aᵀRa``,
    with the sights in sds a, the misses m and the redundancy matrix R.
    """
    found = []
    for instrument, lengths in levers(observed).items():
        if instrument in marks:
            continue
        rows = [row for row, number in enumerate(result.used) if number in lengths]
        if not rows:
            continue
        sd = np.array([network.equations[result.used[row]].sd for row in rows])
        lever = np.array([lengths[result.used[row]] for row in rows]) / sd
        square = float(lever @ result.redundancy_matrix(rows) @ lever)
        if square <= _NOTHING * float(lever @ lever):
            continue
        score = float(lever @ (-result.residuals[rows] / sd))
        found.append(
            Collimation(
                instrument=instrument,
                rise=score / square,
                sd=1 / math.sqrt(square),
                w=score / math.sqrt(square),
                why="told",
            )
        )
    return found


_NOTHING = 1e-9
"""Share of the sights' squares below which unequal sights are only rounding."""


def proven(network: Network, result: NetworkResult, told: Sequence[Collimation]) -> frozenset[str]:
    """Return the instruments whose readings prove a rise better than one blunder would explain them."""
    if result.redundancy < 2:
        return frozenset()
    sd = np.array([network.equations[k].sd for k in result.used])
    w = standardised(result.residuals, sd, result.redundancy_numbers)
    blunder = float(np.nanmax(w**2, initial=0.0)) if len(w) else 0.0
    return frozenset(
        one.instrument
        for one in told
        if abs(one.w) > PROVES
        and one.w**2 > blunder + BETTER_BY
        and variance_passes(result.vtpv - one.w**2, result.redundancy - 1)
    )


def solved(
    observed: Observed,
    result: NetworkResult,
    marks: Mapping[str, int],
    pegs: Mapping[str, PegTest],
    proven_ones: frozenset[str],
) -> list[Collimation]:
    """Return the rises that the adjustment found."""
    found = []
    for instrument, place in rise_places(observed, marks).items():
        rise, sd = float(result.coordinates[place]), math.sqrt(float(result.cov_of([place])[0, 0]))
        if math.isnan(rise):
            continue
        why = "pegs" if instrument in pegs else "readings" if instrument in proven_ones else "accuracy"
        found.append(Collimation(instrument=instrument, rise=rise, sd=sd, w=rise / sd, why=why))
    return found


def disagreements(observed: Observed, levels: Sequence[Collimation], marks: Mapping[str, int]) -> list[str]:
    """Return a warning for each level whose own sights speak against what was known of it beforehand.

    The rise was observed with standard deviation s₀ and adjusted to s: the two differ by ``√(s₀² − s²)``.
    """
    found = []
    for one in levels:
        before = observed.extras[FIRST_EXTRA - marks[one.instrument]]
        if before.sd is None or before.sd <= one.sd:
            continue
        w = (one.rise - before.start) / math.sqrt(before.sd**2 - one.sd**2)
        if abs(w) > PROVES:
            what = "the two-peg test" if one.why == "pegs" else "[accuracy] collimation"
            found.append(
                f"the sights of {_level(one.instrument)} speak against {what}, {abs(w):.1f} times the "
                "standard deviation: one of the two is wrong, or the level was knocked between them"
            )
    return found


def rise_places(observed: Observed, marks: Mapping[str, int]) -> dict[str, int]:
    """Return the coordinate of each level's rise, by instrument."""
    return {instrument: 3 * len(observed.names) + FIRST_EXTRA - mark for instrument, mark in marks.items()}


def _level(instrument: str) -> str:
    return f"the level {instrument}" if instrument else "the level"


def _in_100(rise: float, show: str) -> str:
    """Print a rise as people say it: in 100 ft, or in 30 m."""
    if show != "metric":
        return f"{format_length(abs(rise) * 100 * 0.3048, style='decimal feet', places=4)} ft in 100 ft"
    return f"{format_length(abs(rise) * 30, style='metric', places=1)} mm in 30 m"


def said(found: Sequence[Collimation], show: str) -> tuple[list[str], list[str]]:
    """Return what to say of the levels, and what to warn of."""
    lines: list[str] = []
    warnings: list[str] = []
    for one in found:
        how = "high" if one.rise > 0 else "low"
        reads = f"{_level(one.instrument)} reads {_in_100(one.rise, show)} {how} (± {_in_100(one.sd, show)})"
        if one.why == "told":
            if abs(one.w) > PROVES:
                warnings.append(
                    f"{reads}, as far as unequal sights tell, {abs(one.w):.1f} times its standard deviation; "
                    "it was not taken out, for a misread rod would explain as much: make a two-peg test "
                    "(pegs.csv), or give [accuracy] collimation; equal sights hide it"
                )
            continue
        if one.why == "readings":
            warnings.append(
                f"{reads}: the unequal sights prove it, {abs(one.w):.1f} times its standard deviation, and "
                "it was solved for and taken out; make a two-peg test, and keep sights equal"
            )
        because = {
            "pegs": "from the two-peg test and the sights of the book",
            "readings": "solved from unequal sights",
            "accuracy": "solved within what [accuracy] collimation allows",
        }[one.why]
        lines.append(f"{reads}, {because}")
    return lines, warnings


def sight_remarks(
    observed: Observed, rod_per_m: float, marks: Mapping[str, int], show: str
) -> tuple[list[str], list[str]]:
    """Return what to say of long sights, and what to warn of where lengths of sights are missing."""
    lines: list[str] = []
    warnings: list[str] = []
    lengths = [sight.dist_m for sight in observed.sights if sight.dist_m is not None]
    longest_m = max(lengths, default=0.0)
    bend_m = curvature_and_refraction(longest_m)
    if bend_m > WORTH_SAYING_M:
        lines.append(
            f"earth and air bend the longest sight, {told_far(longest_m, show)}, by "
            f"{told_fine(bend_m, show)}; every sight with a dist is corrected"
        )
    blank = [sight for sight in observed.sights if sight.dist_m is None]
    if rod_per_m > 0 and blank:
        warnings.append(
            f"levels.csv: [accuracy] rod_per_100 adds nothing to {len(blank)} of {len(observed.sights)} "
            "sights, which have no dist"
        )
    known = {(sight.instrument, sight.setup) for sight in observed.sights if sight.dist_m is not None}
    taken = [s for s in blank if s.instrument in marks and (s.instrument, s.setup) in known]
    if taken:
        are = "sight without a dist is" if len(taken) == 1 else "sights without a dist are"
        warnings.append(
            f"levels.csv: {len(taken)} {are} taken as long as the mean of the set-up, to take out the "
            "level's rise"
        )
    return lines, warnings
