"""What fixes say before anything is adjusted: places, turns and where the ties start."""

import math

import pytest

from staking.control.clouds import fixes_of, started
from staking.control.equations import Equation, Kind
from staking.control.heights import reached

SHIFT, OTHER, TIE = 12, 15, 18
"""Coordinates of two sessions' shifts in east and of the tie, behind four points."""


def fix(point, place, *, session=SHIFT, sd=0.1, tie=TIE):
    return [
        Equation(kind=kind, at=(point, session + k, tie + k), value=place[k], sd=sd)
        for k, kind in enumerate((Kind.FIX_EAST, Kind.FIX_NORTH))
    ]


def known(session, sd):
    return [Equation(kind=Kind.COORDINATE, at=(session + k,), value=0.0, sd=sd) for k in range(2)]


def net(*parts):
    return fixes_of([e for part in parts for e in part], 4)


def test_a_cloud_lies_where_the_fixes_of_the_session_say():
    fixes = net(fix(0, (105, 203)), fix(1, (115, 207)), known(SHIFT, 5.0))
    assert fixes.cloud(1, {}) is None
    cloud = fixes.cloud(1, {0: (5.0, 3.0)})
    assert cloud.centre == pytest.approx((15.0, 7.0))
    assert cloud.sd == pytest.approx(0.1 * math.sqrt(2))


def test_another_session_blurs_a_cloud_by_both_shifts():
    fixes = net(fix(0, (105, 203)), fix(1, (115, 207), session=OTHER), known(SHIFT, 5.0), known(OTHER, 5.0))
    cloud = fixes.cloud(1, {0: (5.0, 3.0)})
    assert cloud.centre == pytest.approx((15.0, 7.0))
    assert cloud.sd == pytest.approx(math.sqrt(2 * 0.1**2 + 2 * 5.0**2))


def test_a_known_tie_needs_no_placed_point():
    equations = [e for e in fix(1, (15, 7), tie=-3) if e] + known(SHIFT, 5.0)
    fixes = fixes_of(equations, 4)
    assert fixes.tie_sd_m == 0
    cloud = fixes.cloud(1, {})
    assert cloud.centre == pytest.approx((15.0, 7.0))
    assert cloud.sd == pytest.approx(math.hypot(5.0, 0.1))


@pytest.mark.parametrize("turn", [0.3, -2.0, 3.0])
def test_the_turn_of_a_group_is_the_one_it_was_given(turn):
    built = {0: (0.0, 0.0), 1: (10.0, 2.0), 2: (-3.0, 12.0)}
    c, s = math.cos(turn), math.sin(turn)
    there = {p: (100 + e * c + n * s, 200 + n * c - e * s) for p, (e, n) in built.items()}
    fixes = net(*(fix(p, place) for p, place in there.items()), known(SHIFT, 5.0))
    assert fixes.turn(built) == pytest.approx(turn)
    assert fixes.turn({3: (0.0, 0.0)}) is None


def test_how_well_two_fixes_turn_a_site():
    fixes = net(fix(0, (0, 0)), fix(1, (30, 40)), known(SHIFT, 5.0))
    assert fixes.turn_sd_rad() == pytest.approx(0.1 * math.sqrt(2) / 50)
    apart = net(fix(0, (0, 0)), fix(1, (30, 40), session=OTHER), known(SHIFT, 5.0), known(OTHER, 5.0))
    assert apart.turn_sd_rad() == pytest.approx(math.sqrt(2 * (25 + 0.01)) / 50)
    assert net(fix(0, (0, 0)), known(SHIFT, 5.0)).turn_sd_rad() == math.inf


def test_ties_start_at_what_the_fixes_leave():
    equations = [*fix(0, (105, 203), sd=1.0), *fix(1, (116, 207), sd=1.0)]
    coordinates = {0: 5.0, 1: 3.0, 3: 15.0, 4: 7.0}
    assert started(equations, coordinates) == pytest.approx({TIE: 100.5, TIE + 1: 200.0})


def test_a_height_reaches_a_point_and_rods_go_on_from_there():
    """A fix 2 m higher than that of a point at 30 m stands at 32 m, and a rise from it 1 m more."""
    equations = [
        Equation(kind=Kind.FIX_HEIGHT, at=(0, SHIFT, TIE), value=215.0, sd=0.1),
        Equation(kind=Kind.FIX_HEIGHT, at=(1, SHIFT, TIE), value=217.0, sd=0.1),
        Equation(kind=Kind.RISE, at=(1, 2), value=1.0, sd=0.003),
    ]
    assert reached(equations, {2: 30.0}) == pytest.approx({2: 30.0, TIE: 185.0, 5: 32.0, 8: 33.0})
