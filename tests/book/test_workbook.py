"""A survey in a workbook: what a folder gives, it gives; its mistakes are told by sheet and cell."""

import csv
import datetime
import json
import random
import shutil
import sys
from dataclasses import fields
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter

from staking.base.errors import WrongInput
from staking.book.folder import read_book
from staking.book.jobsheet import read_job_sheet, row_of
from staking.book.keys import SECTIONS, Key
from staking.book.sheetcells import cell_text, sheet_rows
from staking.book.sheetvalues import letters
from staking.book.tables import TABLES
from staking.book.workbook import read_workbook
from staking.book.workbook_files import filling_of, write_workbook
from staking.book.workbook_starter import workbook_bytes
from staking.cli import main
from staking.plan import planned
from staking.results import results

SAMPLES = Path(__file__).parents[2] / "sample_surveys"
NAMES = sorted(path.parent.name for path in SAMPLES.glob("*/job.toml"))
BY_LIBREOFFICE = Path(__file__).parent / "data" / "cross_fall_libreoffice.xlsx"
"""`staking new --from sample_surveys/cross_fall`, opened and saved as .xlsx by LibreOffice 7.4.7.2."""


def _run(*arguments):
    with pytest.raises(SystemExit) as done:
        main([str(argument) for argument in arguments])
    return done.value.code or 0


def _results(survey):
    found = results(planned(read_book(survey)))
    found.pop("fingerprint")  # of the bytes of other files
    return json.dumps(found)


def _filled(tmp_path, folder, **changes):
    """A workbook of a folder with some cells replaced, by sheet and cell: levels={"B3": 5.1}."""
    path = write_workbook(tmp_path / "survey", units="ft", folder=folder)
    book = openpyxl.load_workbook(path)
    for sheet, cells in changes.items():
        if sheet not in book.sheetnames:
            book.create_sheet(sheet)
        for cell, value in cells.items():
            book[sheet][cell].value = value
            if isinstance(value, (datetime.date, datetime.time)):
                book[sheet][cell].number_format = "d-mmm" if isinstance(value, datetime.date) else "hh:mm"
    book.save(path)
    return path


def _mistakes(survey, purpose="plan"):
    with pytest.raises(WrongInput) as caught:
        read_book(survey, purpose=purpose)
    return [str(mistake) for mistake in caught.value.mistakes]


@pytest.mark.parametrize("name", NAMES)
def test_a_workbook_gives_the_results_of_its_folder(tmp_path, name):
    path = write_workbook(tmp_path / "survey", units="m", folder=SAMPLES / name)
    assert path.name == "survey.xlsx"
    by_folder, by_workbook = read_book(SAMPLES / name), read_book(path)
    for one in fields(by_folder):
        if one.name != "fingerprint":
            assert getattr(by_folder, one.name) == getattr(by_workbook, one.name), one.name
    assert _results(path) == _results(SAMPLES / name)


def test_a_workbook_that_libreoffice_saved_gives_the_same_results():
    assert _results(BY_LIBREOFFICE) == _results(SAMPLES / "cross_fall")


def test_numbers_typed_as_numbers_are_read_as_typed(tmp_path):
    """A spreadsheet keeps 1.725 as a binary fraction; read back it is 1.725 and not 1.72500000000000009."""
    path = tmp_path / "numbers.xlsx"
    workbook = xlsxwriter.Workbook(path)
    filling = filling_of(SAMPLES / "hand_check")
    source = openpyxl.load_workbook(
        write_workbook(tmp_path / "text", units="m", folder=SAMPLES / "hand_check")
    )
    job = workbook.add_worksheet("job")
    for i, row in enumerate(source["job"].iter_rows(values_only=True)):
        for j, value in enumerate(row[:2]):
            job.write(i, j, value)
    for name, rows in filling.tables.items():
        sheet = workbook.add_worksheet(name)
        for row in rows:
            for j, cell in enumerate(row.cells):
                number = cell.replace(".", "", 1).replace("-", "", 1).isdigit()
                if cell:
                    sheet.write(row.row - 1, j, float(cell) if number else cell)
    workbook.close()
    assert _results(path) == _results(SAMPLES / "hand_check")


def test_the_same_input_gives_the_same_bytes():
    assert workbook_bytes(units="ft") == workbook_bytes(units="ft")
    filling = filling_of(SAMPLES / "cross_fall")
    assert workbook_bytes(units="ft", filling=filling) == workbook_bytes(units="ft", filling=filling)


@pytest.fixture(scope="module")
def blank(tmp_path_factory):
    path = tmp_path_factory.mktemp("blank") / "blank.xlsx"
    path.write_bytes(workbook_bytes(units="ft"))
    return openpyxl.load_workbook(path)


def test_a_blank_workbook_has_a_sheet_a_table_and_one_for_the_decisions(blank):
    assert blank.sheetnames == ["read me", "job", *(table.name for table in TABLES)]
    for table in TABLES:
        heads = [cell.value for cell in blank[table.name][1] if cell.value]
        assert heads == [column.name for column in table.columns]


def test_units_and_an_example_stand_in_every_table(blank):
    for table in TABLES:
        told = [cell.value for cell in blank[table.name][2]]
        assert told[0].startswith("# ")
        for column, text in zip(table.columns, told, strict=True):
            assert (", ft" in text) == (column.kind.unit == "survey's units"), column.name
        example = [cell.value for cell in blank[table.name][3]]
        for column, text in zip(table.columns, example, strict=True):
            assert bool(text) == bool(column.examples and column.examples[0]), (table.name, column.name)


def test_words_have_drop_downs_from_their_declarations(blank):
    for table in TABLES:
        rules = {}
        for rule in blank[table.name].data_validations.dataValidation:
            if rule.type == "list":
                letter = str(rule.sqref).split(":")[0].rstrip("0123456789")
                rules[letter] = rule.formula1.strip('"').split(",")
        wanted = {
            letters(i): list(column.kind.choices)
            for i, column in enumerate(table.columns)
            if column.kind.choices
        }
        assert rules == wanted, table.name
        for i, column in enumerate(table.columns):
            if column.kind.word.startswith("one of"):
                assert letters(i) in rules, column.name


def test_cells_to_type_in_are_text(blank):
    for table in TABLES:
        formats = {}
        for one in blank[table.name].column_dimensions.values():
            formats |= dict.fromkeys(range(one.min, one.max + 1), one.number_format)
        assert [formats[i + 1] for i in range(len(table.columns))] == ["@"] * len(table.columns)


def test_every_key_has_its_row(blank):
    keys = [row[0].value for row in blank["job"].iter_rows(min_row=2)]

    def names(section, front):
        for key in section.keys:
            if isinstance(key, Key):
                yield f"{front}.{key.name}"
            elif section.name != "arrays":
                yield from names(key, f"{front}.{key.name}" + (".1" if key.several else ""))

    for section in SECTIONS:
        if section.name != "arrays":
            assert set(names(section, section.name)) <= set(keys)


@pytest.mark.parametrize(
    ("number", "text"), [(0, "A"), (25, "Z"), (26, "AA"), (51, "AZ"), (52, "BA"), (701, "ZZ")]
)
def test_columns_have_a_spreadsheets_letters(number, text):
    assert letters(number) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, ""),
        (5.0, "5"),
        (5.43, "5.43"),
        (0.1 + 0.2, "0.3"),
        (-0.0, "0"),
        (1e-7, "0.0000001"),
        (123456789.125, "123456789.125"),
        (True, "yes"),
        (" 5\u00a0ft ", "5 ft"),
        (datetime.date(2026, 10, 3), "2026-10-03"),
        (datetime.datetime(2026, 10, 3), "2026-10-03"),
        (datetime.time(15, 50), "15:50"),
        (datetime.time(15, 50, 5), "15:50:05"),
        (datetime.timedelta(hours=30, minutes=5), "30:05"),
    ],
)
def test_cells_are_read_as_typed(value, text):
    assert cell_text(value) == text


def test_a_date_is_explained_where_none_belongs(tmp_path):
    path = _filled(
        tmp_path,
        SAMPLES / "hand_check",
        levels={"B2": datetime.date(2026, 12, 6), "A4": datetime.date(2026, 3, 8)},
        tapes={"C3": datetime.time(5, 6)},
    )
    told = _mistakes(path)
    assert any(
        line.startswith("survey.xlsx, sheet levels, cell B2, column bs: a date: the spreadsheet made one of")
        and "perhaps 12-6, 12/6, 6-12 or 12-26" in line
        and "Format the cell as text" in line
        for line in told
    )
    assert any(line.startswith("survey.xlsx, sheet levels, cell A4, column point: a date") for line in told)
    assert any(line.startswith("survey.xlsx, sheet tapes, cell C3, column length: a time") for line in told)


def test_a_date_is_taken_where_one_belongs(tmp_path):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLES / "hand_check", folder)
    path = _filled(tmp_path, folder)
    book = openpyxl.load_workbook(path)
    (row,) = (row for row in book["job"].iter_rows() if row[0].value == "site.date")
    row[1].value, row[1].number_format = datetime.date(2026, 10, 3), "d/m/yy"
    (bay,) = (row for row in book["job"].iter_rows() if row[0].value == "frame.bay")
    book.save(path)
    assert read_book(path).job.site.date == datetime.date(2026, 10, 3)
    bay[1].value, bay[1].number_format = datetime.date(2026, 8, 6), "d-mmm"
    book.save(path)
    told = _mistakes(path)
    assert any(f"sheet job, cell B{bay[1].row}, key frame.bay: a date" in line for line in told)


def test_all_mistakes_at_once_and_the_same_as_in_a_folder(tmp_path):
    """Each mistake of the CSV files has its twin in the workbook, with the same words."""
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLES / "hand_check", folder)
    levels = (folder / "levels.csv").read_text().replace("P2,,1.400", "P2,,1,400").replace("1.525", "abc")
    (folder / "levels.csv").write_text(levels.replace("P2,,1,400,,", "P2,,1_400,,"))
    (folder / "tapes.csv").write_text((folder / "tapes.csv").read_text().replace("level", "flat"))
    job = (folder / "job.toml").read_text()
    job = job.replace("tilt = 30", "tilt = 95").replace("bay = 1.5", "bays = 1.5")
    (folder / "job.toml").write_text(job)
    with pytest.raises(WrongInput) as caught:
        read_book(folder)
    by_folder = caught.value.mistakes
    path = write_workbook(tmp_path / "survey", units="m", folder=folder)
    with pytest.raises(WrongInput) as caught:
        read_book(path)
    by_workbook = caught.value.mistakes
    # One of `how`, which every row of tapes.csv has.
    assert len(by_folder) >= 5
    twins = [(m.column, m.read, m.problem) for m in by_folder]
    assert [(m.column, m.read, m.problem) for m in by_workbook] == twins
    for one, twin in zip(by_folder, by_workbook, strict=True):
        assert twin.file == "survey.xlsx"
        if one.file != "job.toml":
            assert f"sheet {one.file.removesuffix('.csv')}" in twin.place
            assert twin.place.endswith(str(one.row))


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"job": {"A300": "frame.bey", "B300": "2 m"}}, "sheet job, cell B300, key frame.bey: unknown key"),
        ({"job": {"A300": "frame.bay", "B300": "2 m"}}, "cell B300, key frame.bay: the same key twice"),
        ({"job": {"B300": "2 m"}}, "sheet job, row 300: a value without its key"),
        ({"job": {"A300": "frame.bay.x", "B300": "2"}}, "key frame.bay.x: frame.bay has a value of its own"),
        ({"job": {"A300": "pipe.stock.100.length", "B300": "2"}}, "numbered from 1 to 99"),
        ({"job": {"A1": "keys"}}, "sheet job, row 1: the first row does not name the columns key and value"),
        ({"level": {"A1": "point"}}, "sheet level: no table of this name. Did you mean levels?"),
        ({"levels": {"F1": "nots"}}, "sheet levels, cell F1, column nots: unknown column"),
        ({"levels": {"H5": "stray"}}, "sheet levels, row 5: a cell under column 8, which has no name"),
        ({"levels": {"C4": "#REF!"}}, "sheet levels, cell C4, column is"),
        ({"staked": {"A1": "pier", "A2": "A1"}}, "sheet staked, row 1, column east: this column is missing"),
    ],
)
def test_what_is_wrong_is_told_by_cell(tmp_path, changes, told):
    lines = _mistakes(_filled(tmp_path, SAMPLES / "hand_check", **changes))
    assert any(told in line for line in lines), lines
    assert all(line.startswith("survey.xlsx") for line in lines), lines


@pytest.mark.parametrize("cell", ["XFD1048576", "A1048576", "ZZ3"])
def test_a_cell_far_off_is_told_and_does_not_fill_the_memory(tmp_path, cell):
    (told,) = _mistakes(_filled(tmp_path, SAMPLES / "hand_check", levels={cell: "x"}))
    assert told.startswith("survey.xlsx, sheet levels: the sheet reaches to cell")
    # A sheet of one's own may be as large as one likes.
    read_book(_filled(tmp_path / "own", SAMPLES / "hand_check", shopping={cell: "x"}))


def test_a_sheet_that_is_no_table_is_a_warning(tmp_path):
    path = _filled(tmp_path, SAMPLES / "hand_check", shopping={"A1": "beer"})
    assert any("sheet shopping of survey.xlsx was not read" in text for text in read_book(path).warnings)


def test_capitals_and_blanks_in_keys_and_sheets_do_not_matter(tmp_path):
    path = _filled(tmp_path, SAMPLES / "hand_check")
    book = openpyxl.load_workbook(path)
    book["levels"].title = "other"
    book["other"].title = "Levels"
    for row in book["job"].iter_rows(min_row=2):
        if row[0].value and not row[0].value.startswith("#"):
            row[0].value = f" {row[0].value.capitalize()} "
    book.save(path)
    assert _results(path) == _results(SAMPLES / "hand_check")


ARRAYS = """
[[arrays]]
name = "north.west"
[arrays.place]
east = 2.0
north = 12.0
[[arrays]]
name = "south"
"""


def test_several_arrays_and_sticks_have_numbers(tmp_path):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLES / "hand_check", folder)
    job = (folder / "job.toml").read_text()
    job = job.replace(
        "stock = [ { length = 6.0 } ]", "stock = [ { length = 6.0 }, { length = 3.5, count = 2 } ]"
    )
    (folder / "job.toml").write_text(job + ARRAYS)
    path = write_workbook(tmp_path / "survey", units="m", folder=folder)
    assert read_book(path, purpose="check").job == read_book(folder, purpose="check").job
    sheet = read_workbook(path).job
    assert row_of(sheet, "arrays.north.west.place.east") == sheet.rows["arrays.1.place.east"]
    assert row_of(sheet, "arrays.south.name") == sheet.rows["arrays.2.name"]
    assert row_of(sheet, "pipe.stock.2.count") == sheet.rows["pipe.stock.2.count"]


def test_things_alike_may_leave_numbers_out():
    """The reader counts without gaps: the mistake still stands at the row that was typed."""
    rows = sheet_rows(
        [
            ["key", "value"],
            ["pipe.stock.1.length", ""],
            ["pipe.stock.3.length", "x"],
            ["pipe.stock.7.length", "y"],
        ]
    )
    sheet = read_job_sheet(rows)
    assert sheet.tree == {"pipe": {"stock": [{"length": "x"}, {"length": "y"}]}}
    assert row_of(sheet, "pipe.stock.1.length") == 3
    assert row_of(sheet, "pipe.stock.2.length") == 4
    assert row_of(sheet, "pipe.kerf") is None


def test_a_list_is_parted_by_semicolons():
    sheet = read_job_sheet(
        sheet_rows([["value", "key"], ["1' 9\"; 9 ft ;", "frame.beams_at"], ["P1;P2", "place.line"]])
    )
    assert sheet.tree == {"frame": {"beams_at": ["1' 9\"", "9 ft"]}, "place": {"line": ["P1", "P2"]}}


@pytest.mark.parametrize(
    ("name", "data", "told"),
    [
        ("none.xlsx", None, "No such file"),
        ("empty.xlsx", b"", "empty"),
        ("text.xlsx", b"point,bs\n", "cannot be read as a workbook"),
        ("half.xlsx", workbook_bytes(units="ft")[:9000], "cannot be read as a workbook"),
        ("old.xls", b"x", "Save it as old.xlsx"),
    ],
)
def test_what_is_no_workbook_is_told(tmp_path, capsys, name, data, told):
    path = tmp_path / name
    if data is not None:
        path.write_bytes(data)
    assert _run("plan", path, "--out", tmp_path / "out") == 2
    assert told in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_commands_take_a_workbook(tmp_path, capsys):
    path = _filled(tmp_path, SAMPLES / "hand_check")
    assert _run("plan", path, "--out", tmp_path / "out") == 0
    assert (tmp_path / "out" / "pack.pdf").is_file()
    for command in ("check", "next", "compare"):
        assert _run(command, path) == 0, command
    assert _run("shadows", BY_LIBREOFFICE) == 0
    assert capsys.readouterr().err == ""
    assert _run("import", tmp_path / "x.gpx", path) == 2
    assert "not to a workbook" in capsys.readouterr().err


def test_a_mistake_found_after_reading_is_told_by_cell_too(tmp_path, capsys):
    path = _filled(tmp_path, SAMPLES / "hand_check")
    row = read_workbook(path).job.rows["pipe.stock.1.length"]
    book = openpyxl.load_workbook(path)
    book["job"][f"B{row}"].value = "1.0 m"
    book.save(path)
    assert _run("plan", path, "--out", tmp_path / "out") == 2
    said = capsys.readouterr().err
    assert f"survey.xlsx, sheet job, cell B{row}, key pipe.stock" in said
    assert "job.toml" not in said


def test_shadows_need_the_site_alone(tmp_path, capsys):
    path = tmp_path / "site.xlsx"
    path.write_bytes(workbook_bytes(units="ft"))
    book = openpyxl.load_workbook(path)
    for row in book["job"].iter_rows(min_row=2):
        given = {"site.latitude": "40.125", "site.longitude": "-75.25", "site.date": "2026-10-03"}
        if row[0].value in given:
            row[1].value = given[row[0].value]
    book.save(path)
    assert _run("shadows", path) == 0
    assert "hold for the middle of the shadow" in " ".join(capsys.readouterr().out.split())


def test_new_writes_a_workbook_and_never_over_another(tmp_path, capsys):
    assert _run("new", tmp_path / "yard", "--workbook", "--units", "m") == 0
    assert (tmp_path / "yard.xlsx").is_file()
    assert _run("new", tmp_path / "yard.xlsx") == 2
    assert "exists already" in capsys.readouterr().err
    assert _run("new", tmp_path / "copy.xlsx", "--from", SAMPLES / "cross_fall") == 0
    assert _run("new", tmp_path / "other.xlsx", "--from", tmp_path / "nowhere") == 2
    assert [path.name for path in sorted(tmp_path.iterdir())] == ["copy.xlsx", "yard.xlsx"]


def test_results_are_a_workbook_too(tmp_path):
    """Every number of the CSV files, as a number; names as text."""
    out = tmp_path / "out"
    assert _run("plan", SAMPLES / "hand_check", "--out", out) == 0
    book = openpyxl.load_workbook(out / "results.xlsx")
    assert book.sheetnames == ["about", "stakes", "piers", "ties", "hubs", "point list", "cuts", "saw list"]
    for name in book.sheetnames[1:]:
        with (out / f"{name.replace(' ', '_')}.csv").open(encoding="utf-8") as file:
            rows = list(csv.reader(file))
        cells = [[cell.value for cell in row] for row in book[name].iter_rows()]
        rows = [row[: len(cells[0])] for row in rows]  # behind them the file's stamp
        if rows[0][-1] == "note":
            rows = [[*row[:-1], "note" if row is rows[0] else ""] for row in rows]
        assert cells[0] == rows[0]
        for got, want in zip(cells[1:], rows[1:], strict=True):
            for value, text in zip(got, want, strict=True):
                assert (value is None) == (text == "")
                if isinstance(value, (int, float)):
                    assert value == float(text)
                elif value is not None:
                    assert value == text
        numbers = [value for row in cells[1:] for value in row if isinstance(value, (int, float))]
        assert numbers
    about = {row[0].value: row[1].value for row in book["about"].iter_rows()}
    assert about["Inputs"] == read_book(SAMPLES / "hand_check").fingerprint


ODD = (
    *(None, "", " ", "#", "#REF!", "#N/A", "5,43", "5' 5-1/8\"", "1;2;3", "日本", "é\n\nü", "x" * 4000),
    *(
        1e300,
        -1e-300,
        0,
        -7,
        True,
        False,
        "=1/0",
        "=A1",
        "P1O",
        "level",
        "pipe.stock.1.length",
        "arrays.1.name",
    ),
    *("arrays.0.name", "arrays", "site", "site.units", "frame.bay.bay", "....", "[frame]", "a.b.c.d"),
    *(datetime.date(2026, 12, 6), datetime.datetime(1899, 12, 31, 3, 4), datetime.time(3, 4)),
)


@pytest.mark.parametrize("seed", range(25))
def test_whatever_stands_in_the_cells_is_read_or_told(tmp_path, seed):
    """Up to six cells replaced by odd ones, sheets renamed or gone: a book, or mistakes with their places."""
    chance = random.Random(seed)
    path = write_workbook(tmp_path / "survey", units="ft", folder=SAMPLES / "hand_check")
    book = openpyxl.load_workbook(path)
    for _ in range(chance.randint(1, 6)):
        sheet = book[chance.choice(book.sheetnames)]
        row = chance.randint(1, sheet.max_row + 2)
        column = chance.randint(1, 2 if sheet.title == "job" else sheet.max_column + 2)
        sheet.cell(row, column).value = chance.choice(ODD)
    if seed % 5 == 0:
        book.remove(book[chance.choice(book.sheetnames)])
    if seed % 7 == 0:
        book.create_sheet(chance.choice(["Levels ", "leves", "tapes2", "Sheet1"]))
    book.save(path)
    mistakes = ()
    try:
        read_book(path, purpose=chance.choice(["plan", "check", "planned"]))
    except WrongInput as wrong:
        mistakes = wrong.mistakes
    assert all(str(mistake).startswith("survey.xlsx") for mistake in mistakes), mistakes


@pytest.mark.parametrize(
    ("library", "arguments", "told"),
    [
        ("xlsxwriter", ("new", "yard", "--workbook"), "pip install XlsxWriter"),
        (
            "python_calamine",
            ("check", BY_LIBREOFFICE),
            "pip install python-calamine",
        ),
    ],
)
def test_a_library_that_is_missing_is_told(tmp_path, monkeypatch, capsys, library, arguments, told):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setitem(sys.modules, library, None)
    assert _run(*arguments) == 2
    assert told in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_revision_too_long_for_the_title_block_is_refused(tmp_path):
    path = _filled(tmp_path, SAMPLES / "hand_check")
    row = read_workbook(path).job.rows["site.revision"]
    book = openpyxl.load_workbook(path)
    book["job"][f"B{row}"].value = "after the spring shots"
    book.save(path)
    (told,) = _mistakes(path)
    assert f"sheet job, cell B{row}, key site.revision: not a revision" in told
    assert "8 signs at most" in told
