"""``job.toml``: every key, its default, and what must agree."""

from __future__ import annotations

import dataclasses
import math
from datetime import date

import pytest
from written_yard import JOB, LEVELS, mistakes_of, places, read_yard

from staking.book import records
from staking.book.jobreader import read_job
from staking.book.keys import ARRAYS, SECTIONS, Key, Section

FOOT, INCH = 0.3048, 0.0254


def job_of(text, *, for_plan=True):
    read = read_job(text.encode(), for_plan=for_plan)
    assert read.mistakes == ()
    return read.job


def told(text, *, for_plan=True):
    return list(read_job(text.encode(), for_plan=for_plan).mistakes)


def test_every_value_of_a_job():
    job = job_of(JOB)
    assert job.site == records.Site(name="Yard", units="ft", tape_how="level", show="feet-inches")
    assert job.control.origin == records.Origin(point="P1", east_m=0.0, north_m=0.0)
    assert job.control.azimuth == records.Azimuth(
        start="P1", to="P2", azimuth_rad=math.radians(88), north="true"
    )
    assert job.control.benchmark == records.Benchmark(point="BM1", elevation_m=30.48)
    assert job.control.side == "left"
    (one,) = job.arrays
    assert one.name == ""
    assert one.array == records.ArrayDesign(
        azimuth_rad=math.radians(172),
        tilt_rad=math.radians(28),
        modules_along=7,
        modules_up=3,
        module_along_m=pytest.approx(66.9 * INCH, abs=1e-12),
        module_up_m=pytest.approx(44.1 * INCH, abs=1e-12),
        module_thick_m=0.03,
        gap_along_m=pytest.approx(0.375 * INCH, abs=1e-12),
        gap_up_m=pytest.approx(0.375 * INCH, abs=1e-12),
    )
    assert one.frame.beams_at_m == pytest.approx((1.9 * FOOT, 9.4 * FOOT), abs=1e-12)
    assert (one.frame.piers_per_beam, one.frame.stack_m, one.frame.takeout_m) == (5, 0.13, 0.055)
    assert one.place == records.Place(
        pier="A1",
        line=("P1", "P2"),
        station_m=pytest.approx(12 * FOOT, abs=1e-12),
        offset_m=pytest.approx(-8 * FOOT, abs=1e-12),
    )
    assert one.fit.above_grade_min_m == pytest.approx(20 * INCH, abs=1e-12)
    assert one.fit.max_cross_slope_rad is None
    assert job.footing == records.Footing(
        hole_diameter_m=pytest.approx(12 * INCH),
        embedment_m=pytest.approx(4 * FOOT),
        bottom_cover_m=pytest.approx(3 * INCH),
    )
    assert job.pipe.stock == (records.Stock(length_m=pytest.approx(21 * FOOT), price=118.0),)


# As the description of a survey folder promises where a key is absent
DEFAULTS = {
    "accuracy.rod": "1.5 mm",
    "accuracy.rise": "3 mm",
    "accuracy.tape": "3 mm",
    "accuracy.offset": "12 mm",
    "accuracy.angle": "0.02",
    "accuracy.bearing": "1.0",
    "frame.rails_per_line": "2",
    "frame.rail_inset": "a quarter of the module",
    "frame.rail_end": "0 in",
    "frame.rail_clear": "2 in",
    "frame.beam_end": "6 in",
    "frame.beam_past_post": "4 in",
    "place.pier": "A1",
    "fit.beams": "level",
    "fit.least": "steel",
    "pipe.cut_allowance": "1 in",
    "pipe.kerf": "1/8 in",
    "pipe.joint": "sleeve",
    "pipe.joint_clear": "4 in",
    "pipe.posts_per_piece": "1",
    "stakes.offset_hub": "3 ft",
}
IN_WORDS = ("site.show", "frame.rail_inset", "pipe.stock.pipe", "pipe.stock.count", "ground.units")


def every_key(sections=SECTIONS, front="", record=None):
    for section in sections:
        if section is ARRAYS or not isinstance(section, Section):
            continue
        inner = section.record or record
        for key in section.keys:
            if isinstance(key, Key):
                yield f"{front}{section.name}.{key.name}", key, inner
        yield from every_key(section.keys, f"{front}{section.name}.", inner)


@pytest.mark.parametrize(
    ("name", "key", "record"), list(every_key()), ids=lambda value: value if isinstance(value, str) else ""
)
def test_a_declared_key_is_a_field_and_its_default_the_records_own(name, key, record):
    field = {field.name: field for field in dataclasses.fields(record)}[key.attribute]
    if DEFAULTS.get(name):
        assert key.default == DEFAULTS[name]
    no_default = field.default is dataclasses.MISSING
    assert key.needed == no_default or name == "site.units"
    if key.default and name not in IN_WORDS:
        read = key.kind.read(key.default, "ft")
        assert ((read,) if key.several else read) == pytest.approx(field.default, abs=1e-12)
    elif not key.needed:
        assert field.default in (None, "", "metric")


def test_every_field_of_the_records_has_a_key():
    declared = {}
    for _, key, record in every_key():
        declared.setdefault(record, set()).add(key.attribute)
    for record, names in declared.items():
        fields = {field.name for field in dataclasses.fields(record)}
        nested = {"origin", "azimuth", "benchmark"} if record is records.Control else set()
        nested |= {"stock"} if record is records.Pipe else set()
        assert fields == names | nested


@pytest.mark.parametrize(
    ("units", "show"), [("ft", "feet-inches"), ("in", "feet-inches"), ("m", "metric"), ("mm", "metric")]
)
def test_lengths_are_shown_in_the_surveys_way_unless_said(units, show):
    assert job_of(f'[site]\nunits = "{units}"', for_plan=False).site.show == show
    assert (
        job_of(f'[site]\nunits = "{units}"\nshow = "decimal feet"', for_plan=False).site.show
        == "decimal feet"
    )


@pytest.mark.parametrize("units", ["ft", "in", "m", "mm"])
def test_per_100_is_a_ratio_whatever_the_unit(units):
    accuracy = job_of(
        f'[site]\nunits = "{units}"\n[accuracy]\nrod_per_100 = 0.5\ntape_per_100 = 1', for_plan=False
    ).accuracy
    assert accuracy.rod_per_m == pytest.approx(0.005, rel=1e-12)
    assert accuracy.tape_per_m == pytest.approx(0.01, rel=1e-12)


def test_per_100_with_its_own_unit_is_per_100_of_the_surveys():
    accuracy = job_of('[site]\nunits = "m"\n[accuracy]\nrod_per_100 = "5 mm"', for_plan=False).accuracy
    assert accuracy.rod_per_m == pytest.approx(5e-5, rel=1e-12)


def test_site_accuracy_and_stakes():
    text = (
        '[site]\nunits = "mm"\nlatitude = "40°07\'30\\" N"\nlongitude = -75.25\ndate = 2026-10-03\n'
        'grid = "EPSG:32618"\n[accuracy]\nrod = 2\nangle = "0-01-00"\nmark = 0\nsaw = "1/32 in"\n'
        "[stakes]\noffset_hub = 1_000.5\n"
    )
    job = job_of(text, for_plan=False)
    assert job.site.latitude_rad == pytest.approx(math.radians(40.125), abs=1e-12)
    assert job.site.longitude_rad == pytest.approx(math.radians(-75.25), abs=1e-12)
    assert job.site.date == date(2026, 10, 3)
    assert job.accuracy.rod_m == pytest.approx(0.002)
    assert job.accuracy.angle_rad == pytest.approx(math.radians(1 / 60))
    assert (job.accuracy.mark_m, job.accuracy.saw_m) == (0.0, pytest.approx(INCH / 32))
    assert job.stakes.offset_hub_m == pytest.approx(1.0005)


def test_stock_on_hand_and_threaded_joints():
    text = JOB.replace(
        "price = 118.00 } ]",
        'price = 118 }, { length = 10, pipe = "own", use = "Beam", count = 0 } ]\n'
        'joint = "threaded"\nmake_up = "-1/4 in"',
    )
    pipe = job_of(text).pipe
    assert pipe.stock[1] == records.Stock(length_m=pytest.approx(10 * FOOT), pipe="own", use="beam", count=0)
    assert pipe.make_up_m == pytest.approx(-0.25 * INCH)
    assert pipe.joint == "threaded"


@pytest.mark.parametrize(
    ("typed", "shares"),
    [("0.5", (0.25, 0.75)), ("[0.5]", (0.25, 0.75)), ("[0.2, 0.6]", (0.2, 0.6)), ("1", (0.0, 1.0))],
)
def test_the_part_of_a_bay_without_joints(typed, shares):
    pipe = job_of(JOB.replace("[pipe]", f"[pipe]\nno_joint = {typed}\nposts_per_piece = 2")).pipe
    assert pipe.no_joint_shares == pytest.approx(shares, abs=1e-12)
    assert pipe.posts_per_piece == 2


KEYS = [
    ("[pipe]", "[pipe]\nno_joint = 50", "pipe.no_joint", "from 0 to 1 such as 0.5"),
    ("[pipe]", "[pipe]\nno_joint = -0.5", "pipe.no_joint", "from 0 to 1"),
    ("[pipe]", '[pipe]\nno_joint = "middle"', "pipe.no_joint", "from 0 to 1"),
    ("[pipe]", "[pipe]\nno_joint = [0.75, 0.25]", "pipe.no_joint", "from and to, such as [0.25, 0.75]"),
    ("[pipe]", "[pipe]\nno_joint = [0.2, 0.4, 0.6]", "pipe.no_joint", "not one share nor two that rise"),
    ("[pipe]", "[pipe]\nno_joint = []", "pipe.no_joint", "not a list"),
    ("[pipe]", "[pipe]\nno_joint = { from = 0.2 }", "pipe.no_joint", "not a list"),
    ("[pipe]", "[pipe]\nposts_per_piece = 3", "pipe.posts_per_piece", "whole number from 1 to 2"),
    ("[pipe]", "[pipe]\nposts_per_piece = 0", "pipe.posts_per_piece", "whole number from 1 to 2"),
    ("tilt = 28", "tilt = 90", "array.tilt", "less than 90"),
    ("tilt = 28", "tilt = -1", "array.tilt", "out of range"),
    ("tilt = 28", 'tilt = "N 5 E"', "array.tilt", "no place here"),
    ("tilt = 28", "tilt = nan", "array.tilt", "not an angle"),
    ("tilt = 28", "tilt = true", "array.tilt", "not an angle"),
    ("tilt = 28", "tilt = [28]", "array.tilt", "not a single value"),
    ("tilt = 28", "", "array.tilt", "missing"),
    ("tilt = 28", 'tilt = ""', "array.tilt", "nothing there"),
    ("tilt = 28", "titl = 28", "array.titl", "Did you mean tilt?"),
    ("tilt = 28", 'clearance = "2 ft"\ntilt = 28', "array.clearance", "It belongs in [fit]"),
    ("azimuth = 172", "azimuth = 400", "array.azimuth", "out of range"),
    ("modules_along = 7", "modules_along = 0", "array.modules_along", "whole number from 1"),
    ("modules_along = 7", "modules_along = 7.5", "array.modules_along", "whole number"),
    ('along = "66.9 in"', 'along = "-66.9 in"', "array.module.along", "greater than zero"),
    ('along = "66.9 in", ', "", "array.module.along", "missing"),
    ('up = "3/8 in"', 'up = "-3/8 in"', "array.gap.up", "not be negative"),
    ("module = {", "moduel = {", "array.moduel", "Did you mean module?"),
    ("stack = ", "stock = ", "frame.stock", "Did you mean stack?"),
    ('bay = "8.75 ft"', "bay = 0", "frame.bay", "greater than zero"),
    ('bay = "8.75 ft"', "bay = inf", "frame.bay", "not a length"),
    ('bay = "8.75 ft"', 'bay = "8,75 ft"', "frame.bay", "8.75 ft"),
    ('bay = "8.75 ft"', "", "frame", "piers_per_beam and bay, or max_bay and max_overhang"),
    ('bay = "8.75 ft"', "bay = 9\nmax_bay = 8", "frame.bay", "longer than max_bay"),
    ('["1.9 ft", "9.4 ft"]', '["9.4 ft", "1.9 ft"]', "frame.beams_at", "does not rise"),
    ('["1.9 ft", "9.4 ft"]', '["1.9 ft", "1.9 ft"]', "frame.beams_at", "does not rise"),
    ('["1.9 ft", "9.4 ft"]', "[]", "frame.beams_at", "not a list"),
    ('["1.9 ft", "9.4 ft"]', '"1.9 ft"', "frame.beams_at", "not a list"),
    ('["1.9 ft", "9.4 ft"]', '["1.9 ft", "nine"]', "frame.beams_at", "not a length"),
    ('post_pipe = "NPS 2 sch 40"', "", "frame.post_pipe", "post_od"),
    ('beam_pipe = "NPS 2 sch 40"', "", "frame.beam_pipe", "beam_od"),
    ("[frame]", '[frame]\npost_wall = "0.2 in"', "frame.post_wall", "post_od beside it"),
    ("[frame]", '[frame]\nbeam_od = "2 in"\nbeam_wall = "1.1 in"', "frame.beam_wall", "two walls do not fit"),
    ("[pipe]", "[pipe]\nuseful_drop = -1", "pipe.useful_drop", "greater than zero"),
    ("[pipe]", '[pipe]\nuseful_drop = "some"', "pipe.useful_drop", "not a length"),
    ('line = ["P1", "P2"]', 'line = ["P1", "P9"]', "place.line", "Did you mean P"),
    ('line = ["P1", "P2"]', 'line = ["P1", "p1"]', "place.line", "from a point to itself"),
    ('line = ["P1", "P2"]', 'line = ["P1"]', "place.line", "not a list of enough"),
    ('line = ["P1", "P2"]', 'line = ["P1", "P2", "G1"]', "place.line", "3 points"),
    ('station = "12 ft"\n', "", "place.station", "missing"),
    ('station = "12 ft"\n', "station = 1\neast = 1\n", "place", "two ways to place"),
    ('line = ["P1", "P2"]\nstation = "12 ft"\noffset = "-8 ft"', "", "place", "nothing places"),
    ('line = ["P1", "P2"]\nstation = "12 ft"\noffset = "-8 ft"', "east = 0", "place.north", "missing"),
    ("[place]", '[place]\npier = "C1"', "place.pier", "letters A to B, numbers 1 to 5"),
    ("[place]", '[place]\npier = "A6"', "place.pier", "no pier of this array"),
    ("[fit]", '[fit]\nbeams = "sloping"', "fit.max_cross_slope", "no default"),
    ("[fit]", '[fit]\nbeams = "slooping"', "fit.beams", "Did you mean sloping?"),
    ('above_grade_max = "8 ft"', 'above_grade_max = "19 in"', "fit.above_grade_min", "greater than"),
    ('clearance = "22 in"', 'clearance = "22 in"\nhighest = "22 in"', "fit.highest", "not above"),
    ("[footing]", "[fotting]", "fotting", "Did you mean footing?"),
    ('embedment = "4 ft"', "", "footing.embedment", "missing"),
    ('stock = [ { length = "21 ft", price = 118.00 } ]', "", "pipe.stock", "missing"),
    ('[ { length = "21 ft", price = 118.00 } ]', "[]", "pipe.stock", "empty list"),
    ('[ { length = "21 ft", price = 118.00 } ]', '["21 ft"]', "pipe.stock", "not a table"),
    ("price = 118.00", "price = -1", "pipe.stock.price", "zero or greater"),
    ("price = 118.00", "price = inf", "pipe.stock.price", "not a number"),
    ("price = 118.00", 'use = "posts"', "pipe.stock.use", "Did you mean post?"),
    (', north = "true"', "", "control.azimuth.north", "missing"),
    ('north = "true"', 'north = "magnetic"', "site.latitude", "magnetic north"),
    ('north = "true"', 'north = "grid"', "site.grid", "grid north"),
    ('to = "P2"', 'to = "P1"', "control.azimuth.to", "the same point"),
    ('point = "BM1"', 'point = "BM2"', "control.benchmark.point", "Did you mean BM1?"),
    ('units = "ft"', 'units = "feet"', "site.units", "read as metres"),
    ('units = "ft"', "", "site.units", "nothing says"),
    ('name = "Yard"', "date = 3", "site.date", "not a date"),
    ('name = "Yard"', "date = 2026-10-03T10:00:00", "site.date", "not a date"),
    ('name = "Yard"', 'date = "2026-02-30"', "site.date", "no such day"),
    ('name = "Yard"', "latitude = 90.5", "site.latitude", "-90 to 90"),
    ('name = "Yard"', 'latitude = "-40 N"', "site.latitude", "at once"),
    ('name = "Yard"', 'longitude = "75 N"', "site.longitude", "not degrees"),
    ('name = "Yard"', 'show = "inches"', "site.show", "feet-inches"),
    ("[pipe]", "[accuracy]\nrod = 0\n[pipe]", "accuracy.rod", "greater than zero"),
    ("[pipe]", "[accuracy]\nangle = 0\n[pipe]", "accuracy.angle", "greater than zero"),
    ("[pipe]", '[accuracy]\nrod = "1.5 mn"\n[pipe]', "accuracy.rod", "not a length"),
]


@pytest.mark.parametrize(("old", "new", "key", "text"), KEYS)
def test_a_wrong_key_is_told_with_its_dotted_name(tmp_path, old, new, key, text):
    assert old in JOB
    found = mistakes_of(tmp_path, {"job.toml": JOB.replace(old, new, 1)})
    at_key = [mistake for mistake in found if (mistake.file, mistake.column) == ("job.toml", key)]
    assert len(at_key) == 1, found
    assert text in str(at_key[0])
    assert "key " + key in str(at_key[0])


def test_a_count_below_one_does_not_make_the_pier_wrong_too(tmp_path):
    # 2026-11-28: piers_per_beam = 0 said of A1 "expected letters A to B, numbers 1 to 0".
    for count in (0, -1):
        job = JOB.replace("piers_per_beam = 5", f"piers_per_beam = {count}")
        found = mistakes_of(tmp_path, {"job.toml": job})
        assert places(found) == [("job.toml", None, "frame.piers_per_beam")]


def test_the_unit_is_told_first_and_the_rest_goes_on(tmp_path):
    job = JOB.replace('units = "ft"', 'units = "feet"').replace("tilt = 28", "tilt = 95")
    found = mistakes_of(tmp_path, {"job.toml": job, "levels.csv": LEVELS.replace("4.31", "x")})
    assert places(found) == [
        ("job.toml", None, "site.units"),
        ("job.toml", None, "array.tilt"),
        ("levels.csv", 3, "is"),
    ]


@pytest.mark.parametrize("name", ["array", "frame", "place", "fit", "footing", "pipe"])
def test_a_missing_table_is_told_for_a_plan_only(tmp_path, name):
    head, _, rest = JOB.partition(f"[{name}]")
    _, mark, tail = rest.partition("\n[")
    text = head + mark.lstrip() + tail
    (mistake,) = [one for one in mistakes_of(tmp_path, {"job.toml": text}) if one.column == name]
    assert f"[{name}] is missing" in mistake.problem
    assert mistakes_of(tmp_path, {"job.toml": text}, purpose="check") == []


SYNTAX = [
    ('bay = "67 1/8""', "67 1/8 in"),
    ("bay = 8.75 ft", "double quotes"),
    ("bay = 8,75", "decimal point"),
    ("bay = “8.75 ft”", "straight"),
    ("beams = level", "Put words in double quotes"),
    ('bay = "8 ft', None),
]


@pytest.mark.parametrize(("line", "remedy"), SYNTAX)
def test_what_is_not_toml_is_told_with_its_line(line, remedy):
    (mistake,) = told(f'[site]\nunits = "ft"\n[frame]\n{line}\n[fit]\n')
    assert (mistake.file, mistake.row) == ("job.toml", 4)
    assert mistake.read == line
    assert remedy is None or remedy in mistake.remedy


@pytest.mark.parametrize(
    "text", ["a = 1\na = 2", "[site]\n[site]", "x = " + "9" * 5000, "x = " + "[" * 5000, "\0", "[site"]
)
def test_no_text_of_a_job_escapes(text):
    assert len(told(text)) >= 1


@pytest.mark.parametrize(
    "data",
    [
        "",
        "site = 3",
        "arrays = 3",
        "[[site]]",
        "control = []",
        "accuracy = 'x'",
        "[[arrays]]\n[arrays.frame]\nbeams_at=3",
    ],
)
def test_no_shape_of_a_job_escapes(data):
    assert len(told(data)) >= 1


def test_a_job_saved_by_an_editor_with_a_mark_or_in_utf16():
    for data in (
        JOB.encode("utf-8-sig"),
        b"\xff\xfe" + JOB.encode("utf-16-le"),
        JOB.replace("\n", "\r\n").encode(),
    ):
        assert read_job(data, for_plan=True).job == read_job(JOB.encode(), for_plan=True).job


TWO = (
    JOB.split("[array]", maxsplit=1)[0]
    + JOB[JOB.index("[frame]") : JOB.index("[place]")]
    + JOB[JOB.index("[fit]") :]
    + """
[array]
azimuth = 172
tilt = 28
modules_along = 7
modules_up = 3
module = { along = "66.9 in", up = "44.1 in" }
[[arrays]]
name = "north"
place = { east = 0, north = 30 }
[[arrays]]
name = "south"
array = { azimuth = 180, tilt = 20, modules_along = 2, modules_up = 2, module = { along = 5, up = 3 } }
fit = { above_grade_min = 1, above_grade_max = 9, clearance = 2 }
[arrays.place]
pier = "b2"
line = ["P1", "P2"]
station = 1
offset = 2
[arrays.frame]
piers_per_beam = 3
bay = 8
beams_at = [1, 3, 5]
stack = 0
takeout = 0
post_od = "60.3 mm"
beam_od = "60.3 mm"
"""
)


def test_several_arrays_take_what_they_lack_from_the_top(tmp_path):
    north, south = read_yard(
        tmp_path, {"job.toml": TWO, "levels.csv": LEVELS.replace("A1", "South-c3")}
    ).job.arrays
    assert (north.name, south.name) == ("north", "south")
    assert (north.frame.piers_per_beam, south.frame.piers_per_beam) == (5, 3)
    assert math.degrees(north.array.azimuth_rad) == pytest.approx(172)
    assert math.degrees(south.array.azimuth_rad) == pytest.approx(180)
    assert north.fit.above_grade_min_m == pytest.approx(20 * INCH)
    assert south.fit.above_grade_min_m == pytest.approx(FOOT)
    assert (north.place.pier, south.place.pier) == ("A1", "B2")
    assert south.frame.post_od_m == pytest.approx(0.0603)


def test_piers_of_several_arrays_bear_their_names(tmp_path):
    book = read_yard(tmp_path, {"job.toml": TWO, "levels.csv": LEVELS.replace("A1", "South-c3")})
    assert book.levels[3].point == "south-C3"


ARRAYS_WRONG = [
    ('name = "south"', 'name = "North"', "arrays.North.name", "two arrays"),
    ('name = "south"\n', "", "arrays.2.name", "missing"),
    ('name = "south"', 'name = "a/b"', "arrays.a/b.name", "not a name"),
    ("place = { east = 0, north = 30 }", "", "arrays.north.place", "neither this table nor [place]"),
    ("bay = 8\n", "", "arrays.south.frame", "piers_per_beam and bay"),
    ("takeout = 0\n", "takeoff = 0\n", "arrays.south.frame.takeoff", "Did you mean takeout?"),
    ('name = "north"', 'name = "north"\ntilt = 5', "arrays.north.tilt", "It belongs in [array]"),
    ('pier = "b2"', 'pier = "D1"', "arrays.south.place.pier", "letters A to C"),
]


@pytest.mark.parametrize(("old", "new", "key", "text"), ARRAYS_WRONG)
def test_a_wrong_key_of_one_of_several_arrays(tmp_path, old, new, key, text):
    assert old in TWO
    found = mistakes_of(tmp_path, {"job.toml": TWO.replace(old, new, 1)})
    at_key = [mistake for mistake in found if mistake.column == key]
    assert len(at_key) == 1, found
    assert text in str(at_key[0])


def test_a_shared_table_with_a_mistake_is_told_once(tmp_path):
    found = mistakes_of(tmp_path, {"job.toml": TWO.replace("tilt = 28", "tilt = 98")})
    assert places(found) == [("job.toml", None, "array.tilt")]


def test_one_array_in_the_list_has_no_name(tmp_path):
    head, _, rest = TWO.partition("[[arrays]]")
    one = head + "[[arrays]]" + rest.split("[[arrays]]", maxsplit=1)[0]
    (array,) = read_yard(tmp_path, {"job.toml": one}).job.arrays
    assert array.name == ""
