"""Results of an earlier run that stay in the folder are told, never deleted."""

import re
import shutil
from pathlib import Path

import pytest

from staking.cli import main
from staking.formats.left_over import OF_COMPARISON, OF_PLAN

SAMPLE = Path(__file__).parents[2] / "sample_surveys" / "hand_check"


def run(*words):
    with pytest.raises(SystemExit) as done:
        main([str(word) for word in words])
    return done.value.code or 0


@pytest.fixture(scope="module")
def planned_once(tmp_path_factory):
    out = tmp_path_factory.mktemp("once") / "out"
    assert run("plan", SAMPLE, "--out", out) == 0
    assert run("compare", SAMPLE, "--out", out) == 0
    return out


@pytest.fixture
def out(planned_once, tmp_path):
    return Path(shutil.copytree(planned_once, tmp_path / "out"))


def listed(err):
    words = " ".join(err.split())
    match = re.search(r"OF AN EARLIER RUN.*still holds: (.*?)\. Do not build", words)
    return match[1].split(", ") if match else []


def test_every_file_that_is_written_is_known_as_one_of_ours(out):
    """A new file of results must be told too when it is left over: add it to the names."""
    for path in out.iterdir():
        assert OF_PLAN.fullmatch(path.name) or OF_COMPARISON.fullmatch(path.name), path.name


def test_a_layout_that_cannot_be_tells_of_the_files_of_the_one_before(out, tmp_path, capsys):
    """2026-11-28: exit 3 left piers.csv, cuts.csv and stakes.csv of an earlier plan there without a word."""
    folder = shutil.copytree(SAMPLE, tmp_path / "yard")
    job = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(job.replace("above_grade_max = 2.40", "above_grade_max = 0.60"), "utf-8")
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    assert run("plan", folder, "--out", out) == 3
    found = listed(capsys.readouterr().err)
    assert {"piers.csv", "cuts.csv", "stakes.csv", "hubs.csv", "ties.csv"} <= set(found)
    assert not {"pack.pdf", "results.json", "compare.csv"} & set(found)
    for name in found:
        assert (out / name).read_bytes() == before[name]


def test_check_tells_of_a_plan_s_files_too(out, capsys):
    assert run("check", SAMPLE, "--out", out) == 0
    assert {"pack.pdf", "cuts.csv"} <= set(listed(capsys.readouterr().err))


def test_the_same_plan_again_and_files_of_one_s_own_are_not_told(out, capsys):
    (out / "notes.txt").write_text("mine", encoding="utf-8")
    (out / "my_piers.csv").write_text("mine", encoding="utf-8")
    assert run("plan", SAMPLE, "--out", out) == 0
    assert "EARLIER RUN" not in capsys.readouterr().err
    assert run("compare", SAMPLE, "--out", out) == 0
    assert "EARLIER RUN" not in capsys.readouterr().err
