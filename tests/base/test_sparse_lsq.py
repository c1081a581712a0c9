"""Sparse least squares against the dense ones, which are tested against certified data."""

import numpy as np
import pytest

from staking.base import least_squares, lsq, sparse_lsq
from staking.base.covariance import Functions, across, carried, elements, part, some, times, variances
from staking.base.lsq import RankDeficient
from staking.base.triplets import Triplets, diagonal, triplets_of

SAME = 1e-8
"""Normal equations keep half the digits; the designs here have conditions of about a thousand."""


def problem(seed, m=160, n=60, loose=()):
    """Readings between neighbours on a ring with a few chords, each row two to four unknowns."""
    rng = np.random.default_rng(seed)
    design = np.zeros((m, n))
    for row in range(m):
        first = row % n
        design[row, first] = 1.0
        for other in rng.integers(1, 4, size=rng.integers(1, 4)):
            design[row, (first + other) % n] += rng.normal()
        if row % 20 == 0:
            design[row, rng.integers(n)] += 1.0
    for columns in loose:
        # Only the sum of these two is ever read.
        design[:, columns[1]] = design[:, columns[0]]
    design[:, ::7] *= 300.0
    return design, rng.normal(size=m), rng.uniform(0.5, 3.0, size=m)


@pytest.mark.parametrize("seed", range(6))
def test_sparse_is_dense(seed):
    design, observed, sd = problem(seed)
    dense = lsq.solved(design, observed, sd)
    sparse = sparse_lsq.solved(triplets_of(design), observed, sd)
    assert sparse.x == pytest.approx(dense.x, abs=SAME)
    assert sparse.residuals == pytest.approx(dense.residuals, abs=SAME)
    assert sparse.leverage == pytest.approx(dense.leverage, abs=SAME)
    assert sparse.leverage.sum() == pytest.approx(60)
    assert sparse.vtpv == pytest.approx(dense.vtpv)
    for damping in (0.0, 0.1):
        step = sparse_lsq.stepped(triplets_of(design), observed, sd, damping)
        assert step == pytest.approx(lsq.stepped(design, observed, sd, damping), abs=SAME)


@pytest.mark.parametrize("seed", range(3))
def test_every_part_of_a_sparse_covariance_is_the_dense_one(seed):
    design, observed, sd = problem(seed)
    whole = lsq.solved(design, observed, sd).cov
    parts = sparse_lsq.solved(triplets_of(design), observed, sd).cov
    assert isinstance(whole, np.ndarray)
    assert not isinstance(parts, np.ndarray)
    i, j = (place.ravel() for place in np.indices(whole.shape))
    assert elements(parts, i, j).reshape(whole.shape) == pytest.approx(whole, rel=1e-6, abs=SAME)
    assert variances(parts) == pytest.approx(np.diag(whole), rel=1e-6)
    at = np.array([40, 3, 3, 17])
    assert part(parts, at) == pytest.approx(whole[np.ix_(at, at)], rel=1e-6, abs=SAME)
    assert part(parts, at[:1]) == pytest.approx(whole[40:41, 40:41], rel=1e-6)
    # No functions, and one that holds no unknown: large surveys have no stakes, and held coordinates.
    for none in (Triplets((0, 60)), Triplets((1, 60))):
        for cov in (whole, parts):
            assert not carried(cov, none).any()
            assert across(cov, none, diagonal(60)).shape == (none.shape[0], 60)
    assert across(parts, diagonal(60), diagonal(60).rows_at(at)) == pytest.approx(
        whole[:, at], rel=1e-6, abs=SAME
    )
    columns = np.random.default_rng(1).normal(size=(60, 3))
    assert times(parts, columns) == pytest.approx(whole @ columns, rel=1e-6, abs=SAME)
    assert times(parts, columns[:, 0]) == pytest.approx(whole @ columns[:, 0], rel=1e-6, abs=SAME)


def test_pairs_that_a_reading_joins_are_kept_and_others_solved_for():
    design, observed, sd = problem(0)
    cov = sparse_lsq.solved(triplets_of(design), observed, sd).cov
    assert isinstance(cov, sparse_lsq.SparseCovariance)
    joined = np.abs(design).T @ np.abs(design) > 0
    kept = np.zeros_like(joined)
    back = np.argsort(cov.factor.place)
    column, row = (back[place] for place in np.divmod(cov.keys, 60))
    kept[row, column] = kept[column, row] = True
    assert kept[joined].all()
    assert not kept.all()


@pytest.mark.parametrize("keep", ["whole", "parts"])
def test_functions_of_unknowns(keep):
    """Coordinates that follow from others, that are held, and that are not known."""
    design, observed, sd = problem(2)
    cov = (
        (lsq if keep == "whole" else sparse_lsq)
        .solved(design if keep == "whole" else triplets_of(design), observed, sd)
        .cov
    )
    dense = np.zeros((6, 60))
    dense[0, 3], dense[1, 4], dense[2, [3, 9]], dense[3, 50], dense[4, [9, 59]] = (
        1.0,
        -2.0,
        (0.5, 2),
        1,
        (1, -1),
    )
    expected = dense @ part(cov, np.arange(60)) @ dense.T
    assert carried(cov, triplets_of(dense)) == pytest.approx(expected, rel=1e-6, abs=SAME)
    if isinstance(cov, np.ndarray):
        return
    known = np.array([True, True, True, False, True, True])
    functions = Functions(cov=cov, carry=triplets_of(dense), known=known)
    i, j = (place.ravel() for place in np.indices((6, 6)))
    got = elements(functions, i, j).reshape(6, 6)
    assert np.isnan(got[3]).all()
    assert np.isnan(got[:, 3]).all()
    at = np.flatnonzero(known)
    assert got[np.ix_(at, at)] == pytest.approx(expected[np.ix_(at, at)], rel=1e-6, abs=SAME)
    assert part(functions, at[::-1]) == pytest.approx(
        expected[np.ix_(at[::-1], at[::-1])], rel=1e-6, abs=SAME
    )
    assert np.isnan(part(functions, np.array([0, 3]))[1]).all()
    assert times(functions, np.eye(6))[np.ix_(at, at)] == pytest.approx(
        expected[np.ix_(at, at)], rel=1e-6, abs=SAME
    )
    fewer = some(functions, np.array([4, 2]))
    assert part(fewer, np.array([0, 1])) == pytest.approx(
        expected[np.ix_([4, 2], [4, 2])], rel=1e-6, abs=SAME
    )
    assert variances(fewer) == pytest.approx(expected[[4, 2], [4, 2]], rel=1e-6)


def test_unknowns_that_only_ever_stand_together_are_named():
    design, observed, sd = problem(1, loose=[(10, 30), (20, 44)])
    with pytest.raises(RankDeficient) as caught:
        sparse_lsq.solved(triplets_of(design), observed, sd)
    assert set(caught.value.columns) == {10, 30, 20, 44}
    assert set(lsq.null_columns(design)) == {10, 30, 20, 44}
    assert sparse_lsq.stepped(triplets_of(design), observed, sd) is None


def test_an_unknown_that_no_reading_holds_is_named():
    design, observed, sd = problem(1)
    design[:, 33] = 0.0
    with pytest.raises(RankDeficient) as caught:
        sparse_lsq.solved(triplets_of(design), observed, sd)
    assert caught.value.columns == (33,)


def test_both_ways_stand_behind_one_door(monkeypatch):
    design, observed, sd = problem(4)
    dense = least_squares.solved(triplets_of(design), observed, sd)
    monkeypatch.setattr(least_squares, "MOST_DENSE", 59)
    sparse = least_squares.solved(triplets_of(design), observed, sd)
    assert isinstance(dense.cov, np.ndarray)
    assert not isinstance(sparse.cov, np.ndarray)
    assert sparse.x == pytest.approx(dense.x, abs=SAME)


class TestTriplets:
    def test_values_at_one_place_add_up(self):
        matrix = Triplets((3, 4))
        matrix[np.array([0, 2]), np.array([1, 3])] = np.array([5.0, 7.0])
        matrix[np.array([0, 1]), 1] = 2.0
        expected = np.zeros((3, 4))
        expected[0, 1], expected[2, 3], expected[1, 1] = 7.0, 7.0, 2.0
        assert np.array_equal(matrix.dense(), expected)
        assert np.array_equal(matrix.sparse().toarray(), expected)

    def test_rows_scale_and_pick(self):
        rng = np.random.default_rng(3)
        dense = rng.normal(size=(5, 7)) * (rng.random((5, 7)) < 0.5)
        at = np.array([4, 0, 4, 2])
        by = rng.normal(size=5)
        assert np.array_equal(triplets_of(dense).rows_at(at).dense(), dense[at])
        assert triplets_of(dense).scaled(by).dense() == pytest.approx(dense * by[:, None])

    def test_nothing_written_is_zero(self):
        assert np.array_equal(Triplets((2, 3)).dense(), np.zeros((2, 3)))
        assert np.array_equal(Triplets((0, 3)).rows_at(np.zeros(0, dtype=np.int64)).dense(), np.zeros((0, 3)))
        assert np.array_equal(diagonal(3).dense(), np.eye(3))
