"""Blunders planted in invented yards of tapes, offsets, angles, bearings and levels: named and repaired?

Run by hand: ``python -m benchmarks.blunders_in_plan [yards]``. Every figure has its standard error.
"""

from __future__ import annotations

import math
import sys
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "control"))

from invented_yards import invented  # type: ignore[import-not-found]

from benchmarks.blunders import reliability, share
from staking.book.records import FieldBook
from staking.control.adjusting import adjusted
from staking.control.adjustment import AdjustedReading

YARDS = 200
FIRST_SEED = 70_000
"""Other yards than the tests'."""
CHECKED = 0.25
"""Least redundancy number of a reading in which a blunder is planted."""
LEAST_SDS = 12.0
FIELDS = {
    ("tapes.csv", "length"): ("tapes", "length_m"),
    ("rises.csv", "rise"): ("rises", "rise_m"),
    ("offsets.csv", "station"): ("offsets", "station_m"),
    ("offsets.csv", "offset"): ("offsets", "offset_m"),
    ("angles.csv", "angle"): ("angles", "angle_rad"),
    ("bearings.csv", "bearing"): ("bearings", "bearing_rad"),
    ("levels.csv", "bs"): ("levels", "bs_m"),
    ("levels.csv", "is"): ("levels", "is_m"),
    ("levels.csv", "fs"): ("levels", "fs_m"),
}


def spoiled(book: FieldBook, reading: AdjustedReading, rng: np.random.Generator) -> FieldBook | None:
    """Return the book with one reading wrong; None when it would not be noticed."""
    table, field = FIELDS[reading.table, reading.column]
    rows = list(getattr(book, table))
    k = next(i for i, row in enumerate(rows) if row.row == reading.row)
    value = getattr(rows[k], field)
    sign = rng.choice([-1, 1])
    if reading.kind in ("angle", "bearing"):
        wrong = value + sign * math.radians(float(rng.choice([1, 10, 180, rng.uniform(1, 30)])))
        text = f"{math.degrees(wrong) % 360:.3f}"
    else:
        sizes = [1.0, 0.1, 10.0, 10 ** rng.uniform(-1, 0.5)]
        wrong = value + sign * float(rng.choice(sizes, p=[0.35, 0.2, 0.1, 0.35]))
        if wrong <= 0 < value:
            return None
        text = f"{wrong:.3f}"
    if abs(wrong - value) < LEAST_SDS * reading.sd:
        return None
    rows[k] = replace(rows[k], **{field: wrong, "read": {**rows[k].read, reading.column: text}})
    return replace(book, **{table: tuple(rows)})


def main() -> None:
    """Print everything."""
    yards = int(sys.argv[1]) if len(sys.argv) > 1 else YARDS
    rng = np.random.default_rng(17)
    told: list[tuple[float, bool, int]] = []
    planted: Counter[str] = Counter()
    first: Counter[str] = Counter()
    two: Counter[str] = Counter()
    slowest, alone = 0.0, 0.0
    for number in range(yards):
        yard = invented(FIRST_SEED + number, ground_points=6)
        yard.tape("G1", "P3")
        yard.tape("G2", "P4")
        yard.bearing("P1", "P3")
        book = yard.book()
        started = time.perf_counter()
        clean = adjusted(book)
        alone += time.perf_counter() - started
        wrong = None
        while wrong is None:
            choice = [r for r in clean.readings if r.redundancy_number > CHECKED]
            reading = choice[rng.integers(len(choice))]
            wrong = spoiled(book, reading, rng)
        started = time.perf_counter()
        suspects = adjusted(wrong).suspects
        slowest = max(slowest, time.perf_counter() - started)
        hits = [(s.table, s.row) == (reading.table, reading.row) for s in suspects]
        planted[reading.kind] += 1
        first[reading.kind] += bool(hits) and hits[0]
        two[reading.kind] += any(hits[:2])
        told += [(s.chance, hit, number) for s, hit in zip(suspects, hits, strict=True)]
    print(f"{yards} yards, one reading wrong by {LEAST_SDS:g} standard deviations or more")
    for kind in sorted(planted):
        print(f"  {kind:8} named first {share(first[kind], planted[kind])}")
        print(f"           of the first two {share(two[kind], planted[kind])}")
    print(f"  all named first {share(first.total(), yards)}, of the first two {share(two.total(), yards)}")
    print("  chance told, mean chance, share that was wrong, difference in standard errors")
    reliability(told)
    print(f"  clean yards took {1000 * alone / yards:.0f} ms, the slowest wrong one {1000 * slowest:.0f} ms")


if __name__ == "__main__":
    main()
