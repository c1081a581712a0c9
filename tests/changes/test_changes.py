"""Changes: what moved is told pier by pier, and a sheet is void exactly when it prints something else."""

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from staking.changes.lines import changes_lines
from staking.changes.made import made
from staking.changes.piers import beams_changed, piers_changed
from staking.changes.sheets import State, judged
from staking.cli import main
from staking.sheets.printed import PrintedSheet

SAMPLE = Path(__file__).parents[2] / "sample_surveys" / "hand_check"
MM = 0.001


def _run(*arguments):
    with pytest.raises(SystemExit) as done:
        main([str(argument) for argument in arguments])
    return done.value.code or 0


def _edited(folder, name, *edits):
    shutil.copytree(SAMPLE, folder)
    text = (folder / name).read_text(encoding="utf-8")
    for old, new in edits:
        assert old in text
        text = text.replace(old, new)
    (folder / name).write_text(text, encoding="utf-8")
    return folder


def _said(old, new, capsys):
    assert _run("changes", old, new) == 0
    return " ".join(capsys.readouterr().out.split())


def _section(said, name, end="PRINTED SHEETS|PINS AND MARKS|BEAMS|$"):
    return re.search(rf"{name} (.*?)(?={end})", said)[1]


@pytest.fixture(scope="module")
def out(tmp_path_factory):
    out = tmp_path_factory.mktemp("plan") / "out"
    assert _run("plan", SAMPLE, "--out", out) == 0
    return out


def test_an_output_folder_and_its_survey_are_the_same(out, capsys):
    """What was written tells as much as the plan itself: no stake, no sheet differs."""
    for pair in ((out, SAMPLE), (SAMPLE, out), (out, out)):
        said = _said(*pair, capsys)
        assert "inputs the same" in said
        assert "unchanged 6 piers" in said
        assert "VOID" not in said
        assert "last place " not in _section(said, "PRINTED SHEETS", end="$")


def test_a_longer_embedment_makes_posts_and_holes_longer_by_as_much(out, tmp_path, capsys):
    """1.20 m to 1.25 m: each post and hole 50 mm more, tops and stakes where they were."""
    new = _edited(tmp_path / "new", "job.toml", ("embedment = 1.20", "embedment = 1.25"))
    said = _said(out, new, capsys)
    before = {p["pier"]: p for p in json.loads((out / "results.json").read_text())["piers"]}
    for name, pier in before.items():
        post = round(pier["post_length"] * 1000)
        hole = round(pier["hole_depth"] * 1000)
        assert (
            f"{name} post as cut {post + 50} mm, was {post} mm; hole depth {hole + 50} mm, was {hole} mm"
            in said
        )
    assert "moved" not in said
    assert "above grade" not in said
    sheets = _section(said, "PRINTED SHEETS", end="$")
    void, good = sheets.split("still good")
    for title in ("Piers", "Pier cards", "Cutting"):
        assert title in void
    for title in ("Stakes", "Squareness", "Control", "Stake-out map", "Level book"):
        assert title in good


def test_a_moved_array_tells_how_far_and_which_way(out, tmp_path, capsys):
    """The line runs east from P1: 0.2 m more station is 200 mm east; -1.1 for -1.0 is 100 mm north."""
    edits = ("station = 2.0", "station = 2.2"), ("offset = -1.0", "offset = -1.1")
    said = _said(out, _edited(tmp_path / "new", "job.toml", *edits), capsys)
    # The square root of 200² + 100² is 223.6.
    assert said.count("stake moved 224 mm (200 mm east, 100 mm north)") == 6
    void = _section(said, "PRINTED SHEETS", end="last place |still good")
    for title in ("Stakes", "Stake-out map", "Piers", "Pier cards"):
        assert title in void


def test_piers_that_are_new_and_gone_are_named(out, tmp_path, capsys):
    new = _edited(
        tmp_path / "new", "job.toml", ("piers_per_beam = 3", "piers_per_beam = 2"), ("bay = 1.5", "bay = 3.0")
    )
    for name in ("levels.csv",):
        rows = (new / name).read_text().splitlines()
        (new / name).write_text("\n".join(row for row in rows if row[:2] not in ("A3", "B3")) + "\n")
    said = _said(out, new, capsys)
    assert "gone A3, B3" in said
    said = _said(new, out, capsys)
    assert "new A3, B3" in said


def test_less_than_the_last_place_printed_is_no_change(out, tmp_path, capsys):
    """A stake 0.3 mm further on: the sheets print whole millimetres."""
    new = _edited(tmp_path / "new", "job.toml", ("station = 2.0", "station = 2.0003"))
    said = _said(out, new, capsys)
    assert "unchanged 6 piers" in said
    assert "moved" not in said
    assert "inputs the same" not in said


def _results(**changes):
    pier = {
        "pier": "A1",
        "east": 1.0,
        "north": 2.0,
        "above_grade": 1.5,
        "post_length": 3.0,
        "hole_depth": None,
    }
    pier |= {"top": 50.0} | changes
    return {"piers": [pier]}


@pytest.mark.parametrize(
    ("by", "told"), [(0.0, False), (0.9 * MM, False), (MM, True), (-MM, True), (1.2 * MM, True)]
)
def test_a_step_of_the_last_place_is_a_change(by, told):
    for key in ("east", "north", "above_grade", "post_length", "top"):
        found = piers_changed(_results(), _results(**{key: _results()["piers"][0][key] + by}), MM)
        assert bool(found.changed) is told, key
        assert found.same == (0 if told else 1)


def test_what_was_not_known_and_is_now_is_a_change():
    (one,) = piers_changed(_results(), _results(hole_depth=1.2), MM).changed
    assert one.lengths == (("hole depth", None, 1.2),)


def _sheet(*texts, scale=None):
    return PrintedSheet(title="t", part=1, scale=scale, texts=texts)


@pytest.mark.parametrize(
    ("old", "new", "state"),
    [
        ("A1 5' 3-1/8\"", "A1 5' 3-1/8\"", State.SAME),
        ("A1 5' 3-1/8\"", "A1 5' 3-3/16\"", State.LAST_PLACE),
        ("A1 5' 3-1/8\"", "A1 5' 3-1/4\"", State.VOID),
        ("5' 11-15/16\"", "6' 0\"", State.LAST_PLACE),
        ("-0' 0-1/16\"", "0' 0\"", State.LAST_PLACE),
        ('7/8"', '15/16"', State.LAST_PLACE),
        ('±1/8"', '±3/16"', State.LAST_PLACE),
        ("5.26 ft", "5.27 ft", State.LAST_PLACE),
        ("5.26 ft", "5.28 ft", State.VOID),
        ("5.26 ft", "5.3 ft", State.VOID),
        ("1603 mm", "1604 mm", State.LAST_PLACE),
        ("1603 mm", "1605 mm", State.VOID),
        ("999 mm", "1000 mm", State.LAST_PLACE),
        ("no. 4", "no. 5", State.VOID),
        ("1603", "1604", State.LAST_PLACE),
        ("-3", "-5", State.VOID),
        ("4 sticks", "5 sticks", State.VOID),
        ("pier A1", "pier A2", State.VOID),
        ("P1 to P2, 12.00", "P1 to P3, 12.00", State.VOID),
        ("3' 2\" UP", "3' 2\" DOWN", State.VOID),
        ("2026-10-03", "2026-10-04", State.VOID),
        ("1:50", "1:51", State.VOID),
    ],
)
def test_a_sheet_is_void_when_more_than_a_last_place_differs(old, new, state):
    (one,) = judged([_sheet("x", old)], [_sheet("x", new)], 0.0)
    assert one.state is state


def test_a_map_is_void_when_something_stands_elsewhere_on_it():
    """1:50: 0.3 mm on the paper are 15 mm on the ground."""
    sheet = _sheet("A1", scale=50)
    assert judged([sheet], [sheet], 0.014)[0].state is State.SAME
    assert judged([sheet], [sheet], 0.016)[0].state is State.VOID
    assert judged([sheet], [replace(sheet, scale=100)], 0.0)[0].state is State.VOID


def test_a_map_is_void_when_its_contours_moved(out, tmp_path, capsys):
    # 2026-11-28: a corner shot of the ground was changed and the site plan was called good: no number on it
    # is other, its contours are. 20 mm over a slope of some 6 % are 0.3 m, at 1:50 6 mm on the paper.
    new = _edited(tmp_path / "new", "levels.csv", ("G1,,1.725", "G1,,1.705"))
    said = _said(out, new, capsys)
    assert "Site plan, for the permit desk" in _section(said, "VOID", end="last place |still good")


@pytest.mark.parametrize(("by_mm", "state"), [(0.2, State.SAME), (0.4, State.VOID)])
def test_a_map_is_void_when_a_line_on_it_lies_elsewhere(by_mm, state):
    """Found 2026-11-28: a buried pipe's end moved by 50 ft and the map was "still good"."""
    old = replace(_sheet("buried", scale=50), drawn={"lines": (((0.0, 0.0), (40.0, 10.0)),)})
    new = replace(old, drawn={"lines": (((0.0, 0.0), (20.0, 5.0), (40.0, 10.0 + by_mm)),)})
    assert judged([old], [new], 0.0)[0].state is state
    assert judged([old], [replace(old, drawn={})], 0.0)[0].state is State.VOID


@pytest.mark.parametrize(
    ("file", "was", "now"),
    [("lines.csv", "W1 W2,", "W1 C2,"), ("job.toml", 'offset_hub = "3 ft"', 'offset_hub = "5 ft"')],
)
def test_a_moved_pipe_and_moved_hubs_void_the_map(tmp_path, file, was, now):
    sample = SAMPLE.parent / "tied_meadow"
    shutil.copytree(sample, tmp_path / "yard")
    path = tmp_path / "yard" / file
    text = path.read_text(encoding="utf-8")
    assert was in text
    path.write_text(text.replace(was, now), encoding="utf-8")
    old, new = made(sample), made(tmp_path / "yard")
    assert old.sheets is not None
    assert new.sheets is not None
    states = {one.title: one.state for one in judged(old.sheets, new.sheets, 0.0)}
    assert states["Stake-out map"] is State.VOID


def test_the_sections_beams_are_not_taken_for_one_another():
    # 2026-11-28: beams were told by their letter, which sections share: of two only the last was compared.
    beam = {"array": "", "beam": "A", "section": 1, "length": 4.0, "rails": [1.0], "joints": []}
    other = {**beam, "section": 2, "length": 3.0}
    old = {"beams": [beam, other]}
    assert beams_changed(old, {"beams": [{**beam, "length": 4.1}, other]}, MM).changed == ("A.1",)
    found = beams_changed(old, {"beams": [{**beam, "section": 1}]}, MM)
    assert (found.gone, found.new) == (("A.1", "A.2"), ("A",))


def test_an_array_under_another_name_is_told_as_it_stood():
    old, new = _results(pier="north-A1"), _results(pier="back-A1")
    assert piers_changed(old, new, MM).renamed == (("north-A1", "back-A1"),)
    assert not piers_changed(old, _results(pier="back-A1", top=9.0), MM).renamed


def test_sheets_are_new_or_gone():
    old, new = [_sheet("x")], [replace(_sheet("x"), title="other")]
    assert [(one.title, one.state) for one in judged(old, new, 0.0)] == [
        ("other", State.NEW),
        ("t", State.GONE),
    ]


def test_another_notation_voids_all(out, tmp_path, capsys):
    new = _edited(tmp_path / "new", "job.toml", ('units = "m"', 'units = "m"\nshow = "feet-inches"'))
    assert "all: they print metric, and now feet-inches" in _said(out, new, capsys)


def test_a_survey_that_fails_now_is_told(out, tmp_path, capsys):
    new = _edited(tmp_path / "new", "levels.csv", ("BM1,,,2.000", "BM1,,,2.100"))
    said = _said(out, new, capsys)
    assert "FAILS ITS TESTS; before, it passes its tests" in said
    # Every sheet says so at its top.
    assert "still good" not in said


@pytest.mark.parametrize(
    ("name", "data", "told"),
    [
        (None, None, "no such folder"),
        ("x.txt", b"", "neither results.json nor job.toml is there"),
        ("results.json", b"{", "cannot be read"),
        ("results.json", b"[]", "cannot be read"),
        (
            "results.json",
            b'{"schema": 1, "piers": [{}], "survey": {"points": []}, "beams": []}',
            "not the results",
        ),
        ("job.toml", b"", "site"),
    ],
)
def test_what_cannot_be_compared_is_told(out, tmp_path, capsys, name, data, told):
    place = tmp_path / "place"
    if name is not None:
        place.mkdir()
        (place / name).write_bytes(data)
    assert _run("changes", out, place) == 2
    assert told in capsys.readouterr().err


def test_results_without_printed_sheets_void_all(out, tmp_path, capsys):
    place = tmp_path / "place"
    place.mkdir()
    shutil.copy(out / "results.json", place)
    said = _said(place, out, capsys)
    assert "unchanged 6 piers" in said
    assert "take every sheet as void" in said


def test_results_and_sheets_of_two_plans_are_not_mixed(out, tmp_path, capsys):
    place = tmp_path / "place"
    place.mkdir()
    shutil.copy(out / "results.json", place)
    printed = json.loads((out / "sheets.json").read_text(encoding="utf-8"))
    (place / "sheets.json").write_text(json.dumps(printed | {"inputs": "0" * 12}))
    assert _run("changes", place, out) == 2
    assert "different inputs" in capsys.readouterr().err
    (place / "sheets.json").write_text(json.dumps(printed | {"style": "cubits"}))
    assert _run("changes", place, out) == 2
    assert "lengths in cubits" in capsys.readouterr().err


def test_a_revision_stands_in_what_is_compared(out, tmp_path):
    new = _edited(tmp_path / "new", "job.toml", ("[site]\n", '[site]\nrevision = "B"\n'))
    lines = changes_lines(made(out), made(new))
    assert any("revision B" in line for line in lines)
    # A revision alone changes no sheet's content.
    assert not any("VOID" in line for line in lines)
