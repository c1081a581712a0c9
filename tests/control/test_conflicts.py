"""Readings that contradict each other grossly: one mistake is told as one, and nothing surer than it is.

Symptoms, 2026-11-28: a control coordinate wrong by kilometres was named together with three good tapes, of
which one was to be less than nothing long, all at more than 99 % and "so the survey passes"; two fixes under
each other's names were four wrong numbers; a tape booked to the wrong pin was wrong by some other amount;
tapes read in feet in a survey in metres blamed control points and fixes.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from staking.base.geodesy import Frame
from staking.book.folder import read_book
from staking.control.adjusting import adjusted

TRUE = {"P1": (100.0, 200.0, 10.13), "P2": (120.0, 200.0, 11.04), "P3": (120.0, 215.0, 12.21)}
TRUE |= {"P4": (100.0, 214.0, 12.67), "G1": (110.0, 207.0, 11.52), "G2": (106.0, 204.0, 10.95)}
TRUE |= {"G3": (114.0, 211.0, 11.98), "G4": (103.0, 210.0, 11.33)}
PINS = ("P1", "P2", "P3", "P4")
FOOT_M = 0.3048
SIDED = '[control]\nside = "left"\n'
CONTROL = {"P1": "100,200,10.13", "P2": "120,200,11.04", "P3": "120,215,12.21", "P4": "100,214,12.67"}
LOCAL = (
    '[control]\norigin = { point = "P1", east = 100, north = 200 }\n'
    'azimuth = { from = "P1", to = "P2", degrees = 90, north = "true" }\n'
    'benchmark = { point = "P1", elevation = 10.13 }\nside = "left"\n'
)


class Folder:
    """Rows of a yard by table, to be spoilt and read."""

    def __init__(self, seed=1):
        self.rng = np.random.default_rng(seed)
        pairs = [*itertools.combinations(PINS, 2), *((p, g) for g in list(TRUE)[4:] for p in PINS)]
        self.job, self.control = LOCAL, None
        self.tapes = [[a, b, self.length(a, b)] for a, b in pairs]
        self.rows = [["P1", "bs", 13.0], *([n, "is", 13.0] for n in list(TRUE)[1:]), ["P1", "fs", 13.0]]
        self.rows += [["P4", "bs", 14.2], *([n, "is", 14.2] for n in TRUE if n != "P4"), ["P4", "fs", 14.2]]
        self.rods = [[n, c, hi - TRUE[n][2] + self.rng.normal(0, 0.0015)] for n, c, hi in self.rows]
        self.rises, self.fixes, self.offsets = [], [], []

    def length(self, a, b):
        return math.dist(TRUE[a][:2], TRUE[b][:2]) + self.rng.normal(0, 0.003)

    def tape(self, a, b):
        return next(k for k, row in enumerate(self.tapes) if {row[0], row[1]} == {a, b})

    def given(self, **wrong):
        self.job, self.control = SIDED, dict(CONTROL) | wrong

    def fixed(self, sd_m=0.015):
        frame = Frame(lat_rad=math.radians(47.35), lon_rad=math.radians(8.9), height_m=0.0)
        for name, (e, n, _) in TRUE.items():
            at = frame.geodetic(e + self.rng.normal(0, sd_m), n + self.rng.normal(0, sd_m))
            lat, lon = (math.degrees(v) for v in at)
            self.fixes.append([name, f"{lat:.9f}", f"{lon:.9f}", sd_m, "one"])

    def adjusted(self, path):
        tables = {
            "tapes": ("from,to,length", [[a, b, f"{length:.3f}"] for a, b, length in self.tapes]),
            "levels": (
                "point,bs,is,fs",
                [
                    [n, *(f"{r:.3f}" if c == one else "" for one in ("bs", "is", "fs"))]
                    for n, c, r in self.rods
                ],
            ),
            "points": ("point,kind", [[p, "pin"] for p in PINS]),
            "rises": ("from,to,rise", self.rises),
            "offsets": ("point,from,to,station,offset", self.offsets),
            "fixes": ("point,lat,lon,sd_h,session", self.fixes),
            "control": ("point,east,north,elevation", [[k, v] for k, v in (self.control or {}).items()]),
        }
        job = f'[site]\nunits = "m"\ntape_how = "level"\n{self.job}'
        (path / "job.toml").write_text(job, encoding="utf-8")
        for name, (header, rows) in tables.items():
            if rows:
                text = "\n".join([header, *(",".join(str(cell) for cell in row) for row in rows)])
                (path / f"{name}.csv").write_text(text + "\n", encoding="utf-8")
        return adjusted(read_book(path, purpose="check"))


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"P3": "12000,215,12.21"}, [("east", 4, "120", "some other amount")]),
        ({"P2": "1200,200,11.04"}, [("east", 3, "120", "a nought too many")]),
        ({"P3": "120,251,12.21"}, [("north", 4, "215", "two digits")]),
        ({"P1": "100,200,13.10"}, [("elevation", 2, "10.13", "")]),
        (
            {"P3": "215,120,12.21"},
            [("east", 4, "120", "east and north exchanged"), ("north", 4, "215", "east and north exchanged")],
        ),
        (
            {"P3": CONTROL["P4"], "P4": CONTROL["P3"]},
            [("point", 4, "P4", "P3 and P4 exchanged"), ("point", 5, "P3", "P3 and P4 exchanged")],
        ),
    ],
)
def test_a_control_point_is_named_alone_and_for_what_it_is(tmp_path, wrong, told):
    yard = Folder()
    yard.given(**wrong)
    got = yard.adjusted(tmp_path)
    assert got.passes is False
    assert [(s.table, s.column, s.row) for s in got.suspects] == [("control.csv", c, r) for c, r, *_ in told]
    for one, (_, _, likely, why) in zip(got.suspects, told, strict=True):
        same = one.likely == likely or abs(float(one.likely) - float(likely)) < 0.02
        assert same
        assert why in one.why
        assert one.passes_after


def test_one_of_two_given_points(tmp_path):
    """2026-11-28: where nothing checked its elevation the program stopped with a KeyError."""
    yard = Folder()
    yard.given(P2="102,200,")
    del yard.control["P3"], yard.control["P4"]
    (one,) = yard.adjusted(tmp_path).suspects
    assert (one.table, one.row, one.column, one.likely) == ("control.csv", 3, "east", "120")


def test_fixes_under_each_other_s_names(tmp_path):
    yard = Folder()
    yard.fixed()
    yard.fixes[2][0], yard.fixes[5][0] = "G2", "P3"
    told = {(s.table, s.row, s.column, s.read, s.likely) for s in yard.adjusted(tmp_path).suspects}
    assert told == {("fixes.csv", 4, "point", "G2", "P3"), ("fixes.csv", 7, "point", "P3", "G2")}


def test_a_fix_under_another_name(tmp_path):
    yard = Folder()
    yard.fixed()
    yard.fixes[6][0] = "G4"
    yard.fixes.pop()
    (one,) = yard.adjusted(tmp_path).suspects
    assert (one.row, one.column, one.likely) == (8, "point", "G3")
    assert one.why.startswith("the point G4: G3 booked as G4")


def tape(yard):
    k = yard.tape("P1", "G4")
    yard.tapes[k][0] = "P3"
    return "tapes.csv", k + 2, "from", "P1"


def sight(yard):
    k = next(i for i, row in enumerate(yard.rods) if row[0] == "P3")
    yard.rods[k][0] = "P4"
    yard.rods.pop(k + 1)
    return "levels.csv", k + 2, "point", "P3"


def backsight(yard):
    k = next(i for i, row in enumerate(yard.rods) if row[:2] == ["P4", "bs"])
    yard.rods[k][0] = "G4"
    yard.rods.pop(next(i for i in range(k + 1, len(yard.rods)) if yard.rods[i][0] == "G4"))
    return "levels.csv", k + 2, "point", "P4"


def rise(yard):
    names = [("P1", "P2"), ("P1", "P3"), ("P2", "P4"), ("P3", "G1")]
    yard.rises = [[a, b, f"{TRUE[b][2] - TRUE[a][2] + yard.rng.normal(0, 0.003):.3f}"] for a, b in names]
    yard.rises[2][1] = "P3"
    return "rises.csv", 4, "to", "P4"


def offset(yard):
    for name in list(TRUE)[2:]:
        e, n = TRUE[name][0] - 100, TRUE[name][1] - 200
        yard.offsets.append([name, "P1", "P2", *(f"{x + yard.rng.normal(0, 0.012):.3f}" for x in (e, -n))])
    yard.offsets[2][0] = "G4"
    return "offsets.csv", 4, "point", "G1"


@pytest.mark.parametrize("spoilt", [tape, sight, backsight, rise, offset])
def test_a_reading_booked_to_the_wrong_point_is_told_by_the_right_name(tmp_path, spoilt):
    yard = Folder()
    where = spoilt(yard)
    first = yard.adjusted(tmp_path).suspects[0]
    assert (first.table, first.row, first.column, first.likely) == where
    assert first.passes_after


@pytest.mark.parametrize("scale_from", ["control", "fixes"])
def test_tapes_all_read_in_feet(tmp_path, scale_from):
    yard = Folder()
    if scale_from == "control":
        yard.given()
    else:
        yard.fixed()
    for row in yard.tapes:
        row[2] /= FOOT_M
    (one,) = yard.adjusted(tmp_path).suspects
    assert (one.table, one.row, one.likely) == ("tapes.csv", 2, f"{yard.tapes[0][2]:.3f} ft")
    assert f"feet booked as metres, and so all {len(yard.tapes)} tapes" in one.why


def test_what_leaves_the_survey_failing_is_never_near_certain(tmp_path):
    """Of up to five tapes wrong at once some stay unnamed; no length is less than nothing."""
    failing = 0
    for seed in (3, 4):
        yard = Folder(seed)
        for k in yard.rng.choice(len(yard.tapes), 5, replace=False):
            yard.tapes[k][2] += yard.rng.choice([-1, 1]) * 10 ** yard.rng.uniform(-1, 0.5)
        path = tmp_path / str(seed)
        path.mkdir()
        for one in yard.adjusted(path).suspects:
            if one.passes_after is False:
                failing += 1
                assert one.chance < 0.97, one
            if one.column == "length":
                assert float(one.likely) > 0
    assert failing


def test_a_wrong_tape_between_pins_does_not_leave_all_points_out(tmp_path):
    """Symptom, 2026-11-28: a pin drawn over the line suited no side; points were left out, or refused."""
    yard = Folder()
    k = yard.tape("P2", "P4")
    yard.tapes[k][2] -= 9.0
    got = yard.adjusted(tmp_path)
    assert got.passes is False
    assert len(got.points.names) == len(TRUE)
    (one,) = got.suspects
    assert (one.table, one.row, one.passes_after) == ("tapes.csv", k + 2, True)
    assert abs(float(one.likely) - math.dist(TRUE["P2"][:2], TRUE["P4"][:2])) < 0.02


def test_one_set_up_read_in_metres_in_a_survey_in_feet(tmp_path):
    """Symptom, 2026-11-28: "all of them miss more than stated", with [accuracy] to be looked at."""
    yard = Folder()
    second = next(k for k, row in enumerate(yard.rods) if row[:2] == ["P4", "bs"])
    for row in yard.rods[second:]:
        row[2] /= FOOT_M
    (one,) = yard.adjusted(tmp_path).suspects
    assert (one.table, one.row, one.passes_after) == ("levels.csv", second + 2, True)
    assert f"set-up of row {second + 2}" in one.why


NETS = {
    # Invented: true lengths in feet, to 0.01 ft; the first tape of a net is then ten feet long.
    "two images": (
        "P1 P3 121.77, P1 P2 66.98, P1 P4 79.70, P1 P5 112.07, P1 P6 57.80, P2 P3 90.92, P2 P4 33.77, "
        "P2 P5 68.47, P2 P6 44.22, P2 P7 58.69, P3 P4 57.15, P3 P5 27.73, P3 P7 143.91, P4 P5 36.23, "
        "P4 P6 28.90, P5 P6 54.94, P5 P7 117.82",
        "P7",
    ),
    "a point on the other image": (
        "P4 P8 65.19, P1 P2 59.02, P1 P3 48.37, P1 P4 66.56, P1 P5 34.01, P1 P7 157.09, P1 P8 128.99, "
        "P2 P3 55.09, P2 P4 29.15, P2 P5 77.87, P2 P6 70.78, P2 P7 121.80, P3 P4 80.02, P3 P5 37.16, "
        "P3 P6 125.71, P4 P5 94.26, P4 P6 53.81, P4 P7 96.07, P5 P6 146.35, P5 P7 188.43, P7 P8 78.27",
        "P3 P5",
    ),
    "sides against all images": (
        "P2 P3 73.55, P1 P2 74.38, P1 P3 137.18, P1 P4 104.47, P1 P6 85.55, P1 P8 44.40, P2 P4 41.93, "
        "P2 P5 48.38, P2 P9 104.85, P3 P4 33.22, P3 P5 85.31, P3 P7 153.06, P3 P8 161.98, P4 P5 67.63, "
        "P4 P6 126.51, P4 P7 138.88, P5 P6 84.80, P5 P7 71.30, P5 P8 114.44, P5 P9 77.00, P6 P7 91.87, "
        "P6 P8 52.69, P7 P9 43.39",
        "P3 P4",
    ),
}  # fmt: skip


@pytest.mark.parametrize("net", NETS)
def test_a_tape_ten_feet_long_that_draws_points_to_the_wrong_image(tmp_path, net):
    """2026-11-28: another tape was named first, the wrong one last, or the survey refused point by point."""
    tapes, right = NETS[net]
    rows = [tape.split() for tape in tapes.split(", ")]
    names = sorted({name for a, b, _ in rows for name in (a, b)} - {"P1", "P2"})
    rows[0][2] = f"{float(rows[0][2]) + 10:.2f}"
    (tmp_path / "job.toml").write_text(
        '[site]\nunits = "ft"\ntape_how = "level"\n[control]\n'
        'origin = { point = "P1", east = 0, north = 0 }\n'
        'azimuth = { from = "P1", to = "P2", degrees = 90, north = "true" }\n',
        encoding="utf-8",
    )
    (tmp_path / "tapes.csv").write_text(
        "from,to,length\n" + "".join(",".join(row) + "\n" for row in rows), encoding="utf-8"
    )
    sides = "".join(f"{name},pin,{'right' if name in right.split() else 'left'}\n" for name in names)
    (tmp_path / "points.csv").write_text("point,kind,side\n" + sides, encoding="utf-8")
    first, *others = adjusted(read_book(tmp_path, purpose="check")).suspects
    assert (first.table, first.row) == ("tapes.csv", 2)
    assert float(first.likely) == pytest.approx(float(rows[0][2]) - 10, abs=0.03)
    assert first.chance > 0.97
    assert not others


@pytest.mark.parametrize(("a", "b"), [(("P1", "G2"), ("P2", "G2")), (("P2", "G4"), ("P3", "G4"))])
def test_two_tapes_of_one_point_exchanged(tmp_path, a, b):
    """2026-11-28: one of the point's three tapes was told to be wrong by some other amount."""
    yard = Folder()
    keep = {yard.tape(p, g) for g in ("G1", "G2", "G3", "G4") for p in ("P1", "P2", "P3")}
    yard.tapes = [row for k, row in enumerate(yard.tapes) if k < 6 or k in keep]
    first, second = yard.tape(*a), yard.tape(*b)
    yard.tapes[first][2], yard.tapes[second][2] = yard.tapes[second][2], yard.tapes[first][2]
    top = yard.adjusted(tmp_path).suspects[0]
    assert (top.table, top.row) in {("tapes.csv", first + 2), ("tapes.csv", second + 2)}
    assert "exchanged" in top.why
    assert top.passes_after


@pytest.mark.parametrize("both", [True, False])
def test_tapes_and_rods_both_in_feet(tmp_path, both):
    """2026-11-28: given coordinates were blamed, or nobody was."""
    yard = Folder()
    yard.given()
    for row in (*yard.tapes, *(yard.rods if both else ())):
        row[2] /= FOOT_M
    (top,) = yard.adjusted(tmp_path).suspects
    assert "feet booked as metres, and so all" in top.why
    assert ("tapes and rods" in top.why) == both
    assert top.passes_after
