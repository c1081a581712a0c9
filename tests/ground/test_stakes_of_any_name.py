"""A pier that has no name yet, as while the breaks of a stepped array are looked for, stands at any stake."""

import numpy as np
import pytest

from staking.control.adjustment import Points
from staking.ground.yard import STAKE_MOVED_M, fitted_ground


def yard():
    """A level grid of shots, and a stake A7 shot 0.1 m lower than it at (3.5, 3.5)."""
    names = [f"G{k}" for k in range(36)] + ["A7"]
    east, north = np.meshgrid(np.arange(6.0), np.arange(6.0))
    enz = np.column_stack([east.ravel(), north.ravel(), np.full(36, 30.0) + 0.01 * east.ravel()])
    enz = np.vstack([enz, [np.nan, np.nan, 29.9]])
    cov = np.diag(np.tile([1e-6, 1e-6, 4e-6], len(names)))
    points = Points(
        names=tuple(names),
        enz_m=enz,
        cov_m2=cov,
        kinds=("ground",) * len(names),
        shapes_ground=(True,) * len(names),
    )
    return fitted_ground(points, {"A7": (3.5, 3.5)})


def test_the_stake_that_stands_there_counts_whatever_its_name():
    ground = yard()
    at = np.array([[3.5, 3.5], [3.5 + STAKE_MOVED_M * 0.9, 3.5], [3.5 + STAKE_MOVED_M * 1.1, 3.5]])
    z = ground.z_at_piers(("", "", ""), at)
    assert z[:2] == pytest.approx(29.9)
    assert z[2] == ground.z(at[2:])[0]
    assert ground.z_at_piers(("A7",), at[:1]) == pytest.approx(29.9)
    assert ground.z_at_piers(("A8",), at[:1])[0] == ground.z(at[:1])[0]
