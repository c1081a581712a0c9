"""Cutting, proven, against a plain assignment model in a general solver, in the same run."""

from __future__ import annotations

import random
import time

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import Piece
from staking.pipes.cutting import cut

STOCK_M = 6.4
KERF_M = 0.003
SECONDS = 60.0
"""What the plain model may take; it stops there, proven or not."""


def posts(number: int) -> list[Piece]:
    """Return posts of different lengths, as uneven ground asks for."""
    generator = random.Random(number)
    return [
        Piece(name=f"A{i + 1}", length_m=round(generator.uniform(1.7, 3.9), 4), pipe="NPS 2 sch 40")
        for i in range(number)
    ]


def plain(pieces: list[Piece], sticks: int) -> tuple[float, str]:
    """Return seconds and outcome of the plain model: piece i in stick j, stick j used."""
    n = len(pieces)
    lengths = np.array([p.length_m + KERF_M for p in pieces])
    cost = np.concatenate([np.zeros(n * sticks), np.ones(sticks)])
    once, room = np.zeros((n, len(cost))), np.zeros((sticks, len(cost)))
    for i in range(n):
        once[i, i * sticks : (i + 1) * sticks] = 1
    for j in range(sticks):
        room[j, j : n * sticks : sticks] = lengths
        room[j, n * sticks + j] = -(STOCK_M + KERF_M)
    start = time.perf_counter()
    done = milp(
        cost,
        integrality=np.ones(len(cost)),
        bounds=Bounds(0, 1),
        constraints=[LinearConstraint(once, 1, 1), LinearConstraint(room, -np.inf, 0)],
        options={"time_limit": SECONDS},
    )
    return time.perf_counter() - start, "proven" if done.status == 0 else "stopped, not proven"


def main() -> None:
    """Print the ratios."""
    for number in (20, 60):
        pieces = posts(number)
        start = time.perf_counter()
        cuts = cut(pieces, [], Pipe(stock=(Stock(length_m=STOCK_M),), kerf_m=KERF_M))
        ours = time.perf_counter() - start
        floor, outcome = plain(pieces, cuts.count + 1)
        verdict = "proven" if cuts.proven else f"bound {cuts.bound}"
        print(
            f"{number} distinct posts: {cuts.count} sticks, {verdict}, {ours:.2f} s, "
            f"{ours / floor:.4f} of the plain model's time ({outcome} after {floor:.1f} s)"
        )


if __name__ == "__main__":
    main()
