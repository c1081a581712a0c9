"""Swing ties: the pair chosen, the place they give, and how surely, against routes of its own."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from marks_yard import joint_cov
from scipy.optimize import least_squares

from staking.book.records import Accuracy
from staking.marks.swing import (
    SHORTEST_TIE_M,
    TAPE_LENGTH_M,
    best_swing,
    rays,
    side_of,
    tape_sd_m,
    where_tapes_cross,
)

TAPE = Accuracy(tape_m=0.003, tape_per_m=0.0004)


def sights(stake, pins, *, cov=None, accuracy=TAPE):
    pins = np.asarray(pins, dtype=float)
    return rays(
        stake_en_m=np.asarray(stake, dtype=float),
        points_en_m=pins,
        points_cov_m2=np.zeros((2 * len(pins), 2 * len(pins))) if cov is None else cov,
        accuracy=accuracy,
    )


def plan_cov(n, *, sd_m, seed):
    keep = [3 * i + axis for i in range(n) for axis in (0, 1)]
    return joint_cov(n, sd_m=sd_m, seed=seed)[np.ix_(keep, keep)]


def test_tape_grows_with_its_length_root_sum_square():
    # 3 mm and 0.4 mm per metre over 10 m: a 3-4-5 triangle, 5 mm.
    assert float(tape_sd_m(TAPE, 10.0)) == pytest.approx(0.005)


def test_square_crossing_of_equal_tapes_gives_a_round_ellipse():
    swing = best_swing(sights((0, 0), [(10, 0), (0, 10)]))
    assert swing is not None
    assert swing.crossing_rad == pytest.approx(math.pi / 2)
    assert swing.semi_major_m == pytest.approx(0.005)
    assert swing.cov_m2 == pytest.approx(np.eye(2) * 0.005**2)


@pytest.mark.parametrize("crossing_deg", [30.0, 45.0, 60.0, 90.0, 120.0, 150.0])
def test_equal_tapes_crossing_at_theta_have_the_textbook_half_axis(crossing_deg):
    # Two lines of position of equal sd σ: half-axes σ/(√2 sin θ/2) and σ/(√2 cos θ/2), from memory.
    half = math.radians(crossing_deg) / 2
    pins = [(10 * math.sin(half), 10 * math.cos(half)), (-10 * math.sin(half), 10 * math.cos(half))]
    swing = best_swing(sights((0, 0), pins))
    assert swing is not None
    expected = 0.005 / (math.sqrt(2) * min(math.sin(half), math.cos(half)))
    assert swing.semi_major_m == pytest.approx(expected, rel=1e-9)
    assert swing.semi_major_m == pytest.approx(math.sqrt(np.linalg.eigvalsh(swing.cov_m2)[-1]), rel=1e-9)
    assert swing.crossing_rad == pytest.approx(math.radians(crossing_deg))


@pytest.mark.parametrize("crossing_deg", [0.0, 10.0, 29.9, 150.1, 180.0])
def test_flat_crossings_place_nothing(crossing_deg):
    turn = math.radians(crossing_deg)
    assert best_swing(sights((0, 0), [(10, 0), (10 * math.cos(turn), 10 * math.sin(turn))])) is None


def test_place_uncertainty_is_what_setting_the_stake_many_times_gives():
    """Pins where they really are, tapes as really read, the crossing found by least squares."""
    rng = np.random.default_rng(20261003)
    stake, pins = np.array([3.0, 4.0]), np.array([[-6.0, 1.0], [9.0, -3.0]])
    cov = plan_cov(2, sd_m=0.006, seed=5)
    swing = best_swing(sights(stake, pins, cov=cov))
    assert swing is not None
    count = 20_000
    true_pins = pins + rng.multivariate_normal(np.zeros(4), cov, size=count).reshape(-1, 2, 2)
    level = np.hypot(*(stake - pins).T)
    read = level + rng.normal(size=(count, 2)) * np.hypot(0.003, 0.0004 * level)
    # A stake a count, all solved in one go by Gauss-Newton; one of them again by scipy.
    set_at = np.tile(stake, (count, 1))
    for _ in range(6):
        reach = set_at[:, None, :] - true_pins
        length = np.linalg.norm(reach, axis=2)
        set_at -= np.linalg.solve(reach / length[:, :, None], (length - read)[:, :, None])[:, :, 0]
    by_scipy = least_squares(
        lambda at: np.hypot(*(at - true_pins[7]).T) - read[7], x0=stake, xtol=1e-14, ftol=1e-14, gtol=1e-14
    )
    assert set_at[7] == pytest.approx(by_scipy.x, abs=1e-9)
    scatter = np.cov(set_at.T)
    # The sample's own sd of a variance is √(2/20000) = 1 %; 5 % is five of them.
    assert swing.cov_m2 == pytest.approx(scatter, rel=0.05, abs=0.05 * scatter.max())
    assert swing.semi_major_m == pytest.approx(math.sqrt(np.linalg.eigvalsh(scatter)[-1]), rel=0.03)


def test_the_pair_chosen_is_the_best_of_all_pairs_tried_one_by_one():
    rng = np.random.default_rng(11)
    for trial in range(40):
        pins, cov = rng.uniform(-12, 12, size=(6, 2)), plan_cov(6, sd_m=0.004, seed=trial)
        stake = np.array([0.5, -0.7])
        swing = best_swing(sights(stake, pins, cov=cov))
        least = math.inf
        for i, j in itertools.combinations(range(6), 2):
            to_i, to_j = (complex(*(pins[k] - stake)) for k in (i, j))
            crossing = abs(np.angle(to_i / to_j))
            if not math.radians(30) <= crossing <= math.radians(150) or min(abs(to_i), abs(to_j)) < 0.3:
                continue
            # Weighted normal equations with the pins as unknowns too, their covariance as observations.
            design = np.zeros((6, 6))
            for row, to in enumerate((to_i, to_j)):
                unit = -np.array([to.real, to.imag]) / abs(to)
                design[row, :2], design[row, 2 + 2 * row : 4 + 2 * row] = unit, -unit
                design[2 + 2 * row : 4 + 2 * row, 2 + 2 * row : 4 + 2 * row] = np.eye(2)
            keep = [2 * i, 2 * i + 1, 2 * j, 2 * j + 1]
            observed = np.zeros((6, 6))
            observed[0, 0] = 0.003**2 + (0.0004 * abs(to_i)) ** 2
            observed[1, 1] = 0.003**2 + (0.0004 * abs(to_j)) ** 2
            observed[2:, 2:] = cov[np.ix_(keep, keep)]
            place = np.linalg.inv(design.T @ np.linalg.inv(observed) @ design)[:2, :2]
            least = min(least, math.sqrt(np.linalg.eigvalsh(place)[-1]))
        assert swing is not None
        # Places that differ by less than 0.1 mm count as equal, and the shorter tapes are taken.
        assert swing.semi_major_m == pytest.approx(least, abs=0.0001)


def test_an_uncertain_pin_is_left_alone_when_a_surer_one_crosses_flatter():
    cov = np.diag([0.05**2, 0.05**2, 0, 0, 0, 0])
    swing = best_swing(sights((0, 0), [(8, 0), (0, 8), (6, 6)], cov=cov))
    assert swing is not None
    assert swing.pair == (1, 2)


def test_of_equally_sure_pairs_the_shorter_tapes_win():
    steady = Accuracy(tape_m=0.003)
    swing = best_swing(sights((0, 0), [(20, 0), (0, 20), (-5, 0), (0, -5)], accuracy=steady))
    assert swing is not None
    assert swing.pair == (2, 3)


def test_a_pair_within_one_tape_comes_before_a_surer_pair_beyond_it():
    steady = Accuracy(tape_m=0.003)
    long = TAPE_LENGTH_M + 1
    pins = [(long, 0), (0, long), (10 * math.cos(0.7), 10 * math.sin(0.7)), (10, 0)]
    swing = best_swing(sights((0, 0), pins, accuracy=steady))
    assert swing is not None
    assert swing.pair == (2, 3)
    far_only = best_swing(sights((0, 0), pins[:2], accuracy=steady))
    assert far_only is not None


def test_a_pin_at_the_stake_itself_gives_no_tie():
    assert best_swing(sights((0, 0), [(SHORTEST_TIE_M / 2, 0), (0, 5)])) is None
    assert best_swing(sights((0, 0), [(0, 0), (0, 5)])) is None
    assert best_swing(sights((0, 0), np.zeros((0, 2)))) is None


@pytest.mark.parametrize("side", ["left", "right"])
def test_where_tapes_cross_is_a_3_4_5_triangle(side):
    at = where_tapes_cross(
        start_en_m=np.array([0.0, 0.0]),
        end_en_m=np.array([0.0, 5.0]),
        from_start_m=3.0,
        from_end_m=4.0,
        side=side,
    )
    # Looking north, left is west; the foot lies 9/5 along, 12/5 off.
    assert at == pytest.approx([-2.4 if side == "left" else 2.4, 1.8])


def test_where_tapes_cross_finds_any_stake_again():
    rng = np.random.default_rng(3)
    for _ in range(200):
        start, end, at = rng.uniform(-20, 20, size=(3, 2))
        found = where_tapes_cross(
            start_en_m=start,
            end_en_m=end,
            from_start_m=float(abs(complex(*(at - start)))),
            from_end_m=float(abs(complex(*(at - end)))),
            side=side_of(start_en_m=start, end_en_m=end, at_en_m=at),
        )
        by_search = least_squares(
            lambda x, s=start, e=end, a=at: [
                np.hypot(*(x - s)) - np.hypot(*(a - s)),
                np.hypot(*(x - e)) - np.hypot(*(a - e)),
            ],
            x0=at + 0.01,
        )
        assert found == pytest.approx(at, abs=1e-6)
        assert by_search.x == pytest.approx(at, abs=1e-3)


def test_tapes_that_just_touch_meet_on_the_line():
    at = where_tapes_cross(
        start_en_m=np.array([0.1, 0.2]),
        end_en_m=np.array([0.7, 1.0]),
        from_start_m=0.3,
        from_end_m=0.7,
        side="left",
    )
    assert at == pytest.approx([0.1 + 0.3 * 0.6, 0.2 + 0.3 * 0.8])


def test_tapes_that_cannot_meet_are_refused():
    two = {"start_en_m": np.array([0.0, 0.0]), "end_en_m": np.array([10.0, 0.0]), "side": "left"}
    for lengths in ((3.0, 4.0), (15.0, 4.0)):
        with pytest.raises(ValueError, match="do not meet"):
            where_tapes_cross(from_start_m=lengths[0], from_end_m=lengths[1], **two)
    with pytest.raises(ValueError, match="same place"):
        where_tapes_cross(
            start_en_m=np.array([1.0, 1.0]),
            end_en_m=np.array([1.0, 1.0]),
            from_start_m=2.0,
            from_end_m=2.0,
            side="left",
        )
