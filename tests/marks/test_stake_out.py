"""The marks of a whole array."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from marks_yard import (
    LEVEL,
    PINS,
    SD_GROUND_M,
    SHARED_VAR_M2,
    TAPE,
    FunctionGround,
    array_on,
    joint_cov,
    marked,
    points_at,
    where,
)

from staking.book.records import Accuracy
from staking.marks.swing import where_tapes_cross
from staking.marks.ties import look_round, pin_tie, stake_tie


def test_station_and_offset_give_each_pier_back():
    fit, out = marked(azimuth_deg=172, cross_deg=3.0)
    start, end = complex(*PINS["P1"][:2]), complex(*PINS["P2"][:2])
    ahead = (end - start) / abs(end - start)
    for mark in out.marks:
        # Right of the line is a quarter turn clockwise: times −i.
        assert start + mark.station_m * ahead + mark.offset_m * ahead * -1j == pytest.approx(
            where(fit, mark.pier)
        )
    assert all(mark.offset_m < 0 for mark in out.marks)


def test_right_of_a_line_to_the_north_is_east():
    _, out = marked(
        places={"S": (0.0, -5.0, 0.0), "N": (0.0, 20.0, 0.0)},
        baseline=("S", "N"),
        a1=(2.0, 1.0),
        ground=LEVEL,
    )
    assert (out.marks[0].station_m, out.marks[0].offset_m) == pytest.approx((6.0, 2.0))


def test_the_two_ties_and_the_side_set_each_stake():
    fit, out = marked(azimuth_deg=165, cov_m2=joint_cov(4, sd_m=0.004, seed=1))
    for mark in out.marks:
        first, second = mark.ties
        found = where_tapes_cross(
            start_en_m=np.array(PINS[first.point][:2]),
            end_en_m=np.array(PINS[second.point][:2]),
            from_start_m=first.level_m,
            from_end_m=second.level_m,
            side=mark.side,
        )
        assert complex(*found) == pytest.approx(where(fit, mark.pier))
        angle = abs(
            cmath.phase(
                (complex(*PINS[first.point][:2]) - where(fit, mark.pier))
                / (complex(*PINS[second.point][:2]) - where(fit, mark.pier))
            )
        )
        assert mark.crossing_rad == pytest.approx(angle)
        assert math.radians(30) <= mark.crossing_rad <= math.radians(150)


def test_ties_on_the_slope_run_from_the_pins_own_height_to_the_ground_at_the_stake():
    fit, out = marked()
    seen = set()
    for mark in out.marks:
        z_stake = 30 + 0.04 * where(fit, mark.pier).real + 0.10 * where(fit, mark.pier).imag
        for tie in (*mark.ties, mark.check):
            if tie.point in PINS:
                east, north, z = PINS[tie.point]
                z = 30 + 0.04 * east + 0.10 * north if z is None else z
                seen.add(tie.point)
                level = abs(complex(east, north) - where(fit, mark.pier))
                assert tie.level_m == pytest.approx(level)
                assert tie.slope_m == pytest.approx(math.sqrt(level**2 + (z_stake - z) ** 2))
    assert {"P1", "P4"} <= seen
    assert out.warnings == ()


def test_on_level_ground_the_tape_reads_the_level_distance():
    places = {name: (e, n, 0.0) for name, (e, n, _) in PINS.items()}
    _, out = marked(ground=LEVEL, places=places)
    for mark in out.marks:
        for tie in mark.ties:
            assert tie.slope_m == pytest.approx(tie.level_m, rel=1e-14)
            assert tie.sd_slope_m == pytest.approx(tie.sd_m, rel=1e-12)


def test_uncertainty_of_a_tie_is_that_of_laying_it_off_from_an_uncertain_pin():
    """Level and slope distances drawn again and again: pins, heights and tape as they may be."""
    cov = joint_cov(4, sd_m=0.008, seed=9)
    steep = FunctionGround(lambda east, north: 30 + 0.05 * east + 0.30 * north)
    fit, out = marked(cov_m2=cov, ground=steep)
    rng = np.random.default_rng(8)
    names = list(PINS)
    for mark in out.marks[:3]:
        stake = fit.piers.en_m[fit.piers.names.index(mark.pier)]
        for tie in mark.ties:
            k = names.index(tie.point)
            if PINS[tie.point][2] is None:
                z_pin, sd_z = float(steep.z(np.array([PINS[tie.point][:2]]))[0]), SD_GROUND_M
            else:
                z_pin, sd_z = PINS[tie.point][2], math.sqrt(cov[3 * k + 2, 3 * k + 2])
            plan = rng.multivariate_normal(
                PINS[tie.point][:2], cov[3 * k : 3 * k + 2, 3 * k : 3 * k + 2], 40_000
            )
            level = np.hypot(*(stake - plan).T)
            rise = (
                float(steep.z(stake[None])[0])
                - z_pin
                + rng.normal(size=40_000) * math.hypot(SD_GROUND_M, sd_z)
            )
            slope = np.hypot(level, rise)
            read_level = level + rng.normal(size=40_000) * np.hypot(0.003, 0.0002 * level)
            read_slope = slope + rng.normal(size=40_000) * np.hypot(0.003, 0.0002 * slope)
            # The sample's own sd of a sd is 0.35 %; 2 % is more than five of them.
            assert tie.sd_m == pytest.approx(read_level.std(), rel=0.02)
            assert tie.sd_slope_m == pytest.approx(read_slope.std(), rel=0.02)


@pytest.mark.parametrize("pin", ["P1", "P4"])
def test_uncertainty_of_the_slope_distance_by_numerical_differences(pin):
    """Plan of the pin, its height and the ground's, each shifted a little; tape added for its own length."""
    cov = joint_cov(4, sd_m=0.008, seed=9)
    cliff = FunctionGround(lambda east, north: 30 + 0.5 * east + 1.5 * north)
    fit = array_on(cliff)
    places = dict(PINS, P1=(-3.0, -4.0, 22.0), P4=(-4.0, 6.0, None))
    yard = look_round(
        fit, points=points_at(places, cov_m2=cov), pins=tuple(PINS), ground=cliff, accuracy=TAPE
    )
    k = list(PINS).index(pin)
    for i in (0, 4, 8):
        tie = pin_tie(yard, i, k)
        z_pin = places[pin][2]
        known = z_pin is not None
        at = np.array([*places[pin][:2], z_pin if known else 30 + 0.5 * -4.0 + 1.5 * 6.0])
        hub = np.array([*fit.piers.en_m[i], fit.lengths.ground_m[i]])
        slope = float(np.linalg.norm(hub - at))
        shifts = [(np.linalg.norm(hub - at - step) - slope) / 1e-6 for step in 1e-6 * np.eye(3)]
        plan = cov[3 * k : 3 * k + 2, 3 * k : 3 * k + 2]
        var_z = SD_GROUND_M**2 + (cov[3 * k + 2, 3 * k + 2] if known else SD_GROUND_M**2)
        var = shifts[:2] @ plan @ shifts[:2] + shifts[2] ** 2 * var_z + 0.003**2 + (0.0002 * slope) ** 2
        assert tie.slope_m == pytest.approx(slope)
        assert tie.sd_slope_m == pytest.approx(math.sqrt(var), rel=1e-5)


def test_between_two_stakes_the_ground_s_shared_error_cancels():
    cliff = FunctionGround(lambda east, north: 30 + 2.0 * east)
    fit = array_on(cliff)
    tie = stake_tie(fit, start=0, to=1, accuracy=Accuracy(tape_m=0.001))
    # Along A the ground climbs 2 in 1: slope √5, the rise counts 2/√5.
    expected = math.sqrt(4 / 5 * 2 * (SD_GROUND_M**2 - SHARED_VAR_M2) + 0.001**2)
    assert tie.slope_m == pytest.approx(2.667 * math.sqrt(5))
    assert tie.sd_slope_m == pytest.approx(expected)


def test_the_check_did_not_place_the_stake_and_its_limit_is_three_of_its_own_sds():
    """Stakes set from erring pins with erring tapes; the check then taped from a third erring pin."""
    cov = joint_cov(4, sd_m=0.006, seed=2)
    fit, out = marked(cov_m2=cov)
    rng = np.random.default_rng(4)
    names, count = list(PINS), 20_000
    enz = np.array([[np.nan_to_num(c if c is not None else np.nan) for c in PINS[name]] for name in names])
    full = cov.copy()
    true = enz.reshape(-1) + rng.multivariate_normal(np.zeros(12), full, size=count)
    for mark in (out.marks[0], out.marks[4], out.marks[7]):
        assert mark.check is not None
        assert mark.check.point not in {tie.point for tie in mark.ties}
        stake = fit.piers.en_m[fit.piers.names.index(mark.pier)]
        set_at = np.tile(stake, (count, 1))
        at = {n: true[:, 3 * names.index(n) : 3 * names.index(n) + 2] for n in names}
        tape = [t.level_m + rng.normal(size=count) * np.hypot(0.003, 0.0002 * t.level_m) for t in mark.ties]
        for _ in range(5):
            reach = np.stack([set_at - at[t.point] for t in mark.ties], axis=1)
            length = np.linalg.norm(reach, axis=2)
            gap = (length - np.stack(tape, axis=1))[:, :, None]
            set_at = set_at - np.linalg.solve(reach / length[:, :, None], gap)[:, :, 0]
        taped = np.hypot(*(set_at - at[mark.check.point]).T)
        taped = taped + rng.normal(size=count) * np.hypot(0.003, 0.0002 * mark.check.level_m)
        assert mark.check_allowed_m == pytest.approx(3 * (taped - mark.check.level_m).std(), rel=0.03)


def test_with_two_pins_a_neighbouring_stake_is_the_check():
    """Two stakes swung from the same two pins share the pins' errors; the limit knows it."""
    two = {name: PINS[name] for name in ("P1", "P2")}
    cov = joint_cov(2, sd_m=0.010, seed=3)
    fit, out = marked(places=two, cov_m2=cov)
    rng = np.random.default_rng(6)
    count = 20_000
    true = np.array(list(two.values())).reshape(-1) + rng.multivariate_normal(np.zeros(6), cov, size=count)
    at = {"P1": true[:, 0:2], "P2": true[:, 3:5]}

    def swung(mark):
        set_at = np.tile(fit.piers.en_m[fit.piers.names.index(mark.pier)], (count, 1))
        tape = [t.level_m + rng.normal(size=count) * np.hypot(0.003, 0.0002 * t.level_m) for t in mark.ties]
        for _ in range(5):
            reach = np.stack([set_at - at[t.point] for t in mark.ties], axis=1)
            length = np.linalg.norm(reach, axis=2)
            gap = (length - np.stack(tape, axis=1))[:, :, None]
            set_at = set_at - np.linalg.solve(reach / length[:, :, None], gap)[:, :, 0]
        return set_at

    by_name = {mark.pier: mark for mark in out.marks}
    mark = by_name["A3"]
    assert mark.check is not None
    assert mark.check.point in {"A2", "A4", "B3"}
    other = swung(by_name[mark.check.point])
    taped = np.hypot(*(swung(mark) - other).T) + rng.normal(size=count) * np.hypot(
        0.003, 0.0002 * mark.check.level_m
    )
    assert mark.check_allowed_m == pytest.approx(3 * (taped - mark.check.level_m).std(), rel=0.03)
    # The tie's own sd: the other stake's place along the line, and the tape.
    along = (where(fit, "A3") - where(fit, mark.check.point)) / mark.check.level_m
    drift = (other - fit.piers.en_m[fit.piers.names.index(mark.check.point)]) @ [along.real, along.imag]
    tape = math.hypot(0.003, 0.0002 * mark.check.level_m)
    assert mark.check.sd_m == pytest.approx(math.hypot(drift.std(), tape), rel=0.02)
    rise_var = 2 * (SD_GROUND_M**2 - SHARED_VAR_M2)
    rise = (0.04 * along.real + 0.10 * along.imag) * mark.check.level_m
    slope = math.hypot(mark.check.level_m, rise)
    expected = math.sqrt(
        (mark.check.level_m / slope * drift.std()) ** 2
        + (rise / slope) ** 2 * rise_var
        + 0.003**2
        + (0.0002 * slope) ** 2
    )
    assert mark.check.sd_slope_m == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize("facing_deg", [150, 180])
def test_no_two_stakes_check_one_another_only(facing_deg):
    # 2026-11-28: B1 was checked from A1 and A1 from B1, one distance for both.
    _, out = marked(places={name: PINS[name] for name in ("P1", "P2")}, azimuth_deg=facing_deg)
    of = {mark.pier: mark.check.point for mark in out.marks}
    beside = {pier: check for pier, check in of.items() if check in of}
    assert len(beside) == 10, "there is no third pin"
    assert not [pier for pier, check in beside.items() if of[check] == pier]
    # Two stakes alone have nothing else.
    _, out = marked(places={name: PINS[name] for name in ("P1", "P2")}, per_beam=2, beams_at_m=(0.58,))
    assert [mark.check.point for mark in out.marks] == ["A2", "A1"]


def test_a_lost_neighbour_is_not_the_check():
    two = {name: PINS[name] for name in ("P1", "P2")}
    _, out = marked(places=two)
    check = next(mark.check.point for mark in out.marks if mark.pier == "A3")
    _, without = marked(places=two, lost=(check.lower(),))
    assert next(mark.check.point for mark in without.marks if mark.pier == "A3") != check


def test_a_third_pin_that_cannot_show_one_tie_s_error_gives_way_to_a_neighbour():
    # From A1 at the origin P3 lies behind P1: it says nothing of the tape from P2.
    places = {"P1": (-6.0, 0.0, 0.0), "P2": (0.0, -6.0, 0.0), "P3": (-9.0, 0.01, 0.0)}
    _, out = marked(places=places, ground=LEVEL, azimuth_deg=150)
    assert {tie.point for tie in out.marks[0].ties} == {"P1", "P2"}
    assert out.marks[0].check.point in {"A2", "B1"}
    # A single pier has no neighbour, so the third pin has to do.
    _, alone = marked(places=places, ground=LEVEL, per_beam=1, beams_at_m=(0.58,))
    assert alone.marks[0].check.point == "P3"


def test_pins_without_a_place_are_passed_over():
    places = dict(PINS, P5=(None, None, 31.0))
    _, out = marked(places=places)
    used = {tie.point for mark in out.marks for tie in (*mark.ties, mark.check)}
    assert "P5" not in used


@pytest.mark.parametrize("second", [(None, None, 0.0), (-3.0, -4.0, 0.0)])
def test_a_baseline_of_no_length_is_refused(second):
    with pytest.raises(ValueError, match="baseline P1-P2"):
        marked(places=dict(PINS, P2=second))


@pytest.mark.parametrize("turn_deg", [0.0, 33.0, 121.0, 260.0])
def test_turning_and_shifting_the_whole_site_changes_no_mark(turn_deg):
    """Azimuths grow by the turn; every distance, station, angle and uncertainty stays."""
    cov = joint_cov(4, sd_m=0.005, seed=7)
    turn = cmath.exp(-1j * math.radians(turn_deg))
    shift = complex(200.0, -70.0)
    block = np.array([[turn.real, -turn.imag, 0], [turn.imag, turn.real, 0], [0, 0, 1]])
    big = np.kron(np.eye(4), block)

    def turned(place):
        moved = complex(*place[:2]) * turn + shift
        return (moved.real, moved.imag, place[2])

    def height(east, north):
        back = (east + 1j * north - shift) / turn
        return 30 + 0.04 * back.real + 0.10 * back.imag

    _, here = marked(cov_m2=cov, azimuth_deg=172, cross_deg=1.0, hole_diameter_m=0.3, lost=("B2",))
    a1 = shift
    _, there = marked(
        cov_m2=big @ cov @ big.T,
        azimuth_deg=172 + turn_deg,
        cross_deg=1.0,
        a1=(a1.real, a1.imag),
        places={name: turned(place) for name, place in PINS.items()},
        ground=FunctionGround(height),
        hole_diameter_m=0.3,
        lost=("B2",),
    )
    for a, b in zip(here.marks, there.marks, strict=True):
        assert [tie.point for tie in a.ties] == [tie.point for tie in b.ties]
        assert (a.side, a.check.point) == (b.side, b.check.point)
        for name in ("station_m", "offset_m", "crossing_rad", "sd_place_m", "running_m", "check_allowed_m"):
            assert getattr(a, name) == pytest.approx(getattr(b, name), abs=1e-9)
        for one, two in zip((*a.ties, a.check), (*b.ties, b.check), strict=True):
            assert (one.level_m, one.slope_m, one.sd_m, one.sd_slope_m) == pytest.approx(
                (two.level_m, two.slope_m, two.sd_m, two.sd_slope_m), abs=1e-9
            )
        for one, two in zip(a.hubs, b.hubs, strict=True):
            assert one.up_to_top_m == pytest.approx(two.up_to_top_m)
    for one, two in zip((*here.sides, *here.diagonals), (*there.sides, *there.diagonals), strict=True):
        assert (one.name, one.level_m, one.slope_m) == pytest.approx((two.name, two.level_m, two.slope_m))
    assert here.recoveries[0].sd_place_m == pytest.approx(there.recoveries[0].sd_place_m)


def test_in_the_mirror_offsets_and_sides_change_hands_and_nothing_else():
    """East becomes west: a yard facing azimuth α faces −α, and its left end is the right one."""

    def mirror(place):
        return (-place[0], place[1], place[2])

    fit, here = marked(azimuth_deg=172)
    far = where(fit, "A5")
    _, there = marked(
        azimuth_deg=-172,
        a1=(-far.real, far.imag),
        places={name: mirror(place) for name, place in PINS.items()},
        ground=FunctionGround(lambda east, north: 30 - 0.04 * east + 0.10 * north),
    )
    image = {mark.pier: mark for mark in there.marks}
    for mark in here.marks:
        other = image[mark.pier[0] + str(6 - int(mark.pier[1]))]
        assert (mark.station_m, -mark.offset_m) == pytest.approx((other.station_m, other.offset_m))
        assert [tie.point for tie in mark.ties] == [tie.point for tie in other.ties]
        assert {mark.side, other.side} == {"left", "right"}
        assert mark.sd_place_m == pytest.approx(other.sd_place_m)
