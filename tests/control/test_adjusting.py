"""Invented yards come back: exactly without errors, within the stated sigma with them, however booked."""

import math
from dataclasses import replace

import numpy as np
import pytest
from invented_yards import Yard, invented

from staking.book.records import Azimuth, Control, ControlRow, Origin
from staking.control.adjusting import adjusted

TENTH_MM = 1e-4
SAME_M = 1e-7
"""Two ways of booking the same yard may differ by this much: rounding through other numbers."""


def assert_truth(adjustment, yard, names=None):
    """Every coordinate that is given agrees with the truth to 0.1 mm; all of `names` are there, whole."""
    for k, name in enumerate(adjustment.points.names):
        got, want = adjustment.points.enz_m[k], np.array(yard.truth[name])
        given = ~np.isnan(got)
        assert got[given] == pytest.approx(want[given], abs=TENTH_MM), name
    for name in yard.truth if names is None else names:
        enz = adjustment.points.enz_m[adjustment.points.index(name)]
        if name == "BM1":
            enz = enz[2:]
        assert not np.isnan(enz).any(), name


@pytest.mark.parametrize("how", ["level", "slope", "mixed"])
@pytest.mark.parametrize("turn", [0.0, 1.1, math.pi / 2, 4.0])
def test_readings_without_error_give_the_truth(how, turn):
    yard = invented(7, noisy=False, how=how, turned_rad=turn)
    got = adjusted(yard.book())
    assert_truth(got, yard)
    assert got.variance_factor == pytest.approx(0, abs=1e-12)
    assert got.passes is True
    assert got.warnings == ()
    assert all(abs(reading.residual) < SAME_M for reading in got.readings)
    assert all(loop.value_m == pytest.approx(0, abs=1e-12) for loop in got.misclosures)


def test_errors_stay_within_the_stated_sigma():
    """Normalised errors of some seventy yards: squares of mean 1, and 5 % beyond 1.96."""
    ratios, tests, passes, factors = [], 0, 0, []
    for seed in range(75):
        yard = invented(seed, ground_points=6)
        got = adjusted(yard.book())
        sd = got.points.sd_m()
        for k, name in enumerate(got.points.names):
            for axis in range(3):
                if sd[k, axis] > 1e-9:
                    error = got.points.enz_m[k, axis] - yard.truth[name][axis]
                    ratios.append(error / sd[k, axis])
        tests += 1
        passes += got.passes is True
        factors.append(got.variance_factor)
    ratios = np.array(ratios)
    # Errors within a yard hang together; the bounds are three standard errors of as many yards.
    assert np.mean(ratios**2) == pytest.approx(1.0, abs=0.11)
    assert np.mean(np.abs(ratios) > 1.96) == pytest.approx(0.05, abs=0.02)
    assert np.mean(factors) == pytest.approx(1.0, abs=0.085)
    assert passes >= tests * 0.99 - 3 * math.sqrt(tests * 0.01)


def test_joint_covariance_belongs_to_the_joint_errors():
    """The Mahalanobis length of all errors of a yard together is a chi-square of as many unknowns."""
    lengths, size = [], None
    yard = invented(3, ground_points=4, noisy=False)
    for seed in range(25):
        got = adjusted(_shaken(yard.book(), seed))
        sd = got.points.sd_m().ravel()
        errors = np.concatenate(
            [got.points.enz_m[k] - np.array(yard.truth[n]) for k, n in enumerate(got.points.names)]
        )
        use = np.flatnonzero(np.nan_to_num(sd) > 1e-9)
        # The far end of the held azimuth moves along one line only: take its larger axis.
        tied = 3 * got.points.index("P2") + 1
        use = use[use != tied]
        cov = got.points.cov_m2[np.ix_(use, use)]
        lengths.append(errors[use] @ np.linalg.solve(cov, errors[use]))
        size = len(use)
    assert np.mean(lengths) == pytest.approx(size, abs=3 * math.sqrt(2 * size / len(lengths)))


def _shaken(exact, seed):
    """A book with errors as stated on its readings."""
    rng = np.random.default_rng(seed)
    a = exact.job.accuracy

    def shaken(rows, **sds):
        return tuple(
            replace(
                row,
                **{
                    k: getattr(row, k) + rng.normal(0, sd)
                    for k, sd in sds.items()
                    if getattr(row, k) is not None
                },
            )
            for row in rows
        )

    return replace(
        exact,
        levels=shaken(exact.levels, bs_m=a.rod_m, is_m=a.rod_m, fs_m=a.rod_m),
        rises=shaken(exact.rises, rise_m=a.rise_m),
        tapes=shaken(exact.tapes, length_m=a.tape_m),
        offsets=shaken(exact.offsets, station_m=a.offset_m, offset_m=a.offset_m),
        angles=shaken(exact.angles, angle_rad=a.angle_rad),
        bearings=shaken(exact.bearings, bearing_rad=a.bearing_rad),
    )


def by_name(adjustment):
    sd = adjustment.points.sd_m()
    return {
        name: np.concatenate([adjustment.points.enz_m[k], sd[k]])
        for k, name in enumerate(adjustment.points.names)
    }


def assert_same(one, other, turn=lambda row: row):
    a, b = by_name(one), by_name(other)
    assert a.keys() == b.keys()
    for name in a:
        assert b[name] == pytest.approx(turn(a[name]), abs=SAME_M, nan_ok=True), name
    assert one.redundancy == other.redundancy
    assert one.variance_factor == pytest.approx(other.variance_factor, rel=1e-6)


def test_the_order_of_rows_changes_nothing():
    book = invented(5).book()
    rng = np.random.default_rng(1)

    def shuffled(rows):
        return tuple(rows[k] for k in rng.permutation(len(rows)))

    other = replace(
        book,
        tapes=shuffled(book.tapes),
        offsets=shuffled(book.offsets),
        angles=shuffled(book.angles),
        bearings=shuffled(book.bearings),
        rises=shuffled(book.rises),
    )
    assert_same(adjusted(book), adjusted(other))


def test_swapping_the_ends_of_a_tape_changes_nothing():
    book = invented(5).book()
    other = replace(book, tapes=tuple(replace(t, start=t.to, to=t.start) for t in book.tapes))
    assert_same(adjusted(book), adjusted(other))


def test_turning_and_shifting_the_site_moves_everything_with_it():
    yard = invented(6)
    book = yard.book()
    turn, shift = 0.7, np.array([1000.0, -2000.0])
    c, s = math.cos(turn), math.sin(turn)
    matrix = np.array([[c, s], [-s, c]])
    here = book.job.control
    e, n = matrix @ [here.origin.east_m, here.origin.north_m] + shift
    moved = replace(
        here,
        origin=Origin(point="P1", east_m=float(e), north_m=float(n)),
        azimuth=replace(here.azimuth, azimuth_rad=here.azimuth.azimuth_rad + turn),
        benchmark=replace(here.benchmark, elevation_m=here.benchmark.elevation_m + 50),
    )
    other = replace(
        book,
        job=replace(book.job, control=moved),
        bearings=tuple(replace(b, bearing_rad=b.bearing_rad + turn) for b in book.bearings),
    )
    one, two = adjusted(book), adjusted(other)
    for name in one.points.names:
        a = one.points.enz_m[one.points.index(name)]
        b = two.points.enz_m[two.points.index(name)]
        assert b[:2] == pytest.approx(matrix @ a[:2] + shift, abs=SAME_M, nan_ok=True)
        assert b[2] == pytest.approx(a[2] + 50, abs=SAME_M)
        i, j = 3 * one.points.index(name), 3 * two.points.index(name)
        cov = one.points.cov_m2[i : i + 2, i : i + 2]
        assert two.points.cov_m2[j : j + 2, j : j + 2] == pytest.approx(
            matrix @ cov @ matrix.T, abs=1e-9, nan_ok=True
        )
    assert one.variance_factor == pytest.approx(two.variance_factor, rel=1e-6)


def test_the_unit_of_length_changes_nothing():
    """Everything a thousand times as long, as if millimetres were typed for metres: scaled results."""
    yard = invented(8)
    book, k = yard.book(), 1000.0

    def longer(row, *names):
        return replace(row, **{n: getattr(row, n) * k for n in names if getattr(row, n) is not None})

    a, c = book.job.accuracy, book.job.control
    other = replace(
        book,
        job=replace(
            book.job,
            accuracy=longer(a, "rod_m", "rise_m", "tape_m", "offset_m"),
            control=replace(
                c,
                origin=longer(c.origin, "east_m", "north_m"),
                benchmark=longer(c.benchmark, "elevation_m"),
            ),
        ),
        levels=tuple(longer(r, "bs_m", "is_m", "fs_m") for r in book.levels),
        rises=tuple(longer(r, "rise_m") for r in book.rises),
        tapes=tuple(longer(r, "length_m") for r in book.tapes),
        offsets=tuple(longer(r, "station_m", "offset_m") for r in book.offsets),
    )
    one, two = adjusted(book), adjusted(other)
    assert two.points.enz_m == pytest.approx(one.points.enz_m * k, rel=1e-8, nan_ok=True)
    assert two.points.sd_m() == pytest.approx(one.points.sd_m() * k, rel=1e-6, abs=1e-9, nan_ok=True)


def test_control_points_take_the_place_of_the_job_s_control():
    yard = invented(4, noisy=False)
    t = yard.truth
    rows = (
        ControlRow(table="control.csv", row=2, point="p1", east_m=t["P1"][0], north_m=t["P1"][1]),
        ControlRow(table="control.csv", row=3, point="P3", east_m=t["P3"][0], north_m=t["P3"][1]),
        ControlRow(table="control.csv", row=4, point="BM1", elevation_m=t["BM1"][2]),
    )
    got = adjusted(yard.book(control=Control(), control_points=rows))
    assert_truth(got, yard)


def test_a_control_coordinate_with_an_sd_is_an_observation():
    yard = invented(4, noisy=False)
    t = yard.truth
    wrong = 0.03
    rows = (
        ControlRow(
            table="control.csv",
            row=2,
            point="P3",
            east_m=t["P3"][0] + wrong,
            north_m=t["P3"][1],
            sd_east_m=0.5,
            sd_north_m=0.5,
        ),
    )
    got = adjusted(yard.book(control_points=rows))
    without = adjusted(yard.book())
    assert got.redundancy == without.redundancy + 2
    k = got.points.index("P3")
    # Weighted down by its sd of 0.5 m against millimetres of the tapes.
    assert got.points.enz_m[k] == pytest.approx(yard.truth["P3"], abs=1e-3)
    reading = next(r for r in got.readings if r.table == "control.csv" and r.column == "east")
    assert reading.residual == pytest.approx(-wrong, abs=1e-3)


def test_a_known_east_alone_helps():
    yard = Yard(truth={"P1": (0, 0, 0), "P2": (10, 0, 0), "Q": (6, 8, 0), "BM1": (0, 0, 0)})
    yard.tape("P1", "P2")
    yard.tape("P1", "Q")
    control = Control(
        origin=Origin(point="P1", east_m=0, north_m=0),
        azimuth=Azimuth(start="P1", to="P2", azimuth_rad=math.pi / 2, north="true"),
        side="left",
    )
    rows = (ControlRow(table="control.csv", row=2, point="Q", east_m=6.0),)
    got = adjusted(yard.book(control=control, control_points=rows))
    assert got.points.enz_m[got.points.index("Q"), :2] == pytest.approx([6, 8], abs=TENTH_MM)


def test_against_an_independent_optimiser():
    """The same sum of squares, written anew and minimised by scipy from a poor start."""
    from scipy.optimize import least_squares

    yard = invented(11, ground_points=8)
    book = yard.book()
    got = adjusted(book)
    names = [n for n in got.points.names if n not in ("BM1", "P1", "P2")]
    plan = {n: k for k, n in enumerate(names)}
    heights = {n: k for k, n in enumerate(n for n in got.points.names if n != "BM1")}
    az = book.job.control.azimuth.azimuth_rad
    acc = book.job.accuracy
    levels = []
    setup = -1
    for row in book.levels:
        for value in (row.is_m, row.fs_m):
            if value is not None:
                levels.append((setup, row.point, value))
        if row.bs_m is not None:
            setup += 1
            levels.append((setup, row.point, row.bs_m))

    def unpack(x):
        e0, n0 = yard.truth["P1"][:2]
        xy = {
            "P1": np.array([e0, n0]),
            "P2": np.array([e0, n0]) + x[0] * np.array([math.sin(az), math.cos(az)]),
        }
        for n, k in plan.items():
            xy[n] = x[1 + 2 * k : 3 + 2 * k]
        at = 1 + 2 * len(plan)
        z = {n: x[at + k] for n, k in heights.items()} | {"BM1": yard.truth["BM1"][2]}
        return xy, z, x[at + len(heights) :]

    def residuals(x):
        xy, z, his = unpack(x)
        out = []

        def bearing(a, b):
            d = xy[b] - xy[a]
            return math.atan2(d[0], d[1])

        for s, p, value in levels:
            out.append((his[s] - z[p] - value) / acc.rod_m)
        out += [(z[r.to] - z[r.start] - r.rise_m) / acc.rise_m for r in book.rises]
        for t in book.tapes:
            d = np.linalg.norm(xy[t.to] - xy[t.start])
            d = math.hypot(d, z[t.to] - z[t.start]) if t.how == "slope" else d
            out.append((d - t.length_m) / acc.tape_m)
        for o in book.offsets:
            line = xy[o.to] - xy[o.start]
            u = line / np.linalg.norm(line)
            arm = xy[o.point] - xy[o.start]
            station, across = arm @ u, arm @ [u[1], -u[0]]
            if o.how == "slope":
                grade = (z[o.to] - z[o.start]) / np.linalg.norm(line)
                across = math.copysign(math.hypot(across, z[o.point] - z[o.start] - grade * station), across)
                station *= math.hypot(1, grade)
            out += [(station - o.station_m) / acc.offset_m, (across - o.offset_m) / acc.offset_m]
        for g in book.angles:
            out.append(
                math.remainder(bearing(g.at, g.to) - bearing(g.at, g.start) - g.angle_rad, math.tau)
                / acc.angle_rad
            )
        for b in book.bearings:
            out.append(math.remainder(bearing(b.start, b.to) - b.bearing_rad, math.tau) / acc.bearing_rad)
        return np.array(out)

    start = [20.0]
    start += [v + 0.2 for n in plan for v in yard.truth[n][:2]]
    start += [yard.truth[n][2] - 0.1 for n in heights]
    start += [32.0] * (setup + 1)
    want = least_squares(residuals, start, xtol=1e-14, ftol=1e-14, gtol=1e-10)
    assert got.redundancy == len(want.fun) - len(want.x)
    assert got.variance_factor * got.redundancy == pytest.approx(2 * want.cost, rel=1e-6)
    xy, z, _ = unpack(want.x)
    cov = np.linalg.inv(want.jac.T @ want.jac)
    for n, k in plan.items():
        i = got.points.index(n)
        assert got.points.enz_m[i] == pytest.approx([*xy[n], z[n]], abs=1e-6)
        assert got.points.sd_m()[i, :2] == pytest.approx(
            np.sqrt(np.diag(cov)[1 + 2 * k : 3 + 2 * k]), rel=1e-4
        )


def test_an_sd_in_control_loosens_what_the_job_holds():
    """`control.csv` replaces the benchmark's elevation: with an sd it is observed, not held."""
    yard = invented(4, noisy=False)
    row = ControlRow(
        table="control.csv", row=2, point="bm1", elevation_m=yard.z("BM1") + 1.0, sd_elevation_m=0.01
    )
    got = adjusted(yard.book(control_points=(row,)))
    k = got.points.index("BM1")
    assert got.points.enz_m[k, 2] == pytest.approx(yard.z("BM1") + 1.0)
    assert got.points.sd_m()[k, 2] == pytest.approx(0.01)
    assert got.redundancy == adjusted(yard.book()).redundancy
