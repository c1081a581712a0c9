"""Are the chances told true: of readings named at 80 to 90 %, are 80 to 90 % the wrong ones?

And of repairs given 80 to 90 %, are 80 to 90 % right, to three standard deviations of the reading?

Run by hand: ``python -m benchmarks.chances [books] [seed]``. Books of two to six set-ups that re-sight one
to three pins, rods good to 0.005 to 0.02 ft, read to 0.01 ft. Two populations: one blunder in each book;
each checked reading wrong as often as the program takes it to be. Kinds and sizes of blunders have shares
that are not the program's. Then one blunder in each book where all are slips, none is, or half are. Errors
are taken over books.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from benchmarks.blunders import LEAST_FT, booked, circuit, planted, read
from staking.control.adjusting import adjusted
from staking.control.right_repairs import NEAR_SDS
from staking.control.suspects import WRONG_READINGS

BOOKS = 2000
SEED = 0
RODS_FT = (0.005, 0.007, 0.01, 0.014, 0.02)
EDGES = (0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.6, 0.7, 0.8, 0.9, 0.97, 1.01)
MIX = {
    "foot": 0.25,
    "tenth": 0.1,
    "ten": 0.03,
    "digits": 0.15,
    "exchange": 0.05,
    "upside": 0.02,
    "other": 0.2,
    "any": 0.2,
}
"""Shares of the kinds of blunder; from 0.1 to 3 ft ``other`` is even in the logarithm, ``any`` even."""
SLIPS = {"foot": 0.4, "tenth": 0.2, "ten": 0.05, "digits": 0.25, "exchange": 0.07, "upside": 0.03}
SIZES = {"other": 0.5, "any": 0.5}
WORLDS = {
    "all blunders slips": SLIPS,
    "all blunders of any size": SIZES,
    "half slips, half of any size": {kind: share / 2 for kind, share in (SLIPS | SIZES).items()},
    "every size alike": {"any": 1.0},
}
"""Surveyors who go wrong in one way only: nothing in one book shows which of them wrote it."""
ONE, AS_STATED = "one blunder in each book", "each reading wrong as often as the program takes it to be"


@dataclass(frozen=True, kw_only=True)
class Told:
    """One reading that was named."""

    book: int
    chance: float
    wrong: bool
    """Whether it is a wrong one."""
    repair_chance: float
    right: bool
    """Whether its repair is right to three standard deviations of the reading, as the program says."""
    repaired: bool
    """Whether its repair is right to half of the least blunder."""
    first: bool
    """Whether it was named first."""


def told(
    population: str, books: int, seed: int, mix: Mapping[str, float], rods_ft: Sequence[float] = RODS_FT
) -> Iterator[Told]:
    """Return what is told of `books` books of a population."""
    rng = np.random.default_rng(seed)
    for number in range(books):
        sights = circuit(rng, setups=int(rng.integers(2, 7)), pins=int(rng.integers(1, 4)))
        sd_ft = float(rng.choice(rods_ft))
        texts = read(sights, sd_ft, rng)
        checked = sum(not sight.point.startswith("G") for sight in sights)
        many = 1 if population == ONE else int(rng.binomial(checked, WRONG_READINGS))
        wrong: dict[int, str] = {}
        for _ in range(many):
            wrong |= planted(sights, texts, rng, mix)
        book, where = booked(sights, [wrong.get(k, text) for k, text in enumerate(texts)], sd_ft)
        meant = {where[k]: float(texts[k]) for k in wrong}
        for place, suspect in enumerate(adjusted(book).suspects):
            # A wrong name beside it is told of the same reading.
            at = next((a for a in meant if a[0] == suspect.row and suspect.column in (a[1], "point")), None)
            off_ft = math.inf
            if at is not None and suspect.column == at[1]:
                off_ft = abs(float(suspect.likely) - meant[at])
            assert suspect.repair_chance is not None
            yield Told(
                book=number,
                chance=suspect.chance,
                wrong=at is not None,
                repair_chance=suspect.repair_chance,
                right=off_ft < NEAR_SDS * sd_ft,
                repaired=off_ft < 0.5 * LEAST_FT,
                first=place == 0,
            )


Claim = tuple[int, float, bool, bool]
"""The book, a chance told, whether it was so, whether it was repaired to half of the least blunder."""


def bands(
    claims: Sequence[Claim], edges: Sequence[float] = EDGES
) -> Iterator[tuple[int, float, float, float, float]]:
    """Return of each band of chances: how many, mean chance, share that was so, its error, share repaired.

    What is told of one book hangs together: the error is that of sums over books, never less than that of one
    reading.
    """
    for low, high in pairwise(edges):
        inside = [claim for claim in claims if low <= claim[1] < high]
        if not inside:
            yield 0, math.nan, math.nan, math.nan, math.nan
            continue
        misses: dict[int, float] = {}
        for book, chance, so, _ in inside:
            misses[book] = misses.get(book, 0.0) + so - chance
        many = len(inside)
        error = math.sqrt(max(math.fsum(x * x for x in misses.values()), 1.0)) / many
        yield (
            many,
            math.fsum(claim[1] for claim in inside) / many,
            sum(claim[2] for claim in inside) / many,
            error,
            sum(claim[3] for claim in inside) / many,
        )


def printed(title: str, rows: Sequence[Told]) -> None:
    """Print how often readings named were wrong, and repairs right, by the chance told of each."""
    print(title)
    tables = {
        "was the wrong one": [(row.book, row.chance, row.wrong, row.repaired) for row in rows],
        "was the right repair": [(row.book, row.repair_chance, row.right, row.repaired) for row in rows],
    }
    for so, claims in tables.items():
        print(f"  chance told    mean told   {so:22} off, in errors   repaired to {0.5 * LEAST_FT} ft")
        for (low, high), (many, mean, right, error, repaired) in zip(
            pairwise(EDGES), bands(claims), strict=True
        ):
            if many:
                print(
                    f"  {low:.2f} to {min(high, 1):.2f}  {100 * mean:6.1f} %  {100 * right:6.1f} ± "
                    f"{100 * error:4.1f} % of {many:5d} {(right - mean) / error:+9.1f}  "
                    f"{100 * repaired:14.1f} %",
                    flush=True,
                )


def main() -> None:
    """Print everything."""
    books = int(sys.argv[1]) if len(sys.argv) > 1 else BOOKS
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else SEED
    for k, population in enumerate((ONE, AS_STATED)):
        rows = list(told(population, books, seed + 100 + k, MIX))
        printed(f"{population}, {books} books", rows)
        printed("  of these named first", [row for row in rows if row.first])
    for k, (title, mix) in enumerate(WORLDS.items()):
        printed(f"{title}, {books} books", list(told(ONE, books, seed + 7001 + k, mix)))


if __name__ == "__main__":
    main()
