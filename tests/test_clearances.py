"""Lines and trees from the folder to the warnings, results and sheets."""

import shutil
from pathlib import Path

import numpy as np
import pytest

from staking.book.folder import read_book
from staking.plan import planned
from staking.results import results
from staking.sheets.pack import pack

SAMPLE = Path(__file__).parent.parent / "sample_surveys" / "cross_fall"
FOOT_M = 0.3048


def yard(tmp_path, lines, *, tree=""):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLE, folder)
    (folder / "lines.csv").write_text("line,kind,points,setback,height\n" + lines, encoding="utf-8")
    if tree:
        head, *rows = (folder / "points.csv").read_text(encoding="utf-8").splitlines()
        rows = [f"{head},radius", *(f"{row}," for row in rows), f"T1,tree,,{tree}"]
        (folder / "points.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
        with (folder / "offsets.csv").open("a", encoding="utf-8") as file:
            file.write("T1,P1,P2,50,-20,level,\n")
    return planned(read_book(folder))


def test_conflicts_are_named_with_their_distance_on_terminal_results_and_sheet(tmp_path):
    plan = yard(tmp_path, "west line,boundary,P1 P3,5,\nservice wire,overhead,P3 P4,3,22\n", tree="8")
    named = [text for text in plan.warnings if text.startswith("CONFLICT")]
    # A setback of 3 ft is never less than the 10 ft of 29 CFR 1926.1408 Table A, up to 50 kV.
    assert any("service wire wants 10' 0\" kept; stick of 21' 0\" stood up at B5" in text for text in named)
    # The underside's high corner; the upper face keeps 3' 6-9/16" (2026-11-28: it alone was looked at).
    assert any(
        "boundary west line wants 5' 0\" kept; edge of the modules at 3' 6-7/16\"" in text for text in named
    )
    assert any("tree T1; edge of the modules reaches" in text for text in named)
    told = results(plan)["lines"]
    assert {row["line"] for row in told} == {"west line", "service wire", "T1"}
    assert not all(row["keeps"] for row in told)
    made = pack(plan)
    assert "TOO NEAR" in made.title_block.alarm
    assert "Lines and trees" in [sheet.title for sheet in made.sheets]


def test_distances_follow_from_stakes_and_pins(tmp_path):
    """The west line runs from P1 at the origin through P3; a hole's rim is half its diameter nearer."""
    plan = yard(tmp_path, "west line,boundary,P1 P3,,\n")
    points, piers = plan.adjustment.points, plan.arrays[0].fit.piers
    east, north = points.enz_m[points.index("P3"), :2]
    length = (east**2 + north**2) ** 0.5
    by_name = {d.thing: d.distance_m for d in plan.clearances.distances}
    for name, (e, n) in zip(piers.names, piers.en_m, strict=True):
        if 0 <= (e * east + n * north) / length <= length:
            assert by_name[f"hole of {name}"] == pytest.approx(
                abs(e * north - n * east) / length - FOOT_M / 2, abs=1e-4
            )


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ("yard,boundary,P1 P2 P3 P4 P1,3,\n", "yard (lines.csv, row 2) is NOT CHECKED: its sides cross"),
        ("pond,no_build,P1 P2 P3 P4,,\n", "pond (lines.csv, row 2) is NOT CHECKED: its sides cross"),
        ("pond,no_build,P1 P2 P1,,\n", "NOT CHECKED: its sides cross or lie on one another"),
        ("yard,boundary,P1 P2 P4 P3,3,\n", "boundary yard does not come back to its first point"),
    ],
)
def test_rings_that_ring_nothing_are_not_checked_and_open_ones_have_no_side(tmp_path, lines, says):
    plan = yard(tmp_path, lines)
    assert any(says in text for text in plan.warnings)


def test_a_tree_without_a_radius_is_said_not_to_be_checked(tmp_path):
    plan = yard(tmp_path, "gas,buried,P1 P2,2,\n", tree=" ")
    assert any("tree T1 is NOT CHECKED: points.csv gives it no radius" in text for text in plan.warnings)


def test_nothing_given_nothing_claimed(tmp_path):
    plan = yard(tmp_path, "")
    assert plan.clearances.distances == ()
    assert any(
        "no boundary, buried or overhead lines were given and none were checked" in t for t in plan.warnings
    )
    assert all(sheet.title != "Lines and trees" for sheet in pack(plan).sheets)
    part = yard(tmp_path / "part", "gas,buried,P1 P2,2,\n")
    assert any("no boundary or overhead lines were given" in text for text in part.warnings)
    assert not any("CONFLICT" in text for text in part.warnings)


def test_the_foot_of_a_wire_that_was_not_shot_is_told_and_makes_its_distances_less_sure(tmp_path):
    """Found 2026-11-28: 22 ft beyond the last shot a wire's height was told to half an inch."""
    plan = yard(tmp_path, "service wire,overhead,P3 T1,,40\nother wire,overhead,P3 P4,,40\n", tree="8")
    told = [text for text in plan.warnings if "was not shot" in text]
    assert len(told) == 1
    assert "service wire: the ground at T1 was not shot" in told[0]
    points = plan.adjustment.points
    at = points.enz_m[[points.index("T1")], :2]
    foot_sd_m = float(plan.ground.at(at).sd_m[0])
    sds = {d.obstacle: d.sd_m for d in plan.clearances.distances}
    assert sds["service wire"] >= foot_sd_m > 0.0
    # Its ends were levelled: their own heights and places.
    both = points.sd_m()[[points.index("P3"), points.index("P4")]]
    assert sds["other wire"] == pytest.approx(np.hypot(both[:, :2].max(), both[:, 2].max()))


def test_a_line_through_a_point_without_a_place_is_said_not_to_be_checked(tmp_path):
    plan = yard(tmp_path, "old wire,buried,P1 BM1,2,\n")
    assert any("old wire" in text and "NOT CHECKED" in text and "BM1" in text for text in plan.warnings)
