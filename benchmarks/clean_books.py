"""How often clean surveys are accused, by their size: readings as good as stated, never rounded.

Run by hand: ``python -m benchmarks.clean_books [books] [seed]``. Circuits whose set-ups re-sight three pins,
longer ones in fewer books, by a good and a poor rod; then yards of every kind of reading. The program states
that at most `STATED` of clean surveys of any size has somebody named; the tests are at 1 % each. Last, how
often one reading wrong by a tenth of a foot is named in long circuits all the same.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from itertools import islice

import numpy as np

from benchmarks.blunders import LEAST_FT, booked, circuit, share
from benchmarks.intervals import KINDS
from staking.control.adjusting import adjusted
from staking.control.adjustment import Adjustment
from staking.control.by_chance import STATED

SETUPS = {4: 1.0, 40: 1.0, 200: 0.25, 900: 0.03}
"""Set-ups of a circuit, and the part of the books that are so long."""
RODS_FT = (0.007, 0.02)
SPOILED = 0.2
"""Part of the books of a size in which one reading is wrong."""
BOOKS = 1000
SEED = 2028


def circuits(setups: int, sd_ft: float, seed: int) -> Iterable[Adjustment]:
    """Return clean circuits adjusted, without end."""
    rng = np.random.default_rng([seed, setups, round(sd_ft * 1e4)])
    while True:
        sights = circuit(rng, setups=setups, pins=3, shots=0)
        texts = [f"{sight.true_ft + rng.normal(0, sd_ft):.6f}" for sight in sights]
        yield adjusted(booked(sights, texts, sd_ft)[0])


def yards(seed: int) -> Iterable[Adjustment]:
    """Return clean yards of each kind in turn, without end."""
    number = seed
    while True:
        for kind in KINDS.values():
            yield adjusted(kind(number)[1])
        number += 1


def printed(title: str, adjustments: Iterable[Adjustment], many: int) -> None:
    """Print how many of so many fail a test and name somebody, each with its standard error."""
    named = failed = open_loops = checked = 0
    for got in islice(adjustments, many):
        named += bool(got.suspects)
        failed += got.passes is False
        open_loops += not all(loop.passes for loop in got.misclosures)
        checked += sum(r.w is not None for r in got.readings)
    print(f"{title}, {checked / many:.0f} checked readings, {many} books")
    print(f"  fail the test at 1 %             {share(failed, many)}")
    print(f"  have a loop off by too much      {share(open_loops, many)}")
    print(f"  somebody accused (at most {100 * STATED:g} %)  {share(named, many)}", flush=True)


def spoiled(setups: int, sd_ft: float, books: int, seed: int) -> None:
    """Print how often one reading of a long circuit that is wrong by `LEAST_FT` is named."""
    rng = np.random.default_rng([seed, setups])
    silent = top = 0
    for _ in range(books):
        sights = circuit(rng, setups=setups, pins=3, shots=0)
        read_ft = [sight.true_ft + rng.normal(0, sd_ft) for sight in sights]
        k = int(rng.integers(len(sights)))
        read_ft[k] += rng.choice([-1, 1]) * LEAST_FT
        book, where = booked(sights, [f"{value:.6f}" for value in read_ft], sd_ft)
        suspects = adjusted(book).suspects
        silent += not suspects
        top += any((s.row, s.column) == where[k] for s in suspects[:2])
    print(f"circuits of {setups} set-ups, rod good to {sd_ft} ft, one reading wrong by {LEAST_FT} ft")
    print(f"  it is among the first two named  {share(top, books)}")
    print(f"  nobody named                     {share(silent, books)}", flush=True)


def main() -> None:
    """Print the shares."""
    books = int(sys.argv[1]) if len(sys.argv) > 1 else BOOKS
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else SEED
    for setups, part in SETUPS.items():
        for sd_ft in RODS_FT:
            title = f"circuits of {setups} set-ups, rod good to {sd_ft} ft"
            printed(title, circuits(setups, sd_ft, seed), max(round(books * part), 1))
    printed("yards of every kind of reading", yards(seed), books)
    for setups in (40, 200):
        for sd_ft in RODS_FT:
            spoiled(setups, sd_ft, max(round(books * SETUPS[setups] * SPOILED), 1), seed)


if __name__ == "__main__":
    main()
