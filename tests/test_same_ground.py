"""Arrays that stand on the same ground are refused or told, others are not."""

import math
from pathlib import Path

import numpy as np
import pytest
from shapely import Polygon
from shapely.affinity import translate

from staking.base.errors import WrongInput
from staking.book.folder import read_book
from staking.cli import main
from staking.laying import around_of, beside_others
from staking.plan import planned
from staking.same_ground import overlap_m
from staking.sheets.pack import pack
from staking.sheets.trouble import remedies_heading

SAMPLES = Path(__file__).parents[1] / "sample_surveys"


def yard(folder: Path, places: dict[str, tuple[float, float] | None], *, hole=0.30) -> Path:
    """Write an invented yard of even ground, with an array of 2.7 m by about 3.1 m at each place."""
    folder.mkdir()
    job = (SAMPLES / "hand_check" / "job.toml").read_text(encoding="utf-8")
    job = job.replace("hole_diameter = 0.30", f"hole_diameter = {hole}")
    head, rest = job.split("[control]")[0], "[array]" + job.split("[array]")[1]
    before, after = rest.split("[place]")
    rest = before + "[place]\npier = 'A1'\neast = 3.0\nnorth = 3.0\n\n[fit]" + after.split("[fit]")[1]
    arrays = ""
    for name, place in places.items():
        arrays += f'\n[[arrays]]\nname = "{name}"\n'
        if place is not None:
            arrays += f'place = {{ pier = "A1", east = {place[0]}, north = {place[1]} }}\n'
    (folder / "job.toml").write_text(head + rest + arrays, encoding="utf-8")
    rows = ["point,east,north,elevation"]
    rows += [f"G{x}_{y},{x},{y},{50 + 0.05 * y - 0.01 * x}" for x in range(0, 25, 3) for y in range(0, 25, 3)]
    (folder / "control.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return folder


def refused(folder):
    with pytest.raises(WrongInput) as wrong:
        planned(read_book(folder))
    return str(wrong.value)


def test_a_second_array_without_a_place_of_its_own_is_refused(tmp_path, capsys):
    """2026-11-28: both arrays got identical stakes, exit 0, and nothing was said."""
    folder = yard(tmp_path / "yard", {"south": None, "north": None})
    with pytest.raises(SystemExit) as stop:
        main(["plan", str(folder), "--out", str(tmp_path / "out")])
    assert stop.value.code == 2
    said = capsys.readouterr().err
    assert "south-A1 and north-A1 on the same spot" in said
    assert "2 more pairs" in said
    assert "give array north a place of its own" in said
    assert not (tmp_path / "out").exists()


def test_holes_that_overlap_or_meet_are_refused_with_the_piers_named(tmp_path):
    """2026-11-28: holes 0.2 m apart of 0.3 m across, exit 0; the bays are 1.5 m by the sample's job."""
    text = refused(yard(tmp_path / "near", {"south": (3.0, 3.0), "north": (6.2, 3.0)}))
    assert "south-A3 and north-A1 200 mm apart" in text
    assert "300 mm across" in text
    assert "A2" not in text
    # Rims that meet leave no ground between them either; a finger's breadth is no overlap.
    assert "south-A3" in refused(yard(tmp_path / "meet", {"south": (3.0, 3.0), "north": (6.3, 3.0)}))
    far = planned(read_book(yard(tmp_path / "far", {"south": (3.0, 3.0), "north": (6.32, 3.0)})))
    assert far.overlaps


def test_modules_that_overlap_in_plan_are_an_alarm_on_every_sheet(tmp_path):
    """2026-11-28: arrays of one another's ground, posts between posts, exit 0 and no word."""
    plan = planned(read_book(yard(tmp_path / "over", {"south": (3.0, 3.0), "north": (6.8, 3.0)})))
    [pair] = plan.overlaps
    assert (pair.one, pair.other) == ("south", "north")
    # 4 modules of 1.10 m and 3 gaps of 20 mm are 4.46 m wide; the arrays stand 3.8 m apart.
    assert pair.by_m == pytest.approx(4.46 - 3.8, abs=1e-9)
    assert any("CONFLICT: the modules of arrays south and north overlap" in text for text in plan.warnings)
    assert "ARRAYS OVERLAP" in pack(plan).title_block.alarm


def test_arrays_side_by_side_and_behind_one_another_are_no_alarm(tmp_path):
    places = {"south": (3.0, 3.0), "east": (7.5, 3.0), "north": (3.0, 9.0)}
    plan = planned(read_book(yard(tmp_path / "yard", places)))
    assert plan.overlaps == ()
    assert not any("CONFLICT" in text for text in plan.warnings)
    assert pack(plan).title_block.alarm == ""


def test_where_two_arrays_do_not_fit_each_has_what_would_do_and_moves_clear_of_the_other(tmp_path):
    """2026-11-28: no sentence said which array it was for, and a move could end on the other's modules."""
    places = {"south": (3.0, 3.0), "north": (3.0, 6.7)}
    folder = yard(tmp_path / "yard", places)
    job = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(job.replace("above_grade_max = 2.40", "above_grade_max = 1.0"))
    plan = planned(read_book(folder))
    assert plan.arrays == ()
    for name in places:
        assert any(text.startswith(f"array {name}: above_grade_max = ") for text in plan.would_do)
    assert all(text.startswith(("array south: ", "array north: ")) for text in plan.would_do)
    assert remedies_heading(plan).startswith("Of each array any one")
    book, points = read_book(folder), plan.adjustment.points
    round_it = beside_others(around_of(book, points), book.job, places)
    assert {name: [one.name for one in own.obstacles] for name, own in round_it.items()} == {
        "south": ["array north"],
        "north": ["array south"],
    }


def test_holes_of_one_array_that_overlap_are_asked_about(tmp_path):
    """2026-11-28: a lost unit made holes wider than the bay, exit 0."""
    plan = planned(read_book(yard(tmp_path / "yard", {"one": (3.0, 3.0)}, hole=1.6)))
    [text] = [text for text in plan.warnings if "neighbouring holes" in text]
    assert "A1 and " in text
    assert "1600 mm" in text


def test_compare_tells_of_arrays_that_overlap(tmp_path, capsys):
    folder = yard(tmp_path / "yard", {"south": (3.0, 3.0), "north": (7.6, 3.0)})
    (folder / "variants.toml").write_text('["wide gaps"]\narray.gap.along = 0.1\nframe.rail_clear = 0.01\n')
    with pytest.raises(SystemExit) as stop:
        main(["compare", str(folder)])
    out = " ".join(capsys.readouterr().out.split())
    assert not stop.value.code, out
    assert "ARRAYS OVERLAP in plan: 2." in out


def test_the_way_out_is_what_another_library_s_polygons_need():
    """By shapely: moved by the least way along its direction they only touch, by less they still overlap."""
    rng = np.random.default_rng(5)
    apart = 0
    for _ in range(200):
        rings = []
        for _ in range(2):
            turn, (w, h) = rng.uniform(0, math.tau), rng.uniform(1, 8, 2)
            box = np.array([[0, 0], [w, 0], [w, h], [0, h]])
            c, s = math.cos(turn), math.sin(turn)
            rings.append(box @ np.array([[c, s], [-s, c]]) + rng.uniform(0, 8, 2))
        by_m = overlap_m(*rings)
        one, other = map(Polygon, rings)
        assert (by_m > 0) == (one.intersection(other).area > 0)
        apart += by_m <= 0
        ways = [(math.cos(a), math.sin(a)) for a in np.radians(np.arange(0, 360, 0.5))]
        if by_m > 0:
            shared = {
                share: min(
                    one.intersection(translate(other, share * by_m * x, share * by_m * y)).area
                    for x, y in ways
                )
                for share in (0.99, 1.001)
            }
            assert shared[1.001] < 1e-3 * by_m
            assert shared[0.99] > 0
    assert 20 < apart < 180
