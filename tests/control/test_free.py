"""Free nets: against pseudo-inverses, against nets with points held, and what moves them."""

import math
from dataclasses import replace

import numpy as np
import pytest

from staking.base.lsq import RankDeficient
from staking.control.free import free_net, transformed
from staking.control.nets import NetReading, adjusted_net

SAME_M = 1e-8
"""The last step."""
SAME_SHARE = 1e-6
PLACES = {
    "A": (0.0, 0.0, 10.0),
    "B": (21.0, 2.0, 11.0),
    "C": (18.0, 17.0, 12.5),
    "D": (3.0, 15.0, 11.5),
    "E": (11.0, 8.0, 9.0),
}
PAIRS = ["AB", "BC", "CD", "DA", "AE", "BE", "CE", "DE", "AC"]


def near(names="ABCDE", off=0.02, axes=(0, 1, 2)):
    rng = np.random.default_rng(4)
    return {
        name: tuple(PLACES[name][k] + rng.normal(0, off) if k in axes else None for k in range(3))
        for name in names
    }


def tapes(pairs=PAIRS, sd=0.003, scale=1.0, seed=1, kind="level distance"):
    rng = np.random.default_rng(seed)
    count = 2 if kind == "level distance" else 3
    return [
        NetReading(
            kind=kind,
            points=(a, b),
            value=scale * math.dist(PLACES[a][:count], PLACES[b][:count]) + float(rng.normal(0, sd)),
            sd=sd,
        )
        for a, b in pairs
    ]


def rises(pairs=PAIRS, sd=0.002, seed=2):
    rng = np.random.default_rng(seed)
    return [
        NetReading(
            kind="rise",
            points=(a, b),
            value=PLACES[b][2] - PLACES[a][2] + float(rng.normal(0, sd)),
            sd=sd * (1 + k % 3),
        )
        for k, (a, b) in enumerate(pairs)
    ]


def bearing(a, b):
    (e0, n0, _), (e1, n1, _) = PLACES[a], PLACES[b]
    return NetReading(kind="bearing", points=(a, b), value=math.atan2(e1 - e0, n1 - n0), sd=1e-3)


def angles(corners=("ABC", "BCD", "CDA", "DAB", "EAB", "EBC", "ECD")):
    def azimuth(a, b):
        return bearing(a, b).value

    return [
        NetReading(kind="angle", points=tuple(c), value=azimuth(c[0], c[2]) - azimuth(c[0], c[1]), sd=1e-4)
        for c in corners
    ]


def test_levels_are_the_pseudo_inverse():
    """Of all least-squares solutions the one of least norm, and its covariance."""
    start = near()
    readings = rises()
    free = free_net(readings, approximate=start)
    assert free.defect == 1
    assert free.movements == ("up",)
    names = free.net.names
    z0 = np.array([start[name][2] for name in names])
    design = np.zeros((len(readings), 5))
    for row, r in enumerate(readings):
        design[row, [names.index(r.points[0]), names.index(r.points[1])]] = -1.0, 1.0
    sd = np.array([r.sd for r in readings])
    weighted = design / sd[:, None]
    inverse = np.linalg.pinv(weighted)
    z = z0 + inverse @ ((np.array([r.value for r in readings]) - design @ z0) / sd)
    assert free.net.enz_m[:, 2] == pytest.approx(z, abs=SAME_M)
    assert free.net.cov_m2[2::3, 2::3] == pytest.approx(np.linalg.pinv(weighted.T @ weighted), rel=SAME_SHARE)
    assert free.net.redundancy_numbers == pytest.approx(1 - np.diag(weighted @ inverse))


def test_tapes_have_the_covariance_of_the_pseudo_inverse():
    free = free_net(tapes(), approximate=near())
    net = free.net
    design = np.zeros((len(PAIRS), 10))
    for row, r in enumerate(tapes()):
        i, j = (net.names.index(name) for name in r.points)
        run = net.enz_m[j, :2] - net.enz_m[i, :2]
        design[row, 2 * j : 2 * j + 2] = run / np.hypot(*run) / r.sd
        design[row, 2 * i : 2 * i + 2] = -design[row, 2 * j : 2 * j + 2]
    at = [3 * p + k for p in range(5) for k in (0, 1)]
    # Inner constraints written about the approximate places, the pseudo-inverse about the adjusted ones,
    # 2 cm apart over 20 m.
    assert net.cov_m2[np.ix_(at, at)] == pytest.approx(np.linalg.pinv(design.T @ design), abs=3e-8)


@pytest.mark.parametrize("datum", [None, "ABD", "EC", "AB"])
def test_the_datum_stays_as_near_as_it_can(datum):
    """Shifted or turned anyhow, the datum's points come no nearer to their approximate places."""
    start = near()
    free = free_net(tapes(), approximate=start, datum=datum)
    inside = list(datum or "ABCDE")
    at = np.array([free.net.place(name)[:2] for name in inside])
    wanted = np.array([start[name][:2] for name in inside])
    least = ((at - wanted) ** 2).sum()
    for east, north, turn in np.random.default_rng(0).normal(0, 1e-3, (40, 3)):
        c, s = math.cos(turn / 10), math.sin(turn / 10)
        there = at @ np.array([[c, -s], [s, c]]) + [east, north]
        assert ((there - wanted) ** 2).sum() > least


@pytest.mark.parametrize("datum", [None, "ABD", "EC"])
def test_the_datum_points_are_the_surest_they_can_be(datum):
    """The sum of variances of the datum's points is least on their own datum."""
    inside = list(datum or "ABCDE")

    def total(asked):
        net = free_net(tapes(), approximate=near(off=1e-4), datum=asked).net
        return sum(float((net.sd(name)[:2] ** 2).sum()) for name in inside)

    own = total(datum)
    assert all(own <= total(other) * (1 + SAME_SHARE) for other in (None, "ABD", "EC", "AB", "CDE"))
    assert own < 0.95 * max(total(other) for other in ("AB", "CDE"))


@pytest.mark.parametrize("datum", [None, "ABD", "EC"])
def test_a_net_with_points_held_is_brought_to_the_free_datum(datum):
    """Held: A, and the east of D; another net all over, until it is transformed."""
    start, readings = near(), [*tapes(), *rises()]
    held = adjusted_net(
        readings,
        fixed={"A": (100.0, 50.0, 5.0), "D": (104.0, None, None)},
        approximate={name: (e + 100.0, n + 50.0) for name, (e, n, _) in PLACES.items()},
    )
    free = free_net(readings, approximate=start, datum=datum).net
    assert held.redundancy == free.redundancy
    assert held.vtpv == pytest.approx(free.vtpv)
    # Residuals and what is said of readings hang on no datum.
    assert held.residuals == pytest.approx(free.residuals, abs=SAME_M)
    assert held.redundancy_numbers == pytest.approx(free.redundancy_numbers, abs=SAME_SHARE)
    assert held.w == pytest.approx(free.w, abs=1e-4)
    brought = transformed(held, readings, approximate=start, datum=datum)
    order = [brought.names.index(name) for name in free.names]
    assert brought.enz_m[order] == pytest.approx(free.enz_m, abs=SAME_M)
    at = [3 * p + k for p in order for k in range(3)]
    assert brought.cov_m2[np.ix_(at, at)] == pytest.approx(free.cov_m2, abs=1e-6 * free.cov_m2.max())
    back = transformed(brought, readings, approximate=start, datum=datum)
    assert back.cov_m2 == pytest.approx(brought.cov_m2, abs=1e-6 * free.cov_m2.max())
    assert free.pair("A", "C").sd_m == pytest.approx(held.pair("A", "C").sd_m, rel=1e-5)


def observed(name, axis):
    value = PLACES[name][("east", "north", "elevation").index(axis)]
    return NetReading(kind=axis, points=(name,), value=value, sd=0.01)


@pytest.mark.parametrize(
    ("readings", "scale", "defect", "movements"),
    [
        (tapes(), False, 3, ("east", "north", "turn")),
        (tapes(), True, 4, ("east", "north", "turn", "size")),
        (rises(), False, 1, ("up",)),
        ([*tapes(), *rises()], False, 4, ("east", "north", "up", "turn")),
        ([*tapes(kind="slope distance"), *rises()], False, 4, ("east", "north", "up", "turn")),
        (angles(), False, 4, ("east", "north", "turn", "size")),
        ([*angles(), bearing("A", "B")], False, 3, ("east", "north", "size")),
        ([*angles(), *tapes()], True, 4, ("east", "north", "turn", "size")),
        ([*tapes(), bearing("A", "B")], False, 2, ("east", "north")),
        ([*rises(), observed("A", "elevation")], False, 0, ()),
        ([*tapes(), observed("A", "north")], False, 2, ("east",)),
        # A held in place: the net turns about it, a mixture of a turn and two shifts.
        ([*tapes(), observed("A", "north"), observed("A", "east")], False, 1, ()),
    ],
)
def test_what_moves_a_net_is_found_from_its_readings(readings, scale, defect, movements):
    free = free_net(readings, approximate=near(off=0.001), unknown_scale=scale)
    assert (free.defect, free.movements) == (defect, movements)
    unknowns = int(np.isfinite(free.net.enz_m).sum()) + scale
    assert free.net.redundancy == len(readings) - unknowns + defect
    assert free.net.redundancy_numbers.sum() == pytest.approx(free.net.redundancy)


def test_an_unknown_scale_is_found_where_something_else_tells_the_size():
    """Tapes 1 in 1000 long between points whose coordinates were observed."""
    known = [replace(observed(n, axis), sd=0.001) for n in "ABCD" for axis in ("east", "north")]
    free = free_net([*known, *tapes(scale=1.001, sd=0.002)], approximate=near(), unknown_scale=True)
    assert free.defect == 0
    assert abs(free.scale - 1.001) < 3 * free.scale_sd
    assert 2e-5 < free.scale_sd < 1e-4
    assert free_net([*known, *tapes()], approximate=near()).scale is None


def test_the_datum_of_one_point_is_that_point_held():
    start = near()
    held = adjusted_net(rises(), fixed={"C": (None, None, start["C"][2])})
    free = free_net(rises(), approximate=start, datum=["C"]).net
    for name in "ABCDE":
        assert free.place(name)[2] == pytest.approx(held.place(name)[2], abs=SAME_M)
        assert free.sd(name)[2] == pytest.approx(held.sd(name)[2], abs=1e-9)


def test_far_from_the_origin_is_the_same():
    start = near()
    far = {name: (e + 3.5e6, n + 5.7e6, z) for name, (e, n, z) in start.items()}
    here, there = (free_net([*tapes(), *rises()], approximate=places).net for places in (start, far))
    assert there.enz_m - [3.5e6, 5.7e6, 0] == pytest.approx(here.enz_m, abs=1e-8)
    assert there.cov_m2 == pytest.approx(here.cov_m2, abs=1e-6 * here.cov_m2.max())


def test_what_is_missing_is_named():
    with pytest.raises(ValueError, match="E has no approximate east"):
        free_net(tapes(), approximate=near("ABCD"))
    with pytest.raises(ValueError, match="no reading holds the datum point Z"):
        free_net(tapes(), approximate=near(), datum=["A", "Z"])
    with pytest.raises(ValueError, match="do not hold every movement"):
        free_net(tapes(), approximate=near(), datum=["A"])
    with pytest.raises(RankDeficient) as caught:
        free_net(tapes([p for p in PAIRS if p not in ("BE", "CE", "DE")]), approximate=near())
    names = list(dict.fromkeys("".join(PAIRS)))
    assert {c // 3 for c in caught.value.columns} >= {names.index("E")}
