"""Shadows as readings: they turn the site, share the clock, and are told where wrong."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import pytest

from staking.base.errors import WrongInput
from staking.book.records import (
    Accuracy,
    Azimuth,
    BearingRow,
    Benchmark,
    Control,
    ControlRow,
    EqualShadowRow,
    FieldBook,
    Job,
    LevelRow,
    Origin,
    ShadowRow,
    Site,
    TapeRow,
)
from staking.control.adjusting import adjusted
from staking.north.convergence import grid_convergence_rad
from staking.north.declination import declination_rad
from staking.north.equal_shadows import equal_shadows
from staking.north.shadow import shadow_at

DEG = math.pi / 180
LAT, LON = 40 * DEG, -75 * DEG
DAY = date(2026, 10, 3)
SITE = Site(units="m", latitude_rad=LAT, longitude_rad=LON, date=DAY)
LENGTH_M = 20.0


def shadow(at, to="P2", row=2, **more):
    hour, minute = at
    return ShadowRow(
        table="shadows.csv",
        row=row,
        read={"time": f"{hour}:{minute:02d}"},
        start="P1",
        to=to,
        time=time(hour, minute),
        **more,
    )


def equal(row=2, **more):
    asked = {"morning": time(14, 50), "afternoon": time(18, 47), "length_m": 2.0, **more}
    return EqualShadowRow(table="equal_shadows.csv", row=row, read={"to": "P2"}, start="P1", to="P2", **asked)


def book(*, shadows=(), equals=(), tapes=(), site=SITE, accuracy=None):
    tape = TapeRow(table="tapes.csv", row=2, start="P1", to="P2", length_m=LENGTH_M, how="level")
    control = Control(
        origin=Origin(point="P1", east_m=0.0, north_m=0.0),
        benchmark=Benchmark(point="P1", elevation_m=10.0),
        side="left",
    )
    levels = (LevelRow(table="levels.csv", row=2, point="P1", bs_m=1.0),)
    return FieldBook(
        job=Job(site=site, control=control, accuracy=accuracy or Accuracy()),
        levels=levels,
        tapes=(tape, *tapes),
        shadows=tuple(shadows),
        equal_shadows=tuple(equals),
    )


def direction(adjustment, to="P2"):
    """Return the direction from P1 and its standard deviation."""
    names = adjustment.points.names
    k = names.index(to)
    east, north = adjustment.points.enz_m[k, :2]
    across = np.array([north, -east]) / math.hypot(east, north)
    cov = adjustment.points.cov_m2[3 * k : 3 * k + 2, 3 * k : 3 * k + 2]
    return math.atan2(east, north) % math.tau, math.sqrt(across @ cov @ across) / math.hypot(east, north)


def truth(at):
    return shadow_at(LAT, LON, datetime(DAY.year, DAY.month, DAY.day, *at, tzinfo=UTC))


def test_one_shadow_turns_the_site():
    found, sd = direction(adjusted(book(shadows=[shadow((15, 30))])))
    true = truth((15, 30))
    assert found == pytest.approx(true.azimuth_rad, abs=1e-9)
    # A tenth of a degree for the shadow, a minute for the clock.
    assert sd == pytest.approx(math.hypot(0.1 * DEG, true.turning_rad_per_s * 60), rel=1e-3)


def test_many_shadows_do_not_average_the_clock_away():
    """Ten shadows along the sun's way, the far points taped; the clock stays one minute."""
    rows, tapes = [], []
    for k in range(10):
        at = (14 + k // 6, 10 * (k % 6))
        name = f"S{k}"
        rows.append(shadow(at, name, row=k + 2))
        azimuth = truth(at).azimuth_rad
        east, north = LENGTH_M * math.sin(azimuth), LENGTH_M * math.cos(azimuth)
        first = truth((14, 0)).azimuth_rad
        east0, north0 = LENGTH_M * math.sin(first), LENGTH_M * math.cos(first)
        tapes.append(
            TapeRow(table="tapes.csv", row=10 + k, start="P1", to=name, length_m=LENGTH_M, how="level")
        )
        if k:
            chord = math.hypot(east - east0, north - north0)
            tapes.append(
                TapeRow(table="tapes.csv", row=30 + k, start="S0", to=name, length_m=chord, how="level")
            )
    shadows_only = replace(book(shadows=rows), tapes=tuple(tapes))
    adjustment = adjusted(shadows_only)
    found, sd = direction(adjustment, "S0")
    assert found == pytest.approx(truth((14, 0)).azimuth_rad, abs=1e-6)
    alone = 0.1 * DEG / math.sqrt(10)
    assert sd > 3 * alone, "the clock is shared"
    assert sd > 0.8 * truth((14, 0)).turning_rad_per_s * 60


def test_a_fast_clock_is_found_by_a_line_known_otherwise():
    """With equal shadows on the same line the clock's error shows, with its sign."""
    slow = timedelta(minutes=2)
    late = (datetime(2000, 1, 1, 16, 0) + slow).time()
    where = equal_shadows(
        LAT,
        LON,
        datetime(2026, 10, 3, 14, 50, tzinfo=UTC),
        datetime(2026, 10, 3, 18, 47, tzinfo=UTC),
    )
    # A line that points to the middle; P3's shadow is timed by a clock two minutes fast.
    true = truth((16, 0)).azimuth_rad
    chord = 2 * LENGTH_M * math.sin(abs(math.remainder(true - where.middle_rad, math.tau)) / 2)
    tapes = [
        TapeRow(table="tapes.csv", row=3, start="P1", to="P3", length_m=LENGTH_M, how="level"),
        TapeRow(table="tapes.csv", row=4, start="P2", to="P3", length_m=chord, how="level"),
    ]
    accuracy = Accuracy(clock_s=1200.0, shadow_mark_m=0.0001, shadow_rad=0.001 * DEG, tape_m=0.0001)
    found = adjusted(
        book(
            shadows=[shadow((late.hour, late.minute), "P3")], equals=[equal()], tapes=tapes, accuracy=accuracy
        )
    )
    assert direction(found)[0] == pytest.approx(where.middle_rad % math.tau, abs=0.02 * DEG)
    assert direction(found, "P3")[0] == pytest.approx(true, abs=0.02 * DEG)


def test_equal_shadows_turn_the_site_and_pairs_average():
    where = equal_shadows(
        LAT, LON, datetime(2026, 10, 3, 14, 50, tzinfo=UTC), datetime(2026, 10, 3, 18, 47, tzinfo=UTC)
    )
    one, one_sd = direction(adjusted(book(equals=[equal()])))
    assert math.remainder(one - where.middle_rad, math.tau) == pytest.approx(0.0, abs=1e-9)
    assert one_sd == pytest.approx(where.sd_rad(mark_m=0.005, length_m=2.0), rel=1e-6)
    _, two_sd = direction(adjusted(book(equals=[equal(), equal(row=3)])))
    assert two_sd == pytest.approx(one_sd / math.sqrt(2), rel=1e-6)


def test_a_rows_own_sd_and_date_count():
    _, sd = direction(adjusted(book(equals=[equal(sd_rad=0.5 * DEG)])))
    assert sd == pytest.approx(0.5 * DEG, rel=1e-6)
    other = adjusted(
        book(equals=[equal(date=date(2026, 12, 21), morning=time(15, 0), afternoon=time(18, 55))])
    )
    assert abs(math.remainder(direction(other)[0], math.tau)) < 0.01 * DEG, "no correction at a solstice"


def test_a_reading_names_its_row():
    readings = adjusted(book(shadows=[shadow((15, 30), row=7)])).readings
    (one,) = [r for r in readings if r.kind == "shadow"]
    assert (one.table, one.row, one.column, one.read) == ("shadows.csv", 7, "time", "15:30")


def test_a_wrong_time_is_suspected_and_the_right_one_named():
    pairs = [equal(row=k) for k in (2, 3, 4)]
    accuracy = Accuracy(clock_s=5.0)
    where = direction(adjusted(book(equals=pairs)))[0]
    # When the shadow fell along that line.
    right = min(
        ((h, m) for h in (16, 17) for m in range(60)),
        key=lambda at: abs(math.remainder(truth(at).azimuth_rad - where, math.tau)),
    )
    wrong = (right[0], right[1] - 30) if right[1] >= 30 else (right[0] - 1, right[1] + 30)
    found = adjusted(book(equals=pairs, shadows=[shadow(wrong)], accuracy=accuracy))
    assert found.passes is False
    first = found.suspects[0]
    assert first.table == "shadows.csv"
    minutes = int(first.likely.split(":")[0]) * 60 + int(first.likely.split(":")[1])
    # By the rate at one time; over half an hour the rate itself changes.
    assert minutes == pytest.approx(60 * right[0] + right[1], abs=4)


@pytest.mark.parametrize(
    ("kind", "column", "words"),
    [
        ({"shadows": [shadow((3, 0))]}, "time", "the sun was down"),
        ({"shadows": [shadow((15, 0), date=date(1900, 1, 1))]}, "time", "1950 to 2100"),
        ({"shadows": [shadow((15, 0))], "site": replace(SITE, latitude_rad=None)}, "to", "place and day"),
        ({"shadows": [shadow((15, 0))], "site": replace(SITE, date=None)}, "to", "place and day"),
        ({"equals": [equal(afternoon=time(3, 0))]}, "afternoon", "the sun was down"),
        ({"equals": [equal(afternoon=time(14, 55))]}, "afternoon", "before and one after noon"),
        ({"shadows": [shadow((15, 0), "p1 ")]}, "to", "same point"),
    ],
)
def test_what_makes_no_sense_is_told_with_its_row(kind, column, words):
    with pytest.raises(WrongInput, match=words) as caught:
        adjusted(book(**kind))
    assert any(m.row == 2 and m.column == column for m in caught.value.mistakes)


@pytest.mark.parametrize(
    ("morning", "afternoon"),
    # Noon is at 16:49. 2026-11-28: a pair near it, half an hour askew, was 0.8° unequal and not told.
    [(time(13, 50), time(18, 47)), (time(15, 50), time(16, 55)), (time(16, 40), time(17, 50))],
)
def test_shadows_that_cannot_have_been_equal_are_told(morning, afternoon):
    warnings = adjusted(book(equals=[equal(morning=morning, afternoon=afternoon)])).warnings
    assert any("not of equal length" in warning and "row 2" in warning for warning in warnings)


def test_on_a_map_grid_the_convergence_is_taken_off():
    lon = -73 * DEG
    site = replace(SITE, grid="EPSG:32618", longitude_rad=lon)
    control = (ControlRow(table="control.csv", row=2, point="P1", east_m=0.0, north_m=0.0),)
    at = (15, 30)
    gridded = replace(book(shadows=[shadow(at)], site=site), control_points=control)
    true = shadow_at(LAT, lon, datetime(2026, 10, 3, *at, tzinfo=UTC)).azimuth_rad
    convergence = grid_convergence_rad("EPSG:32618", LAT, lon)
    assert convergence > 1.0 * DEG, "two degrees east of the central meridian"
    assert direction(adjusted(gridded))[0] == pytest.approx(true - convergence, abs=1e-9)


# 2026-11-25
def test_shadows_without_a_time_zone_are_told_to_be_in_utc():
    got = adjusted(book(shadows=[shadow((15, 0))]))
    assert any("shadows.csv: times are taken as UTC" in text for text in got.warnings)
    told = adjusted(book(shadows=[shadow((15, 0))], site=replace(SITE, time_zone=UTC)))
    assert not any("UTC" in text for text in told.warnings)


def hours_off(hours, count):
    """Return a survey whose line is known by equal shadows, with shadows timed by a clock so far off."""
    where = equal_shadows(
        LAT,
        LON,
        datetime(2026, 10, 3, 14, 50, tzinfo=UTC),
        datetime(2026, 10, 3, 18, 47, tzinfo=UTC),
    )
    rows, tapes = [], []
    for k in range(count):
        at = (15, 20 * k)
        name = f"S{k}"
        turned = math.remainder(truth(at).azimuth_rad - where.middle_rad, math.tau)
        chord = 2 * LENGTH_M * math.sin(abs(turned) / 2)
        rows.append(shadow((at[0] + hours, at[1]), name, row=k + 2))
        for start, length in (("P1", LENGTH_M), ("P2", chord)):
            row = len(tapes) + 3
            tapes.append(
                TapeRow(table="tapes.csv", row=row, start=start, to=name, length_m=length, how="level")
            )
    return book(shadows=rows, equals=[equal(row) for row in (2, 3, 4)], tapes=tapes)


@pytest.mark.parametrize(("hours", "why"), [(1, "summer time taken"), (-1, "standard time taken")])
@pytest.mark.parametrize("count", [1, 3])
def test_a_clock_a_whole_hour_off_is_named(hours, why, count):
    """2026-11-25: an hour of summer time was some other amount, and of three shadows none was named."""
    found = adjusted(hours_off(hours, count))
    assert not found.passes
    named = found.suspects[:count]
    assert {s.table for s in named} == {"shadows.csv"}
    assert {s.column for s in named} == {"time"}
    assert all(why in s.why for s in named)
    assert named[0].likely == f"15:{int(named[0].read[-2:]):02d}"
    assert named[0].passes_after


def turned_bearings(site, *, magnetic_of):
    """Three bearings by a compass at `magnetic_of`, in a taped triangle whose azimuth is given."""
    declination = declination_rad(magnetic_of.latitude_rad, magnetic_of.longitude_rad, DAY).declination_rad
    places = {"P1": (0.0, 0.0), "P2": (0.0, 20.0), "P3": (15.0, 10.0)}
    pairs = (("P1", "P2"), ("P2", "P3"), ("P3", "P1"))
    runs = [(places[b][0] - places[a][0], places[b][1] - places[a][1]) for a, b in pairs]
    one = book(site=site)
    azimuth = Azimuth(start="P1", to="P2", azimuth_rad=0.0, north="true")
    bearings = tuple(
        BearingRow(
            table="bearings.csv",
            row=2 + k,
            read={"bearing": "0"},
            start=start,
            to=to,
            bearing_rad=(math.atan2(*run) - declination) % math.tau,
            north="magnetic",
        )
        for k, ((start, to), run) in enumerate(zip(pairs, runs, strict=True))
    )
    tapes = tuple(
        TapeRow(table="tapes.csv", row=2 + k, start=start, to=to, length_m=math.hypot(*run), how="level")
        for k, ((start, to), run) in enumerate(zip(pairs, runs, strict=True))
    )
    control = replace(one.job.control, azimuth=azimuth, side="right")
    return replace(one, job=replace(one.job, control=control), bearings=bearings, tapes=tapes)


SOUTH = replace(SITE, latitude_rad=-33 * DEG, longitude_rad=149 * DEG)


@pytest.mark.parametrize(
    ("typed", "key", "likely"),
    [
        (replace(SOUTH, latitude_rad=33 * DEG), "site.latitude", "-33"),
        (replace(SOUTH, longitude_rad=-149 * DEG), "site.longitude", "149"),
        (replace(SITE, longitude_rad=75 * DEG), "site.longitude", "-75"),
    ],
)
def test_a_lost_minus_is_named_before_the_azimuth_that_it_makes_look_wrong(typed, key, likely):
    """2026-11-28: `degrees: read 20, likely 02`, above 99 %, for a latitude typed without its minus."""
    true = SITE if likely == "-75" else SOUTH
    assert adjusted(turned_bearings(true, magnetic_of=true)).suspects == ()
    found = adjusted(turned_bearings(typed, magnetic_of=true))
    [first] = [one for one in found.suspects if one.column == key]
    assert (first.table, first.likely, first.passes_after) == ("job.toml", likely, True)
    # Declinations of two places may be much alike: then either sign is told.
    assert first.chance > 0.3
    assert found.suspects[0].column.startswith("site.")
    assert sum(one.chance for one in found.suspects if one.column == "control.azimuth.degrees") < 0.2


def test_an_azimuth_off_by_some_other_amount_blames_no_sign():
    wrong = turned_bearings(SOUTH, magnetic_of=SOUTH)
    azimuth = replace(wrong.job.control.azimuth, azimuth_rad=30 * DEG)
    wrong = replace(wrong, job=replace(wrong.job, control=replace(wrong.job.control, azimuth=azimuth)))
    columns = [one.column for one in adjusted(wrong).suspects]
    assert columns
    assert not any(column.startswith("site.") for column in columns)


def test_shadows_at_a_place_where_it_was_night_are_one_mistake():
    """2026-11-28: a mistake for each row, and the longitude's lost minus was not named."""
    night = replace(SITE, longitude_rad=-LON)
    with pytest.raises(WrongInput) as caught:
        adjusted(book(shadows=[shadow((15, 30)), shadow((20, 0), "P3", row=3)], site=night))
    [mistake] = caught.value.mistakes
    assert (mistake.column, mistake.read) == ("site.longitude", "75")
    assert "At longitude -75" in mistake.remedy


def test_a_lost_minus_is_named_where_the_sun_shone_at_some_of_the_times():
    """2026-11-28: with one row in the light each dark one was a mistake, and the minus was not named."""
    night = replace(SITE, longitude_rad=-LON)
    # 11:45 UTC is 6:45 of the sun at 75 west, and 16:45, before sunset, at 75 east.
    rows = [shadow((11, 45)), shadow((15, 30), "P3", row=3), shadow((20, 0), "P3", row=4)]
    with pytest.raises(WrongInput) as caught:
        adjusted(book(shadows=rows, site=night))
    [mistake] = caught.value.mistakes
    assert mistake.column == "site.longitude"
    assert "2 of 3 rows of shadows (shadows.csv rows 3 and 4)" in mistake.problem


def test_the_mark_of_a_shadow_is_no_ground_shot():
    """2026-11-28: S1 and S2 counted as ground shots without an elevation."""
    found = adjusted(book(shadows=[shadow((15, 30))]))
    assert dict(zip(found.points.names, found.points.kinds, strict=True))["P2"] == "other"
    assert not any("no elevation" in text for text in found.warnings)
