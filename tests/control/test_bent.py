"""Points whose tapes run nearly along one line: their sd across is too small, and that is told."""

import math

import numpy as np
import pytest
from invented_yards import Yard

from staking.control.adjusting import adjusted
from staking.control.bent import LEAST_GROWTH, MOST_GROWTH, arc_words, bent_points, bent_words
from staking.control.equations import Equation, Kind
from staking.control.network import Network, adjusted_network

SD_M = 0.003


def placed(off, others=((0.0, 0.0), (20.0, 0.0), (40.0, 0.0)), *, along=8.0, angle=False):
    """A point so far along and off the line of three pins, read without error."""
    point = len(others)
    equations = [
        Equation(kind=Kind.LEVEL_TAPE, at=(k, point), value=math.dist(pin, (along, off)), sd=SD_M)
        for k, pin in enumerate(others)
    ]
    if angle:
        turn = math.atan2(along, off) - math.pi / 2
        equations.append(Equation(kind=Kind.ANGLE, at=(0, 1, point), value=turn, sd=3e-4))
    start = np.full(3 * point + 3, np.nan)
    for k, pin in enumerate(others):
        start[3 * k : 3 * k + 3] = *pin, 0.0
    network = Network(
        points=point + 1,
        equations=equations,
        start=start,
        held=~np.isnan(start),
        approximate={point: (along, off)},
    )
    return network, adjusted_network(network)


@pytest.mark.parametrize(("along", "off"), [(8.0, 0.2), (8.0, -0.2), (32.0, 0.2), (32.0, -0.2)])
def test_a_point_near_the_line_of_its_tapes_is_told(along, off):
    """Wherever it stands: the sum of squares is looked at both ways, and bends toward the line."""
    network, result = placed(off, along=along)
    sd = math.sqrt(result.cov_of([10])[0, 0])
    assert 2 < 0.2 / sd < 4
    assert bent_points(network, result)[0] == [3]


@pytest.mark.parametrize("k", [5.0, 6.5, 9.0, 12.0])
def test_it_is_told_below_about_seven_and_a_half_standard_deviations(k):
    """sd = s / 2y where s is that of y², so that k = y/sd stands at y = √(k·s/2); the rule, not a fit."""
    network, result = placed(1.0)
    s = 2.0 * math.sqrt(result.cov_of([10])[0, 0])
    network, result = placed(math.sqrt(k * s / 2.0))
    assert (2 - 2 / k) ** 2 < LEAST_GROWTH if k < 7.5 else (2 - 2 / k) ** 2 > LEAST_GROWTH
    assert bent_points(network, result)[0] == ([3] if k < 7.5 else [])


def test_a_reading_across_makes_it_sure():
    network, result = placed(0.2, angle=True)
    assert bent_points(network, result)[0] == []
    network, result = placed(0.2, others=((0.0, 0.0), (20.0, 0.0), (8.0, 15.0)))
    assert bent_points(network, result)[0] == []


def test_the_warning_names_the_point_and_what_to_do():
    yard = Yard(
        truth={
            "P1": (0.0, 0.0, 0.0),
            "P2": (20.0, 0.0, 0.0),
            "G1": (8.0, 0.2, 0.0),
            "G2": (9.0, 6.0, 0.0),
            "BM1": (0.0, 0.0, 0.0),
        }
    )
    yard.tape("P1", "P2")
    for point in ("G1", "G2"):
        yard.tape("P1", point)
        yard.tape("P2", point)
    told = [w for w in adjusted(yard.book(side="left")).warnings if "one line" in w]
    assert len(told) == 1
    assert told[0].startswith("G1 may stand further off than its ± says")
    assert "G2" not in told[0]
    assert "station and offset" in told[0]


def test_many_are_told_in_one_sentence():
    assert bent_words([]) == []
    (said,) = bent_words([f"G{k}" for k in range(9)])
    assert said.startswith("G0, G1, G2, G3, G4, G5 and 3 others may stand further off than their ±")


@pytest.mark.parametrize(("degrees", "told"), [(0.2, False), (0.5, False), (1.0, True), (2.0, True)])
def test_a_point_on_one_tape_and_a_poor_bearing_lies_on_an_arc(degrees, told):
    """At two sds along it the tape is off by (2 L sd)² / 2L: the arc's height, geometry."""
    length, sd_rad = 20.0, math.radians(degrees)
    equations = [
        Equation(kind=Kind.LEVEL_TAPE, at=(0, 1), value=length, sd=SD_M),
        Equation(kind=Kind.BEARING, at=(0, 1, -1), value=0.3, sd=sd_rad),
    ]
    start = np.array([0.0, 0.0, 0.0, np.nan, np.nan, np.nan])
    network = Network(points=2, equations=equations, start=start, held=~np.isnan(start))
    height = (2 * length * sd_rad) ** 2 / (2 * length)
    assert (4 + (height / SD_M) ** 2 > MOST_GROWTH) is told
    assert bent_points(network, adjusted_network(network)) == ([], [1] if told else [])


def test_points_on_arcs_are_told_in_one_sentence():
    """2026-11-28: with bearings of 2 degrees both coordinates held in 67 of 100, and nothing was said."""
    assert arc_words([]) == []
    (said,) = arc_words(["P4"])
    assert said.startswith("P4 lies on an arc")
