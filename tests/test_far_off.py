"""Arrays, areas and lines in other coordinates than the survey.

Symptom, 2026-11-28: with control on a map grid and the place typed in small local numbers, or the reverse,
the plan ended with status 0 and lengths "known to ±67963 ft".
"""

import shutil
from pathlib import Path

import pytest

from staking.base.errors import WrongInput
from staking.base.units import told_far
from staking.book.folder import read_book
from staking.plan import planned

SAMPLE = Path(__file__).parents[1] / "sample_surveys" / "hand_check"
LOCAL = 'line = ["P1", "P2"]\nstation = 2.0\noffset = -1.0'
GRID = "P1,2500000,1200000\n"
"""The sample's pin P1 where a map grid has it; locally it is at 0, 0."""


def yard(folder, place=LOCAL, *, control="", lines="", arrays="", more_control=""):
    shutil.copytree(SAMPLE, folder)
    job = (folder / "job.toml").read_text(encoding="utf-8")
    head, tail = job.split("[place]")[0], "[fit]" + job.split("[fit]")[1]
    if control:
        head = "\n".join(row for row in head.splitlines() if not row.startswith("origin ")) + "\n"
    (folder / "job.toml").write_text(f"{head}[place]\n{place}\n\n{tail}\n{arrays}", encoding="utf-8")
    # Without its stakes, whose shots stand where the design says.
    rows = (folder / "levels.csv").read_text(encoding="utf-8").splitlines()
    rows = [row for row in rows if row[:2] not in ("A1", "A2", "A3", "B1", "B2", "B3")]
    (folder / "levels.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    if control or more_control:
        (folder / "control.csv").write_text("point,east,north\n" + control + more_control, encoding="utf-8")
    if lines:
        (folder / "lines.csv").write_text("line,kind,points,setback\n" + lines, encoding="utf-8")
    return folder


def refused(folder):
    with pytest.raises(WrongInput) as caught:
        planned(read_book(folder))
    return [str(mistake) for mistake in caught.value.mistakes]


@pytest.mark.parametrize(
    ("place", "control", "away"),
    [
        # From P1 to 0, 0: sqrt(2500² + 1200²) = 2773.1 km, and back again.
        ("east = 2.0\nnorth = 1.0", GRID, "2,770 km"),
        ("east = 2500002.0\nnorth = 1200001.0", "", "2,770 km"),
        # By line, station for a bay lost its unit: 2000 m along the line, 8 m of it surveyed.
        ('line = ["P1", "P2"]\nstation = 2000.0\noffset = -1.0', "", "1,990 m"),
        # G2 and G3 stand at east 6.5; the array's left post 100.1 m further.
        ("east = 108.1\nnorth = 1.0", "", "100 m"),
    ],
)
def test_an_array_far_from_all_that_was_measured_is_refused(tmp_path, place, control, away):
    (text,) = refused(yard(tmp_path / "yard", place, control=control))
    assert f"would stand {away} from the nearest point that was measured (pier " in text
    assert "job.toml, key place" in text
    assert "the same coordinates" in text


def test_an_array_that_overhangs_the_shots_is_planned_and_told_so(tmp_path):
    """12 m from the nearest pin, P2 at 8, 0: a guess, and told to be one."""
    plan = planned(read_book(yard(tmp_path / "yard", "east = 20.0\nnorth = 1.0")))
    assert any("OUTSIDE the ground" in text for text in plan.warnings)


def test_of_several_arrays_each_far_one_is_named(tmp_path):
    two = (
        '[[arrays]]\nname = "south"\n\n[[arrays]]\nname = "north"\n'
        "place = { east = 2500002, north = 1200009 }\n"
    )
    (text,) = refused(yard(tmp_path / "yard", "east = 2.0\nnorth = 1.0", arrays=two))
    assert "place of array north" in text


def test_corners_of_an_area_and_points_of_lines_in_other_coordinates_are_refused(tmp_path):
    """A corner that only control.csv lists is no measured point itself."""
    far = "Q1,2500000,1200000\nQ2,2500009,1200000\n"
    near = "Q3,9,9\n"
    texts = refused(
        yard(
            tmp_path / "yard",
            'area = ["P1", "Q1", "Q3"]',
            more_control="P1,0,0\n" + far + near,
            lines="west,boundary,Q1 Q2,1\nown,boundary,P1 Q3,\npipe,buried,P1 Q2,\n",
        )
    )
    assert ["place.area" in texts[0], "row 2" in texts[1], "row 4" in texts[2]] == [True] * 3
    assert len(texts) == 3
    assert all("2,770 km" in text for text in texts)


def test_shots_in_two_systems_of_coordinates_are_refused(tmp_path):
    folder = yard(tmp_path / "yard", more_control="P1,0,0\nG9,2500000,1200000\n")
    with (folder / "levels.csv").open("a", encoding="utf-8") as levels:
        levels.write("BM1,2.000,,,\nG9,,1.700,,\nBM1,,,2.000,\n")
    (text,) = refused(folder)
    assert "control.csv, row 3: G9 lies 2,770 km from all other shots" in text


@pytest.mark.parametrize(
    ("metres", "style", "text"),
    [
        (45.4, "metric", "45 m"),
        (2773084.0, "metric", "2,770 km"),
        (1999.0, "metric", "2,000 m"),
        (100.0, "feet-inches", "328 ft"),
        (2773084.0, "decimal feet", "1,720 mi"),  # 2773084 / 1609.344 = 1723.1
    ],
)
def test_a_long_way_in_words(metres, style, text):
    assert told_far(metres, style) == text
