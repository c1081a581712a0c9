"""The tail of chi-square against scipy, and where the test stands."""

import pytest

from staking.control.variance_test import chi_square_upper_tail, variance_passes


@pytest.mark.parametrize("dof", [1, 2, 3, 4, 7, 10, 25, 100, 601])
@pytest.mark.parametrize("factor", [0.01, 0.5, 1.0, 1.3, 3.0, 20.0])
def test_the_tail_against_scipy(dof, factor):
    from scipy.stats import chi2

    value = factor * dof
    assert chi_square_upper_tail(value, dof) == pytest.approx(chi2.sf(value, dof), rel=1e-9, abs=1e-300)


def test_the_ends():
    assert chi_square_upper_tail(0.0, 3) == 1.0
    assert chi_square_upper_tail(1e6, 3) == 0.0
    with pytest.raises(ValueError, match="at least 1"):
        chi_square_upper_tail(1.0, 0)


def test_one_per_cent():
    """Upper 1 % points of chi-square in any statistics table: 6.635, 23.209."""
    assert variance_passes(6.63, 1) is True
    assert variance_passes(6.64, 1) is False
    assert variance_passes(23.20, 10) is True
    assert variance_passes(23.22, 10) is False
    assert variance_passes(0.0, 0) is None
