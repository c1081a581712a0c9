"""A million ground points: building the surface and a million look-ups, against scipy's interpolator."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from staking.ground.triangulated import estimates, triangles_between

Floats = NDArray[np.float64]
T = TypeVar("T")
SHOTS = 1_000_000
LOOK_UPS = 1_000_000
SHUFFLED = 5_000
"""Look-ups of scipy in random order: it walks from the last one, and a million would take minutes."""
SIDE_M = 1000.0
AGREE_M = 1e-6


def took(work: Callable[[], T]) -> tuple[float, T]:
    """Return the processor time of some work, and what it made: each works on one thread."""
    start = time.process_time()
    made = work()
    return time.process_time() - start, made


def main(shots: int = SHOTS) -> None:
    """Print the ratios."""
    from scipy.interpolate import LinearNDInterpolator

    rng = np.random.default_rng(0)
    en = rng.uniform(0.0, SIDE_M, (shots, 2))
    z = 30.0 + 0.04 * en[:, 0] + 2.0 * np.sin(en[:, 1] / 40.0)
    places = rng.uniform(0.01 * SIDE_M, 0.99 * SIDE_M, (LOOK_UPS, 2))
    bank = np.column_stack([np.linspace(0.0, SIDE_M, 200), 500.0 + 20.0 * np.sin(np.arange(200) / 9.0)])
    scipy_build, theirs = took(lambda: LinearNDInterpolator(en, z))
    # Its first look-up prepares the triangles: that is told apart, and neither is counted with the others.
    scipy_first, _ = took(lambda: theirs(places[:1]))
    strip = (places[:, 1] / SIDE_M * 500).astype(int)
    # To and fro, so that each place is near the one before it.
    to_and_fro = np.where(strip % 2, -places[:, 0], places[:, 0])
    sorted_places = places[np.lexsort((to_and_fro, strip))]
    scipy_look, their_z = took(lambda: theirs(sorted_places))
    scipy_shuffled = took(lambda: theirs(places[:SHUFFLED]))[0] * LOOK_UPS / SHUFFLED
    build, ours = took(lambda: triangles_between(en))
    vertices_z = estimates(ours.of_vertices, z)

    def looked_up(there: Floats) -> Floats:
        at = ours.placed(there)
        return np.asarray((vertices_z[at.vertices] * at.share).sum(axis=1))

    look, our_z = took(lambda: looked_up(sorted_places))
    shuffled, _ = took(lambda: looked_up(places))
    with_bank = np.vstack([en, bank])
    folded, _ = took(lambda: triangles_between(with_bank, breaks_en_m=[bank]))
    inside = ours.mesh.located(sorted_places)[0] >= 0
    worst = float(np.abs(our_z - their_z)[inside].max())
    print(f"{shots} shots built: {build / scipy_build:5.2f} of scipy's {scipy_build:.2f} s")
    print(f"built and ready to be looked up: {build / (scipy_build + scipy_first):5.2f} of scipy's")
    print(f"the same with a break of 200 points: {folded / scipy_build:5.2f}")
    print(f"{LOOK_UPS} sorted look-ups: {look / scipy_look:5.2f} of scipy's {scipy_look:.2f} s")
    print(f"in random order: {shuffled / scipy_shuffled:5.2f} of scipy's {scipy_shuffled:.0f} s")
    print(f"in random order over scipy's sorted: {shuffled / scipy_look:5.2f}")
    print(f"greatest difference {worst:.1e} m")
    if worst > AGREE_M:
        sys.exit("the two triangulations do not agree")


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:2]))
