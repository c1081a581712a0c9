"""Jobs as arrays make them, beams alike: how many are proven, what is left open, and the processor's time.

``python -m benchmarks.array_jobs [first [jobs]]``: 60 jobs of one to eight invented arrays, of one or two
stock lengths, with prices to the cent or without, sleeved and threaded, some ten minutes. Every list is
checked to be cut as it stands.
"""

from __future__ import annotations

import math
import random
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "pipes"))

from cut_checks import check

from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import BeamToCut, CannotCut, Piece
from staking.pipes.cutting import cut

JOBS = 60
STOCKS = ((6.4008,), (6.4008,), (6.0,), (7.3152,), (6.4008, 7.3152), (6.4008, 3.2))


def array_job(seed: int) -> tuple[list[Piece], list[BeamToCut], Pipe]:
    """Return the posts, beams and pipe of some arrays alike on ground of slopes of their own."""
    chance = random.Random(seed)
    arrays, bays = chance.randint(1, 8), chance.randint(2, 9)
    bay, past = chance.uniform(2.2, 3.2), chance.uniform(0.3, 0.7)
    rail = chance.choice([1.0, 1.134, 1.05, 1.3])
    low = chance.uniform(0.9, 1.4) + chance.uniform(0.9, 1.2)
    rise = chance.uniform(0.6, 1.6)
    length = bay * bays + 2 * past
    posts_m = tuple(past + bay * i for i in range(bays + 1))
    posts: list[Piece] = []
    beams: list[BeamToCut] = []
    for array in range(arrays):
        slope, _ = chance.uniform(-0.08, 0.08), chance.uniform(-0.1, 0.1)
        for row, letter in enumerate("FR"):
            for i in range(bays + 1):
                fall = slope * (i - bays / 2) * bay * chance.uniform(0.8, 1.2) * 0.3
                length_m = round(low + row * rise - fall + chance.uniform(-0.12, 0.12), 4)
                posts.append(Piece(name=f"{array}{letter}{i}", length_m=length_m, pipe="p"))
            first = chance.uniform(0.15, 0.35)
            rails = tuple(first + rail * i for i in range(math.ceil((length - first) / rail)))
            beams.append(
                BeamToCut(name=f"{array} {row}", length_m=length, posts_m=posts_m, rails_m=rails, pipe="p")
            )
    threaded = chance.random() < 0.4
    stocks = chance.choice(STOCKS)
    priced = chance.random() < 0.5
    pipe = Pipe(
        stock=tuple(
            Stock(length_m=x, price=round(x * chance.uniform(7, 9), 2) if priced else None) for x in stocks
        ),
        kerf_m=chance.choice([0.003175, 0.002]),
        joint_clear_m=chance.choice([0.1, 0.15]),
        no_joint=chance.choice([None, (0.4,)]),
        joint="threaded" if threaded else "sleeve",
        make_up_m=chance.choice([0.0, 0.02]) if threaded else 0.0,
    )
    return posts, beams, pipe


def main(first: int = 0, jobs: int = JOBS) -> None:
    """Print a line for each job, and how many are proven."""
    proven = refused = 0
    seconds: list[float] = []
    for seed in range(first, first + jobs):
        posts, beams, pipe = array_job(seed)
        start = time.process_time()
        try:
            cuts = cut(posts, beams, pipe)
        except CannotCut:
            refused += 1
            continue
        seconds.append(time.process_time() - start)
        check(cuts, posts, beams, pipe)
        proven += cuts.proven
        found, bound = (cuts.count, cuts.bound) if cuts.cost is None else (cuts.cost, cuts.cost_bound)
        print(
            f"{seed}: {len(posts)} posts, {len(beams)} {pipe.joint} beams, {len(pipe.stock)} lengths"
            f"{'' if cuts.cost is None else ', prices'}: {found:g}, bound {bound:g}, {seconds[-1]:.1f} s",
            flush=True,
        )
    print(
        f"{proven} of {len(seconds)} proven, {sum(seconds) / max(len(seconds), 1):.1f} s a job, "
        f"at most {max(seconds, default=0.0):.1f} s; {refused} have no legal joints"
    )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
