"""Each equation by plain vectors, its derivatives by differences, and its locus by the place it came from."""

import math

import numpy as np
import pytest

from staking.control.equations import Equation, Kind, evaluated, stacked, wrapped
from staking.control.loci import Locus, crossings, level_length, loci_of

STEP_M = 1e-6
BY_DIFFERENCES = 1e-7
"""Error of central differences with that step on numbers of some ten metres."""
POINTS = 4
HI, SHIFT = 3 * POINTS, 3 * POINTS + 1


def steep_coordinates(seed):
    """Points some ten metres apart with slopes up to 1 in 1, a height of instrument and a shift."""
    rng = np.random.default_rng(seed)
    return np.concatenate([rng.uniform(-10, 10, size=3 * POINTS), [12.0, 0.02]])


def every_kind():
    found = [
        Equation(kind=Kind.ROD, at=(HI, 2), value=0.0, sd=1.0),
        Equation(kind=Kind.ROD, at=(HI, 2, SHIFT), value=0.0, sd=1.0, factor=40.0),
        Equation(kind=Kind.RISE, at=(0, 1), value=0.0, sd=1.0),
        Equation(kind=Kind.COORDINATE, at=(4,), value=0.0, sd=1.0),
        Equation(kind=Kind.LEVEL_TAPE, at=(0, 1), value=0.0, sd=1.0),
        Equation(kind=Kind.SLOPE_TAPE, at=(1, 3), value=0.0, sd=1.0),
        Equation(kind=Kind.ANGLE, at=(0, 1, 2), value=0.0, sd=1.0),
        Equation(kind=Kind.BEARING, at=(0, 1), value=0.0, sd=1.0),
        Equation(kind=Kind.FIX_EAST, at=(2, SHIFT, HI), value=0.0, sd=1.0),
        Equation(kind=Kind.FIX_NORTH, at=(3, SHIFT, -1), value=0.0, sd=1.0),
        Equation(kind=Kind.FIX_HEIGHT, at=(0, SHIFT, HI), value=0.0, sd=1.0),
        Equation(kind=Kind.BEARING, at=(0, 1, SHIFT), value=0.0, sd=1.0, factor=1.7),
    ]
    for kind in (Kind.STATION, Kind.OFFSET, Kind.SLOPE_STATION, Kind.SLOPE_OFFSET):
        for sign in (1.0, -1.0):
            found.append(Equation(kind=kind, at=(2, 0, 1), value=sign, sd=1.0))
    return stacked(found)


@pytest.mark.parametrize("seed", range(6))
def test_derivatives_by_differences(seed):
    stack, at = every_kind(), steep_coordinates(seed)
    jacobian = evaluated(stack, at)[1].dense()
    for k in range(len(at)):
        step = np.zeros_like(at)
        step[k] = STEP_M
        difference = evaluated(stack, at + step)[0] - evaluated(stack, at - step)[0]
        difference = np.where(
            np.isin(stack.kind, (Kind.ANGLE, Kind.BEARING)), wrapped(difference), difference
        )
        assert jacobian[:, k] == pytest.approx(difference / (2 * STEP_M), abs=BY_DIFFERENCES), k


@pytest.mark.parametrize("seed", range(6))
def test_offsets_on_the_slope_by_vectors_in_space(seed):
    """The foot lies on the line in space, plumb above or below the point's foot on the line in plan."""
    at = steep_coordinates(seed)
    a, b, p = at[0:3], at[3:6], at[6:9]
    along = b - a
    share = (p - a)[:2] @ along[:2] / (along[:2] @ along[:2])
    foot = a + share * along
    right = along[0] * (p - a)[1] - along[1] * (p - a)[0] < 0
    station = math.copysign(np.linalg.norm(foot - a), share)
    offset = math.copysign(np.linalg.norm(p - foot), 1 if right else -1)
    stack = stacked(
        [
            Equation(kind=Kind.SLOPE_STATION, at=(2, 0, 1), value=station, sd=1.0),
            Equation(kind=Kind.SLOPE_OFFSET, at=(2, 0, 1), value=offset, sd=1.0),
        ]
    )
    assert evaluated(stack, at)[0] == pytest.approx([station, offset], rel=1e-12)


def test_a_fix_shows_its_point_its_sessions_shift_and_the_tie():
    at = steep_coordinates(0)
    stack = stacked(
        [
            Equation(kind=Kind.FIX_EAST, at=(2, SHIFT, HI), value=0.0, sd=1.0),
            Equation(kind=Kind.FIX_NORTH, at=(2, SHIFT, -1), value=0.0, sd=1.0),
            Equation(kind=Kind.FIX_HEIGHT, at=(2, SHIFT, HI), value=0.0, sd=1.0),
        ]
    )
    want = [at[6] + 0.02 + 12.0, at[7] + 0.02, at[8] + 0.02 + 12.0]
    assert evaluated(stack, at)[0] == pytest.approx(want, rel=1e-12)


def test_a_slope_tape_reduced_to_level():
    """3-4-5: five up the slope over a drop of three is four level."""
    tape = Equation(kind=Kind.SLOPE_TAPE, at=(0, 1), value=5.0, sd=0.003)
    assert level_length(tape, {0: 10.0, 1: 13.0}) == pytest.approx(4.0)
    assert level_length(tape, {0: 13.0, 1: 10.0}) == pytest.approx(4.0)


@pytest.mark.parametrize("seed", range(8))
def test_an_angle_at_the_point_is_a_circle_through_it(seed):
    """Acute and obtuse angles, seen from either side of the two targets."""
    rng = np.random.default_rng(seed)
    here, a, b = (tuple(map(float, xy)) for xy in rng.uniform(-10, 10, size=(3, 2)))
    turn = math.atan2(b[0] - here[0], b[1] - here[1]) - math.atan2(a[0] - here[0], a[1] - here[1])
    angle = Equation(kind=Kind.ANGLE, at=(0, 1, 2), value=turn % (2 * math.pi), sd=1e-4)
    (locus,) = loci_of(0, [angle], {1: a, 2: b}, {})
    assert locus.kind == "circle"
    assert math.dist(here, locus.centre) == pytest.approx(locus.size)
    assert locus.misfit(here) == pytest.approx(0, abs=1e-6)


def test_both_crossings_of_a_ray_and_a_circle_count():
    """2026-11-25: the far one was dropped, because there the ray is less sure; a point stood 35 m off."""
    ray = Locus.ray((0.0, -25.0), 0.0, sd_rad=0.02)
    circle = Locus("circle", (0.0, 0.0), 21.0, 0.003)
    places = sorted(c.place[1] for c in crossings([ray, circle], 0.03))
    assert places == pytest.approx([-21.0, 21.0])
