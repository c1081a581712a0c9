"""DXF: geometry measured back, units named, clean in an audit, whatever the names are."""

import json
import math
import re
import shutil
from pathlib import Path

import numpy as np
import pytest
from ezdxf import recover

from staking.book.folder import read_book
from staking.formats.dxf import dxf_bytes
from staking.plan import planned
from staking.results import results
from staking.sheets.pack import pack
from staking.sheets.site_model import Label, Layer, Ring, Run, SiteModel, Spot

SAMPLES = Path(__file__).parents[2] / "sample_surveys"
TENTH_MM = 1e-4
METRES = {1: 0.0254, 2: 0.3048, 4: 0.001, 6: 1.0}
"""By $INSUNITS: 1 inches, 2 feet, 4 millimetres, 6 metres (from memory of the DXF reference's table)."""


def _groups(data: bytes) -> list[tuple[int, str]]:
    """A DXF file is pairs of lines, a group code and its value: read without the library that wrote it."""
    lines = data.decode().split("\n")
    return [(int(code), value) for code, value in zip(lines[0::2], lines[1::2], strict=False) if code.strip()]


def _entities(data: bytes) -> list[dict[int, list[str]]]:
    """The entities of the model, each its values by group code; code 0 is the kind, 8 the layer."""
    found, inside = [], False
    for code, value in _groups(data):
        if (code, value.strip()) == (2, "ENTITIES"):
            inside = True
        elif inside and (code, value.strip()) == (0, "ENDSEC"):
            return found
        elif inside and code == 0:
            found.append({0: [value.strip()]})
        elif inside and found:
            found[-1].setdefault(code, []).append(value.strip())
    raise AssertionError("no section of entities")


def _header(data: bytes, name: str) -> str:
    groups = _groups(data)
    return groups[groups.index((9, name)) + 1][1].strip()


@pytest.fixture(scope="module", params=["cross_fall", "hand_check", "real_hillside"])
def sample(request):
    plan = planned(read_book(SAMPLES / request.param))
    return plan, results(plan), dxf_bytes(pack(plan).site)


def _audited(data: bytes, tmp_path: Path):
    path = tmp_path / "site.dxf"
    path.write_bytes(data)
    document, auditor = recover.readfile(path)
    assert auditor.errors == []
    assert auditor.fixes == []
    return document


def test_stakes_measure_back_to_a_tenth_of_a_millimetre(sample):
    _, found, data = sample
    unit = METRES[int(_header(data, "$INSUNITS"))]
    stakes = [e for e in _entities(data) if e[0] == ["POINT"] and e[8] == ["PIERS"]]
    assert len(stakes) == len(found["piers"]) > 0
    for stake, pier in zip(stakes, found["piers"], strict=True):
        place = [unit * float(stake[code][0]) for code in (10, 20, 30)]
        assert place == pytest.approx([pier["east"], pier["north"], pier["ground"]], abs=TENTH_MM)


def test_posts_holes_and_beams_measure_back(sample):
    plan, found, data = sample
    unit = METRES[int(_header(data, "$INSUNITS"))]
    entities = _entities(data)

    def lengths(layer):
        lines = [e for e in entities if e[0] == ["LINE"] and e[8] == [layer]]
        ends = [[[float(e[c + k][0]) for c in (10, 20, 30)] for k in (0, 1)] for e in lines]
        return [unit * math.dist(*pair) for pair in ends]

    assert lengths("POSTS") == pytest.approx([p["above_grade"] for p in found["piers"]], abs=TENTH_MM)
    assert lengths("BEAMS") == pytest.approx([b["length"] for b in found["beams"]], abs=TENTH_MM)
    radii = {unit * float(e[40][0]) for e in entities if e[8] == ["HOLES"]}
    (radius,) = radii
    assert radius == pytest.approx(plan.book.job.footing.hole_diameter_m / 2, abs=TENTH_MM)


def test_the_edge_of_the_modules_is_closed_and_has_the_plans_diagonals(sample):
    plan, _, data = sample
    unit = METRES[int(_header(data, "$INSUNITS"))]
    (edge,) = (e for e in _entities(data) if e[8] == ["MODULES"])
    corners = unit * np.array([[float(x), float(y)] for x, y in zip(edge[10], edge[20], strict=True)])
    assert edge[70] == ["1"]
    wanted = plan.arrays[0].fit.plan_outline_en_m
    for a, b in ((0, 2), (1, 3)):
        assert math.dist(corners[a], corners[b]) == pytest.approx(
            math.dist(wanted[a], wanted[b]), abs=TENTH_MM
        )


def test_the_file_audits_clean_and_says_what_it_is(sample, tmp_path):
    plan, _, data = sample
    document = _audited(data, tmp_path)
    said = dict(document.header.custom_vars.properties)
    assert said["Inputs"] == plan.book.fingerprint
    assert said["Job"] == plan.book.job.site.name
    # A drawing on a map grid laid over it would lie elsewhere: it says which axes it is in, in sight too.
    assert re.match(
        r"the site's own, no map grid: x is east, y north, P1 at \d+, \d+; z", said["Coordinates"]
    )
    notes = [e.dxf.text for e in document.modelspace().query('TEXT[layer=="NOTES"]')]
    assert f"Coordinates: {said['Coordinates']}" in notes
    used = {entity.dxf.layer for entity in document.modelspace()}
    assert used <= {layer.dxf.name for layer in document.layers}
    assert {"PIERS", "POSTS", "BEAMS", "MODULES", "HUBS", "MARKS", "SHOTS", "CONTOURS", "NOTES"} <= used


def test_the_same_model_gives_the_same_bytes(sample):
    plan, _, data = sample
    assert dxf_bytes(pack(plan).site) == data


@pytest.mark.parametrize(("unit", "code"), [("in", 1), ("ft", 2), ("mm", 4), ("m", 6)])
def test_coordinates_stand_in_the_unit_that_the_file_names(unit, code, tmp_path):
    """0.3048 m are 12 in, 1 ft, 304.8 mm."""
    model = SiteModel(
        unit=unit,
        layers=(Layer(name="A", words="a"),),
        items=(Spot(layer="A", name="x", enz_m=(0.3048, -0.3048, 0.6096)),),
        facts=(),
    )
    data = dxf_bytes(model)
    assert int(_header(data, "$INSUNITS")) == code
    assert int(_header(data, "$MEASUREMENT")) == (0 if unit in ("in", "ft") else 1)
    (point,) = _entities(data)
    one = {"in": 12.0, "ft": 1.0, "mm": 304.8, "m": 0.3048}[unit]
    assert [float(point[c][0]) for c in (10, 20, 30)] == pytest.approx([one, -one, 2 * one], abs=1e-9)
    _audited(data, tmp_path)


@pytest.mark.parametrize("name", ["P\n0\nEOF", "%%u A \\P B", "Ω≠ß日本", "", " \t ", "x" * 5000, "\x00\x07"])
def test_odd_names_do_not_break_the_file(name, tmp_path):
    at = (1.0, 2.0, math.nan)
    model = SiteModel(
        unit="m",
        layers=(Layer(name="A", words=name, dash="dotted"),),
        items=(
            Spot(layer="A", name=name, enz_m=at),
            Label(layer="A", enz_m=at, text=name, tall_m=0.1),
            Ring(layer="A", enz_m=at, radius_m=0.2),
            Run(layer="A", enz_m=(at, (3.0, 4.0, 5.0), (6.0, 7.0, 8.0)), closed=True),
        ),
        facts=(("Job", name), ("Date", json.dumps(name))),
    )
    document = _audited(dxf_bytes(model), tmp_path)
    assert len(document.modelspace()) == 4


def test_a_table_of_ground_far_beyond_the_site_gives_contours_round_the_site_alone(tmp_path):
    """2026-11-28: contours ran over the whole table; one of 600 m by 600 m took 13 s and 2.8 MB."""
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLES / "hand_check", folder)
    places = [(4.0 * i - 202.0, 4.0 * j - 202.0) for i in range(100) for j in range(100)]
    rows = [f"{e},{n},{50.3 + 0.05 * e + 0.003 * ((7 * k) % 5):.3f}" for k, (e, n) in enumerate(places)]
    (folder / "bare.csv").write_text("east,north,elevation\n" + "\n".join(rows) + "\n")
    with (folder / "job.toml").open("a") as job:
        job.write('\n[ground]\ntable = "bare.csv"\nsd = "20 mm"\nsurface = "table"\n')
    plan = planned(read_book(folder))
    assert np.ptp(plan.ground.shots_en_m(), axis=0).max() > 300
    site = pack(plan).site
    named = np.array([item.enz_m[:2] for item in site.items if isinstance(item, Spot)])
    lines = np.array([at[:2] for item in site.items if item.layer == "CONTOURS" for at in item.enz_m])
    assert len(lines) > 10
    length = np.ptp(named, axis=0).max()
    # The modules' edge reaches a little beyond what has a name.
    assert (lines >= named.min(axis=0) - 0.5 * length).all()
    assert (lines <= named.max(axis=0) + 0.5 * length).all()
