"""Plane and level nets from textbooks, to every printed digit.

All are transcribed in F. Krumm, Geodetic Network Adjustment Examples, Geodätisches Institut, Universität
Stuttgart, Rev. 3.5, 20 January 2020; the original source stands beside each. Axes: east, north; bearings and
angles clockwise. The books print standard deviations scaled by the a-posteriori sigma0, so the tests scale
ours, which are a priori, by the ratio before comparing.
"""

import math
from dataclasses import dataclass, field

import numpy as np
import pytest

from staking.control.nets import AdjustedNet, Mirror, NetReading, adjusted_net

PRINTED_COORDINATE = 0.6e-4
"""Last printed digit 0.0001."""
PRINTED_LEVEL_SD_M = 0.6e-5
"""Last printed digit 0.01 mm."""
PRINTED_PLAN_SD_M = 0.6e-5
"""Last printed digit 0.001 cm."""
PRINTED_RATIO = 0.6e-6


def rises(*rows):
    return [NetReading(kind="rise", points=(a, b), value=v, sd=sd) for a, b, v, sd in rows]


def tapes(*rows):
    return [NetReading(kind="level distance", points=(a, b), value=v, sd=sd) for a, b, v, sd in rows]


def angles(*rows):
    """At, from, to, degrees, arc-seconds."""
    return [
        NetReading(kind="angle", points=(at, a, b), value=math.radians(v), sd=math.radians(sd / 3600))
        for at, a, b, v, sd in rows
    ]


@dataclass(frozen=True)
class Published:
    """What a book gives and prints."""

    readings: list
    fixed: dict
    redundancy: int
    ratio: float
    """Sigma0 a posteriori over a priori."""
    adjusted: dict
    """Elevation and sd in mm, or east, north and their sds in cm, by name."""
    near: dict = field(default_factory=dict)


# C. D. Ghilani, Adjustment Computations, 5th ed. (Wiley, 2010), Ex. 14.5, p. 251 and Ex. 19.3, p. 404
GHILANI_14_5 = Published(
    readings=[
        *tapes(
            ("Badger", "Wisconsin", 5870.302, 0.01),
            ("Badger", "Campus", 7297.588, 0.01),
            ("Wisconsin", "Campus", 3616.434, 0.01),
            ("Wisconsin", "Bucky", 5742.878, 0.01),
            ("Campus", "Bucky", 5123.76, 0.01),
        ),
    ],
    fixed={
        "Badger": (2410000.0, 390000.0, None),
        "Bucky": (2411820.0, 386881.222, None),
    },
    redundancy=1,
    ratio=13.590536,
    adjusted={
        "Wisconsin": (2415776.9044, 391043.2945, 14.879, 22.061),
        "Campus": (2416892.6955, 387603.2551, 10.378, 27.054),
    },
    near={
        "Wisconsin": (2415776.819, 391043.461),
        "Campus": (2416892.67, 387603.45),
    },
)

# G. Strang and K. Borre, Linear Algebra, Geodesy, and GPS (1997), Ex. 10.1 p. 345 / Ex. 12.4 p. 411
STRANG_BORRE = Published(
    readings=[
        *tapes(
            ("1", "P", 100.01, 0.01),
            ("2", "P", 100.02, 0.01),
            ("3", "P", 100.03, 0.01),
        ),
    ],
    fixed={
        "1": (170.71, 270.71, None),
        "2": (100.0, 100.0, None),
        "3": (241.42, 100.0, None),
    },
    redundancy=1,
    ratio=3.302932,
    adjusted={
        "P": (170.7029, 170.7234, 3.303, 2.335),
    },
    near={
        "P": (170.71, 170.71),
    },
)

# W. Benning, Statistik in Geodaesie, Geoinformation und Bauwesen (2011), Ex. 8-2, p. 256
# (Krumm Ex. 3.1.1, pp. 48-50)
BENNING_8_2 = Published(
    readings=[
        *tapes(
            ("1", "3", 1000.02, 0.01),
            ("1", "4", 1414.2, 0.01),
            ("2", "3", 1414.24, 0.01),
            ("2", "4", 999.98, 0.01),
            ("3", "4", 1000.0, 0.01),
        ),
    ],
    fixed={
        "1": (0.0, 1000.0, None),
        "2": (1000.0, 1000.0, None),
    },
    redundancy=1,
    ratio=0.688242,
    adjusted={
        "3": (-0.0096, -0.0226, 0.901, 0.637),
        "4": (999.993, 0.0174, 0.901, 0.637),
    },
    near={
        "3": (0.0, 0.0),
        "4": (1000.0, 0.0),
    },
)

# W. Benning (2011), Ex. 8-8, pp. 285-291
BENNING_8_8 = Published(
    readings=[
        *tapes(
            ("6", "1", 1000.0, 0.02),
            ("6", "2", 1000.0, 0.02),
            ("6", "3", 1005.0, 0.02),
            ("6", "4", 1005.0, 0.02),
            ("6", "5", 1000.0, 0.02),
        ),
    ],
    fixed={
        "1": (3000.0, 2000.0, None),
        "2": (1000.0, 2000.0, None),
        "3": (3000.0, 2100.0, None),
        "4": (1000.0, 2100.0, None),
        "5": (2000.0, 1000.0, None),
    },
    redundancy=3,
    ratio=0.502821,
    adjusted={
        "6": (2000.0, 1999.9976, 0.504, 0.996),
    },
    near={
        "6": (2000.0, 2000.0),
    },
)

# C. D. Ghilani, Adjustment Computations, 5th ed. (Wiley, 2010), Ex. 12.6, pp. 218-220
GHILANI_12_6 = Published(
    readings=[
        *rises(
            ("A", "B", 10.509, 0.006),
            ("B", "C", 5.36, 0.004),
            ("C", "D", -8.523, 0.005),
            ("D", "A", -7.348, 0.003),
            ("B", "D", -3.167, 0.004),
            ("A", "C", 15.881, 0.012),
        ),
    ],
    fixed={
        "A": (None, None, 437.596),
    },
    redundancy=3,
    ratio=0.651184,
    adjusted={
        "B": (448.1087, 2.3),
        "C": (453.4685, 2.64),
        "D": (444.9436, 1.76),
    },
)

# W. Niemeier, Ausgleichungsrechnung, 2nd ed. (de Gruyter, 2008), pp. 153-156, 268-269
NIEMEIER = Published(
    readings=[
        *rises(
            ("1", "2", -8.206, 0.000788110406),
            ("1", "3", -5.734, 0.0010976426),
            ("2", "3", 2.481, 0.000671156055),
            ("2", "4", -4.433, 0.000894427191),
            ("3", "4", -6.909, 0.001),
            ("3", "5", -18.872, 0.001048284837),
            ("3", "6", 4.035, 0.000663723312),
            ("4", "5", -11.962, 0.00084818893),
            ("5", "6", 22.904, 0.000912870929),
        ),
    ],
    fixed={
        "6": (None, None, 67.228),
    },
    redundancy=4,
    ratio=3.394176,
    adjusted={
        "1": (68.9235, 3.12),
        "2": (60.7153, 2.6),
        "3": (63.1938, 1.97),
        "4": (56.2838, 2.63),
        "5": (44.3226, 2.3),
    },
)

# F. Krumm (2020), fixed height network
KRUMM_FIX = Published(
    readings=[
        *rises(
            ("1", "2", 14.301, 0.00474341649),
            ("1", "3", 9.995, 0.004472135955),
            ("1", "4", 7.006, 0.005),
            ("1", "5", 17.5, 0.006123724357),
            ("3", "2", 4.299, 0.003535533906),
        ),
    ],
    fixed={
        "5": (None, None, 110.956),
    },
    redundancy=1,
    ratio=0.94388,
    adjusted={
        "1": (93.456, 5.78),
        "2": (107.7541, 6.73),
        "3": (103.4535, 6.69),
        "4": (100.462, 7.46),
    },
)

# C. D. Ghilani, Adjustment Computations, 5th ed. (Wiley, 2010), Ex. 16.2, pp. 307 and 528
GHILANI_16_2 = Published(
    readings=[
        *tapes(
            ("Q", "R", 1640.016, 0.026),
            ("R", "S", 1320.001, 0.024),
            ("S", "T", 1579.123, 0.025),
            ("T", "Q", 1664.524, 0.026),
            ("Q", "S", 2105.962, 0.029),
            ("R", "T", 2266.035, 0.03),
        ),
        *angles(
            ("Q", "R", "S", 38.814083333333, 4.0),
            ("Q", "S", "T", 47.770111111111, 4.0),
            ("Q", "T", "R", 273.415694444444, 4.4),
            ("R", "Q", "S", 269.959277777778, 4.7),
            ("S", "R", "T", 257.549111111111, 4.7),
            ("T", "S", "Q", 279.075333333333, 4.5),
            ("R", "S", "T", 42.880833333333, 4.3),
            ("R", "S", "Q", 90.04075, 4.5),
            ("S", "Q", "R", 51.145833333333, 4.3),
            ("S", "T", "Q", 51.3045, 4.0),
            ("T", "R", "S", 34.66825, 4.0),
        ),
        NetReading(
            kind="bearing",
            points=("Q", "R"),
            value=math.radians(0.106805555556),
            sd=math.radians(0.001 / 3600),
        ),
    ],
    fixed={
        "Q": (1000.0, 1000.0, None),
    },
    redundancy=12,
    ratio=0.352616,
    adjusted={
        "R": (1003.0572, 2640.0051, 0.001, 0.597),
        "S": (2323.0626, 2638.4742, 0.549, 0.66),
        "T": (2661.7386, 1096.0867, 0.59, 0.727),
    },
    near={
        "R": (1003.06, 2640.01),
        "S": (2323.07, 2638.47),
        "T": (2661.75, 1096.07),
    },
)

# C. D. Ghilani, Adjustment Computations, 5th ed. (Wiley, 2010), Ex. 15.5, p. 277
GHILANI_15_5 = Published(
    readings=[
        *angles(
            ("U", "P", "Q", 30.4925, 5.0),
            ("U", "Q", "R", 38.508611111111, 6.0),
            ("U", "R", "S", 10.499166666667, 6.0),
        ),
    ],
    fixed={
        "P": (1303.599, 1458.615, None),
        "Q": (1636.436, 1310.468, None),
        "R": (1503.395, 888.362, None),
        "S": (1506.262, 785.061, None),
    },
    redundancy=1,
    ratio=0.602998,
    adjusted={
        "U": (999.9989, 1000.0253, 2.057, 4.268),
    },
    near={
        "U": (1000.03, 999.96),
    },
)


LEVEL = {"Ghilani 12.6": GHILANI_12_6, "Niemeier": NIEMEIER, "Krumm fixed": KRUMM_FIX}
PLANE = {
    "Ghilani 14.5": GHILANI_14_5,
    "Strang and Borre": STRANG_BORRE,
    "Benning 8-2": BENNING_8_2,
    "Benning 8-8": BENNING_8_8,
    "Ghilani 16.2": GHILANI_16_2,
    "Ghilani 15.5": GHILANI_15_5,
}


def assert_printed(net: AdjustedNet, case: Published, axes: list[int], to_m: float, sd_tolerance: float):
    assert net.redundancy == case.redundancy
    ratio = math.sqrt(net.vtpv / net.redundancy)
    assert ratio == pytest.approx(case.ratio, abs=PRINTED_RATIO)
    for name, printed in case.adjusted.items():
        count = len(axes)
        assert net.place(name)[axes] == pytest.approx(printed[:count], abs=PRINTED_COORDINATE), name
        assert net.sd(name)[axes] * ratio == pytest.approx(
            np.array(printed[count:]) * to_m, abs=sd_tolerance
        ), name


@pytest.mark.parametrize("name", LEVEL)
def test_level_nets(name):
    case = LEVEL[name]
    net = adjusted_net(case.readings, fixed=case.fixed)
    assert_printed(net, case, [2], 1e-3, PRINTED_LEVEL_SD_M)


def test_residuals_are_adjusted_less_observed():
    """Ghilani, as above, p. 219: residuals in mm in the order of the readings, and the weighted sum."""
    net = adjusted_net(GHILANI_12_6.readings, fixed=GHILANI_12_6.fixed)
    assert net.residuals * 1000 == pytest.approx([3.71, -0.24, -1.86, 0.39, 1.89, -8.53], abs=0.006)
    assert net.vtpv == pytest.approx(1.27212, abs=0.6e-5)


@pytest.mark.parametrize("name", PLANE)
def test_plane_nets_from_near_places(name):
    case = PLANE[name]
    net = adjusted_net(case.readings, fixed=case.fixed, approximate=case.near)
    assert_printed(net, case, [0, 1], 1e-2, PRINTED_PLAN_SD_M)


POINT_ERRORS_CM = {
    "Ghilani 14.5": {"Wisconsin": 26.609, "Campus": 28.977},
    "Strang and Borre": {"P": 4.045},
    "Benning 8-2": {"3": 1.104, "4": 1.104},
    "Benning 8-8": {"6": 1.116},
    "Ghilani 16.2": {"R": 0.597, "S": 0.858, "T": 0.936},
    "Ghilani 15.5": {"U": 4.738},
}
"""Krumm, as above: F. R. Helmert's point error, the root of the sum of both variances, scaled."""


@pytest.mark.parametrize("name", PLANE)
def test_point_errors(name):
    case = PLANE[name]
    net = adjusted_net(case.readings, fixed=case.fixed, approximate=case.near)
    ratio = math.sqrt(net.vtpv / net.redundancy)
    for point, printed_cm in POINT_ERRORS_CM[name].items():
        around = net.ellipse(point)
        both = math.hypot(around.semi_major_m, around.semi_minor_m)
        assert both * ratio * 100 == pytest.approx(printed_cm, abs=0.6e-3), point


@pytest.mark.parametrize("name", PLANE)
def test_plane_nets_need_no_approximate_places(name):
    """The readings place every point; two fixed points and tapes alone leave a mirror, told by its side."""
    case = PLANE[name]
    mirror = None
    if name == "Ghilani 14.5":
        mirror = Mirror(start="Badger", to="Bucky", side="left")
    if name == "Benning 8-2":
        mirror = Mirror(start="1", to="2", side="right")
    net = adjusted_net(case.readings, fixed=case.fixed, mirror=mirror)
    assert_printed(net, case, [0, 1], 1e-2, PRINTED_PLAN_SD_M)


def test_a_mirror_that_nothing_decides_is_left_open():
    net = adjusted_net(BENNING_8_2.readings, fixed=BENNING_8_2.fixed)
    assert np.isnan(net.place("3")[:2]).all()
    assert net.used == ()


def test_a_strongly_tilted_ellipse():
    """Krumm, as above, of Ghilani Ex. 15.5: scaled covariance in mm², and the ellipse that follows from it.

    The printed covariance has the half-axes 46.16 and 10.64 mm and the bearing 156.9° (recomputed from it).
    The last of its eight digits hangs on where the iteration was stopped.
    """
    net = adjusted_net(GHILANI_15_5.readings, fixed=GHILANI_15_5.fixed)
    k = 3 * net.names.index("U")
    ratio = math.sqrt(net.vtpv / net.redundancy)
    cov = net.cov_m2[k : k + 2, k : k + 2] * 1e6 * ratio**2
    assert cov == pytest.approx(np.array([[422.93878, -727.39474], [-727.39474, 1821.4591]]), rel=1e-7)
    around = net.ellipse("U")
    assert around.semi_major_m * ratio * 1000 == pytest.approx(46.16, abs=0.006)
    assert around.semi_minor_m * ratio * 1000 == pytest.approx(10.64, abs=0.006)
    assert math.degrees(around.azimuth_rad) == pytest.approx(156.9, abs=0.06)


def test_the_blunder_that_the_book_left_out_is_named():
    """Ghilani Ex. 16.2, pp. 307 and 528: the angle at T from Q to R, 46°15'02.0", is the blunder."""
    degrees = 46 + 15 / 60 + 2.0 / 3600
    readings = [*GHILANI_16_2.readings, *angles(("T", "Q", "R", degrees, 4.0))]
    net = adjusted_net(readings, fixed=GHILANI_16_2.fixed)
    w = np.abs(net.w)
    # The one bearing turns the net: nothing checks it.
    assert np.flatnonzero(np.isnan(w)).tolist() == [17]
    ranked = np.sort(w[~np.isnan(w)])
    assert int(np.nanargmax(w)) == len(readings) - 1
    assert ranked[-1] > 3.29
    # Recomputed with an independent program: 5.20, the next 1.87.
    assert ranked[-1] == pytest.approx(5.20, abs=0.01)
    assert ranked[-2] == pytest.approx(1.87, abs=0.01)
    assert net.passes is False
