"""200,000 piers: the frame posed and its plane fitted, against one pass of numpy over what it looks at."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from benchmarks.big_yard import _job
from staking.ground.elevations import Elevations, span_gradient
from staking.layout.fitting import posed_of
from staking.layout.search import bounds_of, least_steel, searched

Floats = NDArray[np.float64]
T = TypeVar("T")

PIERS_A_SIDE = 448
BAY_M, BEAMS_APART_M = 2.8, 2.1


class CountedPlane:
    """Sloping ground with swells, straight from a formula: the fit's own work is what is measured."""

    def __init__(self) -> None:
        self.places = 0

    def z(self, en_m: Floats) -> Floats:
        self.places += len(en_m)
        return 30 + 0.01 * en_m[:, 0] + 0.05 * en_m[:, 1] + 0.05 * np.sin(en_m[:, 0] / 4)

    def at(self, en_m: Floats) -> Elevations:
        raise NotImplementedError

    def z_at_piers(self, names: tuple[str, ...], en_m: Floats) -> Floats:
        return self.z(en_m)

    def at_piers(self, names: tuple[str, ...], en_m: Floats) -> Elevations:
        raise NotImplementedError

    def gradient(self, en_m: Floats) -> Floats:
        return span_gradient(self.z, en_m)

    def outside(self, en_m: Floats) -> NDArray[np.bool_]:
        return np.zeros(len(en_m), dtype=bool)

    def shots_en_m(self) -> Floats:
        return np.zeros((0, 2))


def took(work: Callable[[], T]) -> tuple[float, T]:
    """Return the processor time of some work, and what it made."""
    start = time.process_time()
    made = work()
    return time.process_time() - start, made


def main(a_side: int = PIERS_A_SIDE) -> None:
    """Print the ratios."""
    job = _job()
    job = replace(
        job,
        array=replace(
            job.array,
            modules_along=int(a_side * BAY_M / 1.71),
            modules_up=int(a_side * BEAMS_APART_M / 1.11),
        ),
        frame=replace(
            job.frame,
            piers_per_beam=a_side,
            beams_at_m=tuple(0.6 + BEAMS_APART_M * beam for beam in range(a_side)),
        ),
        fit=replace(job.fit, above_grade_max_m=math.inf),
    )
    ground = CountedPlane()
    posing, posed = took(lambda: posed_of(job, placed_en_m=(2.0, 5.0), ground=ground))
    fitting, found = took(lambda: searched(posed.yard, bounds_of(job.fit), least_steel, posed.ranges))
    places = ground.places
    en = np.random.default_rng(0).uniform(0.0, 1000.0, (1_000_000, 2))
    million = min(took(lambda: np.abs(ground.z(en) - (0.3 * en[:, 1] + 2.0)).min())[0] for _ in range(3))
    floor = million * places / len(en)
    assert found.fits
    print(f"{a_side**2} piers: {places} places of ground looked at, of them all under the modules")
    print(f"floor: one pass of numpy over as many places     {1000 * floor:6.0f} ms")
    print(f"frame posed                               {posing / floor:7.2f} of the floor")
    print(f"plane fitted                              {fitting / floor:7.2f} of the floor")


if __name__ == "__main__":
    main()
