"""What keeps a stake, gives it back, and helps where no two pins cross well."""

from __future__ import annotations

import re

import numpy as np
import pytest
from marks_yard import (
    LEVEL,
    PINS,
    SD_GROUND_M,
    array_on,
    marked,
    points_at,
    where,
)

from staking.book.records import Stakes
from staking.marks.baseline import baseline_through
from staking.marks.new_pin import helpful_pins
from staking.marks.swing import where_tapes_cross


def test_no_pins_that_cross_well_are_told_with_what_would_help():
    in_line = {"P1": (-3.0, -0.02, 0.0), "P2": (14.0, -0.02, 0.0)}
    _, out = marked(places=in_line, ground=LEVEL)
    bad = [mark.pier for mark in out.marks if not mark.ties]
    assert bad[:5] == ["A1", "A2", "A3", "A4", "A5"]
    for mark in out.marks:
        if not mark.ties:
            assert (mark.crossing_rad, mark.sd_place_m, mark.side, mark.check_allowed_m) == (None,) * 4
            assert mark.check is not None
    (warning,) = [text for text in out.warnings if "cross" in text]
    assert all(name in warning for name in bad)
    # The pins advised, set where the warning says by station and offset, do place them all.
    told = re.findall(r"\(station (-?[\d.]+) m, ([\d.]+) m (left|right) of P1-P2\)", warning)
    assert 1 <= len(told) <= 2
    new = {
        f"N{k}": (-3.0 + float(station), -0.02 + float(offset) * (1 if hand == "left" else -1), 0.0)
        for k, (station, offset, hand) in enumerate(told)
    }
    _, better = marked(places=in_line | new, ground=LEVEL)
    assert all(mark.ties for mark in better.marks)
    assert not [text for text in better.warnings if "cross" in text]
    assert "would place them all" in warning


def test_piers_that_two_new_pins_cannot_place_are_not_promised():
    in_line = {f"P{k}": (4.0 * k, -0.02, 0.0) for k in range(3)}
    _, out = marked(places=in_line, ground=LEVEL, baseline=("P0", "P1"), per_beam=60)
    (warning,) = [text for text in out.warnings if "cross" in text]
    named, promised = warning.split(". Set two pins:")[0], warning.split("would place ")[1]
    assert "them all" not in promised
    promised = promised.split(". Until")[0].split(", ")
    bad = [mark.pier for mark in out.marks if not mark.ties]
    assert named.endswith(", ".join(bad))
    assert set(promised) < set(bad)


def test_pins_are_advised_outside_the_work_only():
    fit = array_on(LEVEL)
    new, left = helpful_pins(fit, unplaced=list(range(10)), pins_en_m=np.zeros((0, 2)))
    assert (len(new), left) == (2, [])
    for pin in new:
        assert np.hypot(*(fit.piers.en_m - pin.en_m).T).min() == pytest.approx(fit.bay_m)
        low, high = fit.piers.en_m.min(axis=0), fit.piers.en_m.max(axis=0)
        assert ((pin.en_m < low - 1e-9) | (pin.en_m > high + 1e-9)).any()


def test_a_place_in_words():
    line = baseline_through(points_at({"S": (0.0, -5.0, 0.0), "N": (0.0, 20.0, 0.0)}), ("S", "N"))
    east, west = np.array([2.0, 1.0]), np.array([-3.0, 2.0])
    assert line.place_text(east, "{:.1f} m".format) == "station 6.0 m, 2.0 m right of S-N"
    assert line.place_text(west, "{:.1f} m".format) == "station 7.0 m, 3.0 m left of S-N"


def test_one_pin_is_asked_for_where_one_will_do():
    # Pins far to the left and right in line with a lone beam: one square to its middle crosses both.
    in_line = {"P1": (-1.0, -0.02, 0.0), "P2": (9.0, -0.02, 0.0)}
    _, out = marked(places=in_line, ground=LEVEL, per_beam=3, beams_at_m=(0.58,), bay_m=4.0)
    (warning,) = [text for text in out.warnings if "cross" in text]
    assert "Set a pin one bay from A" in warning
    assert warning.count("station") == 2  # the pin's place, and the last sentence


def test_without_any_pin_two_are_asked_for():
    _, out = marked(pins=(), places={"G1": (-3.0, -4.0, 0.0), "G2": (14.0, -4.0, 0.0)}, baseline=("G1", "G2"))
    assert all(mark.ties == () for mark in out.marks)
    assert any("Set two pins" in text for text in out.warnings)
    assert sum("not a standing pin" in text for text in out.warnings) == 2
    assert out.marks[0].check.point in {"A2", "B1"}


def test_lengths_in_warnings_are_written_as_the_caller_asks():
    in_line = {"P1": (-3.0, -0.02, 0.0), "P2": (14.0, -0.02, 0.0)}
    _, out = marked(places=in_line, ground=LEVEL, show=lambda length: f"<{length:.1f}>")
    assert "station <" in "".join(out.warnings)


def test_hubs_stand_in_line_with_the_beam_each_side():
    fit, out = marked(azimuth_deg=172, cross_deg=2.0)
    for mark in out.marks:
        left, right = (complex(*hub.en_m) for hub in mark.hubs)
        assert [hub.name for hub in mark.hubs] == [f"{mark.pier} left", f"{mark.pier} right"]
        assert (left + right) / 2 == pytest.approx(where(fit, mark.pier))
        along = where(fit, mark.pier[0] + "5") - where(fit, mark.pier[0] + "1")
        assert right - left == pytest.approx(2 * 0.9144 * along / abs(along))
        top = fit.lengths.top_m[fit.piers.names.index(mark.pier)]
        for hub in mark.hubs:
            assert hub.ground_m == pytest.approx(30 + 0.04 * hub.en_m[0] + 0.10 * hub.en_m[1])
            assert hub.sd_ground_m == pytest.approx(SD_GROUND_M)
            assert hub.ground_m + hub.up_to_top_m == pytest.approx(top)


def test_a_hub_in_a_hole_is_told():
    _, clear = marked(hole_diameter_m=0.3)
    assert not [text for text in clear.warnings if "hole" in text]
    _, own = marked(hole_diameter_m=0.3, stakes=Stakes(offset_hub_m=0.14))
    assert any("A1 left is in the hole of A1" in text for text in own.warnings)
    _, next_one = marked(hole_diameter_m=0.3, stakes=Stakes(offset_hub_m=2.6))
    told = [text for text in next_one.warnings if "hole" in text]
    assert any("A1 right is in the hole of A2" in text for text in told)
    assert not any("A1 left" in text for text in told)
    _, near = marked(hole_diameter_m=0.3, stakes=Stakes(offset_hub_m=0.16))
    assert not [text for text in near.warnings if "hole" in text]


def test_a_pin_in_a_hole_is_told():
    _, out = marked(places=dict(PINS, P7=(0.05, 0.05, 30.0)), hole_diameter_m=0.3)
    assert any("Pin P7 stands in the hole of A1" in text for text in out.warnings)
    assert not any("Pin P1" in text for text in out.warnings)


def test_a_lost_stake_is_found_from_two_that_stand():
    fit, out = marked(azimuth_deg=160, lost=("a3", "B5"))
    assert [recovery.pier for recovery in out.recoveries] == ["A3", "B5"]
    for recovery in out.recoveries:
        first, second = recovery.ties
        assert not {first.point, second.point} & {"A3", "B5"}
        found = where_tapes_cross(
            start_en_m=fit.piers.en_m[fit.piers.names.index(first.point)],
            end_en_m=fit.piers.en_m[fit.piers.names.index(second.point)],
            from_start_m=first.level_m,
            from_end_m=second.level_m,
            side=recovery.side,
        )
        assert complex(*found) == pytest.approx(where(fit, recovery.pier))
    # The two nearest that cross square, so the place is as sure as one tape.
    square = out.recoveries[0]
    assert {tie.point for tie in square.ties} in ({"A2", "B3"}, {"A4", "B3"})
    assert square.sd_place_m == pytest.approx(max(tie.sd_m for tie in square.ties), rel=1e-6)


def test_a_lost_stake_is_not_found_from_other_lost_ones():
    _, out = marked(lost=("A2", "A3", "A4", "B3", "B2"))
    for recovery in out.recoveries:
        assert {tie.point for tie in recovery.ties} <= {"A1", "A5", "B1", "B4", "B5"}
    assert [recovery.pier for recovery in out.recoveries] == ["A2", "A3", "A4", "B2", "B3"]


def test_a_lone_beam_cannot_give_a_stake_back():
    _, out = marked(per_beam=5, beams_at_m=(0.58,), lost=("A3",))
    assert out.recoveries == ()
