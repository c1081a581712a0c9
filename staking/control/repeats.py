"""Readings taken more than once: how far they scatter, against what is stated of one reading."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from staking.base.units import format_angle, told_fine
from staking.control.equations import Equation, Kind
from staking.control.variance_test import chi_square_upper_tail

SELDOM = 0.01
"""Chance below which a scatter, or a smaller one, is not put down to chance: as for the variance factor."""
FEW = 5
"""Fewer to spare call nobody better than stated: rounded readings agree by themselves."""
WORDS = {
    Kind.ROD: "rod readings",
    Kind.RISE: "rises",
    Kind.LEVEL_TAPE: "tapes",
    Kind.SLOPE_TAPE: "tapes",
    Kind.ANGLE: "angles",
    Kind.BEARING: "bearings",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """How readings of one kind agree with their own repeats."""

    what: str
    readings: int
    """That were taken more than once."""
    dof: int
    """Readings less things read."""
    sd: float
    """Of one reading, from the repeats; metres or radians."""
    stated: float
    more: float
    """Chance that readings as good as stated scatter more than these."""
    angular: bool


def scatters(equations: Sequence[Equation]) -> tuple[Scatter, ...]:
    """Return the scatter of each kind of reading that has repeats.

    Repeats are tapes and rises between the same points, either way, angles at one point between the same
    two, bearings of one line, and sights of one point from one setup. Each group deviates from its weighted
    mean; with the deviations d in sds, ``Σ d²`` is chi-square of readings less groups, and the pooled
    standard deviation of one reading is the stated one times ``√(Σ d² / (readings − groups))``.
    """
    groups: dict[str, dict[tuple[int, ...], list[tuple[float, float]]]] = {}
    for equation in equations:
        placed = _group(equation)
        if placed is not None:
            what, key, value = placed
            groups.setdefault(what, {}).setdefault(key, []).append((value, equation.sd))
    found = []
    for what, by_key in groups.items():
        repeated = [group for group in by_key.values() if len(group) > 1]
        if not repeated:
            continue
        readings = sum(len(group) for group in repeated)
        dof = readings - len(repeated)
        angular = what in ("angles", "bearings")
        total = math.fsum(_deviations(group, angular) for group in repeated)
        stated = math.sqrt(math.fsum(sd**2 for group in repeated for _, sd in group) / readings)
        found.append(
            Scatter(
                what=what,
                readings=readings,
                dof=dof,
                sd=stated * math.sqrt(total / dof),
                stated=stated,
                more=chi_square_upper_tail(total, dof),
                angular=angular,
            )
        )
    return tuple(found)


def _group(equation: Equation) -> tuple[str, tuple[int, ...], float] | None:
    """Return what was read, between which points, and the reading as if taken from the lower number on."""
    kind, at, value = equation.kind, equation.at, equation.value
    if kind not in WORDS:
        return None
    if kind is Kind.ROD:
        return WORDS[kind], at[:2], value
    if kind is Kind.ANGLE:
        turned = at[1] > at[2]
        return WORDS[kind], (at[0], min(at[1:]), max(at[1:])), -value if turned else value
    if kind is Kind.BEARING and equation.factor not in (0.0, 1.0):
        return None  # A shadow's clock is shared, and counts differently at each time.
    near, far = at[:2]
    key = (int(kind), min(near, far), max(near, far))
    if near < far or kind in (Kind.LEVEL_TAPE, Kind.SLOPE_TAPE):
        return WORDS[kind], key, value
    return WORDS[kind], key, -value if kind is Kind.RISE else value + math.pi


def _deviations(group: Sequence[tuple[float, float]], angular: bool) -> float:
    """Return the sum of squared deviations from the weighted mean, in sds."""
    first = group[0][0]
    turn = 2 * math.pi
    values = [math.remainder(value - first, turn) if angular else value - first for value, _ in group]
    weights = [1 / sd**2 for _, sd in group]
    mean = math.fsum(w * v for w, v in zip(weights, values, strict=True)) / math.fsum(weights)
    return math.fsum(w * (v - mean) ** 2 for w, v in zip(weights, values, strict=True))


def scatter_words(scatter: Scatter, show: str) -> str:
    """Return a scatter against what is stated, in words; sizes as the survey shows its lengths."""

    def size(value: float) -> str:
        if scatter.angular:
            return f"{format_angle(value, 3)}°"
        return told_fine(value, show)

    verdict = "as good as stated"
    if scatter.more < SELDOM:
        verdict = "MORE than stated: one is misread, or state more in [accuracy]"
    elif scatter.dof >= FEW and 1 - scatter.more < SELDOM:
        verdict = "better than stated"
    return (
        f"{scatter.readings} {scatter.what} taken more than once scatter by {size(scatter.sd)}; you state "
        f"{size(scatter.stated)}: {verdict}"
    )
