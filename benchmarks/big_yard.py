"""2,000 shots and 500 piers: ground and fit against one Cholesky factor of 2,000 by 2,000."""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np

from staking.book.records import Accuracy, ArrayDesign, ArrayJob, FrameDesign, Limits, Place
from staking.control.adjustment import Points
from staking.ground.yard import fitted_ground
from staking.layout.fitting import fitted

SHOTS = 2000
PIERS_PER_BEAM = 250


def _points() -> Points:
    generator = np.random.default_rng(5)
    en = generator.uniform((-10, -10), (710, 30), (SHOTS, 2))
    z = (
        30
        + 0.004 * en[:, 0]
        + 0.1 * en[:, 1]
        + 0.05 * np.sin(en[:, 0] / 4)
        + generator.normal(0, 0.002, SHOTS)
    )
    variances = np.tile([1e-4, 1e-4, 4e-6], SHOTS)
    return Points(
        names=tuple(f"G{i}" for i in range(SHOTS)),
        kinds=("ground",) * SHOTS,
        shapes_ground=(True,) * SHOTS,
        enz_m=np.column_stack([en, z]),
        cov_m2=np.diag(variances),
    )


def _job() -> ArrayJob:
    return ArrayJob(
        array=ArrayDesign(
            azimuth_rad=math.pi,
            tilt_rad=math.radians(25),
            modules_along=414,
            modules_up=3,
            module_along_m=1.7,
            module_up_m=1.1,
            gap_along_m=0.01,
            gap_up_m=0.01,
        ),
        frame=FrameDesign(
            piers_per_beam=PIERS_PER_BEAM,
            bay_m=2.8,
            beams_at_m=(0.6, 2.7),
            stack_m=0.13,
            takeout_m=0.055,
            rail_clear_m=0.0,
        ),
        place=Place(),
        fit=Limits(above_grade_min_m=0.5, above_grade_max_m=9.0, clearance_m=0.5),
    )


def _took(run: Callable[[], object]) -> tuple[float, object]:
    start = time.perf_counter()
    result = run()
    return time.perf_counter() - start, result


def main() -> None:
    """Print the ratios."""
    points, job = _points(), _job()
    matrix = np.exp(-np.abs(np.subtract.outer(points.enz_m[:, 0], points.enz_m[:, 0])) / 5) + np.eye(SHOTS)
    floor = min(_took(lambda: np.linalg.cholesky(matrix))[0] for _ in range(3))
    print(f"floor: one Cholesky factor, {SHOTS} by {SHOTS}       {1000 * floor:6.0f} ms")
    took, ground = _took(lambda: fitted_ground(points))
    print(f"ground from {SHOTS} shots          {took / floor:7.1f} of the floor")
    took, _ = _took(
        lambda: fitted(job, placed_en_m=(2.0, 5.0), ground=ground, accuracy=Accuracy())  # type: ignore[arg-type]
    )
    print(f"fit of {2 * PIERS_PER_BEAM} piers                {took / floor:7.1f} of the floor")


if __name__ == "__main__":
    main()
