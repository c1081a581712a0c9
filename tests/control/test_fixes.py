"""GPS fixes in the adjustment: they shape the site, orient it, and never place it better than they can."""

import math
from dataclasses import replace

import numpy as np
import pytest
from fixed_yards import HEIGHT_M, LAT, LON, MIDDLE, FixedYard, on_earth, place, plan_of, sds
from invented_yards import invented

from staking.base.errors import WrongInput
from staking.book.records import Accuracy, Benchmark, Control, ControlRow, FixRow, Origin, PointRow
from staking.control.adjusting import adjusted, worked
from staking.plan import Plan
from staking.results import results

TENTH_MM = 1e-4
UNCHANGED_M = 1e-9
ORIGIN = Origin(point="P1", east_m=100.0, north_m=50.0)


def yard_of(seed, *, noisy=True, **how):
    """An invented yard without bearings, so that only the azimuth or fixes turn it."""
    yard = invented(seed, noisy=noisy, **how)
    yard.bearings = []
    return FixedYard(**{name: getattr(yard, name) for name in yard.__dataclass_fields__})


def book_of(yard, *, origin=ORIGIN, azimuth=None, benchmark=True, accuracy=None, **more):
    control = Control(
        origin=origin,
        azimuth=azimuth,
        benchmark=Benchmark(point="BM1", elevation_m=yard.z("BM1")) if benchmark else None,
    )
    book = yard.book(control=control, **more)
    job = book.job if accuracy is None else replace(book.job, accuracy=accuracy)
    return replace(book, job=job, fixes=tuple(yard.fixes))


def with_fixes(yard):
    return replace(yard.book(), fixes=tuple(yard.fixes))


def test_one_standalone_session_on_one_point_leaves_the_plan_alone():
    """It only says where on the earth the site lies."""
    yard = yard_of(3)
    before = adjusted(yard.book())
    yard.shifts = {"phone": (3.0, -4.0, 9.0)}
    yard.fix("P3", "phone")
    after = adjusted(with_fixes(yard))
    assert after.points.names == before.points.names
    np.testing.assert_allclose(after.points.enz_m, before.points.enz_m, rtol=0, atol=UNCHANGED_M)
    np.testing.assert_allclose(after.points.cov_m2, before.points.cov_m2, rtol=0, atol=UNCHANGED_M)
    assert after.redundancy == before.redundancy
    assert after.variance_factor == pytest.approx(before.variance_factor, abs=1e-9)
    assert before.earth is None
    # The shift of 5 m and the phone's 2 m, root-sum-square; the taped plan adds millimetres.
    assert np.sqrt(np.diag(after.earth.cov_m2)[:2]) == pytest.approx(math.hypot(5, 2), abs=1e-3)


@pytest.mark.parametrize("seed", range(3))
def test_exact_fixes_beside_tapes_agree(seed):
    """East, north, scale and turn of the fixes by the geodesic are those of the tapes."""
    yard = yard_of(seed, noisy=False, turned_rad=1.0)
    yard.shifts = {"a": (2.0, 3.0, -5.0), "b": (-4.0, 1.0, 6.0)}
    for name in ("P1", "P3", "G1"):
        yard.fix(name, "a", sd_h=0.01, sd_v=0.02, height=True)
        yard.fix(name, "b", sd_h=0.01, sd_v=0.02, height=True)
    got = adjusted(with_fixes(yard))
    for name in yard.truth:
        at = place(got, name)
        given = ~np.isnan(at)
        assert at[given] == pytest.approx(np.array(yard.truth[name])[given], abs=TENTH_MM)
    fixes = [r for r in got.readings if r.kind == "fix"]
    assert len(fixes) == 18
    assert {r.column for r in fixes} == {"lat", "lon", "height"}
    # The sessions share 2 m and 10 m of shift among them: only the tie and their mean fit at once.
    assert max(abs(r.residual) for r in fixes) < TENTH_MM
    assert got.suspects == ()


def test_all_fixes_moved_together_move_only_the_tie():
    yard = yard_of(5)
    for name in ("P1", "P2", "P3", "G2"):
        yard.fix(name, "rtk", sd_h=0.02, sd_v=0.03, height=True)
    before = adjusted(book_of(yard))
    moved = [
        replace(f, lat_rad=f.lat_rad + 3e-6, lon_rad=f.lon_rad - 5e-6, height_m=f.height_m + 7)
        for f in yard.fixes
    ]
    after = adjusted(replace(book_of(yard), fixes=tuple(moved)))
    # 3e-6 rad are 19 m: the meridians of the two places part by 1e-6, a tenth of a millimetre at 30 m.
    np.testing.assert_allclose(after.points.enz_m, before.points.enz_m, rtol=0, atol=TENTH_MM)
    assert after.earth.lat_rad - before.earth.lat_rad == pytest.approx(3e-6, abs=1e-10)
    assert after.earth.lon_rad - before.earth.lon_rad == pytest.approx(-5e-6, abs=1e-10)
    assert after.earth.height_m - before.earth.height_m == pytest.approx(7, abs=1e-6)


def test_shifts_of_several_metres_do_not_bend_the_site():
    """Two standalone sessions, each far off in its own way: the plan keeps the tapes' millimetres."""
    yard = yard_of(4)
    yard.shifts = {"a": (6.0, -5.0, 12.0), "b": (-7.0, 4.0, -15.0)}
    taped = adjusted(yard.book())
    yard.rng = np.random.default_rng(8)
    for name in ("P1", "P2", "P3", "P4"):
        yard.fix(name, "a", sd_h=1.0)
        yard.fix(name, "b", sd_h=1.0)
    got = adjusted(with_fixes(yard))
    names = [n for n in taped.points.names if n != "BM1"]
    assert np.abs(plan_of(got, names) - plan_of(taped, names)).max() < 0.001


def test_two_fixes_of_one_session_orient_the_site():
    """Without azimuth; their common shift does not matter, their distance and sd say how well."""
    yard = yard_of(6, noisy=False, turned_rad=2.0)
    yard.shifts = {"rtk": (4.0, -3.0, 0.0)}
    yard.fix("P1", "rtk", sd_h=0.02)
    yard.fix("P3", "rtk", sd_h=0.02)
    got = adjusted(book_of(yard, points=sided("P2", yard)))
    for name in ("P2", "P3", "P4", "G1", "G2"):
        assert place(got, name) == pytest.approx(np.array(yard.truth[name]), abs=TENTH_MM), name
    arm = np.linalg.norm(yard.xy("P3") - yard.xy("P1"))
    across = np.array([math.cos(yard.azimuth("P1", "P3")), -math.sin(yard.azimuth("P1", "P3"))])
    k = got.points.index("P3")
    sd_across = math.sqrt(across @ got.points.cov_m2[3 * k : 3 * k + 2, 3 * k : 3 * k + 2] @ across)
    assert sd_across == pytest.approx(0.02 * math.sqrt(2), rel=0.01)
    assert any("which way the site is turned" in w for w in got.warnings) == (
        0.02 * math.sqrt(2) / arm > math.radians(0.5)
    )


def sided(name, yard):
    """The side of a point that its truth has, looking from the first fix to the second."""
    line = yard.xy("P3") - yard.xy("P1")
    arm = yard.xy(name) - yard.xy("P1")
    side = "right" if arm[0] * line[1] - arm[1] * line[0] > 0 else "left"
    return (PointRow(table="points.csv", row=2, point=name, side=side),)


def test_a_phone_and_a_side_place_a_taped_yard():
    """Two fixes good to 2 m turn a yard of 20 m but do not tell its mirror image; the side of a pin does."""
    yard = yard_of(2, noisy=False, turned_rad=2.0, ground_points=2)
    # Angles and offsets would tell the image.
    yard.angles, yard.offsets = [], []
    yard.shifts = {"phone": (4.0, -3.0, 0.0)}
    yard.rng = np.random.default_rng(4)
    for name in ("P1", "P3"):
        yard.fix(name, "phone", sd_h=2.0)
    left_out = adjusted(book_of(yard))
    assert any("write in points.csv the side of" in w for w in left_out.warnings)
    got = adjusted(book_of(yard, points=sided("P2", yard)))
    turn = math.remainder(
        math.atan2(*(place(got, "P3") - place(got, "P1"))[:2]) - yard.azimuth("P1", "P3"), 2 * math.pi
    )
    assert abs(turn) < 3 * 2.0 * math.sqrt(2) / 20
    # The shape is the tapes', to rounding; the turn is only as good as the phone, and that is said.
    for name in ("P2", "P3", "P4"):
        arm = np.array(place(got, name)[:2]) - place(got, "P1")[:2]
        assert np.hypot(*arm) == pytest.approx(np.hypot(*(yard.xy(name) - yard.xy("P1"))), abs=TENTH_MM)
    assert any("only the fixes say which way the site is turned" in w for w in got.warnings)


def test_three_fixes_tell_the_mirror_image_as_well():
    yard = yard_of(6, noisy=False, turned_rad=2.0)
    for name in ("P2", "P3", "P4"):
        yard.fix(name, "rtk", sd_h=0.1)
    got = adjusted(book_of(yard))
    for name in ("P2", "P3", "P4", "G1", "G2"):
        assert place(got, name) == pytest.approx(np.array(yard.truth[name]), abs=TENTH_MM), name


@pytest.mark.parametrize(
    ("session", "sd_h", "says"),
    [(("a", "b"), 0.02, "±20° only"), (("a", "a"), 4.0, "±16° only"), (("a",), 0.02, "turned;")],
)
def test_fixes_that_do_not_orient_the_site_are_refused(session, sd_h, says):
    """Two sessions are 7 m apart from each other, two poor fixes 6 m, one fix tells nothing."""
    yard = yard_of(6, noisy=False, ground_points=1)
    for name, one in zip(("P1", "P2"), session, strict=False):
        yard.fix(name, one, sd_h=sd_h)
    with pytest.raises(WrongInput) as error:
        adjusted(book_of(yard))
    (mistake,) = error.value.mistakes
    assert mistake.column == "control.azimuth"
    assert says in f"{mistake};", str(mistake)


def test_a_site_of_fixes_and_levels_alone():
    """No tape at all: RTK places the plan, rods the heights."""
    yard = yard_of(9)
    yard.tapes, yard.offsets, yard.angles = [], [], []
    names = [n for n in yard.truth if n != "BM1"]
    for name in names:
        yard.fix(name, "rtk", sd_h=0.015)
    got = adjusted(book_of(yard))
    for name in names:
        off = place(got, name) - np.array(yard.truth[name])
        assert not np.isnan(off).any()
        assert np.abs(off[:2]).max() < 4 * 0.015 * math.sqrt(2)
        if name != "P1":
            assert sds(got, name)[:2] == pytest.approx(0.015 * math.sqrt(2), rel=1e-6)
    assert any("no fix has a height" in w for w in got.warnings)


def test_without_an_origin_it_is_said_what_to_write():
    yard = yard_of(9)
    yard.tapes, yard.offsets, yard.angles = [], [], []
    for name in ("P4", "P1", "P2"):
        yard.fix(name, "rtk", sd_h=0.015)
    with pytest.raises(WrongInput) as error:
        adjusted(book_of(yard, origin=None))
    assert 'origin = { point = "' in str(error.value)
    assert "shape it and do not place it" in str(error.value)


def test_one_fix_beside_levels_alone_is_no_plan():
    """The tie of a survey that has only heights: nothing is asked for an origin."""
    yard = yard_of(9)
    yard.tapes, yard.offsets, yard.angles = [], [], []
    yard.fix("BM1", "phone")
    got = adjusted(book_of(yard, origin=None))
    assert not np.isnan(place(got, "G1")[2])


def test_heights_of_rtk_reach_points_that_no_rod_does():
    yard = yard_of(2, noisy=False)
    yard.truth["T"] = (104.0, 56.0, 33.0)
    for pin in ("P1", "P2"):
        yard.tape(pin, "T")
    for name in ("P1", "P3", "T"):
        yard.fix(name, "rtk", sd_h=0.02, sd_v=0.03, height=True)
    got = adjusted(with_fixes(yard))
    assert place(got, "T") == pytest.approx(np.array(yard.truth["T"]), abs=TENTH_MM)
    assert sds(got, "T")[2] == pytest.approx(0.03 * math.sqrt(1.5), rel=0.01)
    # What the receiver shows at elevation 0.
    assert got.earth.height_m == pytest.approx(HEIGHT_M - 30, abs=1e-4)
    assert got.earth.height_kind == "ellipsoidal"


def test_a_session_that_lost_its_lock_is_found_by_the_shift_it_has():
    """A session's shift in height is common: taking all its heights 20 m higher changes nothing else."""
    yard = yard_of(2, noisy=False)
    for name in ("P1", "P3"):
        yard.fix(name, "a", sd_h=0.02, sd_v=0.03, height=True)
    for name in ("P2", "P4"):
        yard.fix(name, "b", sd_h=0.02, sd_v=0.03, height=True)
    before = adjusted(with_fixes(yard))
    yard.fixes = [replace(f, height_m=f.height_m + 1.0) if f.session == "b" else f for f in yard.fixes]
    after = adjusted(with_fixes(yard))
    known = ~np.isnan(before.points.enz_m)
    np.testing.assert_allclose(after.points.enz_m[known], before.points.enz_m[known], rtol=0, atol=1e-6)


def test_heights_of_two_kinds_are_refused():
    yard = yard_of(2)
    for name in ("P1", "P3", "P2"):
        yard.fix(name, "rtk", sd_v=0.03, height=True)
    yard.fixes[2] = replace(yard.fixes[2], height_kind="orthometric")
    with pytest.raises(WrongInput) as error:
        adjusted(with_fixes(yard))
    (mistake,) = error.value.mistakes
    assert (mistake.file, mistake.row, mistake.column) == ("fixes.csv", 4, "height_kind")


def test_a_longitude_without_its_minus_is_refused():
    yard = yard_of(2)
    for name in ("P1", "P3", "P2"):
        yard.fix(name, "rtk")
    yard.fixes[1] = replace(yard.fixes[1], lon_rad=-yard.fixes[1].lon_rad)
    with pytest.raises(WrongInput) as error:
        adjusted(with_fixes(yard))
    (mistake,) = error.value.mistakes
    assert mistake.row == 3
    assert "West and south are minus" in str(mistake)


def test_errors_stay_within_the_stated_sigma():
    """Several sessions, each with a shift of its own of 5 m: shape and place err as their sds say."""
    shape, turns, ties = [], [], []
    for seed in range(24):
        rng = np.random.default_rng(seed)
        yard = yard_of(seed, ground_points=1)
        yard.rng = rng
        yard.shifts = {s: tuple(rng.normal(0, [5, 5, 10])) for s in ("a", "b", "c")}
        for session in yard.shifts:
            for name in ("P1", "P2", "P3", "P4"):
                yard.fix(name, session, sd_h=0.05, sd_v=0.08, height=True)
        got = adjusted(book_of(yard, points=sided("P2", yard)))
        for name in ("P2", "P3", "P4"):
            shape += list((place(got, name)[:2] - yard.xy(name)) / sds(got, name)[:2])
        turns.append((place(got, "P3") - np.array(yard.truth["P3"]))[0] / sds(got, "P3")[0])
        lat, lon = LAT, LON
        per_north, per_east = got.earth.frame.metres_per_radian()
        error = np.array(
            [
                (got.earth.lon_rad - math.radians(lon)) * per_east,
                (got.earth.lat_rad - math.radians(lat)) * per_north,
                got.earth.height_m - (HEIGHT_M - 30),
            ]
        )
        ties += list(error / np.sqrt(np.diag(got.earth.cov_m2)))
    # Errors within a yard hang together: bounds are some three standard errors of 24 yards.
    assert np.mean(np.square(shape)) == pytest.approx(1, abs=0.55)
    assert np.mean(np.square(turns)) == pytest.approx(1, abs=0.85)
    assert np.mean(np.square(ties)) == pytest.approx(1, abs=0.5)


def test_a_misread_longitude_is_named_and_repaired():
    """One digit wrong by 1e-4 degrees, 8.5 m; the repair is written as the file writes it."""
    yard = yard_of(1)
    for name in ("P1", "P2", "P3", "P4"):
        yard.fix(name, "rtk", sd_h=0.02)
    right = yard.fixes[2].read["lon"]
    wrong = f"{float(right) + 1e-4:.9f}"
    yard.fixes[2] = replace(
        yard.fixes[2], lon_rad=math.radians(float(wrong)), read={**yard.fixes[2].read, "lon": wrong}
    )
    got = adjusted(with_fixes(yard))
    assert got.passes is False
    first = got.suspects[0]
    assert (first.table, first.row, first.column, first.read) == ("fixes.csv", 4, "lon", wrong)
    assert float(first.likely) == pytest.approx(float(right), abs=1e-6)
    assert len(first.likely) == len(wrong)
    assert first.chance > 0.9


def utm_yard():
    """Points on EPSG:32618 by pyproj, with a tape at ground scale."""
    from pyproj import Transformer

    grid = Transformer.from_crs(4326, 32618, always_xy=True)
    e0, n0 = grid.transform(LON, LAT)
    return e0, n0, grid


def test_on_a_map_grid_the_tie_is_known():
    """One control point on the grid; a fix 60 m off lands at ground scale, turned by the convergence."""
    e0, n0, grid = utm_yard()
    lat, lon = on_earth(36.0, 48.0)
    fixes = tuple(
        FixRow(
            table="fixes.csv", row=k + 2, point=name, lat_rad=math.radians(a), lon_rad=math.radians(o),
            height_m=HEIGHT_M, height_kind="ellipsoidal", sd_h_m=0.01, session="rtk",
        )
        for k, (name, a, o) in enumerate((("P1", LAT, LON), ("P2", lat, lon)))
    )  # fmt: skip
    yard = FixedYard(truth={"BM1": (0, 0, 30.0), "P1": (0, 0, 31.0)})
    yard.setup("BM1", [], "P1")
    book = yard.book(
        control=Control(benchmark=Benchmark(point="BM1", elevation_m=30.0)),
        control_points=(ControlRow(table="control.csv", row=2, point="P1", east_m=e0, north_m=n0),),
    )
    site = replace(book.job.site, grid="EPSG:32618")
    accuracy = Accuracy(session_m=0.02)
    got = adjusted(replace(book, job=replace(book.job, site=site, accuracy=accuracy), fixes=fixes))
    assert place(got, "P1")[:2] == pytest.approx([e0, n0], abs=1e-9)
    arm = place(got, "P2")[:2] - [e0, n0]
    assert np.linalg.norm(arm) == pytest.approx(60.0, abs=TENTH_MM)
    # The grid itself gives the same direction, and a length that its scale shortens by 24 mm.
    on_grid = np.array(grid.transform(lon, lat)) - [e0, n0]
    assert math.atan2(*arm) == pytest.approx(math.atan2(*on_grid), abs=1e-6)
    assert np.linalg.norm(on_grid) < 60.0 - 0.02
    assert math.degrees(got.earth.lat_rad) == pytest.approx(LAT, abs=1e-9)
    assert np.diag(got.earth.cov_m2)[:2] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("tape_m", [0.003, 0.1])
def test_a_list_on_a_map_grid_is_brought_to_ground_scale_where_tapes_fit_only_so(tape_m):
    """2026-11-28: points held fixed on the grid failed against the tapes by its 0.4 in 1000."""
    _, _, grid = utm_yard()
    truth = {"P1": (0.0, 0.0), "P2": (36.0, 48.0), "P3": (-40.0, 30.0)}
    yard = FixedYard(truth={"BM1": (0, 0, 30.0), **{name: (*xy, 31.0) for name, xy in truth.items()}})
    yard.setup("BM1", ["P2", "P3"], "P1")
    for pair in (("P1", "P2"), ("P2", "P3"), ("P3", "P1")):
        yard.tape(*pair)
    rows = []
    for k, (name, xy) in enumerate(truth.items()):
        lat, lon = on_earth(*xy)
        e, n = grid.transform(lon, lat)
        rows.append(ControlRow(table="control.csv", row=k + 2, point=name, east_m=e, north_m=n))
    control = Control(benchmark=Benchmark(point="BM1", elevation_m=30.0))
    book = yard.book(control=control, control_points=tuple(rows))
    site, accuracy = replace(book.job.site, grid="EPSG:32618"), Accuracy(tape_m=tape_m)
    got = adjusted(replace(book, job=replace(book.job, site=site, accuracy=accuracy)))
    assert got.passes
    assert got.suspects == ()
    (said,) = [text for text in got.warnings if "whose distances are" in text]
    ground, on_grid = 60.0, math.dist((rows[0].east_m, rows[0].north_m), (rows[1].east_m, rows[1].north_m))
    apart = math.dist(place(got, "P1")[:2], place(got, "P2")[:2])
    if tape_m > 0.01:
        # Such tapes do not tell: the list stays as it was typed, and the scale is told.
        assert apart == pytest.approx(on_grid, abs=1e-9)
        assert "hold one of the points" in said
        return
    # The yard's ground lies at the height of the fixes' sample, which a list without elevations does not say.
    assert apart == pytest.approx(ground, rel=1.5e-4)
    assert on_grid < ground - 0.02
    assert "So they are taken at ground scale" in said
    middle = [sum(row.east_m for row in rows) / 3, sum(row.north_m for row in rows) / 3]
    mean = np.mean([place(got, name)[:2] for name in truth], axis=0)
    assert mean == pytest.approx(middle, abs=1e-6)


def test_the_place_of_a_point_on_the_earth_has_its_covariance():
    """Points that fixes place: on the earth they are as sure as their own fix and the session's shift."""
    yard = yard_of(9)
    yard.tapes, yard.offsets, yard.angles = [], [], []
    for name in ("P1", "P2", "P3"):
        yard.fix(name, "rtk", sd_h=0.015)
    got = worked(book_of(yard)).adjustment
    cov = got.earth.cov_of(got.points.index("P2"), got.points)
    assert math.sqrt(cov[0, 0]) == pytest.approx(math.hypot(5, 0.015), rel=1e-9)
    lat, lon = got.earth.frame.geodetic(*place(got, "P2")[:2])
    fix = yard.fixes[1]
    assert (lat, lon) == pytest.approx((fix.lat_rad, fix.lon_rad), abs=1e-12)


def test_results_say_where_the_site_lies():
    """The place told, by the geodesic from where the truth lies, is the site's own within its sd."""
    yard = yard_of(3)
    plan = Plan(book=yard.book(), adjustment=adjusted(yard.book()), ground=None, arrays=(), cuts=None)
    assert results(plan)["survey"]["earth"] is None
    yard.fix("P3", "base", height=True)
    book = with_fixes(yard)
    told = results(replace(plan, book=book, adjustment=adjusted(book)))["survey"]["earth"]
    lat, lon = on_earth(told["east"] - MIDDLE[0], told["north"] - MIDDLE[1])
    # The noise of the tapes that lead from P3 to the origin, some millimetres: 1e-7 degrees are 11 mm.
    assert (told["latitude"], told["longitude"]) == pytest.approx((lat, lon), abs=1e-7)
    assert told["sd_east"] == pytest.approx(math.hypot(5, 2), abs=1e-3)
    assert told["height_at_zero"] == pytest.approx(HEIGHT_M - 30, abs=0.02)
    assert told["height_kind"] == "ellipsoidal"


def test_feet_on_a_grid_of_survey_feet_are_survey_feet():
    """2026-11-28: read as feet of 0.3048 m they put the site two parts in a million off, 0.6 m here."""
    from pyproj import Transformer

    east, north = Transformer.from_crs(4326, 2263, always_xy=True).transform(-73.9, 40.7)
    yard = FixedYard(truth={"BM1": (0, 0, 30.0), "P1": (0, 0, 31.0)})
    yard.setup("BM1", [], "P1")
    rows = (ControlRow(table="control.csv", row=2, point="P1", east_m=east * 0.3048, north_m=north * 0.3048),)
    book = yard.book(control=Control(benchmark=Benchmark(point="BM1", elevation_m=30.0)), control_points=rows)
    for units, off_m in (("ft", 0.0), ("m", 2e-6 * math.hypot(east, north) * 0.3048)):
        site = replace(book.job.site, grid="EPSG:2263", units=units)
        got = adjusted(replace(book, job=replace(book.job, site=site)))
        lat, lon = math.degrees(got.earth.lat_rad), math.degrees(got.earth.lon_rad)
        away = math.hypot((lat - 40.7) * 111_000, (lon + 73.9) * 111_000 * math.cos(math.radians(40.7)))
        assert away == pytest.approx(off_m, abs=0.01)
        assert place(got, "P1")[:2] == pytest.approx([east * 0.3048, north * 0.3048], abs=1e-9)
