"""How often clean books are accused, by their size: circuits whose readings are as good as stated.

Run by hand: ``python -m benchmarks.clean_books [books] [seed]``. Errors are not rounded; each set-up
re-sights three pins. Longer circuits are run in fewer books.
"""

from __future__ import annotations

import sys

import numpy as np

from benchmarks.blunders import booked, circuit, share
from staking.control.adjusting import adjusted

SETUPS = (4, 40, 200, 900)
SD_FT = 0.007
BOOKS = 300
SEED = 2028


def main() -> None:
    """Print the shares, each with its standard error."""
    books = int(sys.argv[1]) if len(sys.argv) > 1 else BOOKS
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else SEED
    for setups, part in zip(SETUPS, (1, 2, 7, 50), strict=True):
        rng = np.random.default_rng([seed, setups])
        count, named, failed, checked = max(books // part, 1), 0, 0, 0
        for _ in range(count):
            sights = circuit(rng, setups=setups, pins=3, shots=0)
            texts = [f"{sight.true_ft + rng.normal(0, SD_FT):.6f}" for sight in sights]
            got = adjusted(booked(sights, texts, SD_FT)[0])
            named += bool(got.suspects)
            failed += got.passes is False
            checked += sum(r.w is not None for r in got.readings)
        print(f"{setups} set-ups, {checked / count:.0f} checked readings, {count} books", flush=True)
        print(f"  fail the test at 1 %    {share(failed, count)}")
        print(f"  somebody accused        {share(named, count)}", flush=True)


if __name__ == "__main__":
    main()
