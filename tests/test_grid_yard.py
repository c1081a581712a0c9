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
from staking.plan import planned
from staking.results import results

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
    on_grid = results(planned(read_book(folder)))["ground"]
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
