"""Breaks of `lines.csv` reach the ground of a plan; one that cannot be placed is told."""

import shutil
from pathlib import Path

from staking.book.folder import read_book
from staking.plan import surveyed

SAMPLES = Path(__file__).parent.parent / "sample_surveys"


def _surveyed(tmp_path, lines):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLES / "cross_fall", folder)
    (folder / "lines.csv").write_text("line,kind,points\n" + lines, encoding="utf-8")
    return surveyed(read_book(folder))


def test_a_break_is_kept_sharp_and_not_remarked(tmp_path):
    plan = _surveyed(tmp_path, "toe,break,G21 G22 G23 g24 G25\n")
    assert "breaks kept sharp" in plan.ground.surface.model
    names = plan.ground.shots.names
    (line,) = plan.ground.surface.breaks.lines_en_m
    expected = [plan.ground.shots.en_m[names.index(name)] for name in ("G21", "G22", "G23", "G24", "G25")]
    assert line.tolist() == [place.tolist() for place in expected]
    assert not any("break" in warning for warning in plan.warnings)


def test_points_without_a_place_are_told(tmp_path):
    plan = _surveyed(tmp_path, "toe,break,G21 BM1 G25\ntop,break,G31 BM1\n")
    assert len(plan.ground.surface.breaks.lines_en_m) == 1
    told = [warning for warning in plan.warnings if "break" in warning]
    assert told == [
        "lines.csv row 2: BM1 has no place; break toe runs straight past it",
        "lines.csv row 3: BM1 has no place; break top is not used without it",
    ]


def test_other_lines_do_not_break_the_ground(tmp_path):
    assert _surveyed(tmp_path, "fence,boundary,G21 G25\n").ground.surface.breaks is None
