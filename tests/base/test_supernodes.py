"""A sparse factor in blocks against numpy's dense inverse."""

import numpy as np
import pytest
from scipy.sparse import csr_array

from staking.base import lsq, sparse_lsq, supernodes, symmetric
from staking.base.triplets import triplets_of

SAME = 1e-12
"""Conditions here are below a hundred."""


def design_of(seed, count=70, hubs=0):
    """Differences between near unknowns, as of levels: whole numbers, so that entries cancel to nought."""
    rng = np.random.default_rng(seed)
    rows = np.zeros((3 * count, count))
    for row in rows:
        first = rng.integers(count)
        row[first] = 1.0
        row[(first + rng.integers(1, 5)) % count] = rng.choice((-1.0, 1.0))
    for hub in range(hubs):
        rows = np.vstack([rows, np.eye(count)])
        rows[-count:, hub] -= 1.0
    return np.vstack([rows, np.eye(count)])


def of_entries(factor, values):
    """Return the dense matrix of a factor's entries, in the order of the unknowns."""
    count = len(factor)
    column = np.repeat(np.arange(count), np.diff(factor.starts))
    dense = np.zeros((count, count))
    dense[factor.rows, column] = dense[column, factor.rows] = values
    return dense[np.ix_(factor.place, factor.place)]


@pytest.mark.parametrize("hubs", [0, 2])
@pytest.mark.parametrize("seed", range(3))
def test_inverse_and_solutions_are_the_dense_ones(seed, hubs):
    design = design_of(seed, hubs=hubs)
    factor = supernodes.block_factor(symmetric.factored(csr_array(design)))
    dense = np.linalg.inv(design.T @ design)
    found = of_entries(factor, factor.inverse())
    there = of_entries(factor, np.ones(len(factor.rows))) > 0
    assert there[np.abs(design).T @ np.abs(design) > 0].all()
    assert not there.all()
    assert found[there] == pytest.approx(dense[there], abs=SAME)
    right = np.random.default_rng(seed).normal(size=(70, 3 + supernodes.AT_ONCE))
    right[:, 1] = 0.0
    assert factor.solve(right) == pytest.approx(dense @ right, abs=SAME)


def test_readings_whose_products_cancel_keep_their_place():
    """Station and offset of a point: its east and north meet in both, and by nought in the normal matrix.

    The line's far end makes them hang together. Found 2026-11-28: in a net of 500 points by offsets the
    redundancy numbers of 1,540 readings were off by up to 0.0006.
    """
    design = np.array([[1.0, 1.0, 0.3], [1.0, -1.0, 0.5], [0.0, 0.0, 1.0]])
    assert (design[:, :2].T @ design[:, :2])[0, 1] == 0.0
    more = np.vstack([design, [0.0, 1.0, -1.0], [1.0, 0.0, 1.0]])
    sd = np.ones(5)
    sparse, dense = sparse_lsq.solved(triplets_of(more), sd, sd), lsq.solved(more, sd, sd)
    assert sparse.leverage == pytest.approx(dense.leverage)


def test_what_everything_hangs_on_is_factored_last():
    assert symmetric.factored(csr_array(design_of(0, count=400, hubs=1))).order[-1] == 0


def test_where_everything_hangs_on_everything():
    design = np.vstack([np.random.default_rng(0).normal(size=(150, 140)), np.eye(140)])
    factor = symmetric.factored(csr_array(design))
    assert factor.solve(np.ones(140)) == pytest.approx(np.linalg.solve(design.T @ design, np.ones(140)))
