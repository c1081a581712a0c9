"""Nets of many points, adjusted by sparse factors, against the same nets by dense ones."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from staking.base import least_squares
from staking.control.equations import Equation, Kind, evaluated, stacked
from staking.control.network import Network, adjusted_network
from staking.control.settling import HeldDirection

SIDE = 6
SAME_M = 1e-9
"""Both settle to the last step of 1e-8 m and go one quadratic step beyond."""
SAME_SHARE = 1e-6


def grid(side=SIDE):
    """Points every 10 m or so: tapes, rises and angles to near ones; one held point and direction."""
    rng = np.random.default_rng(12)
    truth = np.array([(10.0 * a, 10.0 * b, 0.0) for a in range(side) for b in range(side)])
    truth[1:] += rng.uniform(-2, 2, (len(truth) - 1, 3))
    near = [
        (p, q)
        for p in range(len(truth))
        for q in range(p)
        if math.dist(truth[p, :2], truth[q, :2]) < 16 and rng.random() < 0.9
    ]
    equations = []
    for p, q in near:
        run = truth[q] - truth[p]
        tape = float(np.hypot(run[0], run[1]) + rng.normal(0, 0.003))
        equations.append(Equation(kind=Kind.LEVEL_TAPE, at=(p, q), value=tape, sd=0.003))
        rise = float(run[2] + rng.normal(0, 0.002))
        equations.append(Equation(kind=Kind.RISE, at=(p, q), value=rise, sd=0.002))
    for (p, q), (_, other) in pairwise(near):
        if other in (p, q):
            continue
        first, second = truth[q, :2] - truth[p, :2], truth[other, :2] - truth[p, :2]
        angle = math.atan2(*second) - math.atan2(*first) + rng.normal(0, 1e-3)
        equations.append(Equation(kind=Kind.ANGLE, at=(p, q, other), value=float(angle), sd=1e-3))
    count = 3 * len(truth)
    start, held = np.full(count, np.nan), np.zeros(count, dtype=bool)
    start[:3], held[:3] = truth[0], True
    azimuth = math.atan2(*(truth[side - 1, :2] - truth[0, :2]))
    return Network(
        points=len(truth),
        equations=equations,
        start=start,
        held=held,
        directions=(HeldDirection(start=0, to=side - 1, azimuth_rad=azimuth),),
        approximate={p: (float(e), float(n)) for p, (e, n, _) in enumerate(truth) if p},
    )


@pytest.fixture(scope="module")
def both():
    network = grid()
    dense = adjusted_network(network)
    patch = pytest.MonkeyPatch()
    patch.setattr(least_squares, "MOST_DENSE", 10)
    sparse = adjusted_network(network)
    patch.undo()
    assert isinstance(dense.cov, np.ndarray)
    assert not isinstance(sparse.cov, np.ndarray)
    return dense, sparse


def test_coordinates_and_residuals(both):
    dense, sparse = both
    assert sparse.used == dense.used
    assert sparse.redundancy == dense.redundancy > 100
    assert sparse.coordinates == pytest.approx(dense.coordinates, abs=SAME_M)
    assert sparse.residuals == pytest.approx(dense.residuals, abs=SAME_M)
    assert sparse.vtpv == pytest.approx(dense.vtpv)


def test_redundancy_numbers_and_matrix(both):
    dense, sparse = both
    assert sparse.redundancy_numbers == pytest.approx(dense.redundancy_numbers, abs=SAME_SHARE)
    assert sparse.redundancy_numbers.sum() == pytest.approx(sparse.redundancy)
    rows = range(0, len(dense.used), 7)
    assert sparse.redundancy_matrix(rows) == pytest.approx(dense.redundancy_matrix(rows), abs=SAME_SHARE)


def test_covariances_with_a_tied_coordinate(both):
    dense, sparse = both
    at = [*range(9), 3 * SIDE - 3, 3 * SIDE - 2, 40, 3 * SIDE * SIDE - 1]
    share = np.sqrt(np.diag(dense.cov_of(at)))
    share[share == 0] = 1.0
    assert sparse.cov_of(at) / np.outer(share, share) == pytest.approx(
        dense.cov_of(at) / np.outer(share, share), abs=SAME_SHARE
    )


def test_what_a_function_moves(both):

    dense, sparse = both
    network = grid()
    _, derivatives = evaluated(stacked(network.equations[5:6]), np.nan_to_num(dense.coordinates))
    moved = sparse.moved_by(derivatives)
    assert moved == pytest.approx(dense.moved_by(derivatives), abs=SAME_M)
    assert moved == pytest.approx(dense.cov @ derivatives.dense()[0], abs=SAME_M)


def test_points_that_nothing_holds_are_left_out(monkeypatch):
    """A point on one tape alone, by sparse factors too."""
    whole = grid(4)
    monkeypatch.setattr(least_squares, "MOST_DENSE", 10)
    equations = [
        e
        for e in whole.equations
        if 9 not in e.at or (e.kind is Kind.LEVEL_TAPE and e.at == (9, 8)) or e.kind is Kind.RISE
    ]

    got = adjusted_network(replace(whole, equations=equations))
    lost = np.isnan(got.coordinates).reshape(-1, 3)
    assert lost[9].tolist() == [True, True, False]
    assert lost.sum() == 2
    assert np.isnan(got.cov_of([27, 29])[0]).all()
