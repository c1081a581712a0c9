"""What the terminal and the comparison say when a survey fails, stands unchecked or ends beside the piers."""

import csv
import io
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from staking.book.folder import read_book
from staking.book.records import ControlRow
from staking.cli import main
from staking.plan import surveyed
from staking.sheets.terminal import survey_lines
from staking.sheets.unchecked import shared_words

SAMPLES = Path(__file__).parents[1] / "sample_surveys"


def said(capsys, *words):
    with pytest.raises(SystemExit) as done:
        main([str(word) for word in words])
    assert not done.value.code
    return " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("command", ["next", "compare", "check"])
def test_every_command_says_that_the_survey_fails(capsys, command):
    """2026-11-28: next and compare planned on from a survey that fails its tests without a word."""
    assert "THE SURVEY FAILS ITS TESTS" in said(capsys, command, SAMPLES / "planted_blunder")
    assert "FAILS ITS TESTS" not in said(capsys, command, SAMPLES / "hand_check")


def test_compare_csv_tells_of_the_survey_and_of_piers_outside_the_shots(tmp_path, capsys):
    """2026-11-28: a design moved off the shots was compared as if the ground there were known."""
    folder = shutil.copytree(SAMPLES / "real_hillside", tmp_path / "yard")
    (folder / "variants.toml").write_text("[far]\nplace.station = 30.0\n", encoding="utf-8")
    out = tmp_path / "out"
    words = said(capsys, "compare", folder, "--out", out)
    rows = list(csv.DictReader(io.StringIO((out / "compare.csv").read_text(encoding="utf-8"))))
    assert [row["survey"] for row in rows] == ["passes", "passes"]
    assert rows[0]["outside_shots"] == ""
    assert "A4" in rows[1]["outside_shots"].split()
    match = re.search(r"OUTSIDE THE SHOTS, where lengths are guesses: (.*?)\.", words)
    assert match
    assert match[1].startswith("2 (")


def test_all_is_well_is_not_said_of_shots_that_nothing_checks():
    """2026-11-28: "Nothing to worry about was found." stood under 7 shots that nothing checks."""
    text = " ".join(" ".join(survey_lines(surveyed(read_book(SAMPLES / "hand_check")))).split())
    assert "No reading stands out as wrong; " in text
    assert re.search(r"\d+ shots.*: checked by nothing\.", text)
    assert "Nothing to worry about" not in text


def test_a_mistake_that_all_readings_of_a_kind_share_is_not_said_to_be_tested():
    """2026-11-28: all tapes in metres, or the whole book, passed with a variance factor of 0.6."""
    book = read_book(SAMPLES / "cross_fall")
    text = " ".join(" ".join(survey_lines(surveyed(book))).split())
    assert "wrong alike in all tapes (their unit" in text
    assert "all rod readings (their unit)" in text
    known = tuple(
        ControlRow(table="control.csv", row=k, point=p, elevation_m=30.0) for k, p in ((2, "P1"), (3, "P2"))
    )
    assert shared_words(replace(book, control_points=known)).startswith("all tapes")
    assert "rod" not in shared_words(replace(book, control_points=known))
    assert not shared_words(
        replace(book, control_points=tuple(replace(r, east_m=k, north_m=0.0) for k, r in enumerate(known)))
    )


HILL = SAMPLES / "real_hillside"


def raised(tmp_path, name, by_m, *, point="G34", kind="pin"):
    """Read the hillside with a shot inside the others made a mark, its rod read lower by so much."""
    folder = tmp_path / name
    shutil.copytree(HILL, folder)
    text = (folder / "levels.csv").read_text(encoding="utf-8")
    row = re.search(rf"^{point},,([\d.]+),", text, re.MULTILINE)
    assert row
    text = text.replace(row[0], f"{point},,{float(row[1]) - by_m:.3f},")
    (folder / "levels.csv").write_text(text, encoding="utf-8")
    points = folder / "points.csv"
    had = points.read_text(encoding="utf-8") if points.exists() else "point,kind\n"
    head = had.splitlines()[0].split(",")
    cells = [{"point": point, "kind": kind}.get(column.strip(), "") for column in head]
    points.write_text(had.rstrip("\n") + "\n" + ",".join(cells) + "\n", encoding="utf-8")
    return [text for text in surveyed(read_book(folder)).warnings if "the ground that was shot" in text]


def test_a_mark_that_stands_off_the_ground_is_asked_about(tmp_path):
    """2026-11-28: a pin's rod misread by 10 ft went through, exit 0, and carried every tie to it."""
    [text] = raised(tmp_path, "above", 3.048)
    assert "pin G34 stands 30" in text
    assert "above" in text
    assert text.endswith("mirrored")
    [text] = raised(tmp_path, "below", -1.0, kind="benchmark")
    assert "benchmark G34 stands" in text
    assert "below" in text


def test_a_mark_on_the_ground_or_a_little_above_or_outside_the_shots_is_not(tmp_path):
    assert raised(tmp_path, "on", 0.0) == []
    assert raised(tmp_path, "hub", 0.25) == []
    assert raised(tmp_path, "tree", 3.0, kind="other") == []
    # The yard's own pins stand outside its shots, and its benchmark has no place.
    assert raised(tmp_path, "out", 3.0, point="G11") == []


def test_rows_that_are_the_same_are_asked_about(tmp_path):
    """2026-11-28: a tape copied twice counted as two readings, exit 0, and made the pin look surer."""
    folder = shutil.copytree(SAMPLES / "cross_fall", tmp_path / "yard")
    tapes = folder / "tapes.csv"
    lines = tapes.read_text(encoding="utf-8").splitlines()
    tapes.write_text("\n".join([*lines, lines[2]]) + "\n", encoding="utf-8")
    [text] = [text for text in read_book(folder).warnings if "the same in every cell" in text]
    assert text.startswith(f"tapes.csv, rows 3 and {len(lines) + 1} are")
    # Taped again in the other direction, or with another note, it is a second reading.
    header = lines[0].split(",")
    cells = dict(zip(header, lines[2].split(","), strict=False))
    turned = replace_cells(header, cells, {"from": cells["to"], "to": cells["from"]})
    noted = replace_cells(header, cells, {"note": "second time"})
    tapes.write_text("\n".join([*lines, turned, noted]) + "\n", encoding="utf-8")
    assert not any("the same in every cell" in text for text in read_book(folder).warnings)


def replace_cells(header, cells, changes):
    return ",".join((cells | changes).get(name, "") for name in header)


@pytest.mark.parametrize("name", ["hand_check", "cross_fall", "real_hillside", "planted_blunder"])
def test_the_samples_are_asked_none_of_this(name):
    book = read_book(SAMPLES / name)
    texts = [*book.warnings, *surveyed(replace(book)).warnings]
    assert not any("same in every cell" in text or "that was shot" in text for text in texts)
