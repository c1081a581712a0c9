"""The command as a user meets it: exit status, what is written, what is said."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from staking.cli import UNEXPECTED_STATUS, main

SAMPLES = Path(__file__).parent.parent / "sample_surveys"


@pytest.fixture
def yard(tmp_path):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLES / "hand_check", folder)
    return folder


def _run(*arguments):
    with pytest.raises(SystemExit) as done:
        main([str(argument) for argument in arguments])
    return done.value.code or 0


def _edit(path, old, new):
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_plan_writes_sheets_and_files(yard, tmp_path, capsys):
    out = tmp_path / "out"
    assert _run("plan", yard, "--out", out) == 0
    written = {path.name for path in out.iterdir()}
    assert {"pack.pdf", "map.svg", "piers.csv", "stakes.csv", "cuts.csv", "results.json"} <= written
    said = capsys.readouterr()
    assert said.err == ""
    for word in ("SURVEY", "ARRAY", "PIPE", "WORRY ABOUT", "FILES", "pack.pdf"):
        assert word in said.out
    results = json.loads((out / "results.json").read_text(encoding="utf-8"))
    assert results["schema"] == 1
    assert [pier["pier"] for pier in results["piers"]] == ["A1", "A2", "A3", "B1", "B2", "B3"]


def test_the_same_input_gives_the_same_bytes(yard, tmp_path):
    first, second = tmp_path / "first", tmp_path / "second"
    assert _run("plan", yard, "--out", first) == 0
    assert _run("plan", yard, "--out", second) == 0
    for path in first.iterdir():
        assert path.read_bytes() == (second / path.name).read_bytes(), path.name


def test_stakes_can_be_handed_back_as_staked(yard, tmp_path):
    out = tmp_path / "out"
    assert _run("plan", yard, "--out", out) == 0
    shutil.copy(out / "stakes.csv", yard / "staked.csv")
    again = tmp_path / "again"
    assert _run("plan", yard, "--out", again) == 0
    before, after = (json.loads((o / "results.json").read_text(encoding="utf-8")) for o in (out, again))
    for one, other in zip(before["piers"], after["piers"], strict=True):
        assert other["above_grade"] == pytest.approx(one["above_grade"], abs=1e-4)
    assert not any("are taken to stand" in warning for warning in after["warnings"])


def test_a_stake_that_the_design_has_left_behind_is_an_ordinary_shot(yard, tmp_path):
    out = tmp_path / "out"
    assert _run("plan", yard, "--out", out) == 0
    shutil.copy(out / "stakes.csv", yard / "staked.csv")
    _edit(yard / "job.toml", "station = 2.0", "station = 2.3")
    assert _run("plan", yard, "--out", out) == 0
    results = json.loads((out / "results.json").read_text(encoding="utf-8"))
    assert sum("ordinary ground point" in warning for warning in results["warnings"]) == 6
    # The ground is a plane that rises 0.05 in 1 m to the east, and is found again 0.3 m further on.
    assert results["piers"][0]["ground"] == pytest.approx(50.4 + 0.3 * 0.05, abs=1e-3)


def test_the_stake_of_a_pier_that_is_gone_still_shapes_the_ground(yard, tmp_path):
    """2026-11-25: its shot was dropped, though the warning called it an ordinary point."""
    (yard / "staked.csv").write_text("pier,east,north\nB9,4.0,2.0\n", encoding="utf-8")
    # A mound half a metre high at the stake that was set for a former pier.
    _edit(yard / "levels.csv", "A1,,1.600,", "B9,,0.900,,\nA1,,1.600,")
    out = tmp_path / "out"
    assert _run("plan", yard, "--out", out) == 0
    results = json.loads((out / "results.json").read_text(encoding="utf-8"))
    assert not any("cannot be placed" in warning for warning in results["warnings"])
    assert results["ground"]["rms_left_out"] > 0.05


def test_check_adjusts_the_survey_alone(yard, tmp_path, capsys):
    (yard / "job.toml").write_text(
        '[site]\nname = "Survey alone"\nunits = "m"\n'
        '[control]\norigin = { point = "P1", east = 0, north = 0 }\n'
        'azimuth = { from = "P1", to = "P2", degrees = 90, north = "true" }\n'
        'benchmark = { point = "BM1", elevation = 50 }\nside = "left"\n',
        encoding="utf-8",
    )
    out = tmp_path / "out"
    assert _run("check", yard, "--out", out) == 0
    assert [path.name for path in out.iterdir()] == ["results.json"]
    results = json.loads((out / "results.json").read_text(encoding="utf-8"))
    assert results["arrays"] == []
    assert results["cuts"] is None
    assert results["survey"]["misclosures"][0]["value"] == 0
    readings = results["survey"]["readings"]
    checked = [r for r in readings if r["detectable"] is not None]
    assert 0 < len(checked) < len(readings)
    for r in checked:
        assert r["detectable"] == pytest.approx(4.13 * r["sd"] / r["redundancy"] ** 0.5, rel=1e-3)
    assert {(r["table"], r["row"], r["column"]) for r in readings} >= {("levels.csv", 2, "bs")}
    held, placed = (p["ellipse"] for p in results["survey"]["points"] if p["point"] in ("P1", "P3"))
    assert held["semi_major"] == 0
    assert placed["semi_major_95"] == pytest.approx(2.4477 * placed["semi_major"], rel=1e-3)
    said = capsys.readouterr().out
    assert "passes" in said
    assert "SHOOT AGAIN" in said


def test_a_frame_that_cannot_be_built_does_not_stop_the_check_of_the_survey(yard, capsys):
    """2026-11-25: a beam beyond the rails hid the closure from somebody still in the yard."""
    _edit(yard / "job.toml", "beams_at = [0.70, 2.82]", 'beams_at = [0.70, "12\' 9-9/16\\""]')
    assert _run("check", yard) == 0
    said = capsys.readouterr().out
    assert "BM1 - BM1" in said
    assert "he plan will stop at: job.toml, key frame.beams_at" in " ".join(said.split())
    assert "\\" not in said


def test_all_mistakes_are_told_at_once_and_nothing_is_written(yard, tmp_path, capsys):
    _edit(yard / "levels.csv", "G1,,1.725", "G1,,1.7x5")
    _edit(yard / "tapes.csv", "P1,P2,8.000,level", "P1,P2,8.000,lvel")
    _edit(yard / "job.toml", "modules_along = 4", "modules_allong = 4")
    out = tmp_path / "out"
    assert _run("plan", yard, "--out", out) == 2
    assert not out.exists()
    said = capsys.readouterr().err
    assert "levels.csv, row 6, column is" in said
    assert "'1.7x5'" in said
    assert "tapes.csv, row 2, column how" in said
    assert "level" in said
    assert "modules_allong" in said
    assert "modules_along" in said
    assert "Traceback" not in said


def test_a_pin_that_nothing_places_is_named_with_a_reading_that_would(yard, tmp_path, capsys):
    (yard / "tapes.csv").write_text("from,to,length,how\nP1,P3,6.000,level\n", encoding="utf-8")
    assert _run("plan", yard, "--out", tmp_path / "out") == 2
    said = capsys.readouterr().err
    assert "P2" in said
    assert "tape" in said.lower()


def test_no_layout_that_fits_is_status_3_with_the_reason_and_what_would_do(yard, tmp_path, capsys):
    _edit(yard / "job.toml", "above_grade_max = 2.40", "above_grade_max = 1.70")
    out = tmp_path / "out"
    assert _run("plan", yard, "--out", out) == 3
    said = capsys.readouterr()
    assert "B1" in said.err
    assert "above_grade_max" in said.err
    results = json.loads((out / "results.json").read_text(encoding="utf-8"))
    assert results["arrays"] == []
    assert results["survey"]["points"]
    assert results["conflicts"][0]["limit"] == "fit.above_grade_max"
    assert (out / "pack.pdf").exists()


def test_a_frame_that_cannot_be_built_names_the_part(yard, tmp_path, capsys):
    _edit(yard / "job.toml", "beams_at = [0.70, 2.82]", "beams_at = [0.70, 3.90]")
    assert _run("plan", yard, "--out", tmp_path / "out") == 2
    assert "beam" in capsys.readouterr().err


def test_a_post_that_does_not_go_into_its_hole(yard, tmp_path, capsys):
    _edit(yard / "job.toml", "hole_diameter = 0.30", "hole_diameter = 0.05")
    _edit(yard / "job.toml", "side_cover = 0.075", "side_cover = 0.0")
    assert _run("plan", yard, "--out", tmp_path / "out") == 2
    assert "footing.hole_diameter" in capsys.readouterr().err


def test_stock_too_short_names_the_key(yard, tmp_path, capsys):
    _edit(yard / "job.toml", "{ length = 6.0 }", "{ length = 2.5 }")
    assert _run("plan", yard, "--out", tmp_path / "out") == 2
    said = capsys.readouterr().err
    assert "job.toml, key pipe.stock" in said
    assert "B1" in said


def test_results_are_not_written_among_the_readings(yard, capsys):
    before = sorted(path.name for path in yard.iterdir())
    assert _run("plan", yard, "--out", yard) == 2
    assert "among the readings" in capsys.readouterr().err
    assert sorted(path.name for path in yard.iterdir()) == before


def test_a_folder_that_is_not_there(tmp_path, capsys):
    assert _run("plan", tmp_path / "nowhere", "--out", tmp_path / "out") == 2
    assert "nowhere" in capsys.readouterr().err


def test_an_out_folder_that_cannot_be_made_is_told_without_a_traceback(yard, tmp_path, capsys):
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    assert _run("plan", yard, "--out", tmp_path / "file" / "out") == 2
    assert "Nothing was written" in capsys.readouterr().err


# 2026-11-25
def test_an_out_folder_that_is_a_file_is_told_to_be_one(yard, tmp_path, capsys):
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    assert _run("plan", yard, "--out", tmp_path / "file") == 2
    assert "file: a file, not a folder" in capsys.readouterr().err


def test_a_mistyped_command_names_the_nearest(capsys):
    assert _run("plna", "x") == 2
    assert "plan?" in capsys.readouterr().err


def test_a_fault_of_the_program_is_told_as_one(monkeypatch, yard, tmp_path, capsys):
    def fail(*_, **__):
        message = "a fault made for this test"
        raise RuntimeError(message)

    monkeypatch.setattr("staking.plan.planned", fail)
    assert _run("plan", yard, "--out", tmp_path / "out") == UNEXPECTED_STATUS
    said = capsys.readouterr().err
    assert "fault of the program" in said
    assert "Traceback" not in said


def without_design(tmp_path):
    yard = shutil.copytree(SAMPLES / "cross_fall", tmp_path / "yard")
    job = (yard / "job.toml").read_text(encoding="utf-8")
    (yard / "job.toml").write_text(job[: job.index("[array]")], encoding="utf-8")
    return yard


def said(capsys, *arguments):
    code = _run(*arguments)
    out, err = capsys.readouterr()
    return code, out, err


def test_next_without_a_design_says_what_it_needs_and_tells_the_rest(tmp_path, capsys):
    """2026-11-25: it listed six missing tables of job.toml as mistakes."""
    code, out, _ = said(capsys, "next", without_design(tmp_path))
    assert code == 0
    assert "Without a design in job.toml" in out
    assert "SHOOT AGAIN" in out
    assert "P1-P3 is known to" in out


def test_check_and_planned_count_what_nothing_checks_alike(capsys, tmp_path):
    """2026-11-25: check counted rods alone, --planned each axis of an offset."""
    _, checked, _ = said(capsys, "check", SAMPLES / "cross_fall")
    assert "27 shots that nothing checks" in checked
    assert "24 offsets: nothing shows a mistake there either" in checked
    shutil.copytree(SAMPLES / "cross_fall", tmp_path / "yard")
    book = tmp_path / "yard" / "levels.csv"
    before, sight, after = book.read_text(encoding="utf-8").rpartition("BM1,,,")
    closing = after.split(",")[0]
    book.write_text(f"{before}{sight}{after.replace(closing, 'x', 1)}", encoding="utf-8")
    _, planned, _ = said(capsys, "check", "--planned", tmp_path / "yard")
    assert "27 shots, 24 offsets:" in planned
    assert "and 31 more" in planned  # of 51, twenty are named
    assert "0 readings" not in planned


def test_that_nothing_was_changed_is_said_once(capsys):
    """2026-11-25: it stood behind every doubted reading."""
    _, out, _ = said(capsys, "check", SAMPLES / "planted_blunder")
    assert out.count("othing was changed") == 1


def test_shadows_of_a_year_out_of_reach_are_a_mistake(capsys):
    """2026-11-25: it said so and exited with 0."""
    code, out, err = said(capsys, "shadows", SAMPLES / "cross_fall", "--date", "2150-06-01")
    assert (code, out) == (2, "")
    assert "1950 to 2100" in err


def test_a_reader_that_stops_listening_is_no_fault():
    """2026-11-28: `staking check yard | head` ended with "file: Broken pipe. Nothing was written."."""
    reading, writing = os.pipe()
    os.close(reading)
    command = [sys.executable, "-m", "staking.cli", "check", str(SAMPLES / "hand_check")]
    done = subprocess.run(command, stdout=writing, stderr=subprocess.PIPE, check=False)
    os.close(writing)
    assert (done.returncode, done.stderr) == (0, b"")
