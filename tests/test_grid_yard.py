"""A yard whose control stands on a map grid: the array faces from true north all the same.

Symptom, 2026-11-25: with ``[site] grid`` and control.csv arrays were laid out in the grid's axes, turned from
true north by the convergence, and nothing said so; a control.csv of elevations alone swung the site as well.
"""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import pytest
from pyproj import CRS, Geod, Transformer

from staking.base.errors import WrongInput
from staking.book.folder import read_book
from staking.plan import planned, surveyed
from staking.results import results
from staking.sheets.site_plan import site_model
from staking.sheets.stamp import stamp_of

SAMPLE = Path(__file__).parents[1] / "sample_surveys" / "hand_check"
GRID = "EPSG:32618"
LAT, LON = 40.0, -72.5
"""Two and a half degrees east of the zone's central meridian: grid north lies 1.6° east of true north."""
EAST_M, NORTH_M = 713467.0, 4430734.0
SETTLED_RAD = math.radians(0.001)
"""Grid distances differ from those on the ground by 1 in 2000, which turns nothing by more."""


def yard(folder: Path, *, site: str, control: str) -> Path:
    shutil.copytree(SAMPLE, folder)
    job = (folder / "job.toml").read_text(encoding="utf-8")
    kept = [line for line in job.splitlines() if not line.startswith(("latitude", "longitude", "grid"))]
    text = "\n".join(kept).replace("[site]\n", f"[site]\n{site}\n", 1)
    (folder / "job.toml").write_text(text, encoding="utf-8")
    (folder / "control.csv").write_text(control, encoding="utf-8")
    return folder


def true_facing_rad(plan) -> float:
    """Return which way the array faces on the earth: square to the line of stakes, by the ellipsoid."""
    fit = plan.arrays[0].fit
    first, last = fit.piers.names.index("A1"), fit.piers.names.index("A3")
    to_earth = Transformer.from_crs(GRID, 4326, always_xy=True)
    here, there = (to_earth.transform(*fit.piers.en_m[i]) for i in (first, last))
    along, _, _ = Geod(ellps="WGS84").inv(*here, *there)
    return math.radians(along) + math.pi / 2.0


@pytest.mark.parametrize("site", [f"latitude = {LAT}\nlongitude = {LON}\n", ""])
def test_on_a_grid_the_array_faces_from_true_north(tmp_path, site):
    folder = yard(
        tmp_path / "yard",
        site=f'{site}grid = "{GRID}"',
        control=f"point,east,north\nP1,{EAST_M},{NORTH_M}\n",
    )
    plan = planned(read_book(folder))
    design = plan.arrays[0].job.array
    assert math.remainder(true_facing_rad(plan) - design.azimuth_rad, math.tau) == pytest.approx(
        0.0, abs=SETTLED_RAD
    )
    found = results(plan)
    assert found["arrays"][0]["azimuth"] == pytest.approx(math.degrees(design.azimuth_rad))
    assert found["arrays"][0]["true_azimuth"] == pytest.approx(math.degrees(design.azimuth_rad))


@pytest.mark.parametrize(
    ("grid", "lat", "lon"),
    [
        ("EPSG:32619", 44.0, -71.5),  # west of the central meridian, 69 W
        ("EPSG:32719", -33.4, -70.6),  # southern, west
        ("EPSG:32756", -33.0, 154.9),  # southern, east of 153 E
        ("EPSG:2263", 40.8, -73.1),  # a conic grid in US survey feet
    ],
)
def test_on_any_grid_the_array_faces_from_true_north(tmp_path, grid, lat, lon):
    """The convergence changes its sign across the central meridian and across the equator."""
    east, north = Transformer.from_crs(4326, grid, always_xy=True).transform(lon, lat)
    unit_m = CRS(grid).axis_info[0].unit_conversion_factor
    folder = yard(
        tmp_path / "yard",
        site=f'latitude = {lat}\nlongitude = {lon}\ngrid = "{grid}"',
        control=f"point,east,north\nP1,{east * unit_m:.3f},{north * unit_m:.3f}\n",
    )
    plan = planned(read_book(folder))
    fit = plan.arrays[0].fit
    here, there = (fit.piers.en_m[fit.piers.names.index(name)] for name in ("A1", "A3"))
    to_earth = Transformer.from_crs(grid, 4326, always_xy=True)
    along, _, _ = Geod(ellps="WGS84").inv(
        *to_earth.transform(*(here / unit_m)), *to_earth.transform(*(there / unit_m))
    )
    faces = math.radians(along) + math.pi / 2.0
    wished = plan.arrays[0].job.array.azimuth_rad
    assert math.remainder(faces - wished, math.tau) == pytest.approx(0.0, abs=SETTLED_RAD)
    assert abs(fit.plane.axes_north_rad) > math.radians(0.01)


def test_the_ground_falls_toward_the_same_azimuth_on_either_axes(tmp_path):
    """The yard's azimuth is given from true north, so its ground falls the same way on the earth."""
    local = results(planned(read_book(SAMPLE)))["ground"]
    folder = yard(
        tmp_path / "yard",
        site=f'latitude = {LAT}\nlongitude = {LON}\ngrid = "{GRID}"',
        control=f"point,east,north\nP1,{EAST_M},{NORTH_M}\n",
    )
    plan = planned(read_book(folder))
    on_grid = results(plan)["ground"]
    assert dict(site_model(plan, stamp_of(plan, alarm="")).facts)["Coordinates"].startswith(
        f"x is east, y north on the map grid {GRID}"
    )
    # Kriging's ranges follow the axes a little; the convergence is 1.6°.
    assert on_grid["aspect"] == pytest.approx(local["aspect"], abs=0.05)


def test_elevations_alone_do_not_swing_the_site(tmp_path):
    plain = planned(read_book(SAMPLE)).arrays[0].fit.piers.en_m
    folder = yard(
        tmp_path / "yard",
        site=f'latitude = {LAT}\nlongitude = {LON}\ngrid = "{GRID}"',
        control="point,elevation\nBM1,50\n",
    )
    book = read_book(folder)
    assert not book.on_grid
    assert planned(book).arrays[0].fit.piers.en_m == pytest.approx(plain, abs=1e-6)


def test_a_place_off_the_grid_is_refused_for_a_plan_alone(tmp_path):
    folder = yard(tmp_path / "yard", site=f'grid = "{GRID}"', control="point,east,north\nP1,0,0\n")
    with pytest.raises(WrongInput, match=r"site\.latitude") as caught:
        read_book(folder)
    assert caught.value.mistakes[0].column == "site.grid"
    assert read_book(folder, purpose="check").on_grid


@pytest.mark.parametrize("purpose", ["plan", "check"])
@pytest.mark.parametrize(
    ("lat", "lon", "column", "says"),
    [
        (LAT, -LON, "site.longitude", "minus"),
        (-LAT, LON, "site.latitude", "minus"),
        (-LAT, -LON, "site.latitude", "minus"),
        (LON, LAT, "site.latitude", "exchanged"),
        (LAT + 0.2, LON, "site.latitude", "22 km"),
    ],
)
def test_a_place_far_from_the_control_points_is_refused(tmp_path, purpose, lat, lon, column, says):
    # 2026-11-25: 75.25 typed for -75.25 turned the array by 160 degrees, exit 0 and not a word.
    folder = yard(
        tmp_path / "yard",
        site=f'latitude = {lat}\nlongitude = {lon}\ngrid = "{GRID}"',
        control=f"point,east,north\nP1,{EAST_M},{NORTH_M}\n",
    )
    with pytest.raises(WrongInput, match=says) as caught:
        read_book(folder, purpose=purpose)
    assert [mistake.column for mistake in caught.value.mistakes] == [column]


@pytest.mark.parametrize(
    ("lat", "lon", "grid"),
    [(LAT, -LON, GRID), (-LAT, LON, GRID), (LAT, LON, "EPSG:32601"), (LAT, -LON, "EPSG:2263")],
)
def test_numbers_of_one_s_own_need_a_place_on_the_grid(tmp_path, lat, lon, grid):
    site = f'latitude = {lat}\nlongitude = {lon}\ngrid = "{grid}"'
    folder = yard(tmp_path / "yard", site=site, control="point,east,north\nP1,1000,2000\n")
    with pytest.raises(WrongInput, match="no convergence"):
        read_book(folder)


@pytest.mark.parametrize(
    ("unit", "place"),
    [(unit, f"latitude = {LAT}\nlongitude = {LON}\n") for unit in ("ft", "in", "mm")]
    + [("in", ""), ("mm", "")],
)
def test_metres_of_a_grid_typed_bare_in_another_unit_are_refused(tmp_path, unit, place):
    # 2026-11-25: in a survey of feet they were read as feet, and the site lay in another country.
    folder = yard(
        tmp_path / "yard",
        site=f'{place}grid = "{GRID}"',
        control=f"point,east,north\nP1,{EAST_M},{NORTH_M}\n",
    )
    job = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(job.replace('units = "m"', f'units = "{unit}"'), encoding="utf-8")
    with pytest.raises(WrongInput, match=rf"In m they lie on it: .*{EAST_M} m") as caught:
        read_book(folder, purpose="check")
    assert [(one.file, one.row) for one in caught.value.mistakes] == [("control.csv", 2)]
    text = f"point,east,north\nP1,{EAST_M} m,{NORTH_M} m\n"
    (folder / "control.csv").write_text(text, encoding="utf-8")
    assert read_book(folder, purpose="check").on_grid


def test_where_control_puts_the_site_is_told(tmp_path):
    control = f"point,east,north\nP1,{EAST_M},{NORTH_M}\n"
    plan = planned(read_book(yard(tmp_path / "yard", site=f'grid = "{GRID}"', control=control)))
    lat, lon = Transformer.from_crs(GRID, 4326).transform(EAST_M, NORTH_M)
    assert any(f"latitude {lat:.4f}°, longitude {lon:.4f}°" in warning for warning in plan.warnings)


def test_feet_that_lie_on_the_grid_as_metres_would_are_asked_about(tmp_path):
    control = f"point,east,north\nP1,{EAST_M},{NORTH_M}\n"
    folder = yard(tmp_path / "yard", site=f'grid = "{GRID}"', control=control)
    job = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(job.replace('units = "m"', 'units = "ft"'), encoding="utf-8")
    plan = surveyed(read_book(folder, purpose="check"))
    assert any("elsewhere if they are in m" in warning for warning in plan.warnings)


def test_a_lost_digit_of_one_control_point_is_named(tmp_path):
    rows = f"P1,{EAST_M},{NORTH_M}\nP2,{EAST_M + 30},{NORTH_M}\nP3,{EAST_M + 30},{NORTH_M // 10}\n"
    folder = yard(tmp_path / "yard", site=f'grid = "{GRID}"', control=f"point,east,north\n{rows}")
    with pytest.raises(WrongInput, match="digits") as caught:
        read_book(folder, purpose="check")
    assert [one.row for one in caught.value.mistakes] == [4]


def test_numbers_of_one_s_own_are_tied_to_nothing(tmp_path):
    # 2026-11-28: they were said to stand on the grid, with a scale for a place on the equator.
    site = f'latitude = {LAT}\nlongitude = {LON}\ngrid = "{GRID}"'
    control = "point,east,north\nP1,1000,2000\nP2,1008,2000\n"
    plan = surveyed(read_book(yard(tmp_path / "yard", site=site, control=control), purpose="check"))
    assert plan.adjustment.earth is None
    assert not any("whose distances are" in text for text in plan.warnings)
    (tmp_path / "yard" / "fixes.csv").write_text(f"point,lat,lon\nP1,{LAT},{LON}\n", encoding="utf-8")
    with pytest.raises(WrongInput, match="where they lie on"):
        surveyed(read_book(tmp_path / "yard", purpose="check"))


def test_grid_numbers_in_the_origin_are_told_to_lie_off_the_grid(tmp_path):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLE, folder)
    job = (folder / "job.toml").read_text(encoding="utf-8")
    assert not any("NOT those of the grid" in text for text in surveyed(read_book(folder)).warnings)
    job = job.replace("[site]\n", f'[site]\ngrid = "{GRID}"\n')
    (folder / "job.toml").write_text(job, encoding="utf-8")
    assert not any("NOT those of the grid" in text for text in surveyed(read_book(folder)).warnings)
    job = job.replace("east = 0, north = 0", f"east = {EAST_M}, north = {NORTH_M}")
    (folder / "job.toml").write_text(job, encoding="utf-8")
    assert any("NOT those of the grid" in text for text in surveyed(read_book(folder)).warnings)


@pytest.mark.parametrize("site", ["", f"latitude = {LAT}\nlongitude = {LON}\n"])
def test_where_fixes_put_a_site_is_told_when_nothing_checks_it(tmp_path, site):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLE, folder)
    job = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(job.replace("[site]\n", f"[site]\n{site}"), encoding="utf-8")
    (folder / "fixes.csv").write_text(f"point,lat,lon\nP1,{LAT},{LON}\n", encoding="utf-8")
    warnings = surveyed(read_book(folder)).warnings
    assert any("by the fixes the site lies at latitude 40.0000°" in text for text in warnings) is not bool(
        site
    )
