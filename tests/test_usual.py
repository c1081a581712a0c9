"""Values that are mostly a lost unit are asked about, the usual ones are not."""

import math
import re
import shutil
from dataclasses import replace
from datetime import UTC, date, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from staking.base.errors import WrongInput
from staking.book.folder import read_book
from staking.book.records import Accuracy, SawnRow
from staking.north.zone_towns import nearest_town, town_of
from staking.place_asked import place_remarks, place_words
from staking.plan import planned, surveyed
from staking.remarks import too_good
from staking.usual import row_remarks, usual_remarks

SAMPLES = Path(__file__).parents[1] / "sample_surveys"
YARDS = ("hand_check", "cross_fall", "real_hillside", "planted_blunder")


def asked(tmp_path, **changes):
    """Return what is asked about cross_fall, a survey in feet, with keys of job.toml as typed."""
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLES / "cross_fall", folder, dirs_exist_ok=True)
    job = (folder / "job.toml").read_text(encoding="utf-8")
    for key, typed in changes.items():
        job, found = re.subn(rf'\b{key} = (?:"(?:[^"\\]|\\.)*"|[\d.]+)', f"{key} = {typed}", job)
        assert found == 1, key
    (folder / "job.toml").write_text(job, encoding="utf-8")
    return usual_remarks(read_book(folder).job)


@pytest.mark.parametrize("name", YARDS)
def test_the_samples_raise_no_question(name):
    book = read_book(SAMPLES / name)
    assert usual_remarks(book.job) == ()
    assert place_remarks(book) == ()


@pytest.mark.parametrize(
    ("key", "typed", "said"),
    [
        ("stack", '"5"', "frame.stack is read as 5 ft (1524 mm)"),
        ("takeout", "2.125", "frame.takeout is read as 2.125 ft"),
        ("takeout", '"55 cm"', "frame.takeout is read as 1.804 ft (550 mm)"),
        ("thick", "1.375", "array.module.thick is read as 1.375 ft"),
        ("along", '"66.9"', "array.module.along is read as 66.9 ft"),
        ("bottom_cover", "3", "footing.bottom_cover is read as 3 ft"),
        ("side_cover", "3", "footing.side_cover is read as 3 ft"),
        ("hole_diameter", "12", "footing.hole_diameter is read as 12 ft"),
        ("frost_depth", "44", "footing.frost_depth is read as 44 ft"),
        ("embedment", '"4 in"', "footing.embedment is read as 0.3333 ft"),
        ("cut_allowance", "1", "pipe.cut_allowance is read as 1 ft"),
        ("joint_clear", "4", "pipe.joint_clear is read as 4 ft"),
        ("offset_hub", '"3 in"', "stakes.offset_hub is read as 0.25 ft"),
    ],
)
def test_a_lost_unit_is_asked_about_once(tmp_path, key, typed, said):
    """2026-11-28: inches taken for feet went through, exit 0, and shaped the post or the hole."""
    if key == "along":
        pattern = ("module = { along", "module = { along")
        assert pattern[0] in (SAMPLES / "cross_fall" / "job.toml").read_text(encoding="utf-8")
        text = (SAMPLES / "cross_fall" / "job.toml").read_text(encoding="utf-8")
        folder = shutil.copytree(SAMPLES / "cross_fall", tmp_path / "one")
        (folder / "job.toml").write_text(text.replace('along = "5\' 8\\""', f"along = {typed}"), "utf-8")
        [remark] = usual_remarks(read_book(folder).job)
    else:
        [remark] = asked(tmp_path, **{key: typed})
    assert said in remark
    assert "is the unit right?" in remark


def test_designs_at_the_edge_of_the_usual_raise_no_question(tmp_path):
    """Common practice, no source: large and small ones that are built."""
    assert asked(tmp_path, hole_diameter='"24 in"', frost_depth='"72 in"', embedment='"10 ft"') == ()
    assert asked(tmp_path, hole_diameter='"8 in"', frost_depth='"12 in"', embedment='"18 in"') == ()
    assert asked(tmp_path, stack='"9 in"', takeout='"6 in"', thick='"50 mm"') == ()
    assert asked(tmp_path, stack='"2 in"', takeout='"1 in"', thick='"6 mm"') == ()
    assert asked(tmp_path, bottom_cover='"12 in"', side_cover='"1 in"', cut_allowance='"6 in"') == ()
    assert asked(tmp_path, cut_allowance="0", bottom_cover="0", takeout="0") == ()


def test_a_value_that_arrays_share_is_asked_about_once():
    job = read_book(SAMPLES / "hand_check").job
    [one] = job.arrays
    wrong = replace(one, frame=replace(one.frame, stack_m=1.2))
    both = replace(job, arrays=(replace(wrong, name="south"), replace(wrong, name="north")))
    [text] = usual_remarks(both)
    assert text.startswith("job.toml frame.stack is read as 1.2 m (1200 mm)")
    mixed = replace(job, arrays=(replace(one, name="south"), replace(wrong, name="north")))
    [text] = usual_remarks(mixed)
    assert text.startswith("array north: job.toml frame.stack")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"rod_m": 0.1524}, "accuracy.rod is read as 0.5 ft (152.4 mm)"),
        ({"tape_m": 0.3048}, "accuracy.tape is read as 1 ft"),
        ({"mark_m": 0.3048}, "accuracy.mark is read as 1 ft"),
        ({"saw_m": 0.3048}, "accuracy.saw is read as 1 ft"),
        ({"rod_m": 1e-6}, "accuracy.rod is read as"),
        ({"bearing_rad": math.radians(45)}, "accuracy.bearing is read as 45°"),
        ({"angle_rad": math.radians(20)}, "accuracy.angle is read as 20°"),
        ({"rod_per_m": 0.02}, "accuracy.rod_per_100 is read as 2 ft in 100 ft"),
    ],
)
def test_accuracies_that_no_instrument_has_are_asked_about(changes, said):
    """2026-11-28: rod = 0.5 in a survey in feet hid a rod misread by a foot, exit 0."""
    job = read_book(SAMPLES / "cross_fall").job
    [remark] = usual_remarks(replace(job, accuracy=replace(Accuracy(), **changes)))
    assert said in remark


def test_accuracies_of_hasty_and_of_fine_work_raise_no_question():
    job = read_book(SAMPLES / "cross_fall").job
    hasty = replace(Accuracy(), rod_m=0.01, tape_m=0.02, bearing_rad=math.radians(2), offset_m=0.1)
    fine = replace(Accuracy(), rod_m=0.0003, tape_m=0.0005, angle_rad=math.radians(1 / 3600), offset_m=0.003)
    assert usual_remarks(replace(job, accuracy=hasty)) == ()
    assert usual_remarks(replace(job, accuracy=fine)) == ()


def with_sd(tmp_path, table, *sds):
    """Return what is asked about cross_fall with a column sd in its first rows."""
    folder = shutil.copytree(SAMPLES / "cross_fall", tmp_path / "yard")
    head, *rows = (folder / table).read_text(encoding="utf-8").splitlines()
    width = head.count(",")
    rows = [row + "," * (width - row.count(",")) + f",{sd}" for row, sd in zip(rows, sds, strict=False)]
    rest = (folder / table).read_text(encoding="utf-8").splitlines()[1 + len(rows) :]
    rest = [row + "," * (width + 1 - row.count(",")) for row in rest]
    (folder / table).write_text("\n".join([f"{head},sd", *rows, *rest]) + "\n", encoding="utf-8")
    return row_remarks(read_book(folder))


@pytest.mark.parametrize("table", ["levels.csv", "tapes.csv"])
def test_a_row_s_own_sd_in_another_unit_is_asked_about(tmp_path, table):
    """2026-11-28: an sd of 0.5 for half an inch in a survey in feet made its reading count for nothing."""
    [text] = with_sd(tmp_path, table, "0.005", "0.5", "1")
    assert text.startswith(f"{table}, row 3 (and 1 more likewise): sd is read as 0.5 ft (152.4 mm)")


def test_a_hole_s_depth_in_another_unit_is_asked_about():
    """2026-11-28: 52 for 52 in made a post of 55 ft, and only that no stick is so long was said."""
    book, row = read_book(SAMPLES / "cross_fall"), SawnRow(table="sawn.csv", row=7, piece="A1")
    assert row_remarks(replace(book, sawn=(replace(row, hole_depth_m=1.4),))) == ()
    (said,) = row_remarks(replace(book, sawn=(replace(row, hole_depth_m=52 * 0.3048),)))
    assert said.startswith("sawn.csv, row 7: hole_depth is read as 52 ft (15850 mm); usual is")


@pytest.mark.parametrize("table", ["levels.csv", "tapes.csv", "offsets.csv"])
def test_rows_own_sds_of_hasty_and_fine_work_raise_no_question(tmp_path, table):
    assert with_sd(tmp_path, table, "0.0036", "0.05", "5 mm", "1/4 in") == ()


@pytest.mark.parametrize(
    ("redundancy", "quantile"),
    # Lower 0.1 % points of chi-square: Pearson and Hartley's table as reprinted in textbooks (from memory).
    [(5, 0.210), (10, 1.479), (20, 5.921), (30, 11.588)],
)
def test_agreeing_too_well_begins_at_the_tabled_quantile(redundancy, quantile):
    assert too_good(0.995 * quantile / redundancy, redundancy)
    assert not too_good(1.005 * quantile / redundancy, redundancy)
    assert not too_good(1.0, redundancy)
    assert not too_good(0.0, 4)
    assert not too_good(None, 0)


def test_a_survey_that_agrees_far_better_than_stated_is_told(tmp_path):
    """2026-11-28: with rod = 0.5 ft a foot misread passed the test, exit 0, nothing to worry about."""
    folder = shutil.copytree(SAMPLES / "planted_blunder", tmp_path / "yard")
    job = (folder / "job.toml").read_text(encoding="utf-8")
    # The book has one foot of misclosure, the planted one; 7 degrees of freedom.
    (folder / "job.toml").write_text(job.replace("rod = 0.007", "rod = 5"), encoding="utf-8")
    texts = surveyed(read_book(folder)).warnings
    assert any("agree far better than stated" in text for text in texts)
    assert any("accuracy.rod is read as 5 ft" in text for text in texts)


def placed(zone, longitude, day=date(2026, 10, 3)):
    book = read_book(SAMPLES / "cross_fall")
    town = town_of(str(zone))
    latitude = book.job.site.latitude_rad if town is None else town.place[0]
    site = replace(
        book.job.site,
        time_zone=zone,
        latitude_rad=latitude,
        longitude_rad=math.radians(longitude),
        date=day,
    )
    book = replace(book, job=replace(book.job, arrays=()))
    return place_remarks(replace(book, job=replace(book.job, site=site)))


def hours(offset):
    return timezone(timedelta(hours=offset))


@pytest.mark.parametrize(
    ("zone", "longitude"),
    [
        (ZoneInfo("America/New_York"), 75.8),
        (ZoneInfo("Asia/Tokyo"), -75.8),
        (hours(5), -75.8),
        (hours(4), -75.8),
        (UTC, -75.8),
        (ZoneInfo("America/Los_Angeles"), -75.8),
    ],
)
def test_a_clock_of_another_longitude_is_asked_about(zone, longitude):
    """2026-11-28: time_zone = "+5:00" at -75.8 turned shadows by 150 degrees, exit 0 without shadows."""
    [text] = placed(zone, longitude)
    assert "site.time_zone" in text


@pytest.mark.parametrize(
    ("zone", "longitude"),
    # Extremes of zones in use: their own longitudes, from memory.
    [
        (ZoneInfo("America/New_York"), -84.5),
        (hours(-4), -84.5),
        (ZoneInfo("Europe/Madrid"), -9.2),
        (hours(2), -9.2),
        (ZoneInfo("America/Argentina/Mendoza"), -70.0),
        (ZoneInfo("Pacific/Kiritimati"), -157.4),
        (ZoneInfo("Pacific/Auckland"), 176.0),
        (ZoneInfo("America/Anchorage"), -165.0),
        (ZoneInfo("Asia/Shanghai"), 87.6),
        (ZoneInfo("Asia/Kolkata"), 69.0),
    ],
)
def test_clocks_in_use_raise_no_question(zone, longitude):
    assert placed(zone, longitude) == ()
    assert placed(zone, longitude, date(2026, 7, 3)) == ()


def compass(latitude, longitude):
    book = read_book(SAMPLES / "cross_fall")
    azimuth = replace(book.job.control.azimuth, north="magnetic")
    site = replace(
        book.job.site,
        latitude_rad=math.radians(latitude),
        longitude_rad=math.radians(longitude),
        time_zone=None,
    )
    control = replace(book.job.control, azimuth=azimuth)
    return place_remarks(replace(book, job=replace(book.job, site=site, control=control)))


def test_a_compass_where_it_points_far_from_north_is_asked_about():
    """2026-11-28: 41.3, -75.8 typed the other way round turned the yard by tens of degrees, exit 0."""
    # North-west Greenland, where maps of declination show more than 30 degrees west (from memory).
    [text] = compass(75.8, -60.0)
    assert "west of true north" in text
    assert compass(41.3, -75.8) == ()
    assert compass(61.2, -149.9) == ()


def at_place(latitude, longitude, zone=None, facing=None):
    book = read_book(SAMPLES / "cross_fall")
    site = replace(
        book.job.site,
        latitude_rad=math.radians(latitude),
        longitude_rad=math.radians(longitude),
        time_zone=zone,
    )
    arrays = book.job.arrays
    if facing is not None:
        design = replace(arrays[0].array, azimuth_rad=math.radians(facing))
        arrays = (replace(arrays[0], array=design),)
    return replace(book, job=replace(book.job, site=site, arrays=arrays))


@pytest.mark.parametrize(
    ("place", "town", "km"),
    # Distances between cities off an atlas, rounded (from memory).
    [((39.95, -75.16), "New York", 130), ((-33.0, 149.0), "Sydney", 230), ((48.14, 11.58), "Vaduz", 180)],
)
def test_the_nearest_town_of_the_list_of_zones(place, town, km):
    found, away_m = nearest_town((math.radians(place[0]), math.radians(place[1])))
    assert found.name == town
    assert away_m / 1000 == pytest.approx(km, rel=0.1)


def test_a_zone_s_old_name_has_its_town_and_an_offset_none():
    assert town_of("US/Eastern") == town_of("America/New_York")
    assert town_of("UTC-05:00") is None


def test_the_place_is_told_with_its_sides_in_words():
    assert place_words(at_place(-33.0, 149.0)).startswith("33.0000° SOUTH, 149.0000° east: ")
    assert "(United States)" in place_words(at_place(41.3, -75.8))


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "facing", "asks"),
    [
        (41.3, -75.8, "America/New_York", 170, ""),
        (-33.0, 149.0, "Australia/Sydney", 10, ""),
        (-33.0, 149.0, "Australia/Sydney", 280, ""),
        (5.0, 36.0, "Africa/Nairobi", 0, ""),
        # 2026-11-28: these went through, exit 0, and turned shadows by 180 degrees.
        (35.0, 149.0, None, 10, "latitude's minus lost or too much"),
        (-41.3, -75.8, None, 170, "latitude's minus lost or too much"),
        (33.0, 149.0, "Australia/Sydney", 100, "on the other half of the earth"),
        (-41.3, -75.8, "US/Eastern", 100, "on the other half of the earth"),
        (-45.0, -120.0, None, 10, "in the sea or on the ice"),
    ],
)
def test_a_latitude_s_lost_minus_is_asked_about(latitude, longitude, zone, facing, asks):
    named = None if zone is None else ZoneInfo(zone)
    texts = place_remarks(at_place(latitude, longitude, named, facing))
    assert len(texts) == bool(asks), texts
    assert all(asks in text for text in texts)


def test_a_compass_at_a_place_that_nothing_checks_is_told():
    book = at_place(41.3, -75.8)
    azimuth = replace(book.job.control.azimuth, north="magnetic")
    control = replace(book.job.control, azimuth=azimuth)
    assert place_remarks(replace(book, job=replace(book.job, control=control))) == ()
    [text] = place_remarks(replace(book, job=replace(book.job, control=control, arrays=())))
    assert "41.3000° north, 75.8000° west" in text


def test_a_wrong_plan_is_told_with_what_is_asked_of_the_design(tmp_path):
    """Found 2026-11-28: posts of 54 ft were refused ten times, and the embedment of 48 ft not asked about."""
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLES / "cross_fall", folder)
    job = (folder / "job.toml").read_text(encoding="utf-8")
    job, found = re.subn(r"embedment = .*", "embedment = 48", job)
    assert found == 1
    (folder / "job.toml").write_text(job, encoding="utf-8")
    with pytest.raises(WrongInput) as wrong:
        planned(read_book(folder))
    asked = "job.toml footing.embedment is read as 48 ft (14630 mm)"
    assert any(text.startswith(asked) for text in wrong.value.asked)
