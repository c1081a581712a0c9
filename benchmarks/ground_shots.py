"""Blunders planted in shots that nothing repeats: how true the chances are that the ground gives them.

Run by hand: ``python -m benchmarks.ground_shots [yards]``. Standard errors are taken over yards.
Each rod reading is wrong as often as the judgement says (`WRONG_READINGS`), bumps and wrong places likewise.
To spend little time on yards where nothing happens, a third of the yards have a blunder at least, and a third
none but a bump or a wrong place at least; each third counts as often as such yards are. The yards are not
those of the tests.
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from staking.base.units import parse_length
from staking.book.records import (
    Accuracy,
    Benchmark,
    Control,
    ControlRow,
    FieldBook,
    Job,
    LevelRow,
    Site,
)
from staking.control.adjusting import adjusted
from staking.control.repairs import reading_repairs
from staking.control.suspects import WRONG_READINGS
from staking.ground.covariance import MATERN_32, MATERN_52, Covariance, Term, distances_m
from staking.ground.doubts import BUMPS, MISPLACED, ground_doubts
from staking.ground.shots import ground_shots
from staking.ground.surface import fitted_surface

Floats = NDArray[np.float64]

FOOT_M = 0.3048
SD_FT = 0.007
YARDS = 400
EDGES = (0.0, 0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 0.97, 1.01)
PATCH = Path(__file__).parent.parent / "tests" / "ground" / "data" / "lidar_patch.csv"


def _plane(rng: np.random.Generator, en: Floats) -> Floats:
    return np.asarray(30 + en @ rng.uniform(-0.15, 0.15, 2))


def _field(rng: np.random.Generator, en: Floats, covariance: Covariance) -> Floats:
    factor = np.linalg.cholesky(covariance.at(distances_m(en, en)) + 1e-9 * np.eye(len(en)))
    return factor @ rng.standard_normal(len(en))


def places(rng: np.random.Generator, count: int) -> Floats:
    """Return shots of a yard of some 12 to 25 m, on a loose grid or scattered."""
    side = rng.uniform(12, 25)
    if rng.random() < 0.5:
        return rng.uniform(0, side, (count, 2))
    across = math.ceil(math.sqrt(count))
    grid = np.array([(i, j) for i in range(across) for j in range(across)])[:count] * side / across
    return grid + rng.normal(0, 0.05 * side / across, grid.shape)


def swells(rng: np.random.Generator, count: int) -> tuple[Floats, Floats]:
    """Return shots of a plane with two swells of 1 to 8 cm."""
    en = places(rng, count)
    z = _plane(rng, en)
    for _ in range(2):
        z = z + rng.uniform(0.01, 0.08) * np.sin(en @ rng.uniform(-0.5, 0.5, 2) + rng.uniform(0, 6))
    return en, z


def lawns(rng: np.random.Generator, count: int) -> tuple[Floats, Floats]:
    """Return shots of smooth ground, Matérn 5/2."""
    en = places(rng, count)
    term = Term(smoothness=MATERN_52, variance_m2=rng.uniform(0.02, 0.15) ** 2, range_m=rng.uniform(5, 15))
    return en, _plane(rng, en) + _field(rng, en, Covariance(terms=(term,)))


def pastures(rng: np.random.Generator, count: int) -> tuple[Floats, Floats]:
    """Return shots of rougher ground, Matérn 3/2."""
    en = places(rng, count)
    term = Term(smoothness=MATERN_32, variance_m2=rng.uniform(0.05, 0.2) ** 2, range_m=rng.uniform(4, 12))
    return en, _plane(rng, en) + _field(rng, en, Covariance(terms=(term,)))


def hillside(rng: np.random.Generator, count: int) -> tuple[Floats, Floats]:
    """Return shots of the lidar ground of the tests, in a square of 15 to 40 m."""
    z = np.loadtxt(PATCH, delimiter=",")
    side = int(rng.integers(15, 41))
    i, j = rng.integers(0, 42 - side, 2) if side < 41 else (0, 0)
    there = np.array([(a, b) for a in range(i, i + side) for b in range(j, j + side)])
    if rng.random() < 0.5:
        there = rng.choice(there, count, replace=False)
    else:
        step = max(2, round(side / math.sqrt(count)))
        there = there[(there[:, 0] % step == 0) & (there[:, 1] % step == 0)]
    return np.column_stack([there[:, 1], -there[:, 0]]).astype(float), z[there[:, 0], there[:, 1]]


GROUNDS = {"swells": swells, "lawns": lawns, "pastures": pastures, "real hillside": hillside}


@dataclass
class Yard:
    """One yard's shots as they come to be read."""

    book: FieldBook
    wrong: frozenset[int]
    """Rows whose reading is wrong."""
    odd: bool
    """Whether a shot stands on a bump or elsewhere than booked."""


def _spoiled(text: str, rng: np.random.Generator) -> str:
    """Return a reading gone wrong in one of the ways that people go wrong, by three sds or more."""
    value = parse_length(text, unit="ft")
    while True:
        ways = list(reading_repairs(value, text, kind="rod", column="is", unit="ft"))
        shares = np.array([way.share for way in ways] + [0.25])
        k = int(rng.choice(len(shares), p=shares / shares.sum()))
        if k < len(ways):
            wrong = ways[k].likely
        else:
            wrong = f"{(value + rng.normal(0, rng.choice([0.03, 0.3, 3.0]))) / FOOT_M:.2f}"
        by = float(wrong) * FOOT_M - value
        if float(wrong) >= 0 and abs(by) > 3 * SD_FT * FOOT_M:
            return wrong


def invented(
    ground: str, rng: np.random.Generator, *, blunders: int, odd: bool | None = None, setups: int = 1
) -> Yard:
    """Return a yard with so many wrong shots, read to 0.01 ft from set-ups on a benchmark."""
    en, z = GROUNDS[ground](rng, int(rng.integers(10, 61)))
    n = len(z)
    while True:
        bump, misplaced = rng.random(n) < BUMPS, rng.random(n) < MISPLACED
        if odd is None or odd == bool((bump | misplaced).any()):
            break
    z = z + bump * rng.normal(0, rng.choice([0.1, 0.3], n))
    said = en + misplaced[:, None] * rng.normal(0, rng.choice([0.3, 1.0, 3.0], (n, 1)), (n, 2))
    hi = float(z.max()) + 1.3
    texts = [f"{(hi - h) / FOOT_M + rng.normal(0, SD_FT):.2f}" for h in z]
    spoiled = rng.choice(n, min(blunders, n), replace=False)
    for k in spoiled:
        texts[k] = _spoiled(texts[k], rng)
    levels = []
    bm = f"{1.3 / FOOT_M + rng.normal(0, SD_FT):.2f}"
    rows: list[tuple[str, str, str]] = []
    per = math.ceil(n / setups)
    for k, text in enumerate(texts):
        if k % per == 0:
            rows.append(("BM1", "bs", bm))
        rows.append((f"G{k}", "is", text))
    wrong = set()
    for number, (point, column, text) in enumerate(rows, start=2):
        reading = parse_length(text, unit="ft")
        levels.append(
            LevelRow(
                table="levels.csv",
                row=number,
                read={column: text},
                point=point,
                bs_m=reading if column == "bs" else None,
                is_m=reading if column == "is" else None,
            )
        )
        if column == "is" and int(point[1:]) in spoiled:
            wrong.add(number)
    placed = tuple(
        ControlRow(table="control.csv", row=k + 2, point=f"G{k}", east_m=float(e), north_m=float(nn))
        for k, (e, nn) in enumerate(said)
    )
    book = FieldBook(
        job=Job(
            site=Site(units="ft", show="decimal feet"),
            control=Control(benchmark=Benchmark(point="BM1", elevation_m=float(z.max()))),
            accuracy=Accuracy(rod_m=SD_FT * FOOT_M),
        ),
        levels=tuple(levels),
        control_points=placed,
    )
    return Yard(book=book, wrong=frozenset(wrong), odd=bool((bump | misplaced).any()))


@dataclass
class Outcome:
    """What was said of one yard."""

    weight: float
    wrong: frozenset[int]
    odd: bool
    """Whether a shot stands on a bump or elsewhere than booked."""
    told: dict[int, tuple[float, str]]
    """Chance and likely reading, by row."""


def outcomes(ground: str, yards: int, seed: int) -> list[Outcome]:
    """Return what is said of yards of three sorts, each weighed as often as such yards are."""
    rng = np.random.default_rng(seed)
    found = []
    for k in range(yards):
        state = np.random.default_rng(rng.integers(2**63))
        some = k % 3 == 1
        # One blunder at least, seldom two.
        blunders = 0 if not some else 2 if state.random() < 0.08 else 1
        yard = invented(ground, state, blunders=blunders, odd=None if some else k % 3 == 2)
        n = sum(row.is_m is not None for row in yard.book.levels)
        wrong, odd = 1 - (1 - WRONG_READINGS) ** n, 1 - ((1 - BUMPS) * (1 - MISPLACED)) ** n
        adjustment = adjusted(yard.book)
        shots = ground_shots(adjustment.points)
        surface = fitted_surface(shots.en_m, shots.z_m, shots.cov_m2)
        doubts = ground_doubts(yard.book, adjustment, shots, surface)
        found.append(
            Outcome(
                weight=wrong if some else (1 - wrong) * (odd if k % 3 == 2 else 1 - odd),
                wrong=yard.wrong,
                odd=yard.odd,
                told={s.row: (s.chance, s.likely) for s in doubts.suspects},
            )
        )
    return found


def ratio(pairs: list[tuple[float, float]]) -> tuple[float, float]:
    """Return the ratio of two sums over yards, with its standard error by the delta method."""
    top, bottom = np.array(pairs, dtype=float).T
    if bottom.sum() == 0:
        return math.nan, math.nan
    r = top.sum() / bottom.sum()
    return r, float(np.sqrt(((top - r * bottom) ** 2).sum()) / bottom.sum())


def table(found: list[Outcome]) -> None:
    """Print chances told against how often they were right, and what was found."""
    print("  chance told       mean told   wrong in truth      told")
    for low, high in pairwise(EDGES):
        told = [[(c, r in o.wrong) for r, (c, _) in o.told.items() if low <= c < high] for o in found]
        count = sum(map(len, told))
        if count == 0:
            continue
        weights = [o.weight for o in found]
        of = [k * len(t) for k, t in zip(weights, told, strict=True)]
        mean, _ = ratio([(k * sum(c for c, _ in t), m) for k, t, m in zip(weights, told, of, strict=True)])
        true, se = ratio([(k * sum(w for _, w in t), m) for k, t, m in zip(weights, told, of, strict=True)])
        band = f"{low:4.2f} to {min(high, 1):4.2f}"
        print(f"  {band} {100 * mean:12.1f} {100 * true:12.1f} ± {100 * se:4.1f} {count:9d}")
    for what, odd in (("nothing happened", False), ("a shot is on a bump or misplaced", True)):
        clean, se = ratio([(float(bool(o.told)), 1.0) for o in found if not o.wrong and o.odd == odd])
        print(f"  yards where {what}: a shot accused {100 * clean:5.1f} ± {100 * se:.1f} %")
    hit, se = ratio([(len(o.wrong & o.told.keys()), len(o.wrong)) for o in found if o.wrong])
    print(f"  blunders of 0.02 ft or more named        {100 * hit:5.1f} ± {100 * se:.1f} %")


def whole_setups(ground: str, yards: int, seed: int) -> None:
    """Print how often a set-up is named where one of three stands off, and where none does."""
    rng = np.random.default_rng(seed)
    named = {0.0: 0, 0.1: 0, 1.0: 0}
    accused = dict.fromkeys(named, 0)
    for _ in range(yards):
        yard = invented(ground, rng, blunders=0, odd=False, setups=3)
        last = max(row.row for row in yard.book.levels if row.bs_m is not None)
        for by_ft in named:
            levels = tuple(
                replace(row, bs_m=row.bs_m + by_ft * FOOT_M)
                if row.row == last and row.bs_m is not None
                else row
                for row in yard.book.levels
            )
            book = replace(yard.book, levels=levels)
            adjustment = adjusted(book)
            if adjustment.redundancy:
                raise ValueError(adjustment.redundancy)
            shots = ground_shots(adjustment.points)
            doubts = ground_doubts(
                book, adjustment, shots, fitted_surface(shots.en_m, shots.z_m, shots.cov_m2)
            )
            named[by_ft] += doubts.setup is not None
            accused[by_ft] += bool(doubts.suspects)
    for by_ft, count in named.items():
        p, q = count / yards, accused[by_ft] / yards
        print(
            f"  {ground}, a set-up {by_ft} ft off: named {100 * p:.0f} ± "
            f"{100 * math.sqrt(p * (1 - p) / yards):.0f} %, a shot accused in {100 * q:.0f} % of {yards}"
        )


def main() -> None:
    """Print the table of each ground and of all."""
    yards = int(sys.argv[1]) if len(sys.argv) > 1 else YARDS
    every: list[Outcome] = []
    for k, ground in enumerate(GROUNDS):
        found = outcomes(ground, yards, 77_000 + k)
        every += found
        print(f"{ground}, {yards} yards of 10 to 60 shots")
        table(found)
        whole_setups(ground, max(yards // 10, 1), 88_000 + k)
    print("all grounds")
    table(every)


if __name__ == "__main__":
    main()
