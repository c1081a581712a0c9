"""Names of piers and the rectangle of the stakes."""

import math

import numpy as np
import pytest
from yards import check_job, with_frame

from staking.layout.piers import a1_places, beam_letter, pier_order, piers_at, plan_offsets
from staking.layout.shape import shape_of

SHAPE = shape_of(check_job(max_cross_slope_deg=5), style="metric")


def test_names_run_from_the_left_beam_by_beam():
    names, beam, number = pier_order(SHAPE)
    assert names == ("A1", "A2", "A3", "A4", "A5", "B1", "B2", "B3", "B4", "B5")
    assert beam.tolist() == [0] * 5 + [1] * 5
    assert number.tolist() == [1, 2, 3, 4, 5] * 2


def test_letters_go_on_after_z():
    assert [beam_letter(i) for i in (0, 1, 25, 26, 27, 51, 52)] == ["A", "B", "Z", "AA", "AB", "AZ", "BA"]


@pytest.mark.parametrize("cross_deg", [-5.0, 0.0, 3.0])
def test_the_stakes_form_a_true_rectangle(cross_deg):
    en = dict(
        zip(
            piers_at(SHAPE, math.radians(cross_deg), (1.0, 2.0)).names,
            piers_at(SHAPE, math.radians(cross_deg), (1.0, 2.0)).en_m,
            strict=True,
        )
    )

    def apart(a, b):
        return float(np.hypot(*(en[a] - en[b])))

    assert apart("A1", "B5") == pytest.approx(apart("A5", "B1"), abs=1e-12)
    assert apart("A1", "A5") == pytest.approx(4 * 8.75 * 0.3048 * math.cos(math.radians(cross_deg)))
    assert apart("A1", "B1") == pytest.approx(7.5 * 0.3048 * math.cos(math.radians(28)))
    assert (en["A5"] - en["A1"]) @ (en["B1"] - en["A1"]) == pytest.approx(0, abs=1e-12)


def test_seen_from_the_low_side_numbers_run_right_and_letters_up():
    en = piers_at(SHAPE, 0.0, (0.0, 0.0)).en_m
    a = math.radians(172)
    right, away = np.array([-math.cos(a), math.sin(a)]), np.array([-math.sin(a), -math.cos(a)])
    assert (en[1] - en[0]) @ right == pytest.approx(8.75 * 0.3048)
    assert (en[5] - en[0]) @ away > 0


@pytest.mark.parametrize("placed", [0, 3, 5, 9])
def test_the_placed_pier_stands_where_it_is_placed_at_every_cross_slope(placed):
    for cross in (-0.08, 0.0, 0.05):
        a1 = a1_places(SHAPE, cross, placed, (4.0, 7.0))
        en = piers_at(SHAPE, cross, (float(a1[0]), float(a1[1]))).en_m
        np.testing.assert_allclose(en[placed], (4.0, 7.0), atol=1e-12)


def test_many_cross_slopes_at_once_agree_with_each_alone():
    cross = np.array([-0.08, 0.0, 0.05])
    s, t = plan_offsets(SHAPE, cross)
    for k, one in enumerate(cross):
        s1, t1 = plan_offsets(SHAPE, float(one))
        np.testing.assert_array_equal(s[k], s1)
        np.testing.assert_array_equal(t[k], t1)


def test_three_beams():
    job = with_frame(check_job(), beams_at_m=(0.3, 1.5, 2.9), piers_per_beam=2, bay_m=4.0)
    names, _, _ = pier_order(shape_of(job, style="metric"))
    assert names == ("A1", "A2", "B1", "B2", "C1", "C2")
