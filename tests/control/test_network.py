"""What an adjusted network says of readings and coordinates together, whatever matrices it keeps."""

import math
from dataclasses import replace

import numpy as np
import pytest

from staking.control.equations import Equation, Kind, stacked
from staking.control.nets import NetReading, adjusted_net
from staking.control.network import Network, adjusted_network
from staking.control.settling import settled

ROUNDING = 1e-9
BENT = 5e-4
"""Residuals of 3 mm turn the derivatives of tapes of 10 m by about as much."""
STRETCH = 0.01
"""Change of one reading, in standard deviations: small enough for bent equations, large against rounding."""


def network(changes=()):
    """Three points held, three new ones, taped and levelled; with readings changed by so many sds."""
    truth = np.array(
        [[0, 0, 0], [20, 0, 1], [10, 18, 2], [4, 9, 0.5], [15, 7, 1.5], [11, 3, -1]], dtype=float
    )
    rng = np.random.default_rng(5)
    equations = []
    for a, b in [(0, 3), (1, 3), (2, 3), (0, 4), (1, 4), (2, 4), (3, 4), (3, 5), (4, 5), (0, 5), (2, 5)]:
        length = float(np.hypot(*(truth[b] - truth[a])[:2]))
        equations.append(
            Equation(kind=Kind.LEVEL_TAPE, at=(a, b), value=length + rng.normal(0, 0.003), sd=0.003)
        )
    for a, b in [(0, 3), (3, 4), (4, 1), (4, 5), (5, 2), (3, 5)]:
        rise = float(truth[b, 2] - truth[a, 2])
        equations.append(Equation(kind=Kind.RISE, at=(a, b), value=rise + rng.normal(0, 0.002), sd=0.002))
    for row, by in changes:
        equations[row] = replace(equations[row], value=equations[row].value + by * equations[row].sd)
    start = np.full(18, np.nan)
    start[:9] = truth[:3].ravel()
    return Network(points=6, equations=equations, start=start, held=~np.isnan(start))


def test_the_redundancy_matrix_is_how_residuals_follow_from_errors():
    here = adjusted_network(network())
    rows = range(len(here.used))
    matrix = here.redundancy_matrix(rows)
    for j in rows:
        there, back = (adjusted_network(network([(j, by)])) for by in (STRETCH, -STRETCH))
        moved = (there.residuals - back.residuals) / here.sd / (2 * STRETCH)
        assert moved == pytest.approx(-matrix[:, j], abs=BENT)


def test_the_redundancy_matrix_projects():
    here = adjusted_network(network())
    matrix = here.redundancy_matrix(range(len(here.used)))
    assert matrix @ matrix == pytest.approx(matrix, abs=ROUNDING)
    assert np.trace(matrix) == pytest.approx(here.redundancy)
    assert np.diag(matrix) == pytest.approx(here.redundancy_numbers)
    some = [9, 2, 14]
    assert here.redundancy_matrix(some) == pytest.approx(matrix[np.ix_(some, some)])


def test_covariances_are_how_coordinates_follow_from_errors():
    here = adjusted_network(network())
    carried = np.zeros((18, len(here.used)))
    for j in range(len(here.used)):
        there, back = (adjusted_network(network([(j, by)])) for by in (STRETCH, -STRETCH))
        carried[:, j] = (there.coordinates - back.coordinates) / (2 * STRETCH)
    some = [16, 3, 9, 12, 10]
    assert here.cov_of(some) == pytest.approx((carried @ carried.T)[np.ix_(some, some)], abs=BENT * 1e-5)


def test_what_is_not_determined_has_no_covariance():
    whole = network()
    loose = replace(
        whole,
        points=7,
        start=np.append(whole.start, [np.nan] * 3),
        held=np.append(whole.held, [False] * 3),
    )
    here = adjusted_network(loose)
    cov = here.cov_of([9, 18, 20])
    assert np.isnan(cov[1:]).all()
    assert np.isnan(cov[:, 1:]).all()
    assert cov[0, 0] > 0


def test_settled_again_with_changed_readings_is_the_network_of_those_readings():

    here, changed = adjusted_network(network()), network([(3, 4.0)])
    again = here.again(settled(stacked(changed.equations), here.coordinates, here.free))
    there = adjusted_network(changed)
    assert again.coordinates == pytest.approx(there.coordinates, abs=ROUNDING)
    assert again.residuals == pytest.approx(there.residuals, abs=ROUNDING)
    assert again.vtpv == pytest.approx(there.vtpv)
    assert again.cov_of(range(18)) == pytest.approx(there.cov_of(range(18)), abs=1e-15)


def test_one_coordinate_with_all_others():
    whole = network()
    loose = replace(
        whole,
        points=7,
        start=np.append(whole.start, [np.nan] * 3),
        held=np.append(whole.held, [False] * 3),
    )
    here = adjusted_network(loose)
    shared = here.cov_with(12)
    assert shared[:18] == pytest.approx(here.cov_of(range(18))[12], abs=1e-15)
    assert np.isnan(shared[18:]).all()
    assert np.isnan(here.cov_with(19)).all()


def test_a_net_s_readings_that_are_none_are_named_all_at_once():
    # 2026-11-28: an sd below nought, a distance of -5 or between three points went in without a word.
    def reading(**what):
        return NetReading(**{"kind": "level distance", "points": ("A", "P"), "value": 5.0, "sd": 0.01} | what)

    wrong = [
        (reading(sd=0.0), "its sd is 0.0"),
        (reading(sd=-0.01), "its sd is -0.01"),
        (reading(value=math.nan), "its value is nan"),
        (reading(value=-5.0), "a distance of -5.0"),
        (reading(points=("A", "P", "B")), "2 different points"),
        (reading(points=("A", "A")), "2 different points"),
        (reading(kind="angle"), "3 different points"),
        (reading(kind="distance"), "unknown kind"),
    ]
    with pytest.raises(ValueError, match="reading 1, ") as caught:
        adjusted_net([one for one, _ in wrong], fixed={"A": (0.0, 0.0, None)})
    parts = str(caught.value).split("; reading ")
    assert all(says in part for (_, says), part in zip(wrong, parts, strict=True))
