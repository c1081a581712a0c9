"""Each way of going wrong, planted in an invented survey, is named for what it is."""

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from invented_yards import Yard, invented
from test_suspects import FOOT_M, ROD_SD_FT, LevelBook

from staking.base.units import parse_angle, parse_length
from staking.book.records import Accuracy, Control, Origin
from staking.control.adjusting import adjusted
from staking.control.mistaken_names import one_sign_apart
from staking.control.repairs import angle_repairs, reading_repairs


def meant(read, unit, kind="tape", column="length"):
    value_m = parse_length(read, unit=unit)
    return {r.likely: r.why for r in reading_repairs(value_m, read, kind=kind, column=column, unit=unit)}


def test_lengths_have_their_own_slips():
    feet = meant("12.90", "ft")
    assert "6 and a 9" in feet["12.60"]
    assert "wrong side" in feet["11.10"]
    assert "point slipped" in feet["129.0"]
    assert "changed places" in feet["21.90"]
    assert "one foot" in feet["11.90"]
    assert "inches written as decimals" in meant("5.8", "ft")["5.7"]
    assert "tenths of a foot written as inches" in meant("5' 8\"", "ft")["5' 9-5/8\""]
    assert "one metre" in meant("2.341", "m")["1.341"]
    assert meant("12.90", "ft")["42.32"] == "metres booked as feet: 12.90 m"
    assert meant("2.341", "m")["0.714"] == "feet booked as metres: 2.341 ft"
    assert not any("metres" in why for why in meant("12.90 ft", "ft").values())
    assert "sign" in meant("-0.25", "ft", kind="rise", column="rise")["0.25"]
    assert not any(text.startswith("-") for text in meant("0.40", "ft"))


def test_angles_have_their_own_slips():
    found = {r.likely: r.why for r in angle_repairs(parse_angle("12.30"), "12.30", kind="angle")}
    assert "minutes" in found["12°30'"]
    assert "counter-clockwise" in found["347.70"]
    assert "ten degrees" in found["22.30"]
    back = {r.likely: r.why for r in angle_repairs(parse_angle("12°30'"), "12°30'", kind="angle")}
    assert "decimals" in back["12.30"]
    bearing = {r.likely: r.why for r in angle_repairs(parse_angle("30"), "30", kind="bearing")}
    assert "far end" in bearing["210"]
    assert "quadrant" in bearing["150"]


def test_names_one_sign_apart():
    assert one_sign_apart("P1", "p2")
    assert one_sign_apart("P1", "P10")
    assert one_sign_apart("G12", "G21")
    assert not one_sign_apart("P1", "TP2")


def test_a_pin_booked_as_another():
    circuit = LevelBook(8)
    k = next(i for i, s in enumerate(circuit.sights) if s[0] == "P1")
    circuit.sights[k] = ("P2", *circuit.sights[k][1:])
    circuit.sights[k + 1] = ("G99", *circuit.sights[k + 1][1:])
    best = adjusted(circuit.book()).suspects[0]
    assert (best.row, best.column, best.read, best.likely) == (circuit.where[k][0], "point", "P2", "P1")
    assert best.chance > 0.9
    assert best.passes_after


def test_a_turning_point_that_moved_is_told_with_its_two_readings():
    circuit = LevelBook(8)
    k = next(i for i, s in enumerate(circuit.sights) if s[:2] == ("TP2", "bs"))
    got = adjusted(circuit.book({k: f"{float(circuit.texts[k]) + 0.17:.2f}"}))
    first, second = got.suspects[:2]
    assert {(s.row, s.column) for s in (first, second)} == {circuit.where[k - 1], circuit.where[k]}
    assert "TP2 moved between its FS and its BS" in first.why + second.why
    assert any("TP2" in name for name in first.same_as)
    assert "A sight of TP2 and one of" in first.would_tell


def test_an_instrument_bumped_between_two_sights():
    circuit = LevelBook(4, pins=("P1", "P2", "P3", "P4"))
    setup = list(range(8, 16))
    later = [k for k in setup[3:] if circuit.sights[k][0] != "BM1"]
    changes = {k: f"{float(circuit.texts[k]) - 0.16:.2f}" for k in later}
    got = adjusted(circuit.book(changes))
    assert got.passes is False
    assert "instrument moved before this sight" in got.suspects[0].why
    named = {(s.row, s.column) for s in got.suspects}
    assert {circuit.where[k] for k in later if circuit.sights[k][0].startswith(("P", "T"))} <= named
    assert got.suspects[0].passes_after


def test_station_and_offset_exchanged():
    yard = invented(3, ground_points=6)
    for pin in ("P1", "P2"):
        yard.tape(pin, "G1")
    book = yard.book()
    row = next(o for o in book.offsets if o.point == "G1")
    wrong = replace(
        row,
        station_m=abs(row.offset_m),
        offset_m=-row.station_m,
        read={"station": f"{abs(row.offset_m):.3f}", "offset": f"{-row.station_m:.3f}"},
    )
    got = adjusted(replace(book, offsets=tuple(wrong if o is row else o for o in book.offsets)))
    told = {(s.row, s.column): s for s in got.suspects if s.table == "offsets.csv"}
    assert "exchanged" in told[row.row, "station"].why
    assert float(told[row.row, "station"].likely) == pytest.approx(row.station_m, abs=0.002)


def test_an_angle_turned_counter_clockwise():
    yard = invented(2, ground_points=4)
    yard.angle("P2", "P3", "P1")
    yard.angle("P4", "P1", "P3")
    book = yard.book()
    angle = book.angles[0]
    text = f"{np.degrees(2 * np.pi - angle.angle_rad):.2f}"
    wrong = replace(angle, angle_rad=2 * np.pi - angle.angle_rad, read={"angle": text})
    best = adjusted(replace(book, angles=(wrong, *book.angles[1:]))).suspects[0]
    assert (best.table, best.row) == ("angles.csv", angle.row)
    assert float(best.likely) == pytest.approx(np.degrees(angle.angle_rad), abs=0.02)
    assert "counter-clockwise" in best.why


def northern(north_of):
    """A yard with four bearings at 1° where the compass points about 13° east of true north."""
    yard = invented(2, ground_points=4)
    for a, b in (("P1", "P3"), ("P2", "P4"), ("P1", "P4"), ("P2", "P3")):
        yard.bearing(a, b)
    book = yard.book()
    site = replace(
        book.job.site,
        latitude_rad=np.radians(45.0),
        longitude_rad=np.radians(-122.0),
        date=date(2026, 6, 1),
    )
    turned = []
    for k, row in enumerate(book.bearings):
        by_rad, north = north_of(k)
        value = row.bearing_rad + by_rad
        turned.append(
            replace(row, bearing_rad=value, north=north, read={"bearing": f"{np.degrees(value) % 360:.1f}"})
        )
    return replace(book, bearings=tuple(turned), job=replace(book.job, site=site))


def declination_rad():
    from staking.north.declination import declination_rad

    return declination_rad(np.radians(45.0), np.radians(-122.0), date(2026, 6, 1)).declination_rad


def test_one_bearing_magnetic_taken_for_true():
    got = adjusted(northern(lambda k: (-declination_rad() if k == 2 else 0.0, "true")))
    best = got.suspects[0]
    assert (best.table, best.row, best.column) == ("bearings.csv", 4, "north")
    assert (best.read, best.likely) == ("true", "magnetic")


def test_no_tape_is_asked_for_to_tell_two_directions_apart():
    """2026-11-28: a tape between two shots of a yard that turns as a whole was said to tell; it cannot."""
    made = Yard(
        truth={"P1": (0, 0, 0), "P2": (15, 0, 0), "P3": (1, 10, 0), "G1": (1.2, 1, 0), "G2": (14, 9, 0)}
    )
    for a, b in (
        ("P1", "P2"),
        ("P1", "P3"),
        ("P2", "P3"),
        ("P1", "G1"),
        ("P2", "G1"),
        ("P1", "G2"),
        ("P2", "G2"),
    ):
        made.tape(a, b)
    made.bearing("P1", "P2")
    made.bearing("P1", "P3")
    made.bearings[1] = replace(made.bearings[1], bearing_rad=made.bearings[1].bearing_rad + math.radians(9))
    control = Control(origin=Origin(point="P1", east_m=0, north_m=0), side="left")
    first, second = adjusted(made.book(control=control)).suspects
    assert {first.table, second.table} == {"bearings.csv"}
    assert all(s.same_as and s.would_tell.startswith("Take bearing") for s in (first, second))


def test_all_bearings_with_the_declination_reversed():
    got = adjusted(northern(lambda k: (-2 * declination_rad(), "true")))
    assert "declination's sign reversed" in got.suspects[0].why
    assert "azimuth of [control]" in got.suspects[0].why
    assert len([s for s in got.suspects if s.table == "bearings.csv"]) >= 4


def test_two_blunders_that_hide_each_other():
    """Two sights of one pin wrong by the same foot outvote the third: no single repair helps much."""
    circuit = LevelBook(12, setups=5)
    pins = [k for k in circuit.checked if circuit.sights[k][0] == "P1"]
    changes = {k: f"{float(circuit.texts[k]) + 1:.2f}" for k in pins[:2]}
    got = adjusted(circuit.book(changes))
    assert {(s.row, s.column) for s in got.suspects[:2]} == {circuit.where[k] for k in pins[:2]}
    assert all(
        s.likely == circuit.texts[k]
        for s, k in zip(sorted(got.suspects[:2], key=lambda s: s.row), pins[:2], strict=True)
    )
    assert got.suspects[0].passes_after
    assert "put right" in got.suspects[0].why


def test_accuracies_stated_too_small_are_told():
    circuit = LevelBook(0)
    book = circuit.book()
    small = replace(book, job=replace(book.job, accuracy=Accuracy(rod_m=ROD_SD_FT * FOOT_M / 5)))
    got = adjusted(small)
    assert got.suspects == ()
    assert any("all of them miss more than stated" in text for text in got.warnings)


def test_a_foot_in_one_loop_is_told_with_the_sight_that_would_halve_the_loop():
    circuit = LevelBook(3, pins=(), shots=0)
    best = adjusted(circuit.book({3: f"{float(circuit.texts[3]) + 1:.2f}"})).suspects[0]
    assert len(best.same_as) == 7
    assert "one new set-up would tell" in best.would_tell
    assert best.passes_after


def test_a_rise_is_named_in_a_net_of_rises_alone():
    yard = Yard(
        truth={"BM1": (0, 0, 10.0), "A": (5, 0, 10.4), "B": (9, 3, 11.1)}, rng=np.random.default_rng(1)
    )
    for _ in range(2):
        for a, b in (("BM1", "A"), ("A", "B"), ("B", "BM1")):
            yard.rise(a, b)
    from staking.book.records import Benchmark, Control

    book = yard.book(control=Control(benchmark=Benchmark(point="BM1", elevation_m=10.0)))
    rows = [replace(r, read={"rise": f"{r.rise_m:.3f}"}) for r in book.rises]
    rows[1] = replace(rows[1], rise_m=rows[1].rise_m + 0.1, read={"rise": f"{rows[1].rise_m + 0.1:.3f}"})
    best = adjusted(replace(book, rises=tuple(rows))).suspects[0]
    assert (best.table, best.row) == ("rises.csv", rows[1].row)
    assert float(best.likely) == pytest.approx(yard.rises[1].rise_m, abs=0.002)


# 2026-11-25
@pytest.mark.parametrize(
    ("read", "meant_text"), [("48.7", "4.87"), ("0.487", "4.87"), ("48.7 ft", "4.87 ft"), ("0.52", "5.2")]
)
def test_a_slipped_point_in_a_rod_keeps_every_digit(read, meant_text):
    value_m = parse_length(read, unit="ft")
    slips = {
        one.likely: one.by_m
        for one in reading_repairs(value_m, read, kind="rod", column="bs", unit="ft")
        if "slipped" in one.why
    }
    assert slips[meant_text] == pytest.approx(parse_length(meant_text, unit="ft") - value_m)


def test_a_rod_read_on_its_metric_side():
    """2026-11-25: it was told as some other amount."""
    circuit = LevelBook(8)
    k = next(i for i, sight in enumerate(circuit.sights) if sight[0] == "P1")
    metres = f"{float(circuit.texts[k]) * FOOT_M:.3f}"
    best = adjusted(circuit.book({k: metres})).suspects[0]
    assert (best.row, best.column) == circuit.where[k]
    assert best.read == metres
    assert float(best.likely) == pytest.approx(float(circuit.texts[k]), abs=0.005)
    assert f"metres booked as feet: {metres} m" in best.why
    assert best.passes_after
