"""Readings taken more than once: their scatter by hand, by numpy, and in invented books."""

import math

import numpy as np
import pytest

from staking.control.equations import Equation, Kind
from staking.control.repeats import scatter_words, scatters


def equation(kind, at, value, sd=0.003):
    return Equation(kind=kind, at=at, value=value, sd=sd)


def test_two_tapes_either_way_by_hand():
    """10.000 and 10.004: the mean is 2 mm from each, so one reading has √(2·2²/1) mm."""
    (got,) = scatters(
        [
            equation(Kind.LEVEL_TAPE, (0, 1), 10.000),
            equation(Kind.LEVEL_TAPE, (1, 0), 10.004),
            equation(Kind.LEVEL_TAPE, (0, 2), 7.0),
        ]
    )
    assert (got.what, got.readings, got.dof) == ("tapes", 2, 1)
    assert got.sd == pytest.approx(0.002 * math.sqrt(2), rel=1e-9)
    assert got.stated == pytest.approx(0.003)
    assert got.more == pytest.approx(math.erfc(math.sqrt((0.002 * math.sqrt(2) / 0.003) ** 2 / 2)), rel=1e-6)
    assert scatter_words(got, "metric") == (
        "2 tapes taken more than once scatter by 2.8 mm; you state 3.0 mm: as good as stated"
    )


def test_rounded_readings_that_agree_are_not_called_better():
    (got,) = scatters([equation(Kind.RISE, (0, 1), 0.5)] * 3)
    assert scatter_words(got, "metric").endswith("as good as stated")
    (got,) = scatters([equation(Kind.RISE, (0, 1), 0.5)] * 7)
    assert scatter_words(got, "metric").endswith("better than stated")


def test_level_and_slope_are_not_repeats_of_one_another():
    assert not scatters([equation(Kind.LEVEL_TAPE, (0, 1), 10.0), equation(Kind.SLOPE_TAPE, (0, 1), 10.4)])


@pytest.mark.parametrize(
    ("there", "back"),
    [
        ((Kind.RISE, (0, 1), 0.5), (Kind.RISE, (1, 0), -0.5)),
        ((Kind.BEARING, (0, 1), 0.1), (Kind.BEARING, (1, 0), 0.1 + math.pi)),
        ((Kind.BEARING, (0, 1), -0.1), (Kind.BEARING, (0, 1), 2 * math.pi - 0.1)),
        ((Kind.ANGLE, (3, 0, 1), 1.0), (Kind.ANGLE, (3, 1, 0), 2 * math.pi - 1.0)),
        ((Kind.ROD, (99, 1), 1.2), (Kind.ROD, (99, 1, 100), 1.2)),
    ],
)
def test_the_other_way_round_is_the_same_reading(there, back):
    (got,) = scatters([equation(*there), equation(*back)])
    assert got.sd == pytest.approx(0.0, abs=1e-12)
    assert got.dof == 1


def test_one_point_from_two_setups_is_no_repeat():
    assert not scatters([equation(Kind.ROD, (99, 1), 1.2), equation(Kind.ROD, (98, 1), 1.9)])


def test_pooled_as_numpy_pools():
    rng = np.random.default_rng(3)
    groups = [rng.normal(20, 0.004, size=n) for n in (2, 3, 5)]
    (got,) = scatters(
        [equation(Kind.RISE, (0, k + 1), float(v)) for k, group in enumerate(groups) for v in group]
    )
    pooled = sum(((g - g.mean()) ** 2).sum() for g in groups) / 7
    assert (got.readings, got.dof) == (10, 7)
    assert got.sd == pytest.approx(math.sqrt(pooled), rel=1e-9)


def test_the_verdict_is_right_as_often_as_it_says():
    """Each way 1 % of clean books; half and twice as much scatter is seen in nearly all of 30 pairs."""
    rng = np.random.default_rng(4)

    def verdicts(times, books):
        found = []
        for _ in range(books):
            values = rng.normal(10, 0.003 * times, size=(30, 2))
            rows = [
                equation(Kind.LEVEL_TAPE, (0, k + 1), float(v)) for k, pair in enumerate(values) for v in pair
            ]
            found.append(scatter_words(scatters(rows)[0], "feet-inches").split(": ", 1)[1][:6])
        return {word: found.count(word) / books for word in set(found)}

    clean = verdicts(1.0, 500)
    assert clean["as goo"] > 0.95
    assert clean.get("MORE t", 0) < 0.03
    assert clean.get("better", 0) < 0.03
    assert verdicts(2.0, 40)["MORE t"] > 0.95
    assert verdicts(0.5, 40)["better"] > 0.9
