"""Latitudes of stakes: right by another route, in files that follow their schemas, or refused with why."""

import csv
import importlib.util
import json
import math
import shutil
import xml.etree.ElementTree as ET
from pathlib import Path

import gpxpy
import pytest
import shapely
from pyproj import CRS, Geod, Transformer

from staking.base.units import parse_length
from staking.book.folder import read_book
from staking.cli import main
from staking.formats import other_files
from staking.formats.gpx import gpx_bytes
from staking.plan import planned
from staking.sheets.earth_model import EarthModel, EarthPlace
from staking.sheets.earth_places import earth_refusal

SAMPLE = Path(__file__).parents[2] / "sample_surveys" / "hand_check"
GEOD = Geod(ellps="WGS84")
LAT, LON = 40.125, -75.25
"""Where the sample's P1, at site coordinates 0, 0, is put on the earth; its P2 lies 8 m east of it."""
EARTH_FILES = {"stakes.gpx", "stakes.geojson", "stakes.kml"}

GPX = "{http://www.topografix.com/GPX/1/1}"
ORDER = {
    "gpx": ("metadata", "wpt", "rte", "trk", "extensions"),
    "metadata": ("name", "desc", "author", "copyright", "link", "time", "keywords", "bounds", "extensions"),
    "wpt": (
        *("ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type", "fix"),
        *("sat", "hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions"),
    ),
}
"""Children in the order that the schema of GPX 1.1 asks for (gpxType, metadataType and wptType of
topografix.com/GPX/1/1/gpx.xsd; it states no licence to copy it, so it is not kept here. On 2026-11-28 the
files of this yard were validated whole against it and OGC's ogckml22.xsd, by xmlschema 4.3.2: no error)."""
KML = "{http://www.opengis.net/kml/2.2}"
PLACEMARK_ORDER = ("name", "description", "Point", "LineString")
"""Of those that we write (OGC 07-147r2, KML 2.2, AbstractFeatureType then geometry; from memory)."""


def _at(east_m, north_m):
    """Latitude and longitude by the geodesic: another route than the program's topocentric axes."""
    azimuth = math.degrees(math.atan2(east_m, north_m))
    lon, lat, _ = GEOD.fwd(LON, LAT, azimuth, math.hypot(east_m, north_m))
    return lat, lon


def _yard(tmp_path, *, site="", job="", azimuth="", **tables):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLE, folder)
    text = (folder / "job.toml").read_text(encoding="utf-8")
    text = text.replace("[site]\n", f"[site]\n{site}\n", 1) + f"\n{job}\n"
    if azimuth:
        assert 'degrees = 90, north = "true"' in text
        text = text.replace('degrees = 90, north = "true"', azimuth)
    (folder / "job.toml").write_text(text, encoding="utf-8")
    for name, rows in tables.items():
        (folder / f"{name}.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return folder


def _fixes(points, *, sd=0.01, height=None):
    head = "point,lat,lon,sd_h,session" + (",height,height_kind,sd_v" if height else "")
    rows = [head]
    for name, place in points.items():
        lat, lon = _at(*place) if any(place) else (LAT, LON)
        more = f",{height[0]},{height[1]},0.02" if height else ""
        rows.append(f"{name},{lat:.9f},{lon:.9f},{sd},a{more}")
    return rows


def _run(folder, out):
    with pytest.raises(SystemExit) as done:
        main(["plan", str(folder), "--out", str(out)])
    return done.value.code or 0


PINS = {"P1": (0.0, 0.0), "P2": (8.0, 0.0)}
BY_RTK = '[accuracy]\nsession = "20 mm"\nsession_height = "30 mm"'


@pytest.fixture
def tied(tmp_path):
    """A yard tied by fixes of two pins."""
    out = tmp_path / "out"
    assert _run(_yard(tmp_path, job=BY_RTK, fixes=_fixes(PINS)), out) == 0
    return out


def _metres_off(lat, lon, east_m, north_m):
    want_lat, want_lon = _at(east_m, north_m)
    return GEOD.inv(lon, lat, want_lon, want_lat)[2]


def test_stakes_stand_where_the_geodesic_puts_them(tied):
    piers = {p["pier"]: p for p in json.loads((tied / "results.json").read_text())["piers"]}
    collection = json.loads((tied / "stakes.geojson").read_text(encoding="utf-8"))
    stakes = [f for f in collection["features"] if f["properties"]["kind"] == "stake"]
    assert {f["properties"]["name"] for f in stakes} == set(piers)
    for feature in stakes:
        pier = piers[feature["properties"]["name"]]
        lon, lat = feature["geometry"]["coordinates"]
        # 8 decimals of a degree are 0.6 mm at most.
        assert _metres_off(lat, lon, pier["east"], pier["north"]) < 0.001
        # The session's shift of 20 mm and 10 mm of two fixes, root-sum-square: 21.2 mm.
        assert feature["properties"]["sd_m"] == pytest.approx(math.hypot(0.02, 0.01 / math.sqrt(2)), abs=6e-4)


def test_the_three_files_agree(tied):
    gpx = gpxpy.parse((tied / "stakes.gpx").read_text(encoding="utf-8"))
    by_gpx = {w.name: (w.latitude, w.longitude) for w in gpx.waypoints}
    collection = json.loads((tied / "stakes.geojson").read_text(encoding="utf-8"))
    points = [f for f in collection["features"] if f["geometry"]["type"] == "Point"]
    by_geojson = {f["properties"]["name"]: tuple(f["geometry"]["coordinates"][1::-1]) for f in points}
    root = ET.fromstring((tied / "stakes.kml").read_bytes())
    by_kml = {}
    for mark in root.iter(f"{KML}Placemark"):
        if mark.find(f"{KML}Point") is not None:
            lon, lat = mark.find(f"{KML}Point/{KML}coordinates").text.split(",")
            by_kml[mark.find(f"{KML}name").text] = (float(lat), float(lon))
    assert by_gpx == by_geojson == by_kml
    assert {"A1", "B3", "P1", "P2"} <= set(by_gpx)


def test_gpx_follows_its_schema(tied):
    """Order and kinds of the elements, by the schema's own table above; then as gpxpy reads it."""
    root = ET.fromstring((tied / "stakes.gpx").read_bytes())
    assert root.tag == f"{GPX}gpx"
    assert root.get("version") == "1.1"
    assert root.get("creator")
    for element in root.iter():
        name = element.tag.removeprefix(GPX)
        children = [child.tag.removeprefix(GPX) for child in element]
        places = [ORDER[name].index(child) for child in children] if children else []
        assert places == sorted(places), name
        if name == "wpt":
            assert set(element.keys()) == {"lat", "lon"}
            assert -90 <= float(element.get("lat")) <= 90
            assert -180 <= float(element.get("lon")) < 180
            assert len(children) == len(set(children))
    assert gpxpy.parse((tied / "stakes.gpx").read_text(encoding="utf-8")).version == "1.1"


def test_geojson_follows_rfc_7946(tied):
    collection = json.loads((tied / "stakes.geojson").read_text(encoding="utf-8"))
    assert collection["type"] == "FeatureCollection"  # 3.3
    assert "crs" not in collection  # 4: no other reference system than WGS 84
    assert not {"coordinates", "geometries", "geometry", "properties"} & set(collection)  # 7.1
    for feature in collection["features"]:  # 3.2
        assert set(feature) == {"type", "geometry", "properties"}
        assert feature["type"] == "Feature"
        assert set(feature["geometry"]) == {"type", "coordinates"}
        assert shapely.is_valid(shapely.from_geojson(json.dumps(feature["geometry"])))
    (edge,) = (f for f in collection["features"] if f["properties"]["kind"] == "modules")
    (ring,) = edge["geometry"]["coordinates"]
    assert ring[0] == ring[-1]  # 3.1.6
    assert len(ring) >= 4
    assert shapely.LinearRing(ring).is_ccw  # 3.1.6: exterior rings are counter-clockwise
    assert ring[0][0] == pytest.approx(LON, abs=0.01)  # 3.1.1: longitude comes first


def test_kml_children_stand_in_order(tied):
    root = ET.fromstring((tied / "stakes.kml").read_bytes())
    assert root.tag == f"{KML}kml"
    marks = list(root.iter(f"{KML}Placemark"))
    assert len(marks) == 1 + 6 + 3
    for mark in marks:
        places = [PLACEMARK_ORDER.index(child.tag.removeprefix(KML)) for child in mark]
        assert places == sorted(places)
    # An id must begin with a letter (xsd:ID): none is there at all.
    assert all(element.get("id") is None for element in root.iter())


@pytest.mark.parametrize(("kind", "ele"), [("orthometric", 230.2), ("ellipsoidal", None)])
def test_only_a_height_above_the_sea_is_a_gpx_elevation(tmp_path, kind, ele):
    """P1 lies at 52.000 - 1.800 = 50.200 and its fix shows 230: A1's ground, 50.400, is at 230.2.

    Readers of GPX take ele for a height above the sea; RFC 7946 (4) wants one above the ellipsoid.
    """
    folder = _yard(tmp_path, job=BY_RTK, fixes=_fixes({"P1": (0.0, 0.0)}, height=(230.0, kind)))
    out = tmp_path / "out"
    assert _run(folder, out) == 0
    gpx = gpxpy.parse((out / "stakes.gpx").read_text(encoding="utf-8"))
    (stake,) = (w for w in gpx.waypoints if w.name == "A1")
    assert stake.elevation == (None if ele is None else pytest.approx(ele, abs=0.002))
    collection = json.loads((out / "stakes.geojson").read_text(encoding="utf-8"))
    (feature,) = (f for f in collection["features"] if f["properties"]["name"] == "A1")
    position = feature["geometry"]["coordinates"]
    assert len(position) == (3 if ele is None else 2)
    assert (position[2] if ele is None else feature["properties"]["above_sea_m"]) == pytest.approx(
        230.2, abs=0.002
    )


@pytest.mark.parametrize("grid", ["EPSG:32618", "EPSG:32718"])
def test_on_a_map_grid_stakes_agree_with_the_grids_own_formula(tmp_path, grid):
    lat = LAT if grid == "EPSG:32618" else -LAT
    to_grid = Transformer.from_crs(4326, grid, always_xy=True)
    east, north = to_grid.transform(LON, lat)
    control = ["point,east,north", f"P1,{east:.3f},{north:.3f}"]
    out = tmp_path / "out"
    assert _run(_yard(tmp_path, site=f'grid = "{grid}"', control=control), out) == 0
    gpx = gpxpy.parse((out / "stakes.gpx").read_text(encoding="utf-8"))
    at = {w.name: (w.latitude, w.longitude) for w in gpx.waypoints}
    for pier in json.loads((out / "results.json").read_text())["piers"]:
        lon, want = to_grid.transform(pier["east"], pier["north"], direction="INVERSE")
        got_lat, got_lon = at[pier["pier"]]
        # Within 8 m of P1 the grid's scale, 4 in 10,000 off at most, makes 3 mm.
        assert GEOD.inv(lon, want, got_lon, got_lat)[2] < 0.004


def test_a_phone_is_refused_and_the_plan_is_whole(tmp_path, capsys):
    out = tmp_path / "out"
    assert _run(_yard(tmp_path, fixes=_fixes({"P1": (0.0, 0.0)}, sd=2)), out) == 0
    written = {path.name for path in out.iterdir()}
    assert not EARTH_FILES & written
    assert {"pack.pdf", "site.dxf", "stakes.csv"} <= written
    said = " ".join(capsys.readouterr().out.split())
    # The session's 5 m and the phone's 2 m, root-sum-square: 5.385 m, rounded up.
    assert "stakes 1500 mm apart would be known on the earth to 5386 mm only" in said
    assert '[accuracy] session = "20 mm"' in said


def test_latitude_and_longitude_of_the_site_are_no_tie(tmp_path, capsys):
    out = tmp_path / "out"
    assert _run(_yard(tmp_path, site=f"latitude = {LAT}\nlongitude = {LON}"), out) == 0
    assert not EARTH_FILES & {path.name for path in out.iterdir()}
    assert "not where a pin stands" in " ".join(capsys.readouterr().out.split())


def test_a_change_of_datum_good_to_metres_is_refused(tmp_path):
    """EPSG:2263 is on NAD83, whose change to WGS 84 the registry states to metres without grid files."""
    east, north = Transformer.from_crs(4326, "EPSG:2263", always_xy=True).transform(-73.9, 40.7)
    unit_m = CRS("EPSG:2263").axis_info[0].unit_conversion_factor
    control = ["point,east,north", f"P1,{east * unit_m:.3f},{north * unit_m:.3f}"]
    plan = planned(read_book(_yard(tmp_path, site='grid = "EPSG:2263"', control=control)))
    assert "change of datum from EPSG:2263 is no better" in earth_refusal(plan)


def test_a_compass_azimuth_swings_the_stakes_about_the_fix(tmp_path):
    """One fix places, a compass turns: the declination's own uncertainty counts with the distance."""
    site = f"latitude = {LAT}\nlongitude = {LON}"
    folder = _yard(
        tmp_path,
        site=site,
        job=BY_RTK,
        azimuth='degrees = 90, north = "magnetic"',
        fixes=_fixes({"P1": (0.0, 0.0)}),
    )
    out = tmp_path / "out"
    assert _run(folder, out) == 0
    collection = json.loads((out / "stakes.geojson").read_text(encoding="utf-8"))
    sds = {f["properties"]["name"]: f["properties"] for f in collection["features"]}
    # About 0.37° (WMM2025's stated accuracy hereabouts) at 5.4 m from P1 is 35 mm.
    away = math.hypot(sds["B3"]["east_m"], sds["B3"]["north_m"])
    swing = math.sqrt(sds["B3"]["sd_m"] ** 2 - 0.02**2 - 0.01**2)
    assert 0.25 < math.degrees(swing / away) < 0.55
    assert sds["P1"]["sd_m"] == pytest.approx(math.hypot(0.02, 0.01), abs=6e-4)


def test_ties_held_as_exact_have_no_accuracy_to_tell(tmp_path):
    """2026-11-28: stakes.geojson said sd_m 0.0, the others 0.000 m, where nothing was known of it."""
    east, north = Transformer.from_crs("EPSG:4326", "EPSG:32618", always_xy=True).transform(LON, LAT)
    rows = ["point,east,north", f"P1,{east:.3f},{north:.3f}", f"P2,{east + 8:.3f},{north:.3f}"]
    folder = _yard(tmp_path, site='grid = "EPSG:32618"', control=rows)
    text = (folder / "job.toml").read_text(encoding="utf-8")
    kept = [line for line in text.splitlines() if not line.startswith(("origin ", "azimuth   "))]
    (folder / "job.toml").write_text("\n".join(kept), encoding="utf-8")
    out = tmp_path / "out"
    assert _run(folder, out) == 0
    collection = json.loads((out / "stakes.geojson").read_text(encoding="utf-8"))
    places = [one["properties"] for one in collection["features"] if one["geometry"]["type"] == "Point"]
    assert {place["sd_m"] for place in places if place["kind"] == "stake"} == {None}
    assert "not known" in collection["remarks"][0]
    for name in ("stakes.gpx", "stakes.kml"):
        words = (out / name).read_text(encoding="utf-8")
        assert "placed to 0.000" not in words
        assert "how exactly it is placed on the earth is not known" in words


def test_a_missing_library_costs_its_own_file_only(tmp_path, monkeypatch, capsys):
    gone = {"ezdxf", "gpxpy"}
    real = importlib.util.find_spec
    monkeypatch.setattr(other_files, "find_spec", lambda name: None if name in gone else real(name))
    out = tmp_path / "out"
    assert _run(_yard(tmp_path, job=BY_RTK, fixes=_fixes(PINS)), out) == 0
    written = {path.name for path in out.iterdir()}
    assert {"pack.pdf", "stakes.kml", "stakes.geojson"} <= written
    assert not {"site.dxf", "stakes.gpx"} & written
    said = " ".join(capsys.readouterr().out.split())
    assert "site.dxf needs the library ezdxf: pip install ezdxf" in said
    assert "stakes.gpx needs the library gpxpy" in said


def test_the_same_input_gives_the_same_bytes(tied, tmp_path):
    again = tmp_path / "again"
    assert _run(tmp_path / "yard", again) == 0
    for name in {*EARTH_FILES, "site.dxf", "point_list.csv"}:
        assert (tied / name).read_bytes() == (again / name).read_bytes(), name


def test_the_point_list_has_every_place_once_in_the_unit_it_names(tied):
    with (tied / "point_list.csv").open(encoding="utf-8") as file:
        rows = {row["point"]: row for row in csv.DictReader(file)}
    piers = json.loads((tied / "results.json").read_text())["piers"]
    for pier in piers:
        row = rows[pier["pier"]]
        assert row["kind"] == "stake"
        place = [float(row[f"{name}_m"]) for name in ("east", "north", "elevation")]
        assert place == pytest.approx([pier["east"], pier["north"], pier["ground"]], abs=1e-4)
    # The benchmark of this yard has no place in plan.
    assert {"P1", "P2", "P3", "A1 left", "B3 right"} <= set(rows)
    assert len(rows) == 3 + 6 + 12
    assert rows["P1"]["kind"] == "pin"


def test_a_longitude_of_180_is_written_as_minus_180():
    """The schema's longitudeType ends before 180 (topografix.com/GPX/1/1/gpx.xsd, maxExclusive)."""
    place = EarthPlace(
        name="A1",
        kind="stake",
        lat_deg=-16.5,
        lon_deg=179.999999999,
        sd_m=0.02,
        above_sea_m=None,
        above_ellipsoid_m=None,
        words="",
        numbers=(),
    )
    model = EarthModel(title="t", facts=(), remarks=(), places=(place,), outlines=())
    (waypoint,) = gpxpy.parse(gpx_bytes(model).decode()).waypoints
    assert waypoint.longitude == -180.0


def test_the_point_list_can_be_imported_into_another_survey(tied, tmp_path):
    """In another unit: the columns say theirs."""
    other = tmp_path / "other"
    shutil.copytree(SAMPLE, other)
    job = (other / "job.toml").read_text(encoding="utf-8")
    (other / "job.toml").write_text(job.replace('units = "m"', 'units = "mm"'), encoding="utf-8")
    with pytest.raises(SystemExit) as done:
        main(["import", str(tied / "point_list.csv"), str(other)])
    assert (done.value.code or 0) == 0
    with (other / "control.csv").open(encoding="utf-8") as file:
        rows = {row["point"]: row for row in csv.DictReader(file)}
    piers = {p["pier"]: p for p in json.loads((tied / "results.json").read_text())["piers"]}
    assert parse_length(rows["B3"]["east"], unit="mm") == pytest.approx(piers["B3"]["east"], abs=1e-4)
    assert parse_length(rows["B3"]["elevation"], unit="mm") == pytest.approx(piers["B3"]["ground"], abs=1e-4)
