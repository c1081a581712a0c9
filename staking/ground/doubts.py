"""Shots that nothing repeats, judged by the ground round them: the chance that the reading is wrong.

For each such shot the ways to explain what it stands off its neighbours are weighed against each other: the
rod was misread in one of the ways that people misread it; by some other amount; the ground really rises or
falls there; the shot was placed wrong; a whole set-up stands off; nothing is wrong. How often each happens is
a judgement (common practice, no source); the evidence is in `staking/ground/evidence.py`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from staking.base.units import told, write_like
from staking.book.records import FieldBook, TapeRow
from staking.control.adjustment import AdjustedReading, Adjustment, Suspect
from staking.control.repairs import NOTICED_SDS, SHARE_OTHER, ReadingRepair, reading_repairs
from staking.control.suspects import WRONG_READINGS
from staking.ground.evidence import Evidence, evidence_of
from staking.ground.roughness import LIKELIHOOD_SHOTS
from staking.ground.shots import Shots, known_as
from staking.ground.surface import Surface

Floats = NDArray[np.float64]

LEAST_SHOTS = 8
"""With fewer, what stands out from a plane is as likely the ground as the shot."""
OTHER_SIZES_M = (0.03, 0.3, 3.0)
"""Sizes of blunders of some other amount, as for readings that the net checks."""
BUMPS = 0.002
"""Share of shots on a spoil heap, a boulder or in a ditch that the person did not mean to shoot."""
BUMP_SIZES_M = (0.1, 0.3)
UNEVEN = 0.02
"""Share of shots where the ground departs `UNEVEN_TIMES` as far as its covariance says: real ground has
corners and edges, and its departures have longer tails than a normal distribution."""
UNEVEN_TIMES = 3.0
MISPLACED = 0.001
"""Share of shots that stand elsewhere than booked, untold by tapes; that does the slope times the way."""
MISPLACED_M = (0.3, 1.0, 3.0)
SETUPS_OFF = 0.002
"""Share of set-ups whose shots all stand off: the instrument bumped, a turning point moved, a BS misread."""
WORTH_TELLING = 0.3
"""Chance from which on a shot is told: below it is likelier right by two to one."""
WORTH_A_LOOK = 0.05
"""Chance from which on the likeliest shot is set aside to see whether it hides another one."""
SETUP_WORTH_TELLING = 0.8
"""The same for a whole set-up: a bank or a terrace under it looks alike."""
MOST_ROUNDS = 5
"""The likeliest shot is set aside and the rest is judged again, so often at most."""
MOST_ASKED = 12
"""Shots weighed in one round, the oddest ones: the others explain nothing that these do not."""
FAILED_NET_M = 1.0
"""Where the net's own test fails every set-up may stand off by this much, one sd: shots then are judged
against the others of their set-up, and no set-up is named."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoneShot:
    """A shot whose elevation hangs on one rod reading or rise that nothing checks."""

    shot: int
    """Its place among the shots."""
    reading: AdjustedReading
    raises: float
    """Of the shot by a reading greater by one: -1 of a rod, 1 at the upper end of a rise, -1 at its start."""
    repairs: tuple[ReadingRepair, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupOff:
    """A set-up all of whose shots stand off the rest of the ground."""

    first_row: int
    shots: int
    above_m: float
    """Its shots less what the others say; negative: below."""
    sd_m: float
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubts:
    """What the ground says of readings that nothing else checks."""

    suspects: tuple[Suspect, ...] = ()
    names: frozenset[str] = frozenset()
    """Of the suspects' points, in small letters."""
    off_m2: Mapping[str, float] = field(default_factory=dict)
    """Mean square, by the same names, of how far the ground may lie off the shot: the chance that the reading
    is wrong times the square of what its neighbours say it is off, with the variance of that."""
    setup: SetupOff | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Judged:
    chance: float
    likely: ReadingRepair | None
    """None: some other amount."""
    above_m: float
    sd_m: float


def lone_shots(
    book: FieldBook, adjustment: Adjustment, shots: Shots
) -> tuple[tuple[LoneShot, ...], dict[int, list[int]]]:
    """Return the shots that hang on one reading, and the shots of each set-up by the row that opens it."""
    rows = {row.row: row for row in book.levels}
    rises = {row.row: row for row in book.rises}
    place = {known_as(name): k for k, name in enumerate(shots.names)}
    by_point: dict[str, list[tuple[int, AdjustedReading, float]]] = {}
    setup = 0
    for reading in adjustment.readings:
        if reading.kind == "rod" and reading.table == "levels.csv" and reading.row in rows:
            setup = reading.row if reading.column == "bs" else setup
            by_point.setdefault(known_as(rows[reading.row].point), []).append((setup, reading, -1.0))
        elif reading.table == "rises.csv" and reading.row in rises:
            rise = rises[reading.row]
            by_point.setdefault(known_as(rise.to), []).append((0, reading, 1.0))
            by_point.setdefault(known_as(rise.start), []).append((0, reading, -1.0))
    lone: list[LoneShot] = []
    setups: dict[int, list[int]] = {}
    for name, readings in by_point.items():
        if name not in place or len(readings) > 1:
            continue
        opened, reading, raises = readings[0]
        if reading.w is not None or reading.column == "bs":
            continue
        typed_m: float | None = None
        if reading.kind == "rod":
            setups.setdefault(opened, []).append(place[name])
            row = rows[reading.row]
            # As typed: the adjusted one may have corrections in it.
            typed_m = row.is_m if reading.column == "is" else row.fs_m
        likely = reading_repairs(
            reading.value if typed_m is None else typed_m,
            reading.read,
            kind=reading.kind,
            column=reading.column,
            unit=book.job.site.units,
        )
        kept = tuple(one for one in likely if abs(one.by_m) > NOTICED_SDS * reading.sd)
        lone.append(LoneShot(shot=place[name], reading=reading, raises=raises, repairs=kept))
    return tuple(lone), setups


def ground_doubts(book: FieldBook, adjustment: Adjustment, shots: Shots, surface: Surface) -> Doubts:
    """Return the readings that the ground round them makes doubtful, most likely wrong first.

    Readings that others check are left to the net's verdict: the ground adds nothing to it. Shots of which
    several readings speak are taken as they are.

    Parameters
    ----------
    book, adjustment
        The readings as typed and as adjusted.
    shots, surface
        From the same adjustment.
    """
    lone, setups = lone_shots(book, adjustment, shots)
    unsure = _doubted_in_plan(book, adjustment)
    lone = tuple(one for one in lone if known_as(shots.names[one.shot]) not in unsure)
    net_failed = adjustment.passes is False or not all(m.passes for m in adjustment.misclosures)
    noise_m2 = shots.cov_m2
    if net_failed:
        noise_m2 = np.array(noise_m2)
        for members in setups.values():
            noise_m2[np.ix_(members, members)] += FAILED_NET_M**2
        setups = {}
    yard = _Yard(
        shots=shots,
        noise_m2=noise_m2,
        lone=lone,
        setups=setups,
        slope=math.tan(surface.slope_rad),
        oddness=np.nan_to_num(np.abs(surface.left_out.above_m / surface.left_out.sd_m)),
    )
    chances: dict[int, _Judged] = {}
    aside: list[int] = []
    off: SetupOff | None = None
    for _ in range(MOST_ROUNDS):
        judged, setup = yard.judged(aside)
        off = setup if off is None else off
        if not judged:
            break
        _keep_highest(chances, judged)
        first = max(judged, key=lambda shot: judged[shot].chance)
        if judged[first].chance < WORTH_A_LOOK:
            break
        aside.append(first)
    while aside and chances[aside[-1]].chance < WORTH_TELLING:
        aside.pop()
    for shot in aside:
        # Two wrong shots hide each other; with the other one set aside each is seen for what it is.
        if chances[shot].chance < WORTH_TELLING:
            judged, _ = yard.judged([other for other in aside if other != shot], shot)
            _keep_highest(chances, {shot: judged[shot]} if shot in judged else {})
    told = {one: chances[one.shot] for one in lone if one.shot in chances}
    told = {one: found for one, found in told.items() if found.chance >= WORTH_TELLING}
    suspects = [_suspect(one, found, book) for one, found in told.items()]
    off_m2 = {
        known_as(shots.names[one.shot]): found.chance * (found.above_m**2 + found.sd_m**2)
        for one, found in told.items()
    }
    return Doubts(
        suspects=tuple(sorted(suspects, key=lambda suspect: -suspect.chance)),
        names=frozenset(off_m2),
        off_m2=off_m2,
        setup=off,
    )


def _doubted_in_plan(book: FieldBook, adjustment: Adjustment) -> frozenset[str]:
    """Return the points whose own place hangs on a reading to doubt: elsewhere the ground is another."""
    named = {(suspect.table, suspect.row) for suspect in adjustment.suspects}
    return frozenset(
        known_as(name)
        for rows in (book.tapes, book.offsets, book.fixes)
        for row in rows
        if (row.table, row.row) in named
        for name in ((row.start, row.to) if isinstance(row, TapeRow) else (row.point,))
    )


def _keep_highest(chances: dict[int, _Judged], judged: Mapping[int, _Judged]) -> None:
    for shot, found in judged.items():
        if shot not in chances or chances[shot].chance < found.chance:
            chances[shot] = found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Yard:
    """The shots with what is needed to judge them."""

    shots: Shots
    noise_m2: Floats
    lone: tuple[LoneShot, ...]
    setups: Mapping[int, Sequence[int]]
    slope: float
    oddness: Floats
    """(n,), what each shot is off the others, in standard deviations."""

    def judged(
        self, aside: Sequence[int], about: int | None = None
    ) -> tuple[dict[int, _Judged], SetupOff | None]:
        """Return what is thought of the oddest shots, some set aside, and of the set-ups.

        Of very many shots those about one are judged, without one the oddest.
        """
        kept = np.ones(len(self.shots.names), dtype=bool)
        kept[list(aside)] = False
        odd = np.where(kept, self.oddness, -1.0)
        if about is not None:
            odd[about] = np.inf
        near = _near(self.shots.en_m, kept, int(odd.argmax()))
        here = {int(k): i for i, k in enumerate(near)}
        asked = sorted((one for one in self.lone if one.shot in here), key=lambda one: -odd[one.shot])
        asked = asked[:MOST_ASKED]
        if len(near) < LEAST_SHOTS or not asked:
            return {}, None
        moved = {row: [here[k] for k in members if k in here] for row, members in self.setups.items()}
        moved = {row: members for row, members in moved.items() if 2 <= len(members) <= len(near) - 2}
        evidence = evidence_of(
            self.shots.en_m[near],
            self.shots.z_m[near],
            self.noise_m2[np.ix_(near, near)],
            _directions(len(near), [here[one.shot] for one in asked], moved.values()),
        )
        found, setup = _round(evidence, asked, moved, self.slope)
        return {one.shot: judged for one, judged in zip(asked, found, strict=True)}, setup


def _near(en_m: Floats, kept: NDArray[np.bool_], oddest: int) -> NDArray[np.intp]:
    """Return the shots that are judged together: all, or of very many those nearest the oddest one."""
    there = np.flatnonzero(kept)
    away = np.hypot(*(en_m[there] - en_m[oddest]).T)
    return np.sort(there[np.argsort(away, kind="stable")[:LIKELIHOOD_SHOTS]])


def _directions(n: int, single: Sequence[int], setups: Iterable[Sequence[int]]) -> Floats:
    columns = [np.eye(n)[:, single]]
    for members in setups:
        column = np.zeros((n, 1))
        column[list(members)] = 1.0
        columns.append(column)
    return np.hstack(columns)


def _mean(evidence: Evidence, direction: int, sizes_m: Sequence[float]) -> float:
    """Return the log likelihood gained by an amount of one of several sizes."""
    gains = [evidence.free(direction, size) for size in sizes_m]
    top = max(gains)
    return top + math.log(math.fsum(math.exp(gain - top) for gain in gains) / len(gains))


def _round(
    evidence: Evidence, asked: Sequence[LoneShot], setups: Mapping[int, Sequence[int]], slope: float
) -> tuple[list[_Judged], SetupOff | None]:
    """Return the chance of each shot asked about, and the set-up that stands off, all weighed together."""
    wrong: list[list[tuple[float, ReadingRepair | None]]] = []
    logs = [0.0]
    for k, one in enumerate(asked):
        other = math.log(WRONG_READINGS * SHARE_OTHER) + _mean(evidence, k, OTHER_SIZES_M)
        ways: list[tuple[float, ReadingRepair | None]] = [(other, None)]
        ways += [
            (math.log(WRONG_READINGS * repair.share) + evidence.moved(k, one.raises * repair.by_m), repair)
            for repair in one.repairs
        ]
        wrong.append(ways)
        logs += [log for log, _ in ways]
        logs.append(math.log(BUMPS) + _mean(evidence, k, BUMP_SIZES_M))
        logs.append(math.log(UNEVEN) + evidence.rougher(k, UNEVEN_TIMES))
        logs.append(math.log(MISPLACED) + _mean(evidence, k, [slope * way for way in MISPLACED_M]))
    off = {
        row: math.log(SETUPS_OFF) + _mean(evidence, len(asked) + k, OTHER_SIZES_M)
        for k, row in enumerate(setups)
    }
    logs += off.values()
    top = max(logs)
    everything = math.fsum(math.exp(log - top) for log in logs)
    judged = []
    for k, ways in enumerate(wrong):
        above_m, sd_m = evidence.stands_off(k, OTHER_SIZES_M[-1])
        judged.append(
            _Judged(
                chance=math.fsum(math.exp(log - top) for log, _ in ways) / everything,
                likely=max(ways, key=lambda way: way[0])[1],
                above_m=above_m,
                sd_m=sd_m,
            )
        )
    setup = None
    if off:
        row = max(off, key=lambda row: off[row])
        # Of two set-ups that share a yard, one up is as good as the other down.
        chance = math.fsum(math.exp(log - top) for log in off.values()) / everything
        if chance >= SETUP_WORTH_TELLING:
            above_m, sd_m = evidence.stands_off(len(asked) + list(off).index(row), OTHER_SIZES_M[-1])
            setup = SetupOff(first_row=row, shots=len(setups[row]), above_m=above_m, sd_m=sd_m, chance=chance)
    return judged, setup


def _suspect(one: LoneShot, found: _Judged, book: FieldBook) -> Suspect:
    reading, style = one.reading, book.job.site.show
    where = "above" if found.above_m > 0 else "below"
    rises = "rises" if found.above_m > 0 else "falls"
    there = "a spoil heap, a boulder" if found.above_m > 0 else "a ditch, a hole"
    if found.likely is None:
        # It should have read what brings the shot down by as much as it stands above.
        meant_m = reading.value - one.raises * found.above_m
        meant_m = max(meant_m, 0.0) if reading.kind == "rod" else meant_m
        likely = write_like(meant_m, reading.read, unit=book.job.site.units)
        how = "wrong by some other amount"
    else:
        likely, how = found.likely.likely, found.likely.why
    return Suspect(
        table=reading.table,
        row=reading.row,
        column=reading.column,
        read=reading.read,
        likely=likely,
        why=(
            f"{reading.what}: {how}. Nothing repeats this shot; its neighbours' surface says it stands "
            f"{told(abs(found.above_m), style)} {where} the ground (1 sd of that "
            f"{told(found.sd_m, style)}); or the ground really {rises} there ({there}), or the point "
            "stands elsewhere: look"
        ),
        chance=found.chance,
    )


def doubting(adjustment: Adjustment, doubts: Doubts) -> Adjustment:
    """Return the adjustment with the suspects of net and ground in one list, most likely first."""
    if not doubts.suspects:
        return adjustment
    both = sorted((*adjustment.suspects, *doubts.suspects), key=lambda suspect: -round(suspect.chance, 9))
    return replace(adjustment, suspects=tuple(both))
