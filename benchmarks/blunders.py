"""Blunders planted in invented level books: how often named, repaired, and how true the chances are.

Run by hand: ``python -m benchmarks.blunders [books]``. Every figure has its standard error. The books are not
those of the tests. Each of four setups re-sights two pins; one checked reading is then wrong by 0.1 ft or
more: a foot, a tenth, ten feet, two digits changed, BS for FS, or any amount.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from staking.base.units import parse_length
from staking.book.records import Accuracy, Benchmark, Control, FieldBook, Job, LevelRow, Site
from staking.control.adjusting import adjusted
from staking.control.adjustment import Adjustment, Suspect
from staking.control.suspects import WRONG_READINGS

FOOT_M = 0.3048
LEAST_FT = 0.1
ROD_SDS_FT = (0.007, 0.02)
BOOKS = 400
EDGES = (0.0, 0.1, 0.3, 0.45, 0.55, 0.8, 0.95, 1.01)


@dataclass(frozen=True)
class Sight:
    """One rod reading: the point, the column, and what it should be, in feet."""

    point: str
    column: str
    true_ft: float


def circuit(rng: np.random.Generator, *, setups: int = 4, pins: int = 2, shots: int = 3) -> list[Sight]:
    """Return the sights of a circuit from BM1 and back; each setup sights every pin."""
    chain = ["BM1", *(f"TP{k}" for k in range(1, setups)), "BM1"]
    z = {"BM1": 100.0}
    found = []
    for k in range(setups):
        grounds = [f"G{shots * k + j}" for j in range(shots)]
        names = [chain[k], *(f"P{j + 1}" for j in range(pins)), *grounds, chain[k + 1]]
        for name in names:
            z.setdefault(name, 100 + rng.uniform(-3, 3))
        hi = 104 + rng.uniform(-0.5, 0.8)
        for i, name in enumerate(names):
            column = "bs" if i == 0 else "fs" if i == len(names) - 1 else "is"
            found.append(Sight(name, column, hi - z[name]))
    return found


def booked(
    sights: Sequence[Sight], texts: Sequence[str], sd_ft: float
) -> tuple[FieldBook, list[tuple[int, str]]]:
    """Return the field book, and row and column of each sight."""
    rows: list[tuple[str, dict[str, str]]] = []
    where = []
    for sight, text in zip(sights, texts, strict=True):
        if sight.column == "bs" and rows and rows[-1][0] == sight.point:
            rows[-1][1]["bs"] = text
        else:
            rows.append((sight.point, {sight.column: text}))
        where.append((len(rows) + 1, sight.column))

    def row(number: int, point: str, read: Mapping[str, str]) -> LevelRow:
        bs, between, fs = (
            None if c not in read else parse_length(read[c], unit="ft") for c in ("bs", "is", "fs")
        )
        return LevelRow(
            table="levels.csv", row=number, read=read, point=point, bs_m=bs, is_m=between, fs_m=fs
        )

    book = FieldBook(
        job=Job(
            site=Site(units="ft"),
            control=Control(benchmark=Benchmark(point="BM1", elevation_m=100 * FOOT_M)),
            accuracy=Accuracy(rod_m=sd_ft * FOOT_M),
        ),
        levels=tuple(row(k + 2, point, read) for k, (point, read) in enumerate(rows)),
    )
    return book, where


def read(sights: Sequence[Sight], sd_ft: float, rng: np.random.Generator) -> list[str]:
    """Return what a person reads, to a hundredth of a foot."""
    return [f"{sight.true_ft + rng.normal(0, sd_ft):.2f}" for sight in sights]


def spoiled(text: str, rng: np.random.Generator) -> str:
    """Return a reading with a blunder of `LEAST_FT` or more."""
    value = float(text)
    while True:
        how = rng.choice(["foot", "tenth", "ten", "digits", "other"], p=[0.3, 0.2, 0.05, 0.2, 0.25])
        sign = rng.choice([-1, 1])
        if how == "digits":
            a, b = ((0, 2), (2, 3))[rng.integers(2)]
            signs = list(text)
            signs[a], signs[b] = signs[b], signs[a]
            wrong = float("".join(signs))
        else:
            size = {"foot": 1.0, "tenth": 0.1, "ten": 10.0, "other": 10 ** rng.uniform(-1, 0.5)}[how]
            wrong = value + sign * size
        if wrong > 0 and abs(wrong - value) >= LEAST_FT - 1e-9:
            return f"{wrong:.2f}"


def share(hits: int, of: int) -> str:
    """Return a share with its standard error, in per cent; the error of none or all is that of one."""
    if of == 0:
        return "   none"
    p = hits / of
    inner = min(max(hits, 1), max(of - 1, 1)) / of
    return f"{100 * p:5.1f} ± {100 * math.sqrt(inner * (1 - inner) / of):.1f} % of {of}"


def is_told(suspect: Suspect, place: tuple[int, str]) -> bool:
    """Return whether a suspect is the reading at a place."""
    return (suspect.row, suspect.column) == place


@dataclass
class Tally:
    """What came of the planted blunders."""

    books: int = 0
    silent: int = 0
    first: int = 0
    top: int = 0
    repaired: int = 0
    lone: int = 0
    lone_first: int = 0

    def add(self, suspects: Sequence[Suspect], place: tuple[int, str], twins: bool, meant_ft: float) -> None:
        """Count one book; `twins`: the reading stands in one equation with another."""
        self.books += 1
        self.silent += not suspects
        first = bool(suspects) and is_told(suspects[0], place)
        self.first += first
        mine = [s for s in suspects[: 2 if twins else 1] if is_told(s, place)]
        self.top += bool(mine)
        self.repaired += bool(mine) and abs(float(mine[0].likely) - meant_ft) < 0.5 * LEAST_FT
        self.lone += not twins
        self.lone_first += first and not twins


def blunders(sd_ft: float, books: int) -> None:
    """Print how planted blunders fare at one accuracy of the rod."""
    rng = np.random.default_rng(round(sd_ft * 1e4))
    tally = Tally()
    told: list[tuple[float, bool, float]] = []
    for _ in range(books):
        sights = circuit(rng)
        texts = read(sights, sd_ft, rng)
        checked = [i for i, s in enumerate(sights) if not s.point.startswith("G")]
        k = int(rng.choice(checked))
        meant = float(texts[k])
        texts[k] = spoiled(texts[k], rng)
        book, where = booked(sights, texts, sd_ft)
        suspects = adjusted(book).suspects
        tally.add(suspects, where[k], not sights[k].point.startswith("P"), meant)
        some = 1 - (1 - WRONG_READINGS) ** len(checked)
        told += [(s.chance, is_told(s, where[k]), some) for s in suspects]
        clean_texts = read(sights, sd_ft, rng)
        told += [
            (s.chance, False, 1 - some) for s in adjusted(booked(sights, clean_texts, sd_ft)[0]).suspects
        ]
    print(f"rod good to {sd_ft} ft, {books} books with one blunder of {LEAST_FT} ft or more")
    print(f"  first, or of the first two where two are alike    {share(tally.top, tally.books)}")
    print(f"  and repaired to within half of {LEAST_FT} ft           {share(tally.repaired, tally.books)}")
    print(f"  named first, whatever was read                    {share(tally.first, tally.books)}")
    print(f"  named first, of those on a re-sighted pin         {share(tally.lone_first, tally.lone)}")
    print(f"  nobody named                                      {share(tally.silent, tally.books)}")
    print(f"  chance told, mean chance, share that was wrong, if {WRONG_READINGS} of all readings are wrong")
    for low, high in pairwise(EDGES):
        inside = [item for item in told if low <= item[0] < high]
        if inside:
            chances, hits, weights = (np.array(column, dtype=float) for column in zip(*inside, strict=True))
            mean, right = np.average(chances, weights=weights), np.average(hits, weights=weights)
            error = math.sqrt(float((weights**2 * (hits - right) ** 2).sum())) / weights.sum()
            print(
                f"    {low:.2f} to {min(high, 1):.2f}  {100 * mean:5.1f} %  "
                f"{100 * right:5.1f} ± {100 * error:.1f} % of {len(inside)}"
            )


def clean(sd_ft: float, books: int) -> None:
    """Print how often books without a blunder fail or are accused."""
    rng = np.random.default_rng(7)
    results: list[Adjustment] = []
    for _ in range(books):
        sights = circuit(rng)
        # Not rounded: the errors are as stated.
        texts = [f"{sight.true_ft + rng.normal(0, sd_ft):.6f}" for sight in sights]
        results.append(adjusted(booked(sights, texts, sd_ft)[0]))
    print(f"rod good to {sd_ft} ft, {books} clean books")
    print(
        f"  fail the test at 1 %                              "
        f"{share(sum(got.passes is False for got in results), books)}"
    )
    print(
        f"  somebody accused                                  "
        f"{share(sum(bool(got.suspects) for got in results), books)}"
    )


def one_loop(books: int) -> None:
    """Print the largest chance that a single closed loop gives to one reading."""
    rng = np.random.default_rng(11)
    most, named = 0.0, 0
    for _ in range(books):
        sights = circuit(rng, pins=0, shots=0)
        texts = read(sights, 0.007, rng)
        k = int(rng.integers(len(sights)))
        texts[k] = spoiled(texts[k], rng)
        suspects = adjusted(booked(sights, texts, 0.007)[0]).suspects
        chances = [s.chance for s in suspects]
        most = max([most, *chances])
        named += len(chances) > 0 and (len(chances) < len(sights) or max(chances) - min(chances) > 1e-9)
    print(f"one closed loop of {len(sights)} readings alone, {books} books")
    print(f"  one reading named before another                  {share(named, books)}")
    print(f"  largest chance of one reading                     {100 * most:5.1f} %")


def main() -> None:
    """Print everything."""
    books = int(sys.argv[1]) if len(sys.argv) > 1 else BOOKS
    for sd_ft in ROD_SDS_FT:
        blunders(sd_ft, books)
    clean(0.007, books)
    one_loop(max(books // 8, 1))


if __name__ == "__main__":
    main()
