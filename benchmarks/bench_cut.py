"""Cutting, proven, against a plain assignment model in a general solver, in the same run; then large jobs.

``python -m benchmarks.bench_cut [pieces …]``: 20, 60, 200 against the plain model, 1000 and 5000 alone.
"""

from __future__ import annotations

import random
import sys
import time

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import BeamToCut, Piece
from staking.pipes.cutting import cut

STOCK_M = 6.4
KERF_M = 0.003
SECONDS = 60.0
"""What the plain model may take; it stops there, proven or not."""
AGAINST_PLAIN = (20, 60, 200)
ALONE = (1000, 5000)


def posts(number: int) -> list[Piece]:
    """Return posts of different lengths, as uneven ground asks for."""
    generator = random.Random(number)
    return [
        Piece(name=f"A{i + 1}", length_m=round(generator.uniform(1.7, 3.9), 4), pipe="NPS 2 sch 40")
        for i in range(number)
    ]


def beams(number: int) -> list[BeamToCut]:
    """Return a beam on five posts, under seven rails, for every ten pieces."""
    generator = random.Random(number)
    found = []
    for n in range(number // 10):
        bay = generator.uniform(2.6, 2.9)
        found.append(
            BeamToCut(
                name=f"beam {n}",
                length_m=4 * bay + 1.2,
                posts_m=tuple(0.6 + bay * k for k in range(5)),
                rails_m=tuple(0.35 + 1.7 * k for k in range(7)),
                pipe="NPS 2 sch 40",
            )
        )
    return found


def plain(pieces: list[Piece], sticks: int) -> tuple[float, str]:
    """Return seconds and outcome of the plain model: piece i in stick j, stick j used."""
    n = len(pieces)
    lengths = np.array([p.length_m + KERF_M for p in pieces])
    cost = np.concatenate([np.zeros(n * sticks), np.ones(sticks)])
    piece, stick = (a.ravel() for a in np.meshgrid(np.arange(n), np.arange(sticks), indexing="ij"))
    lies = piece * sticks + stick
    once = coo_array((np.ones(n * sticks), (piece, lies)), shape=(n, len(cost)))
    used = np.arange(sticks)
    room = coo_array(
        (
            np.concatenate([lengths[piece], np.full(sticks, -(STOCK_M + KERF_M))]),
            (np.concatenate([stick, used]), np.concatenate([lies, n * sticks + used])),
        ),
        shape=(sticks, len(cost)),
    )
    start = time.process_time()
    done = milp(
        cost,
        integrality=np.ones(len(cost)),
        bounds=Bounds(0, 1),
        constraints=[
            LinearConstraint(once.tocsr(), 1, 1),
            LinearConstraint(room.tocsr(), -np.inf, 0),
        ],
        options={"time_limit": SECONDS},
    )
    return time.process_time() - start, "proven" if done.status == 0 else "stopped, not proven"


def timed(pieces: list[Piece], long: list[BeamToCut]) -> tuple[int, str, float]:
    """Return sticks, verdict and seconds of the processor."""
    start = time.process_time()
    cuts = cut(pieces, long, Pipe(stock=(Stock(length_m=STOCK_M),), kerf_m=KERF_M))
    verdict = "proven" if cuts.proven else f"bound {cuts.bound}"
    return cuts.count, verdict, time.process_time() - start


def main(numbers: tuple[int, ...] = (*AGAINST_PLAIN, *ALONE)) -> None:
    """Print the ratios, and what large jobs take."""
    for number in numbers:
        pieces = posts(number)
        count, verdict, ours = timed(pieces, [])
        told = f"{number} distinct posts: {count} sticks, {verdict}, {ours:.2f} s"
        if number in AGAINST_PLAIN:
            floor, outcome = plain(pieces, count + 1)
            told += f", {ours / floor:.4f} of the plain model's time ({outcome} after {floor:.1f} s)"
        print(told)
        count, verdict, ours = timed(pieces, beams(number))
        print(f"  with {number // 10} beams: {count} sticks, {verdict}, {ours:.2f} s")


if __name__ == "__main__":
    main(tuple(map(int, sys.argv[1:])) or (*AGAINST_PLAIN, *ALONE))
