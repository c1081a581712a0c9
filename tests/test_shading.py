"""Arrays behind one another, from a folder to the spacing that would do."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from staking.book.folder import read_book
from staking.cli import main
from staking.layout.field import corners_of
from staking.layout.shape import shape_of
from staking.north.sun import noon_of, sun_at
from staking.plan import planned
from staking.results import results

SAMPLE = Path(__file__).parents[1] / "sample_surveys" / "hand_check"
LAT, LON = 40.0, -75.0
PLACE = f"latitude = {LAT}\nlongitude = {LON}\n"


def ground(x, y):
    """Invented: falls to the south and a little to the east, with a swell."""
    return 50.0 + 0.08 * y - 0.02 * x + 0.1 * math.sin(0.4 * y)


def yard(folder: Path, *, behind=4.6, site=PLACE, more="", stepped="") -> Path:
    folder.mkdir(exist_ok=True)
    job = (SAMPLE / "job.toml").read_text(encoding="utf-8")
    head, tail = job.split("[place]")[0], "[fit]" + job.split("[fit]")[1]
    head = re.sub(r"\[control\].*?\n\n", "", head, flags=re.S).replace("[site]\n", f"[site]\n{site}")
    arrays = f"""
{more}
[[arrays]]
name = "south"
place = {{ pier = "A1", east = 3.0, north = 3.0 }}
[[arrays]]
name = "north"
place = {{ pier = "A1", line = ["Q1", "Q2"], station = 3.2, offset = {-behind} }}
"""
    tail = tail.replace("length = 6.0", "length = 6.4")
    if stepped:
        tail = tail.replace("length = 6.4", "length = 12.8")  # no joints, whose cutting takes its time
        fit = "[fit]" + tail.split("[fit]")[1].split("[footing]")[0]
        parted = fit.replace("[fit]", "[arrays.fit]") + "break_after = 2\nsection_gap = 0.5\n"
        for name in ("south", "north"):
            if stepped in (name, "both"):
                a, b = arrays.split(f'name = "{name}"\n')
                place, rest = b.split("\n", 1)
                arrays = f'{a}name = "{name}"\n{place}\n{parted}{rest}'
    (folder / "job.toml").write_text(head + tail + arrays, encoding="utf-8")
    rows = ["point,east,north,elevation", f"Q1,0,3,{ground(0, 3):.3f}", f"Q2,10,3,{ground(10, 3):.3f}"]
    for k, (x, y) in enumerate((x, y) for x in range(0, 13, 2) for y in range(0, 25, 2)):
        rows.append(f"G{k},{x},{y},{ground(x, y):.3f}")
    (folder / "control.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    (folder / "points.csv").write_text("point,kind\nQ1,pin\nQ2,pin\n", encoding="utf-8")
    return folder


def covered(plan, back_shift=(0.0, 0.0)) -> float:
    """Return the greatest share of rays from the north array's face that meet the south's: no polygons."""
    faces = {"south": [], "north": []}
    for one in plan.arrays:
        shape = shape_of(one.job, style="metric")
        faces[one.name].append(corners_of(shape, one.fit.plane, shape.stack_m + shape.thick_m))
    backs = [back + np.array([*back_shift, 0.0]) for back in faces["north"]]
    lat, lon = math.radians(LAT), math.radians(LON)
    noon = noon_of(lat, lon, datetime(2026, 12, 21, tzinfo=UTC).date()).when
    u, v = np.meshgrid((np.arange(40) + 0.5) / 40, (np.arange(200) + 0.5) / 200)
    most = 0.0
    for minutes in range(-180, 181, 5):
        sun = sun_at(lat, lon, noon + timedelta(minutes=minutes))
        flat = math.cos(sun.elevation_rad)
        toward = np.array(
            [flat * math.sin(sun.azimuth_rad), flat * math.cos(sun.azimuth_rad), math.sin(sun.elevation_rad)]
        )
        met, wide = [], []
        for back in backs:
            points = back[0] + u.reshape(-1, 1) * (back[1] - back[0]) + v.reshape(-1, 1) * (back[3] - back[0])
            hit = np.zeros(len(points), dtype=bool)
            for front in faces["south"]:
                sides = np.column_stack([toward, -(front[1] - front[0]), -(front[3] - front[0])])
                t, x, y = np.linalg.solve(sides, (front[0] - points).T)
                hit |= (t > 0) & (x >= 0) & (x <= 1) & (y >= 0) & (y <= 1)
            met.append(hit.mean())
            wide.append(np.linalg.norm(back[1] - back[0]))
        most = max(most, float(np.average(met, weights=wide)))
    return most


@pytest.mark.parametrize("stepped", ["", "both"])
def test_what_is_told_is_what_rays_find_and_the_keys_told_would_do(tmp_path, stepped):
    folder = yard(tmp_path / "yard", stepped=stepped)
    plan = planned(read_book(folder))
    assert len(plan.arrays) == {"": 2, "both": 4}.get(stepped, 3)
    (shade,) = plan.shading.failing
    assert (shade.front, shade.back) == ("south", "north")
    assert shade.share == pytest.approx(covered(plan), abs=0.01)
    assert shade.share > 0.05
    (text,) = (one for one in plan.warnings if "shades" in one)
    keys = dict(re.findall(r'(station|offset) = "(.+?)"', text))
    job = (folder / "job.toml").read_text(encoding="utf-8")
    pasted = job.replace("station = 3.2", f'station = "{keys["station"]}"')
    pasted = pasted.replace("offset = -4.6", f'offset = "{keys["offset"]}"')
    (folder / "job.toml").write_text(pasted, encoding="utf-8")
    moved = planned(read_book(folder))
    assert moved.shading.failing == ()
    assert covered(moved) == 0.0
    # Two millimetres less and the edge of the shadow is back on the modules.
    offset = float(keys["offset"].removesuffix(" mm")) / 1000
    nearer = pasted.replace(f'"{keys["offset"]}"', f"{offset + 0.002:.4f}")
    (folder / "job.toml").write_text(nearer, encoding="utf-8")
    assert len(planned(read_book(folder)).shading.failing) == 1


def test_a_clear_pair_is_told_with_its_least_gap(tmp_path):
    plan = planned(read_book(yard(tmp_path / "yard", behind=13.0)))
    (shade,) = plan.shading.shades
    assert plan.shading.failing == ()
    assert shade.worst_s is None
    assert 0.0 < shade.least_gap_m < shade.gap_m
    tight = planned(read_book(yard(tmp_path / "tight", behind=4.6)))
    # From either side the least gap is the same, but for the ground's swell under another start.
    assert tight.shading.failing[0].least_gap_m == pytest.approx(shade.least_gap_m, abs=0.002)


def test_hours_and_day_are_one_s_own(tmp_path):
    midday = '[shade]\nfrom = "11:30"\nto = "12:30"\n'
    short = planned(read_book(yard(tmp_path / "a", more=midday))).shading
    whole = planned(read_book(yard(tmp_path / "b"))).shading
    assert short.shades[0].least_gap_m < whole.shades[0].least_gap_m
    summer = planned(read_book(yard(tmp_path / "c", more="[shade]\nday = 2026-06-21\n"))).shading
    assert summer.failing == ()
    assert summer.day.isoformat() == "2026-06-21"


def test_without_a_place_it_is_said_that_shade_was_not_looked_at(tmp_path):
    plan = planned(read_book(yard(tmp_path / "yard", site="")))
    assert plan.shading.shades == ()
    assert any("latitude and longitude" in text for text in plan.warnings)


def test_one_array_has_nothing_to_say_of_shade():
    plan = planned(read_book(SAMPLE))
    assert plan.shading.shades == ()
    assert results(plan)["shade"] == []
    assert not any("shade" in text for text in plan.warnings)


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ('from = "15:00"\nto = "9:00"\n', "not later than"),
        ('from = "noon"\n', "time of day"),
        ("from = 9\n", "time of day"),
        ('hours = "9-15"\n', "shade"),
    ],
)
def test_wrong_hours_are_refused(tmp_path, capsys, keys, says):
    folder = yard(tmp_path / "yard", more=f"[shade]\n{keys}")
    with pytest.raises(SystemExit) as stop:
        main(["plan", str(folder), "--out", str(tmp_path / "out")])
    assert stop.value.code == 2
    assert says in capsys.readouterr().err


def test_the_command_writes_the_sheet_and_the_results(tmp_path, capsys):
    with pytest.raises(SystemExit) as stop:
        main(["plan", str(yard(tmp_path / "yard")), "--out", str(tmp_path / "out")])
    assert not stop.value.code
    assert "shades array north" in " ".join(capsys.readouterr().out.split())
    (found,) = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))["shade"]
    assert found["front"] == "south"
    assert found["least_gap"] > found["gap"]


def test_turned_arrays_on_turned_axes_are_shaded_alike(tmp_path):
    plan = planned(read_book(yard(tmp_path / "yard")))
    from staking.layout.spacing import Standing, shades_of
    from staking.shading import _suns

    suns, _ = _suns(plan.book)
    standing = [
        Standing(
            job=a.job,
            sections=((a.job, a.fit.plane),),
            placed_en_m=(0.0, 0.0),
            ahead=None,
            ground=plan.ground,
        )
        for a in plan.arrays
    ]
    share = max(one.share for one in shades_of(standing, suns, style="metric"))
    turn = 0.3
    turned = [
        replace(
            one,
            sections=(
                (
                    one.job,
                    replace(
                        one.plane,
                        azimuth_rad=one.plane.azimuth_rad - turn,
                        axes_north_rad=turn,
                        a1_en_m=_turned(one.plane.a1_en_m, turn),
                    ),
                ),
            ),
        )
        for one in standing
    ]
    book = plan.book
    east, north, up = suns.toward.T
    c, s = math.cos(turn), math.sin(turn)
    sun = replace(suns, toward=np.column_stack([c * east - s * north, s * east + c * north, up]))
    assert max(one.share for one in shades_of(turned, sun, style="metric")) == pytest.approx(share, abs=1e-6)
    assert book.job.arrays[0].name == "south"


def _turned(en, turn):
    """Return a place on axes whose north lies clockwise of true north by `turn`."""
    c, s = math.cos(turn), math.sin(turn)
    return c * en[0] - s * en[1], s * en[0] + c * en[1]
