"""Middling jobs with beams: how many are proven, what is left open, and the processor's time.

``python -m benchmarks.middling_jobs [pieces … [- jobs]]``: 100, 200, 400 pieces, 20 jobs each, sleeved and
threaded, minutes. The jobs are those of the tests (``tests/pipes``), seeds 501, 502 …; every list is checked
to be cut as it stands.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "pipes"))

from cut_checks import check, middling_job

from staking.pipes.cutlist import CannotCut
from staking.pipes.cutting import cut

FIRST = 501
JOBS = 20
PIECES = (100, 200, 400)


def main(numbers: tuple[int, ...] = PIECES, jobs: int = JOBS) -> None:
    """Print a line for each number of pieces and kind of joint."""
    for number in numbers:
        for threaded in (True, False):
            gaps: list[int] = []
            seconds: list[float] = []
            for seed in range(FIRST, FIRST + jobs):
                posts, beams, pipe = middling_job(seed, number, threaded=threaded)
                start = time.process_time()
                try:
                    cuts = cut(posts, beams, pipe)
                except CannotCut:
                    continue
                seconds.append(time.process_time() - start)
                check(cuts, posts, beams, pipe)
                gaps.append(cuts.count - cuts.bound)
            print(
                f"{number} pieces, {'threaded' if threaded else 'sleeved'}: {gaps.count(0)} of {len(gaps)} "
                f"proven, at most {max(gaps)} sticks open, {sum(seconds) / len(seconds):.1f} s a job, "
                f"at most {max(seconds):.1f} s; {jobs - len(gaps)} have no legal joints",
                flush=True,
            )


if __name__ == "__main__":
    given = " ".join(sys.argv[1:]).split("-")
    wanted = tuple(map(int, given[0].split())) or PIECES
    main(wanted, int(given[1]) if len(given) > 1 else JOBS)
