"""Every sample survey is planned and held against its truth."""

import json
import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from pyproj import Geod

from staking.book.folder import read_book
from staking.plan import Plan, planned
from staking.results import results
from staking.sheets.pack import pack

SAMPLES = Path(__file__).parent.parent / "sample_surveys"
NAMES = sorted(path.parent.name for path in SAMPLES.glob("*/job.toml"))
WGS84 = Geod(ellps="WGS84")
FOUR_SD = 4.0
"""Sigma within which every one of a few dozen checked numbers must lie: chance puts one in 16,000 beyond."""
READ_STEP_M = 0.001
"""Readings are rounded to 1/8 in, 0.01 ft or 1 mm; the accuracies stated leave that out."""


@pytest.fixture(scope="module")
def plans() -> dict[str, Plan]:
    return {name: planned(read_book(SAMPLES / name)) for name in NAMES}


def _truth(name):
    return tomllib.loads((SAMPLES / name / "truth.toml").read_text(encoding="utf-8"))


def _true_ground(truth, east, north):
    ground = truth["ground"]
    if "spots" in ground:
        spots = {(e, n): z for e, n, z in ground["spots"]}
        i, j = math.floor(east), math.floor(north)
        a, b = east - i, north - j
        low = spots[i, j] * (1 - a) + spots[i + 1, j] * a
        high = spots[i, j + 1] * (1 - a) + spots[i + 1, j + 1] * a
        return low * (1 - b) + high * b
    waves = sum(h * math.sin(ke * east + kn * north + p) for h, ke, kn, p in ground["waves"])
    return ground["z0"] + ground["east"] * east + ground["north"] * north + waves


def test_there_are_six_samples():
    assert NAMES == [
        "cross_fall",
        "hand_check",
        "planted_blunder",
        "real_hillside",
        "stepped_bank",
        "tied_meadow",
    ]


@pytest.mark.parametrize("name", [name for name in NAMES if name != "planted_blunder"])
def test_points_come_back_within_their_stated_uncertainty(plans, name):
    truth, points = _truth(name)["points"], plans[name].adjustment.points
    sd = points.sd_m()
    for i, point in enumerate(points.names):
        for k, true in enumerate(truth[point]):
            got = points.enz_m[i, k]
            if math.isnan(true) or math.isnan(got):
                continue
            assert abs(got - true) <= FOUR_SD * sd[i, k] + READ_STEP_M, (point, k)


@pytest.mark.parametrize("name", [name for name in NAMES if name != "planted_blunder"])
def test_the_ground_at_each_pier_is_the_true_ground_within_its_stated_uncertainty(plans, name):
    truth = _truth(name)
    for pier in results(plans[name])["piers"]:
        true = _true_ground(truth, pier["east"], pier["north"])
        assert abs(pier["ground"] - true) <= FOUR_SD * pier["sd_ground"] + READ_STEP_M, pier["pier"]


@pytest.mark.parametrize("name", NAMES)
def test_rails_are_true_on_uneven_ground(plans, name):
    """The tops of all posts of an array lie in one plane, whatever the ground does under them."""
    for array in plans[name].arrays:
        en, top = array.fit.piers.en_m, array.fit.lengths.top_m
        plane = np.column_stack([en, np.ones(len(en))])
        left = top - plane @ np.linalg.lstsq(plane, top, rcond=None)[0]
        assert np.abs(left).max() < 1e-9


@pytest.mark.parametrize("name", NAMES)
def test_every_limit_is_kept(plans, name):
    for array in plans[name].arrays:
        limits, fit = array.job.fit, array.fit
        assert fit.lengths.above_grade_m.min() >= limits.above_grade_min_m - 1e-9
        assert fit.lengths.above_grade_m.max() <= limits.above_grade_max_m + 1e-9
        assert fit.clearance_m >= limits.clearance_m - 1e-6


@pytest.mark.parametrize("name", NAMES)
def test_the_cut_list_holds_every_piece_and_is_proven(plans, name):
    cuts = plans[name].cuts
    pieces = sorted(p.piece for stick in cuts.sticks for p in stick.pieces if not p.piece.startswith("beam"))
    assert pieces == sorted(array.pier_name(p) for array in plans[name].arrays for p in array.fit.piers.names)
    assert cuts.proven
    assert cuts.count >= cuts.bound


def test_hand_check_by_pencil(plans):
    """What README.md of the sample says, worked out with a pencil.

    HI = 50.000 + 2.000 = 52.000. Ground at A1 = 52.000 - 1.600 = 50.400; B1 = 52.000 - 1.416 = 50.584.
    Beams level, so the least above-grade length stands where the ground is highest along a beam: A3, ground
    52.000 - 1.450 = 50.550. Rise from beam A to beam B: 2.12 m up the rail at 30 degrees, 2.12 / 2 = 1.060.
    """
    plan = plans["hand_check"]
    lengths = dict(zip(plan.arrays[0].fit.piers.names, plan.arrays[0].fit.lengths.above_grade_m, strict=True))
    assert lengths["A1"] - lengths["A2"] == pytest.approx(0.075, abs=1e-9)
    assert lengths["A1"] - lengths["A3"] == pytest.approx(0.150, abs=1e-9)
    assert lengths["B1"] - lengths["A1"] == pytest.approx(1.060 - (1.600 - 1.416), abs=1e-9)
    assert plan.adjustment.level_sums.sum_bs_m == pytest.approx(2.000)
    assert plan.adjustment.variance_factor == pytest.approx(0, abs=1e-12)


def test_the_planted_blunder_is_named_with_its_repair(plans):
    planted = _truth("planted_blunder")["planted"]
    plan = plans["planted_blunder"]
    assert plan.adjustment.passes is False
    first = plan.adjustment.suspects[0]
    assert (first.table, first.row, first.column) == (planted["table"], planted["row"], planted["column"])
    assert first.likely == planted["truly"]
    assert first.chance > 0.9


def test_the_tied_stakes_lie_on_the_earth_where_they_truly_do(plans):
    """Through the geodesic from the true place of P1 (pyproj), not through the program's own axes."""
    plan = plans["tied_meadow"]
    lat, lon = _truth("tied_meadow")["earth"]["P1"]
    piers = {pier["pier"]: pier for pier in results(plan)["piers"]}
    stakes = [place for place in pack(plan).earth.places if place.kind == "stake"]
    assert {place.name for place in stakes} == set(piers)
    for place in stakes:
        east, north = piers[place.name]["east"], piers[place.name]["north"]
        azimuth, far = math.degrees(math.atan2(east, north)), math.hypot(east, north)
        at_lon, at_lat, _ = WGS84.fwd(lon, lat, azimuth, far)
        off_m = WGS84.inv(at_lon, at_lat, place.lon_deg, place.lat_deg)[2]
        assert off_m <= 3.0 * place.sd_m, place.name
        # The whole session is off by 11 mm and 8 mm (invent.py): that comes through, and no more is claimed.
        assert off_m == pytest.approx(math.hypot(0.011, 0.008), abs=0.008)


@pytest.mark.parametrize("name", [name for name in NAMES if name != "planted_blunder"])
def test_clean_samples_pass_and_accuse_nobody(plans, name):
    adjustment = plans[name].adjustment
    assert adjustment.passes
    assert all(m.passes for m in adjustment.misclosures)
    assert adjustment.suspects == ()


@pytest.mark.parametrize("name", NAMES)
def test_results_are_plain_json_without_nan(plans, name):
    json.dumps(results(plans[name]), allow_nan=False)
