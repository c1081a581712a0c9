"""Tables to records, metres and radians; files that are missing, strange or unreadable."""

from __future__ import annotations

import dataclasses
import math
import sys

import pytest
from written_yard import JOB, LEVELS, TAPES, mistakes_of, places, read_yard, write_yard

from staking.base.errors import Mistake, WrongInput
from staking.book import records
from staking.book.folder import fingerprint, read_book
from staking.book.tables import TABLES

FOOT = 0.3048
NORTHS = 'latitude = 40\nlongitude = -75\ndate = 2026-10-03\ngrid = "EPSG:32618"\n'
JOB_WITH_NORTHS = JOB.replace('tape_how = "level"', 'tape_how = "level"\n' + NORTHS)


def test_a_level_book(tmp_path):
    book = read_yard(tmp_path)
    first, _, _, stake, turning, _, last = book.levels
    assert first.bs_m == pytest.approx(5.12 * FOOT, abs=1e-12)
    assert first.dist_m == pytest.approx(30 * FOOT, abs=1e-12)
    assert first.is_m is None
    assert first.fs_m is None
    assert (first.row, first.table, first.note) == (2, "levels.csv", "bolt in the slab")
    assert first.read == {"point": "BM1", "bs": "5.12", "dist": "30", "note": "bolt in the slab"}
    assert (stake.point, stake.row) == ("A1", 5)
    assert turning.bs_m == pytest.approx(4.87 * FOOT, abs=1e-12)
    assert turning.fs_m == pytest.approx(4.02 * FOOT, abs=1e-12)
    assert last.fs_m == pytest.approx(5.97 * FOOT, abs=1e-12)
    assert book.warnings == ()


def test_how_comes_from_the_row_else_from_the_site(tmp_path):
    book = read_yard(tmp_path)
    assert [row.how for row in book.tapes] == ["level", "level", "slope"]


def test_zero_is_a_reading(tmp_path):
    book = read_yard(
        tmp_path, {"levels.csv": LEVELS.replace("4.31", "0"), "rises.csv": "from,to,rise\nP1,P2,0\n"}
    )
    assert book.levels[1].is_m == 0.0
    assert book.rises[0].rise_m == 0.0


ONE_ROW = [
    (
        "rises",
        "from,to,rise,sd",
        "P1,P2,-0.73,0.02",
        "rises",
        {"start": "P1", "rise_m": -0.73 * FOOT, "sd_m": 0.02 * FOOT},
    ),
    (
        "offsets",
        "point,from,to,station,offset,how",
        "G1,P1,P2,24.0,-12.5,slope",
        "offsets",
        {
            "point": "G1",
            "start": "P1",
            "to": "P2",
            "station_m": 24 * FOOT,
            "offset_m": -12.5 * FOOT,
            "how": "slope",
        },
    ),
    (
        "angles",
        "at,from,to,angle,sd",
        "P1,G1,P2,45°12',0.5",
        "angles",
        {"at": "P1", "start": "G1", "to": "P2", "angle_rad": math.radians(45.2), "sd_rad": math.radians(0.5)},
    ),
    (
        "bearings",
        "from,to,bearing,north",
        "P1,P2,S 10-30-00 W,magnetic",
        "bearings",
        {"start": "P1", "to": "P2", "bearing_rad": math.radians(190.5), "north": "magnetic"},
    ),
    (
        "fixes",
        "point,lat,lon,height,height_kind,sd_h,sd_v,session",
        "P1,40.125,75.25 W,215.3 m,Ellipsoidal,5 mm,10 mm,noon",
        "fixes",
        {
            "lat_rad": math.radians(40.125),
            "lon_rad": math.radians(-75.25),
            "height_m": 215.3,
            "height_kind": "ellipsoidal",
            "sd_h_m": 0.005,
            "sd_v_m": 0.01,
            "session": "noon",
        },
    ),
    (
        "control",
        "point,east,north,elevation,sd_east,sd_north,sd_elevation",
        "P1,10,,0,0.1,,",
        "control_points",
        {
            "east_m": 10 * FOOT,
            "north_m": None,
            "elevation_m": 0.0,
            "sd_east_m": 0.1 * FOOT,
            "sd_north_m": None,
        },
    ),
    (
        "points",
        "point,kind,side,ground",
        "P1,pin,Right,no",
        "points",
        {"kind": "pin", "side": "right", "ground": False},
    ),
    ("points", "point,kind,side,ground", "P1,,,", "points", {"kind": None, "side": None, "ground": None}),
    ("staked", "pier,east,north", "a1,12.28,-7.58", "staked", {"pier": "A1", "east_m": 12.28 * FOOT}),
    (
        "lines",
        "line,kind,points,setback,height",
        "wire,overhead,P1 g1 P2,10,18",
        "lines",
        {"line": "wire", "points": ("P1", "G1", "P2"), "setback_m": 10 * FOOT, "height_m": 18 * FOOT},
    ),
    ("lines", "line,kind,points", "shed,no build,P1 G1 P2", "lines", {"kind": "no_build", "setback_m": None}),
    (
        "built",
        "pier,top,rod,hi,east,north,hole_depth",
        "A1,,1.84,105.12,,,4.5",
        "built",
        {"top_m": None, "rod_m": 1.84 * FOOT, "hi_m": 105.12 * FOOT, "hole_depth_m": 4.5 * FOOT},
    ),
    ("lost", "point", "G1", "lost", {"point": "G1"}),
]


@pytest.mark.parametrize(("table", "header", "row", "attribute", "expected"), ONE_ROW)
def test_a_row_of_each_table(tmp_path, table, header, row, attribute, expected):
    files = {"job.toml": JOB_WITH_NORTHS, f"{table}.csv": f"{header},note\n{row},why\n"}
    book = read_yard(tmp_path, files)
    (record,) = getattr(book, attribute)
    assert (record.table, record.row, record.note) == (f"{table}.csv", 2, "why")
    for name, value in expected.items():
        read = getattr(record, name)
        assert read == (pytest.approx(value, abs=1e-12) if isinstance(value, float) else value), name


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_declared_columns_are_the_records_fields(table):
    fields = {field.name for field in dataclasses.fields(table.record)} - {"table", "row", "read"}
    assert {column.attribute for column in table.columns} == fields
    assert table.attribute in {field.name for field in dataclasses.fields(records.FieldBook)}


def test_columns_in_any_order_case_and_with_empty_ones_behind(tmp_path):
    text = "Note,LENGTH ,To,From,How,,\nx,60.00,P2,P1,level,,\n,33,G1,P1,level,,,,,\n"
    book = read_yard(tmp_path, {"tapes.csv": text})
    assert [(row.start, row.to, row.note) for row in book.tapes] == [("P1", "P2", "x"), ("P1", "G1", "")]


HEADERS = [
    ("from,to,lenght,how", "lenght", "length"),
    ("from,to,length,length", "length", "Keep one"),
    ("from,to,how", "length", None),
    ("from,to,length,units", "units", "Known are from, to, length"),
]


@pytest.mark.parametrize(("header", "column", "remedy"), HEADERS)
def test_a_wrong_header_is_told_once(tmp_path, header, column, remedy):
    found = mistakes_of(tmp_path, {"tapes.csv": f"{header}\nP1,P2,level,60\n"}, purpose="check")
    at_column = [mistake for mistake in found if (mistake.row, mistake.column) == (1, column)]
    assert len(at_column) == 1
    if remedy:
        assert remedy in at_column[0].remedy


def test_a_first_row_of_readings_is_no_header(tmp_path):
    (found,) = mistakes_of(tmp_path, {"tapes.csv": "P1,P2,60,level\n"}, purpose="check")
    assert (found.row, found.problem) == (1, "the first row does not name the columns")


@pytest.mark.parametrize("text", ["", "\n\n", "# only a remark\n", ",,,\n"])
def test_an_empty_file_is_told(tmp_path, text):
    (found,) = mistakes_of(tmp_path, {"tapes.csv": text}, purpose="check")
    assert found.file == "tapes.csv"
    assert "empty" in found.problem


ROWS = [
    ("P1,P2,60,level,note,more", None, "6 cells under 5 columns"),
    ("P1,P2,60,level,,,", None, None),
    ("P1,P2", "length", "nothing there"),
    (",P2,60,level", "from", "nothing there"),
    ("P1,P2,-60,level", "length", "greater than zero"),
    ("P1,P2,0,level", "length", "greater than zero"),
    ("P1,p1 ,60,level", "to", "the same point as in column from"),
    ('P1,P2,"60,5",level', "length", "write 60.5 if"),
    ("P1,P2,sixty,level", "length", "not a length"),
    ("P1,P2,12-Jun,level", "length", "a date, not a length"),
    ("P1,P2,nan,level", "length", "not a length"),
    ("P1,P2,1e5,level", "length", "last digits"),
    (f"P1,P2,{'9' * 400},level", "length", "longer than"),
    ("P1,P2,60,levle", "how", "Did you mean level?"),
    ("#REF!,P2,sixty,level", "length", "not a length"),
]


@pytest.mark.parametrize(("row", "column", "problem"), ROWS)
def test_a_wrong_row_is_told_with_its_place(tmp_path, row, column, problem):
    found = mistakes_of(
        tmp_path, {"tapes.csv": f"from,to,length,how,note\n# remark\n\n{row}\n"}, purpose="check"
    )
    if problem is None:
        assert found == []
        return
    (mistake,) = found
    assert (mistake.file, mistake.row, mistake.column) == ("tapes.csv", 4, column)
    assert problem in str(mistake)


def test_a_decimal_comma_between_semicolons_is_asked_about(tmp_path):
    text = "from;to;length;how\nP1;P2;60,25;level\n"
    (mistake,) = mistakes_of(tmp_path, {"tapes.csv": text}, purpose="check")
    assert (mistake.row, mistake.column, mistake.read) == (2, "length", "60,25")
    assert "60.25" in str(mistake)
    assert "6025" in str(mistake)


def test_a_cell_under_a_column_without_a_name(tmp_path):
    text = "from,to,length,how,,\nP1,P2,60,level,,\nP1,P2,60,level,,late\n"
    (mistake,) = mistakes_of(tmp_path, {"tapes.csv": text}, purpose="check")
    assert (mistake.row, mistake.read) == (3, "late")
    assert "column 6, which has no name" in mistake.problem


def test_how_that_nobody_says_is_told_row_by_row(tmp_path):
    job = JOB.replace('tape_how = "level"\n', "")
    found = mistakes_of(tmp_path, {"job.toml": job, "tapes.csv": TAPES.replace("level", "")})
    assert places(found) == [("tapes.csv", 2, "how"), ("tapes.csv", 3, "how")]
    assert "tape_how" in found[0].remedy


@pytest.mark.parametrize(
    "job", [JOB.replace('"level"', '"lvl"'), JOB.replace('name = "Yard"', "latitude = 99"), "units = ft"]
)
def test_a_job_with_mistakes_makes_no_mistakes_of_rows(tmp_path, job):
    found = mistakes_of(tmp_path, {"job.toml": job})
    assert {mistake.file for mistake in found} == {"job.toml"}
    assert len(found) == 1


def test_all_mistakes_of_all_files_come_at_once_in_order(tmp_path):
    files = {
        "job.toml": JOB.replace("tilt = 28", "tilt = 95").replace("bay =", "bai ="),
        "levels.csv": LEVELS.replace("4.31", "4.3l"),
        "tapes.csv": TAPES.replace("33.42", "").replace("slope", "slop"),
        "level.csv": "point\n",
    }
    found = mistakes_of(tmp_path, files)
    assert [mistake.file for mistake in found] == [
        *["job.toml"] * 2,
        "levels.csv",
        *["tapes.csv"] * 2,
        "level.csv",
    ]
    assert [mistake.row for mistake in found] == [None, None, 3, 3, 4, None]


def test_no_such_folder(tmp_path):
    with pytest.raises(WrongInput, match="no such folder"):
        read_book(tmp_path / "nowhere")
    file = tmp_path / "job.toml"
    file.write_text(JOB)
    with pytest.raises(WrongInput, match="a file, not a folder"):
        read_book(file)


def test_a_folder_without_job(tmp_path):
    found = mistakes_of(tmp_path, {"job.toml": None, "jobs.toml": JOB})
    assert places(found) == [("job.toml", None, None)]
    assert found[0].remedy == "Rename jobs.toml to job.toml"


STRANGERS = [
    ("level.csv", "Did you mean levels.csv?"),
    ("tape.csv", "Did you mean tapes.csv?"),
    ("levels2.csv", "Did you mean levels.csv?"),
    ("rises.txt", "Save it as rises.csv"),
    ("angles.xlsx", "Save it as angles.csv"),
    ("angles.csv.csv", "Save it as angles.csv"),
]


@pytest.mark.parametrize(("name", "remedy"), STRANGERS)
def test_a_file_whose_name_is_a_slip_is_told(tmp_path, name, remedy):
    (mistake,) = mistakes_of(tmp_path, {name: "x"})
    assert mistake.file == name
    assert remedy in mistake.remedy


def test_other_files_are_left_alone(tmp_path):
    others = ["README.md", "truth.toml", "piers.csv", "stakes.csv", "cuts.csv", ".levels.csv", "~$levels.csv"]
    book = read_yard(tmp_path, dict.fromkeys([*others, "photo.jpg", "levels.txt"], "x"))
    assert book.warnings == ()


def test_a_table_of_an_unlike_name_is_not_read_and_that_is_said(tmp_path):
    book = read_yard(tmp_path, {"weather.csv": "x"})
    assert book.warnings == ("weather.csv was not read: there is no table of this name.",)


def test_names_of_files_are_read_without_case(tmp_path):
    book = read_yard(tmp_path, {"levels.csv": None, "Levels.CSV": LEVELS})
    assert len(book.levels) == 7
    (mistake,) = mistakes_of(tmp_path, {"levels.csv": LEVELS})
    assert "two files of this name" in mistake.problem


def test_a_folder_in_place_of_a_table_is_told(tmp_path):
    (tmp_path / "rises.csv").mkdir()
    found = mistakes_of(tmp_path)
    assert "cannot be read" in found[0].problem


def test_the_fingerprint_follows_every_byte_and_name(tmp_path):
    book = read_yard(tmp_path)
    assert len(book.fingerprint) == 12
    assert int(book.fingerprint, 16) >= 0
    assert read_book(write_yard(tmp_path)).fingerprint == book.fingerprint
    assert read_yard(tmp_path, {"tapes.csv": TAPES + "\n"}).fingerprint != book.fingerprint
    assert read_yard(tmp_path, {"notes.md": "x", "tapes.csv": TAPES}).fingerprint == book.fingerprint
    assert fingerprint({"a": b"bc"}) != fingerprint({"ab": b"c"})
    assert fingerprint({"a": b"1", "b": b"2"}) == fingerprint({"b": b"2", "a": b"1"})
    # from another program: printf 'a\0001\000b' | sha256sum
    assert fingerprint({"a": b"b"}) == "a3bd839132d2"


def test_reading_needs_no_heavy_library():
    import subprocess

    heavy = "{'numpy', 'scipy', 'shapely', 'pyproj'}"
    code = f"import sys, staking.book.folder; print(sorted({heavy} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


OFFSETS = "point,from,to,station,offset,how\n" + "".join(f"G{k},P1,P2,{k},4,level\n" for k in range(1, 6))


@pytest.mark.parametrize(
    ("heading", "column", "says"),
    [
        ("point,from,to,station,offset", "how", "here and in all 4 rows below"),
        ("point,from,to,station,offset,", None, "which has no name"),
        ("point,from,to,,offset,how", "station", "this column is missing"),
        ("from,to,station,offset,how", "point", "this column is missing"),
    ],
)
def test_a_heading_that_is_wrong_is_one_mistake(tmp_path, heading, column, says):
    """2026-11-28: one for every row."""
    rows = OFFSETS.splitlines()[1:]
    if heading.count(",") == 4:
        rows = [row.rpartition(",")[0] if column == "how" else row.partition(",")[2] for row in rows]
    job = JOB.replace('tape_how = "level"', "")
    table = "\n".join([heading, *rows]) + "\n"
    tapes = TAPES.replace(",,", ",level,")
    mistakes = [
        one
        for one in mistakes_of(tmp_path, {"job.toml": job, "tapes.csv": tapes, "offsets.csv": table})
        if one.file == "offsets.csv"
    ]
    assert [(one.column, says in one.problem) for one in mistakes] == [(column, True)]


@pytest.mark.parametrize("how", [("how,", ",", "slope,"), ("", "", "")])
def test_a_tape_with_its_own_rise_needs_no_how(tmp_path, how):
    # 2026-11-28: docs/control.md had "how = slope or blank", and a blank was refused.
    heading, blank, slope = how
    origin = 'origin = { point = "P1", east = 0, north = 0 }'
    (tmp_path / "job.toml").write_text(f'[site]\nunits = "m"\n[control]\n{origin}\n')
    rows = f"from,to,length,{heading}tape_rise,tape_slope\nP1,P2,20,{blank}1.5,\nP2,P3,20,{blank},3\n"
    (tmp_path / "tapes.csv").write_text(rows)
    assert [row.how for row in read_book(tmp_path, purpose="check").tapes] == ["slope", "slope"]
    (tmp_path / "tapes.csv").write_text(rows + f"P3,P1,20,{blank},\nP3,P1,20,{slope},\n")
    with pytest.raises(WrongInput, match=r"row 4.*nothing says whether the tape"):
        read_book(tmp_path, purpose="check")


def test_what_was_read_is_told_by_its_beginning():
    # 2026-11-28: a file of another kind, one line of 100,000 signs, was printed whole.
    told = str(Mistake(file="levels.csv", row=1, read="[" * 100_000, problem="no columns"))
    assert len(told) < 300
    assert told.endswith("and 99800 signs more")
