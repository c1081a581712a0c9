"""Blunders planted in invented level books: how often named, repaired, and how true the chances are.

Run by hand: ``python -m benchmarks.blunders [books] [seed]``. Every figure has its standard error. The books
are not those of the tests. Each of four set-ups re-sights two pins; one checked reading is then wrong by 0.1
ft or more, in a way drawn from one of `MIXES`. `benchmarks.blunders_in_plan` does the same for tapes.
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
BOOKS = 500
EDGES = (0.02, 0.1, 0.2, 0.3, 0.4, 0.6, 0.7, 0.8, 0.9, 0.97, 1.01)
MIXES = {
    "as the program takes them to be": {
        "foot": 0.22,
        "tenth": 0.13,
        "ten": 0.06,
        "digits": 0.13,
        "exchange": 0.12,
        "upside": 0.02,
        "other": 0.32,
    },
    "mostly slips": {"foot": 0.3, "tenth": 0.2, "ten": 0.05, "digits": 0.2, "other": 0.25},
    "feet and swaps": {"foot": 0.5, "digits": 0.4, "exchange": 0.1},
    "sizes that no rule foresees": {"any": 1.0},
}
"""Shares of the kinds of blunder; the first mix is the program's own, the others are none of its business."""


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


def spoiled(text: str, rng: np.random.Generator, kind: str) -> str | None:
    """Return a reading with a blunder of `LEAST_FT` or more; None when this kind cannot make one of it."""
    value, sign = float(text), rng.choice([-1, 1])
    if kind == "digits":
        a, b = ((0, 2), (2, 3))[rng.integers(2)]
        signs = list(text)
        signs[a], signs[b] = signs[b], signs[a]
        wrong = float("".join(signs))
    elif kind == "upside":
        places = [k for k, sign in enumerate(text) if sign in "69"]
        if not places:
            return None
        k = int(rng.choice(places))
        wrong = float(text[:k] + {"6": "9", "9": "6"}[text[k]] + text[k + 1 :])
    else:
        sizes = {"foot": 1.0, "tenth": 0.1, "ten": 10.0}
        size = 10 ** rng.uniform(-1, 0.5) if kind == "other" else rng.uniform(LEAST_FT, 3)
        wrong = value + sign * sizes.get(kind, size)
    return f"{wrong:.2f}" if wrong > 0 and abs(wrong - value) >= LEAST_FT - 1e-9 else None


def planted(
    sights: Sequence[Sight], texts: Sequence[str], rng: np.random.Generator, mix: Mapping[str, float]
) -> dict[int, str]:
    """Return what stands in the book instead, by sight: one reading, or a BS and FS exchanged."""
    checked = [i for i, s in enumerate(sights) if not s.point.startswith("G")]
    while True:
        kind = str(rng.choice(list(mix), p=np.array(list(mix.values())) / sum(mix.values())))
        if kind == "exchange":
            backs = [i for i in checked if sights[i].column == "bs"]
            a = int(rng.choice(backs))
            b = next(i for i in checked if i > a and sights[i].column == "fs")
            if abs(float(texts[a]) - float(texts[b])) >= LEAST_FT:
                return {a: texts[b], b: texts[a]}
            continue
        k = int(rng.choice(checked))
        wrong = spoiled(texts[k], rng, kind)
        if wrong is not None:
            return {k: wrong}


def share(hits: int, of: int) -> str:
    """Return a share with its standard error, in per cent; the error of none or all is that of one."""
    if of == 0:
        return "   none"
    p = hits / of
    inner = min(max(hits, 1), max(of - 1, 1)) / of
    return f"{100 * p:5.1f} ± {100 * math.sqrt(inner * (1 - inner) / of):.1f} % of {of}"


@dataclass
class Tally:
    """What came of the planted blunders."""

    books: int = 0
    silent: int = 0
    first: int = 0
    top: int = 0
    repaired: int = 0

    def add(
        self, suspects: Sequence[Suspect], meant_ft: Mapping[tuple[int, str], float], twins: bool
    ) -> None:
        """Count one book.

        Parameters
        ----------
        suspects
            What was told.
        meant_ft
            What the wrong readings should be.
        twins
            Whether a wrong reading stands in one equation with another.
        """
        self.books += 1
        self.silent += not suspects
        self.first += bool(suspects) and (suspects[0].row, suspects[0].column) in meant_ft
        mine = [s for s in suspects[: 2 if twins else 1] if (s.row, s.column) in meant_ft]
        self.top += bool(mine)
        self.repaired += any(abs(float(s.likely) - meant_ft[s.row, s.column]) < 0.5 * LEAST_FT for s in mine)


def reliability(told: Sequence[tuple[float, bool, int]]) -> None:
    """Print how often readings were wrong, by the chance told; errors are taken over books, not readings."""
    for low, high in pairwise(EDGES):
        inside = [item for item in told if low <= item[0] < high]
        if not inside:
            continue
        chances, hits, books = (np.array(column, dtype=float) for column in zip(*inside, strict=True))
        right = hits.mean()
        misses = dict.fromkeys(books, 0.0)
        for chance, hit, book in zip(chances, hits, books, strict=True):
            misses[book] += hit - chance
        error = math.sqrt(max(sum(x * x for x in misses.values()), 1.0)) / len(inside)
        off = (right - chances.mean()) / error
        print(
            f"    {low:.2f} to {min(high, 1):.2f}  {100 * chances.mean():5.1f} %  {100 * right:5.1f} ± "
            f"{100 * error:.1f} % of {len(inside):4d}  {off:+.1f}"
        )


def blunders(sd_ft: float, books: int, name: str, seed: int) -> list[tuple[float, bool, int]]:
    """Print how planted blunders fare at one accuracy of the rod; return what was told, and if it was so."""
    rng = np.random.default_rng([round(sd_ft * 1e4), list(MIXES).index(name), seed])
    tally = Tally()
    told: list[tuple[float, bool, int]] = []
    for number in range(books):
        sights = circuit(rng)
        texts = read(sights, sd_ft, rng)
        wrong = planted(sights, texts, rng, MIXES[name])
        book, where = booked(sights, [wrong.get(i, text) for i, text in enumerate(texts)], sd_ft)
        suspects = adjusted(book).suspects
        meant = {where[k]: float(texts[k]) for k in wrong}
        tally.add(suspects, meant, any(not sights[k].point.startswith("P") for k in wrong))
        told += [(s.chance, (s.row, s.column) in meant, number) for s in suspects]
    print(f"rod good to {sd_ft} ft, {books} books with one blunder of {LEAST_FT} ft or more, {name}")
    print(f"  first, or of the first two where two are alike    {share(tally.top, tally.books)}")
    print(f"  and repaired to within half of {LEAST_FT} ft           {share(tally.repaired, tally.books)}")
    print(f"  named first, whatever was read                    {share(tally.first, tally.books)}")
    print(f"  nobody named                                      {share(tally.silent, tally.books)}")
    return told


def mixed(sd_ft: float, books: int) -> None:
    """Print how true the chances are where as many readings are wrong as the program takes to be."""
    rng = np.random.default_rng([round(sd_ft * 1e4), 99])
    told: list[tuple[float, bool, int]] = []
    mix = next(iter(MIXES.values()))
    for number in range(books):
        sights = circuit(rng)
        texts = read(sights, sd_ft, rng)
        checked = sum(not sight.point.startswith("G") for sight in sights)
        wrong = planted(sights, texts, rng, mix) if rng.random() < WRONG_READINGS * checked else {}
        book, where = booked(sights, [wrong.get(i, text) for i, text in enumerate(texts)], sd_ft)
        places = {where[k] for k in wrong}
        told += [(s.chance, (s.row, s.column) in places, number) for s in adjusted(book).suspects]
    print(f"rod good to {sd_ft} ft, {books} books, {WRONG_READINGS} of the readings wrong")
    reliability(told)


def two_at_once(sd_ft: float, books: int) -> None:
    """Print how often both of two blunders are named, and repaired."""
    rng = np.random.default_rng(23)
    both = repaired = 0
    mix = MIXES["mostly slips"]
    for _ in range(books):
        sights = circuit(rng, setups=5)
        texts = read(sights, sd_ft, rng)
        while True:
            wrong = planted(sights, texts, rng, mix) | planted(sights, texts, rng, mix)
            if len(wrong) == 2 and all(sights[k].point.startswith("P") for k in wrong):
                break
        book, where = booked(sights, [wrong.get(i, text) for i, text in enumerate(texts)], sd_ft)
        top = {(s.row, s.column): s.likely for s in adjusted(book).suspects[:2]}
        both += all(where[k] in top for k in wrong)
        repaired += all(
            where[k] in top and abs(float(top[where[k]]) - float(texts[k])) < 0.5 * LEAST_FT for k in wrong
        )
    print(f"rod good to {sd_ft} ft, {books} books with two blunders on pins sighted five times")
    print(f"  the first two named are these                     {share(both, books)}")
    print(f"  and repaired to within half of {LEAST_FT} ft           {share(repaired, books)}")


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
        texts[k] = spoiled(texts[k], rng, "foot") or texts[k]
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
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    for sd_ft in ROD_SDS_FT:
        told = []
        for k, name in enumerate(MIXES):
            told += [(*one[:2], one[2] + k * books) for one in blunders(sd_ft, books, name, seed)]
        print(f"rod good to {sd_ft} ft, these {len(MIXES) * books} books together")
        print("  chance told, mean chance, share that was wrong, difference in standard errors")
        reliability(told)
        mixed(sd_ft, books)
        clean(sd_ft, books)
    two_at_once(ROD_SDS_FT[0], books // 4)
    one_loop(max(books // 8, 1))


if __name__ == "__main__":
    main()
