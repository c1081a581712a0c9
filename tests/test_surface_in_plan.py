"""The surface between the shots, from job.toml to results, terminal and cover."""

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from staking.book.folder import read_book
from staking.cli import main
from staking.plan import planned
from staking.sheets.cover import cover_sheet
from staking.sheets.notation import Notation
from staking.sheets.sheet import Words

SAMPLES = Path(__file__).parent.parent / "sample_surveys"


def yard(tmp_path, surface, sample="cross_fall"):
    folder = tmp_path / surface
    shutil.copytree(SAMPLES / sample, folder)
    with (folder / "job.toml").open("a") as job:
        job.write(f'\n[ground]\nsurface = "{surface}"\n')
    return folder


def ran(folder, out):
    with pytest.raises(SystemExit) as ended:
        main(["plan", str(folder), "--out", str(out)])
    return ended.value.code


@pytest.mark.parametrize("surface", ["auto", "statistical", "triangulated"])
def test_results_terminal_and_cover_say_which_and_how_good(tmp_path, capsys, surface):
    assert ran(yard(tmp_path, surface), tmp_path / "out") == 0
    said = " ".join(capsys.readouterr().out.split())
    ground = json.loads((tmp_path / "out" / "results.json").read_text())["ground"]
    assert ground["surface"] == ("triangulated" if surface == "triangulated" else "statistical")
    assert ground["surface_asked"] is (surface != "auto")
    left = ground["left_out"]
    assert left["shots"] >= 8
    assert 0 < left["statistical"] < left["triangulated"]
    if surface == "triangulated":
        assert ground["rms_left_out"] == left["triangulated"]
        assert ground["model"].startswith("triangulated")
    words = (
        "triangles between the shots, as job.toml asks"
        if surface == "triangulated"
        else "statistical surface"
    )
    assert words in said
    cover = cover_sheet(
        planned(read_book(tmp_path / surface)), titles=(), notation=Notation(style="feet-inches")
    )
    assert any(words in line for block in cover.blocks if isinstance(block, Words) for line in block.lines)


def test_piers_stand_on_the_surface_that_is_asked_for(tmp_path):
    plans = {s: planned(read_book(yard(tmp_path, s))) for s in ("statistical", "triangulated")}
    for name, plan in plans.items():
        (array,) = plan.arrays
        piers = array.fit.piers.en_m
        surface = getattr(plan.ground, name)
        np.testing.assert_allclose(array.fit.lengths.ground_m, surface.z(piers), atol=1e-9)
        np.testing.assert_allclose(array.fit.lengths.ground_cov_m2, surface.at(piers).cov_m2, atol=1e-12)
        assert (array.fit.lengths.sd_above_grade_m > 0).all()
    one, other = (plan.arrays[0].fit.lengths.ground_m for plan in plans.values())
    assert np.abs(one - other).max() > 1e-4


def test_a_break_is_a_side_of_triangles(tmp_path):
    folder = yard(tmp_path, "triangulated")
    (folder / "lines.csv").write_text("line,kind,points\ntoe,break,G21 G22 G23 g24 G25\n", encoding="utf-8")
    plan = planned(read_book(folder))
    assert plan.ground.surface.model == "triangulated, planes between the shots, breaks as sides"


def test_a_surface_that_is_not_known_is_told(tmp_path, capsys):
    assert ran(yard(tmp_path, "spline"), tmp_path / "out") == 2
    said = capsys.readouterr().err
    assert "ground.surface" in said
    assert "spline" in said
    assert not (tmp_path / "out").exists()
