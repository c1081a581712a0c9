"""The check values of docs/layout.md, computed apart from this code by plain 3-D vectors."""

import math

import numpy as np
import pytest
from yards import FT, MM, check_job, laid_out, level_ground, sloping_ground, wavy_ground

LAST_DIGIT_FT = 0.0005
FLAT_OPTIMUM_FT = 0.02
"""The fourth optimum is flat: its total is sharp, its lengths are not."""

LEVEL_BEAMS = [
    (level_ground, [2.168] * 5, [5.689] * 5, 39.288),
    (
        sloping_ground,
        [3.979, 3.511, 3.042, 2.574, 2.106],
        [6.881, 6.413, 5.944, 5.476, 5.008],
        44.933,
    ),
]


@pytest.mark.parametrize(("ground", "beam_a", "beam_b", "total"), LEVEL_BEAMS)
def test_level_beams(ground, beam_a, beam_b, total):
    fit = laid_out(check_job(), ground)
    np.testing.assert_allclose(fit.lengths.above_grade_m / FT, beam_a + beam_b, atol=1.01 * LAST_DIGIT_FT)
    assert fit.total_above_grade_m / FT == pytest.approx(total, abs=1.01 * LAST_DIGIT_FT)
    assert fit.plane.cross_slope_rad == 0
    assert fit.skew_m == 0


def test_sloping_beams_on_a_plane_of_ground():
    fit = laid_out(check_job(max_cross_slope_deg=5), sloping_ground)
    np.testing.assert_allclose(
        fit.lengths.above_grade_m / FT, [1.994] * 5 + [4.901] * 5, atol=1.01 * LAST_DIGIT_FT
    )
    assert fit.total_above_grade_m / FT == pytest.approx(34.471, abs=1.01 * LAST_DIGIT_FT)
    assert math.degrees(fit.plane.cross_slope_rad) == pytest.approx(3.064, abs=0.0005)
    assert math.degrees(fit.true_tilt_rad) == pytest.approx(28.154, abs=0.0005)
    assert math.degrees(fit.true_azimuth_rad) == pytest.approx(177.74, abs=0.005)
    assert fit.skew_m == pytest.approx(57.4 * MM, abs=0.05 * MM)


def test_sloping_beams_on_wavy_ground():
    fit = laid_out(check_job(max_cross_slope_deg=5), wavy_ground)
    lengths = [2.275, 2.027, 2.018, 2.127, 2.057, 5.203, 4.940, 4.904, 5.016, 4.974]
    np.testing.assert_allclose(fit.lengths.above_grade_m / FT, lengths, atol=FLAT_OPTIMUM_FT)
    assert fit.total_above_grade_m / FT == pytest.approx(35.539, abs=0.001)
    assert math.degrees(fit.plane.cross_slope_rad) == pytest.approx(2.48, abs=0.05)
