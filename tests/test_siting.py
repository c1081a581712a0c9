"""An area instead of a point: the folder's words, the plan, what is told, and what is refused."""

import json
import math
import shutil
from itertools import pairwise
from pathlib import Path

import pytest

from staking.base.errors import WrongInput
from staking.book.folder import read_book
from staking.cli import main
from staking.compare import usual
from staking.plan import planned
from staking.results import results
from staking.sheets.drawing import Line
from staking.sheets.pack import pack
from staking.sheets.site_model import Run

SAMPLE = Path(__file__).parents[1] / "sample_surveys" / "hand_check"
AREA = 'area = ["P1", "P2", "G3", "G4"]\n'


def yard(folder, place=AREA, *, lines="", limit="2.40", fit="", stakes=False):
    shutil.copytree(SAMPLE, folder)
    job = (folder / "job.toml").read_text(encoding="utf-8")
    head, tail = job.split("[place]")[0], "[fit]" + job.split("[fit]")[1]
    tail = tail.replace("above_grade_max = 2.40", f"above_grade_max = {limit}\n{fit}")
    (folder / "job.toml").write_text(f"{head}[place]\n{place}\n{tail}", encoding="utf-8")
    if not stakes:
        rows = (folder / "levels.csv").read_text(encoding="utf-8").splitlines()
        rows = [row for row in rows if row[:2] not in ("A1", "A2", "A3", "B1", "B2", "B3")]
        (folder / "levels.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    if lines:
        (folder / "lines.csv").write_text("line,kind,points,setback,height\n" + lines, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    return planned(
        read_book(yard(tmp_path_factory.mktemp("area") / "yard", lines="pipe,buried,P1 P3,0.4,\n"))
    )


def test_the_array_stands_in_its_area_and_the_keys_told_plan_the_same(tmp_path, found):
    (one,) = found.sited
    here = results(found)["arrays"][0]["place_found"]
    assert here["keys"] == one.place.keys
    assert not found.clearances.failing
    assert not any("too close to call" in text for text in found.warnings)
    (text,) = (text for text in found.warnings if "was placed where" in text)
    assert one.place.keys in text
    pasted = yard(
        tmp_path / "pasted", one.place.keys.replace(" with ", "\n"), lines="pipe,buried,P1 P3,0.4,\n"
    )
    again = planned(read_book(pasted))
    assert results(again)["arrays"][0]["place_found"] is None
    assert results(again)["piers"] == results(found)["piers"]
    total = again.arrays[0].fit.total_above_grade_m
    assert total == pytest.approx(one.place.value_m, abs=1e-4)
    # The sample's own place is in the area too; on its plane of ground it asks for as much.
    own = 'line = ["P1", "P2"]\nstation = 2.0\noffset = -1.0'
    assert total <= planned(read_book(yard(tmp_path / "own", own))).arrays[0].fit.total_above_grade_m + 1e-6
    assert len(dict(usual(found.book))) == 7  # compared from the place that was found


def test_the_area_is_on_the_maps_and_in_the_site_file(found):
    """2026-11-28: nothing drew it."""
    made = pack(found)
    for title in ("Stake-out map", "Site plan, for the permit desk"):
        (drawing,) = (sheet.drawing for sheet in made.sheets if sheet.title == title)
        sides = [item for item in drawing.items if item.layer == "place areas" and isinstance(item, Line)]
        # P1, P2, G3, G4 stand at 0, 0; 8, 0; 6.5, 4.5 and 0.5, 4.5 by README.md of the sample.
        m = drawing.scale / 1000.0
        length = sum(math.dist(a, b) for line in sides for a, b in pairwise(line.xy_mm)) * m
        assert length == pytest.approx(8 + math.hypot(1.5, 4.5) + 6 + math.hypot(0.5, 4.5), abs=0.01)
        assert {line.dash for line in sides} == {"dashdotdot"}
        assert "area the array was to stand in" in {getattr(item, "text", "") for item in drawing.items}
    (ring,) = (item for item in made.site.items if item.layer == "PLACE_AREAS" and isinstance(item, Run))
    assert [at[:2] for at in ring.enz_m] == [
        pytest.approx(at, abs=1e-6) for at in ((0, 0), (8, 0), (6.5, 4.5), (0.5, 4.5))
    ]


def test_beside_a_line_the_place_is_told_by_station_and_offset(tmp_path, found):
    lines = "pipe,buried,P1 P3,0.4,\n"
    plan = planned(read_book(yard(tmp_path / "yard", AREA + 'line = ["P2", "P1"]', lines=lines)))
    (one,) = plan.sited
    assert one.place.keys.startswith("station = ")
    assert one.place.value_m == pytest.approx(found.sited[0].place.value_m, abs=2e-3)
    east, north = one.place.placed_en_m  # the line runs west along north 0; its right is north
    assert (one.place.first_m, one.place.second_m) == pytest.approx((8.0 - east, north), abs=0.01)


def test_no_room_ends_with_3_and_a_setback_that_would_do(tmp_path, capsys):
    fence = "fence,boundary,P2 G3,2.5,\npipe,buried,P1 P3,1.5,\n"
    with pytest.raises(SystemExit) as stop:
        main(["plan", str(yard(tmp_path / "yard", lines=fence)), "--out", str(tmp_path / "out")])
    assert stop.value.code == 3
    said = " ".join(capsys.readouterr().err.split())
    assert "Nowhere within P1, P2, G3, G4 do modules and holes have room" in said
    setback = int(said.split('setback = "')[1].split(" mm")[0]) / 1000
    told = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    assert told["conflicts"][0]["limit"] == "place.area"
    fence = fence.replace(
        "2.5" if "of fence" in said.split('setback = "')[1][:30] else "1.5", f"{setback:.3f}"
    )
    assert planned(read_book(yard(tmp_path / "less", lines=fence))).arrays


def test_no_plane_anywhere_ends_with_3_and_what_would_do_does(tmp_path):
    plan = planned(read_book(yard(tmp_path / "yard", limit="1.60")))
    assert plan.arrays == ()
    assert plan.conflicts[0].text.startswith("nowhere in the area does a plane fit")
    assert not any("[place]" in text or text.startswith("sections") for text in plan.would_do)
    (most,) = (text.split('"')[1] for text in plan.would_do if text.startswith("above_grade_max"))
    again = planned(read_book(yard(tmp_path / "more", limit=f'"{most}"')))
    assert len(again.sited) == 1


def test_shots_at_stakes_of_an_array_without_a_place_are_refused(tmp_path):
    folder = yard(tmp_path / "yard", stakes=True)
    with pytest.raises(WrongInput, match="stakes were shot"):
        planned(read_book(folder))
    (folder / "staked.csv").write_text(
        "pier,east,north\nA1,2,1\nA2,3.5,1\nA3,5,1\nB1,2,2.836\nB2,3.5,2.836\nB3,5,2.836\n", encoding="utf-8"
    )
    assert planned(read_book(folder)).arrays


@pytest.mark.parametrize(
    ("place", "fit", "says"),
    [
        ('area = ["P1", "G3", "P2", "G4"]', "", "sides cross"),
        ('area = ["P1", "P2"]', "", "not a list of enough"),
        ('area = ["P1", "P2", "p1", "P2"]', "", "fewer than three"),
        ('area = ["P1", "P2", "P9"]', "", "no reading mentions"),
        ('area = ["P1", "P2", "BM1"]', "", "no reading places BM1"),
        ('area = ["P1", "P2", "P3"]\neast = 3', "", "east beside area"),
        ('area = ["P1", "P2", "P3"]\nline = ["P1", "P1"]', "", "from a point to itself"),
        ('area = ["P1", "P2", "P3"]', 'sections = "auto"', "depends on where it stands"),
        ("area = 4", "", "not a list"),
    ],
)
def test_wrong_areas_are_refused(tmp_path, place, fit, says):
    with pytest.raises(WrongInput) as caught:
        planned(read_book(yard(tmp_path / "yard", place, fit=fit)))
    assert any(says in str(mistake) for mistake in caught.value.mistakes)


OWN = 'line = ["P1", "P2"]\nstation = 2.0\noffset = -1.0'


def tilting(folder, tilt, **more):
    folder = yard(folder, OWN, **more)
    job = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(job.replace("tilt = 30", tilt), encoding="utf-8")
    return folder


def test_the_steepest_tilt_is_told_and_pasted_plans_the_same(tmp_path):
    plan = planned(read_book(tilting(tmp_path / "yard", "tilt = 20\nmax_tilt = 60", limit="2.70")))
    (one,) = plan.tilted
    (text,) = (text for text in plan.warnings if "the steepest up to 60" in text)
    tilt = text.split("write tilt = ")[1].split(" ")[0]
    assert "0.1° more misses above_grade_max, pier B" in text
    again = planned(read_book(tilting(tmp_path / "pasted", f"tilt = {tilt}", limit="2.70")))
    assert results(again)["piers"] == results(plan)["piers"]
    assert results(again)["arrays"][0]["tilt_found"] is None
    assert results(plan)["arrays"][0]["tilt_found"]["tilt"] == pytest.approx(float(tilt))
    more = f"tilt = {float(tilt) + 0.1:.1f}"
    assert planned(read_book(tilting(tmp_path / "more", more, limit="2.70"))).arrays == ()
    assert one.limit


def test_where_no_tilt_does_the_least_one_is_what_is_told_of(tmp_path):
    plan = planned(read_book(tilting(tmp_path / "yard", "tilt = 40\nmax_tilt = 60", limit="1.40")))
    assert plan.tilted == ()
    assert plan.conflicts
    assert any(text.startswith("tilt = ") and float(text.split()[2]) < 40 for text in plan.would_do)


@pytest.mark.parametrize(
    ("tilt", "place", "fit", "says"),
    [
        ("tilt = 30\nmax_tilt = 20", OWN, "", "less than tilt"),
        ("tilt = 30\nmax_tilt = 40", AREA, "", "both to be found"),
        ("max_tilt = 40", OWN, "", "array.tilt: this key is missing"),
        ("tilt = 30\nmax_tilt = 95", OWN, "", "max_tilt"),
        ("tilt = 30", OWN, 'stand = "high"\nlow_edge = 0.8', "sets the plane's height already"),
        ("tilt = 30", OWN, 'stand = "high"\nsections = 2', "stand as low as they may"),
        ("tilt = 30", OWN, 'stand = "middle"', "unknown word"),
        ("tilt = 30", OWN, "low_edge = -1", "low_edge"),
    ],
)
def test_wrong_wishes_are_refused(tmp_path, tilt, place, fit, says):
    folder = yard(tmp_path / "yard", place, fit=fit)
    job = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(job.replace("tilt = 30", tilt), encoding="utf-8")
    with pytest.raises(WrongInput) as caught:
        planned(read_book(folder))
    assert any(says in str(mistake) for mistake in caught.value.mistakes)
