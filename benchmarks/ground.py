"""The triangulated surface of a big table of shots: building it and a million look-ups, against scipy's."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import TypeVar

import numpy as np

from staking.ground.triangulated import estimates, triangles_between

T = TypeVar("T")
SHOTS = 1_000_000
LOOK_UPS = 1_000_000
SIDE_M = 1000.0
AGREE_M = 1e-6


def took(work: Callable[[], T]) -> tuple[float, T]:
    """Return the wall time of some work, and what it made."""
    start = time.perf_counter()
    made = work()
    return time.perf_counter() - start, made


def main(shots: int = SHOTS) -> None:
    """Print the ratios."""
    from scipy.interpolate import LinearNDInterpolator

    rng = np.random.default_rng(0)
    en = rng.uniform(0.0, SIDE_M, (shots, 2))
    z = 30.0 + 0.04 * en[:, 0] + 2.0 * np.sin(en[:, 1] / 40.0)
    places = rng.uniform(0.01 * SIDE_M, 0.99 * SIDE_M, (LOOK_UPS, 2))
    bank = np.column_stack([np.linspace(0.0, SIDE_M, 200), 500.0 + 20.0 * np.sin(np.arange(200) / 9.0)])
    scipy_build, theirs = took(lambda: LinearNDInterpolator(en, z))
    sorted_places = places[np.lexsort((places[:, 0], (places[:, 1] / SIDE_M * 1000).astype(int)))]
    scipy_look, their_z = took(lambda: theirs(sorted_places))
    build, ours = took(lambda: triangles_between(en))
    look, our_z = took(lambda: estimates(ours.weights(sorted_places), z))
    shuffled, _ = took(lambda: estimates(ours.weights(places), z))
    with_bank = np.vstack([en, bank])
    folded, _ = took(lambda: triangles_between(with_bank, breaks_en_m=[bank]))
    inside = ours.mesh.located(sorted_places)[0] >= 0
    worst = float(np.abs(our_z - their_z)[inside].max())
    print(f"{shots} shots built: {build / scipy_build:5.2f} of scipy's {scipy_build:.2f} s")
    print(f"the same with a break of 200 points: {folded / scipy_build:5.2f}")
    print(f"{LOOK_UPS} sorted look-ups: {look / scipy_look:5.2f} of scipy's {scipy_look:.2f} s")
    print(f"the same in random order: {shuffled / scipy_look:5.2f}")
    print(f"greatest difference {worst:.1e} m")
    if worst > AGREE_M:
        sys.exit("the two triangulations do not agree")


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:2]))
