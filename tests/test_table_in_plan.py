"""A large table of ground points, from job.toml to results, terminal and warnings."""

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from staking.book.folder import read_book
from staking.cli import main
from staking.plan import planned

SAMPLES = Path(__file__).parent.parent / "sample_surveys"
PATCH = Path(__file__).parent / "ground" / "data" / "lidar_patch.csv"


@pytest.fixture
def yard(tmp_path):
    """Return a maker of real_hillside with its own ground as a table, shifted, at a place."""

    def made(*, shift_m=0.0, east_m=0.0, more="", name="ground.csv", readable=True):
        folder = tmp_path / "yard"
        shutil.copytree(SAMPLES / "real_hillside", folder, dirs_exist_ok=True)
        z = np.loadtxt(PATCH, delimiter=",")
        row, column = np.mgrid[0:41, 0:41]
        z = z + np.random.default_rng(1).normal(0, 0.02, z.shape) + shift_m
        points = np.column_stack([column.ravel() + east_m, 40 - row.ravel(), z.ravel()])
        np.savetxt(
            folder / name, points, delimiter=",", header="east,north,elevation", comments="", fmt="%.3f"
        )
        if not readable:
            (folder / name).write_text("east,north,elevation\n1,2,3\n4,five,6\n")
        with (folder / "job.toml").open("a") as job:
            job.write(f'\n[ground]\ntable = "{name}"\nsd = "20 mm"\n{more}\n')
        return folder

    return made


def ran(folder, out):
    with pytest.raises(SystemExit) as ended:
        main(["plan", str(folder), "--out", str(out)])
    return ended.value.code


def test_results_and_terminal_say_how_the_table_ties(yard, tmp_path, capsys):
    assert ran(yard(), tmp_path / "out") == 0
    said = " ".join(capsys.readouterr().out.split())
    ground = json.loads((tmp_path / "out" / "results.json").read_text())["ground"]
    assert ground["surface"] == "table"
    assert ground["left_out"]["table"] < ground["left_out"]["statistical"]
    assert ground["rms_left_out"] == ground["left_out"]["table"]
    assert ground["table"]["points"] == 1681
    assert ground["table"]["differs"] is False
    assert abs(ground["table"]["shots_above"]) < 3 * ground["table"]["sd_above"]
    assert "triangles between the points of ground.csv" in said
    assert "no more than chance" in said
    assert "more than chance. Nothing was moved" not in said


def test_piers_stand_on_the_table_and_its_uncertainty(yard):
    plan = planned(read_book(yard()))
    (array,) = plan.arrays
    at = plan.ground.table.surface.at(array.fit.piers.en_m)
    np.testing.assert_allclose(array.fit.lengths.ground_m, at.z_m)
    np.testing.assert_allclose(array.fit.lengths.ground_cov_m2, at.cov_m2)


def test_a_shifted_table_is_told_not_moved_and_not_trusted(yard, tmp_path, capsys):
    folder = yard(shift_m=-0.25)
    assert ran(folder, tmp_path / "out") == 0
    said = " ".join(capsys.readouterr().out.split())
    ground = json.loads((tmp_path / "out" / "results.json").read_text())["ground"]
    assert ground["table"]["differs"] is True
    assert ground["table"]["shots_above"] == pytest.approx(0.25, abs=0.02)
    # Its own error at the shots speaks against it, so the lengths rest on the shots.
    assert ground["surface"] == "statistical"
    assert "Nothing was moved, and the lengths do not rest on the table" in said
    assert "[ground] shift" in said


def test_the_shift_told_put_into_the_job_brings_the_table_back(yard, tmp_path):
    plan = planned(read_book(yard(shift_m=-0.25, more='shift = "250 mm"\nsurface = "table"')))
    assert not plan.ground.tie.significant
    assert plan.ground.choice.used == "table"
    assert plan.ground.choice.asked


def test_a_table_of_elsewhere_ends_with_2(yard, tmp_path, capsys):
    assert ran(yard(east_m=5000.0), tmp_path / "out") == 2
    said = capsys.readouterr().err
    assert "ground.csv" in said
    assert "none of the survey's ground shots" in said
    assert not (tmp_path / "out").exists()


def test_mistakes_of_table_and_survey_are_told_together(yard, tmp_path, capsys):
    folder = yard(readable=False)
    with (folder / "levels.csv").open("a") as levels:
        levels.write("G1,x,,\n")
    assert ran(folder, tmp_path / "out") == 2
    said = capsys.readouterr().err
    assert "ground.csv, row 3, column north" in said
    assert "levels.csv" in said


def test_a_name_like_a_table_of_readings_is_no_slip(yard):
    # points2.csv is told as a slip of points.csv where nothing names it.
    book = read_book(yard(name="points2.csv"))
    assert book.ground_table.file == "points2.csv"
    assert not any("points2" in warning for warning in book.warnings)


def test_the_fingerprint_is_of_the_table_too(yard):
    one = read_book(yard()).fingerprint
    assert read_book(yard(shift_m=0.001)).fingerprint != one


def test_what_to_read_next_is_told_on_one_surface(yard):
    # 2026-11-28: the sd before was that on the table, the sd after that on the statistical surface.
    from staking.ahead.looking import looked_ahead

    plan = planned(read_book(yard()))
    worst = looked_ahead(plan).next_readings.worst
    names, en_m = plan.arrays[0].fit.piers.names, plan.arrays[0].fit.piers.en_m
    sd_m = plan.ground.by_statistics().at_piers(names, en_m).sd_m
    assert worst.sd_before_m == pytest.approx(sd_m.max(), rel=1e-6)
