"""The sheet of true north and the command that prints a day's shadows."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import pytest
import synthetic_plan as synthetic

from staking.book.records import ControlRow
from staking.cli import main
from staking.north.convergence import grid_convergence_rad
from staking.sheets.north_table import line_of, north_sheet
from staking.sheets.notation import Notation
from staking.sheets.table import Table

METRIC = Notation(style="metric")


def at(plan, **site):
    return replace(
        plan, book=replace(plan.book, job=replace(plan.book.job, site=replace(plan.book.job.site, **site)))
    )


def said(sheet):
    return " ".join(line for block in sheet.blocks if not isinstance(block, Table) for line in block.lines)


def test_the_direction_from_the_line_is_the_true_one_less_the_lines():
    plan = synthetic.full_plan()
    line = line_of(plan)
    assert line is not None
    table = next(block for block in north_sheet(plan, notation=METRIC).blocks if isinstance(block, Table))
    for row in table.rows:
        off = float(row[1]) - math.degrees(line.azimuth_rad) - float(row[2])
        assert abs((off + 180) % 360 - 180) < 0.011
    # A minute turns each shadow by a twentieth of what lies between its neighbours, ten minutes either way.
    at = next(k for k, column in enumerate(table.columns) if column.name == "minute")
    for before, row, after in zip(table.rows, table.rows[1:], table.rows[2:], strict=False):
        between = (float(after[1]) - float(before[1]) + 180) % 360 - 180
        assert float(row[at]) == pytest.approx(abs(between) / 20, abs=0.007)
    # What a minute costs, in degrees and across 10 m: both tell the same.
    told = re.findall(r"by ([0-9.]+)°, ([0-9]+) mm at 10000 mm", table.notes[0])
    assert len(told) == 2
    for angle, off in told:
        assert float(off) == pytest.approx(10_000 * math.tan(math.radians(float(angle))), abs=1.5)


def test_without_a_zone_it_says_utc_and_with_one_the_clock():
    plan = synthetic.full_plan()
    assert "NOT your clock's" in said(north_sheet(plan, notation=METRIC))
    summer = at(plan, time_zone=ZoneInfo("America/New_York"), date=date(2026, 7, 1))
    assert "UTC-4:00" in said(north_sheet(summer, notation=METRIC))
    winter = at(plan, time_zone=ZoneInfo("America/New_York"), date=date(2026, 12, 1))
    assert "UTC-5:00" in said(north_sheet(winter, notation=METRIC))


@pytest.mark.parametrize(
    ("lat", "day", "words"),
    [
        (80, date(2026, 12, 21), "does not rise"),
        (62, date(2026, 12, 21), "below 10° all day"),
        (23.4, date(2026, 6, 21), "too near overhead"),
        (-40, date(2026, 6, 21), "true north at"),
        (40, date(2150, 6, 21), "1950 to 2100"),
        (40, date(2029, 6, 21), "RUNS OUT"),
        (40, date(2026, 6, 21), "2030-01-01"),
    ],
)
def test_what_cannot_be_had_is_said(lat, day, words):
    plan = at(synthetic.full_plan(), latitude_rad=math.radians(lat), date=day)
    assert words in said(north_sheet(plan, notation=METRIC))


@pytest.mark.parametrize("lacking", ["latitude_rad", "longitude_rad", "date"])
def test_no_sheet_without_place_or_date(lacking):
    assert north_sheet(at(synthetic.full_plan(), **{lacking: None}), notation=METRIC) is None


JOB = '[site]\nunits = "m"\nlatitude = 40\nlongitude = -105\ntime_zone = "America/Denver"\n'


def run(capsys, *argv):
    with pytest.raises(SystemExit) as left:
        main(["shadows", *map(str, argv)])
    out = capsys.readouterr()
    return left.value.code, out.out, out.err


def test_the_command_needs_no_readings(tmp_path, capsys):
    (tmp_path / "job.toml").write_text(JOB)
    code, out, _ = run(capsys, tmp_path, "--date", "2026-06-21")
    assert code == 0
    assert "true south at 13:01:5" in out
    assert "SHADOWS ON 2026-06-21" in out


@pytest.mark.parametrize(
    ("job", "argv", "words"),
    [
        (JOB, [], "--date 2026-10-03"),
        (JOB, ["--date", "21.6.2026"], "not a date"),
        (JOB.replace("latitude = 40\n", ""), ["--date", "2026-06-21"], "site.latitude"),
        (JOB.replace("Denver", "Denvr"), ["--date", "2026-06-21"], "America/Denver"),
    ],
)
def test_what_is_missing_is_told(tmp_path, capsys, job, argv, words):
    (tmp_path / "job.toml").write_text(job)
    code, out, err = run(capsys, tmp_path, *argv)
    assert (code, out) == (2, "")
    assert words in err


def test_on_a_map_grid_the_line_stands_at_its_grid_bearing_and_the_convergence():
    plan = synthetic.full_plan()
    on_grid = ControlRow(table="c", row=2, point="P1", east_m=0.0, north_m=0.0)
    placed = replace(plan, book=replace(plan.book, control_points=(on_grid,)))
    gridded = at(placed, grid="EPSG:32618")
    site = gridded.book.job.site
    convergence = grid_convergence_rad("EPSG:32618", site.latitude_rad, site.longitude_rad)
    assert abs(convergence) > math.radians(0.5)
    turned = line_of(gridded).azimuth_rad - line_of(plan).azimuth_rad
    assert math.remainder(turned - convergence, math.tau) == pytest.approx(0.0, abs=1e-12)
