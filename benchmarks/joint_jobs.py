"""Cutting against an exact solver over joints and sticks together, and against joints chosen greedily.

``python -m benchmarks.joint_jobs [jobs]``: seeds 2000, 2001 …, some hundred seconds for 200. The jobs, the
checker and the exact solver are those of the tests (``tests/pipes``).
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "pipes"))

from cut_checks import check, random_job, random_rules, random_stock, random_threads
from cut_exact import OutOfTimeError, exact_least

from staking.book.records import Pipe
from staking.pipes.chains import farthest_chain, whole_stick_chain
from staking.pipes.cutlist import BeamToCut, CannotCut, Piece
from staking.pipes.cutting import cut
from staking.pipes.joints import legal_spots, rules_of

FIRST = 2000
JOBS = 200
NEAR = 1e-4
"""The exact solver's own tolerance."""

Job = tuple[list[Piece], list[BeamToCut], Pipe]


def job_of(seed: int) -> Job:
    """Return a job: by turns one stock length or several, sleeves or threads, more forbidden or not."""
    posts, beams, pipe = random_job(seed, most_posts=5)
    if seed % 4 > 1:
        pipe = random_stock(seed, pipe)
    if seed % 2:
        pipe = random_threads(seed, pipe)
    if seed % 8 > 3:
        pipe = random_rules(seed, pipe)
    return posts, beams, pipe


def weights_of(pipe: Pipe) -> list[float]:
    """Return what is made least: prices, or one for each stick."""
    prices = [s.price for s in pipe.stock if s.price is not None]
    return prices if len(prices) == len(pipe.stock) else [1.0 for _ in pipe.stock]


def greedy_joints(job: Job, most_sticks: int) -> float | None:
    """Return the least cost when each beam is cut beforehand, every joint as far right as it may stand.

    The pieces are then shared out exactly; threaded ends are left aside, which is in favour of greedy.
    """
    posts, beams, pipe = job
    pieces: list[BeamToCut] = []
    for beam in beams:
        sticks = sorted((s.length_m for s in pipe.stock if s.use != "post"), reverse=True)
        spots = legal_spots(beam, rules_of(pipe))
        make_up = pipe.make_up_m if pipe.joint == "threaded" else 0.0
        joints = (
            whole_stick_chain(beam, spots, sticks, make_up, pipe.posts_per_piece)
            if pipe.joint == "threaded"
            else farthest_chain(beam, spots, sticks[0], pipe.posts_per_piece)
        )
        if joints is None:
            return None
        for n, (a, b) in enumerate(pairwise((0.0, *joints, beam.length_m))):
            length = b - a - make_up / 2 * ((n > 0) + (n < len(joints)))
            pieces.append(
                BeamToCut(name=f"{beam.name} {n}", length_m=length, posts_m=(), rails_m=(), pipe=beam.pipe)
            )
    return exact_least(posts, pieces, replace(pipe, joint="sleeve"), weights_of(pipe), most_sticks)


def main(jobs: int = JOBS) -> None:
    """Print how often cutting equals the exact answer, and how often greedy joints do."""
    told: Counter[str] = Counter()
    ours_s = exact_s = 0.0
    for seed in range(FIRST, FIRST + jobs):
        posts, beams, pipe = job_of(seed)
        start = time.process_time()
        try:
            cuts = cut(posts, beams, pipe)
        except CannotCut:
            on_hand = sum(10 if s.count is None else s.count for s in pipe.stock)
            try:
                none = exact_least(posts, beams, pipe, weights_of(pipe), min(on_hand, 10)) is None
                told["refused, and so is it by the exact solver" if none else "WRONGLY REFUSED"] += 1
            except OutOfTimeError:
                told["refused, the exact solver not done in its time"] += 1
            continue
        ours_s += time.process_time() - start
        check(cuts, posts, beams, pipe)
        ours = cuts.count if cuts.cost is None else cuts.cost
        start = time.process_time()
        try:
            exact = exact_least(posts, beams, pipe, weights_of(pipe), cuts.count + 1)
            took = time.process_time() - start
            greedy = greedy_joints((posts, beams, pipe), cuts.count + 3) if beams else None
        except OutOfTimeError:
            told["left out, as the exact solver was not done in its time"] += 1
            continue
        exact_s += took
        assert exact is not None
        bound = cuts.bound if cuts.cost_bound is None else cuts.cost_bound
        told["equal to the exact answer" if abs(ours - exact) < NEAR else "WORSE"] += 1
        told["with a bound equal to it" if abs(bound - exact) < NEAR else "with a lower bound"] += 1
        if bound > exact + NEAR:
            told["BOUND TOO HIGH"] += 1
        if beams:
            told["with a beam"] += 1
            if greedy is None or greedy > exact + NEAR:
                told["with a beam, and better than with joints chosen greedily"] += 1
    print(f"{jobs} jobs, seeds {FIRST} to {FIRST + jobs - 1}, all checked to be cut as they stand:")
    for what, number in told.items():
        print(f"  {number:4d} {what}")
    print(f"  {ours_s / exact_s:.3f} of the exact solver's time")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else JOBS)
