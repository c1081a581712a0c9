"""`staking next` and `staking check --planned` as a user meets them."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from test_planned import _marked

from staking.ahead.planned_piers import foreseen
from staking.book.folder import read_book
from staking.book.records import GroundAssumed
from staking.cli import main
from staking.plan import surveyed
from staking.results import results

SAMPLES = Path(__file__).parents[2] / "sample_surveys"


def _run(*arguments):
    with pytest.raises(SystemExit) as done:
        main([str(argument) for argument in arguments])
    return done.value.code or 0


@pytest.fixture
def yard(tmp_path):
    _marked(tmp_path / "yard", "hand_check")
    return tmp_path / "yard"


def test_next_says_what_to_read_and_what_is_proved(capsys):
    assert _run("next", SAMPLES / "cross_fall") == 0
    said = capsys.readouterr().out
    for words in ("READ NEXT", "shoot A1 twice from the set-up of row 17", "SHOOT AGAIN", "NOT PROVED"):
        assert words in " ".join(said.split())
    assert all(len(line) <= 96 for line in said.splitlines())


def test_check_says_what_to_shoot_again_for_the_last_setup_or_for_all(capsys):
    assert _run("check", SAMPLES / "cross_fall") == 0
    assert capsys.readouterr().out.count("SHOOT AGAIN") == 1
    assert _run("check", SAMPLES / "cross_fall", "--all-setups") == 0
    assert capsys.readouterr().out.count("SHOOT AGAIN") == 2


def test_planned_tells_points_piers_blunders_and_proof(yard, capsys):
    assert _run("check", "--planned", yard) == 0
    said = capsys.readouterr().out
    for words in ("PLANNED", "POINTS", "GROUND AT THE PIERS", "SMALLEST", "NOTHING WILL CHECK", "PROVE"):
        assert words in said


def test_with_nothing_planned_there_is_nothing_to_foresee(capsys):
    # 2026-11-25: it then told another accuracy of the ground at the piers than plan and next.
    assert _run("check", "--planned", SAMPLES / "cross_fall") == 2
    assert "Use staking check" in capsys.readouterr().err


def test_a_mistyped_reading_is_no_mark(yard, capsys):
    path = yard / "levels.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",x,", ",1.4o,", 1), encoding="utf-8")
    assert _run("check", "--planned", yard) == 2
    assert "1.4o" in capsys.readouterr().err


def test_a_missing_sketch_is_told_with_its_points(yard, capsys):
    (yard / "sketch.csv").unlink()
    assert _run("check", "--planned", yard) == 2
    assert "sketch.csv" in capsys.readouterr().err
    assert _run("check", yard) == 2
    told = capsys.readouterr().err
    assert "levels.csv" in told
    assert len(told.splitlines()) < 10  # a line for each column, not for each cell still marked x


def test_planned_results_are_those_of_the_readings_taken(yard, tmp_path):
    # 2026-11-28: --planned refused --out, so that its sds could be read off the terminal only, rounded.
    assert _run("check", "--planned", yard, "--out", tmp_path / "before") == 0
    before = json.loads((tmp_path / "before" / "results.json").read_text(encoding="utf-8"))
    seen = foreseen(read_book(yard, purpose="planned"))
    taken = results(surveyed(seen.planned.book))
    assert set(before) == set(taken)
    assert set(before["survey"]) == set(taken["survey"])
    assert before["survey"]["points"] == taken["survey"]["points"]
    for mine, other in zip(before["survey"]["readings"], taken["survey"]["readings"], strict=True):
        assert mine == other | {"residual": None, "w": None}
    assert before["survey"]["passes"] is None
    assert before["ground"]["model"] is None
    assert before["planned"]["readings"] == seen.planned.planned
    assert [one["pier"] for one in before["planned"]["piers"]] == list(seen.piers)
    assert taken["planned"] is None


def test_a_plan_does_not_mind_a_sketch(tmp_path):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLES / "hand_check", folder)
    (folder / "sketch.csv").write_text("point,east,north\nP1,0,0\n", encoding="utf-8")
    assert _run("check", folder) == 0


def test_a_pier_whose_stake_will_be_shot_is_as_sure_as_that_shot(yard):
    seen = foreseen(read_book(yard, purpose="planned"))
    points = seen.planned.survey.adjustment.points
    for pier, sd_m in zip(seen.piers, seen.sd_ground_m, strict=True):
        assert sd_m == pytest.approx(points.sd_m()[points.index(pier), 2], rel=1e-9)


def test_between_the_shots_the_assumed_roughness_rules(tmp_path):
    """Twice the roughness: twice the ground's part of the sd, and the readings' part as it was."""
    _marked(tmp_path / "yard", "cross_fall")
    book = read_book(tmp_path / "yard", purpose="planned")
    sds = []
    for factor in (1.0, 2.0):
        ground = GroundAssumed(roughness_per_m=0.0055 * factor)
        sds.append(foreseen(replace(book, job=replace(book.job, ground=ground))).sd_ground_m)
    assert np.allclose(sds[1] / sds[0], 2.0, rtol=0.05)
    assert (sds[1] < 2.0 * sds[0]).all()
