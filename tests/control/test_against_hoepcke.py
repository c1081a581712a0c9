"""A published free net, to every printed digit.

W. Höpcke, Fehlerlehre und Ausgleichungsrechnung (de Gruyter, 1980), Ex. 35.5, pp. 120-123: trilateration net
Sattenhausen, inner constraints over all points; transcribed in F. Krumm, Geodetic Network Adjustment
Examples, Geodätisches Institut, Universität Stuttgart, Rev. 3.5, 20 January 2020. The distance 1059-75 is
1789.449: the book's list has 1789.499, with which its results do not agree. Standard deviations are printed
scaled by the a-posteriori sigma0.
"""

import math

import numpy as np
import pytest

from staking.control.free import free_net
from staking.control.nets import NetReading

PRINTED_COORDINATE = 0.6e-4
"""Last printed digit 0.0001 m."""
PRINTED_SD_M = 0.6e-5
"""Last printed digit 0.001 cm."""
PRINTED_RATIO = 0.6e-6
PRINTED_DISTANCE = 0.001
"""Standard deviation of every distance, metres."""

NEAR = {
    "20": (3579041.416, 5707194.412, None),
    "75": (3575403.277, 5707682.612, None),
    "86": (3575322.061, 5708700.952, None),
    "87": (3576581.778, 5709938.106, None),
    "1006": (3578284.289, 5708758.641, None),
    "1011": (3577052.332, 5708103.204, None),
    "1059": (3576852.894, 5706633.642, None),
    "1087": (3576213.699, 5709199.889, None),
}
DISTANCES = [
    ("86", "1006", 2962.832),
    ("86", "87", 1765.657),
    ("86", "1087", 1021.768),
    ("86", "75", 1021.536),
    ("86", "1011", 1830.646),
    ("86", "20", 4012.921),
    ("86", "1059", 2572.516),
    ("1087", "87", 824.863),
    ("1087", "20", 3466.722),
    ("1087", "1059", 2644.789),
    ("1087", "75", 1720.13),
    ("1087", "1006", 2117.134),
    ("1087", "1011", 1380.633),
    ("1006", "75", 3075.373),
    ("1006", "20", 1737.824),
    ("1006", "1059", 2562.134),
    ("1006", "1011", 1395.459),
    ("1006", "87", 2071.154),
    ("1011", "87", 1894.263),
    ("1011", "75", 1701.824),
    ("1011", "1059", 1483.088),
    ("1011", "20", 2186.853),
    ("1059", "20", 2259.167),
    ("1059", "75", 1789.449),
    ("1059", "87", 3315.63),
    ("20", "87", 3684.782),
    ("20", "75", 3670.735),
]
PRINTED = {
    "20": (3579041.4042, 5707194.4039, 0.209, 0.265, 0.338),
    "75": (3575403.2853, 5707682.6565, 0.232, 0.265, 0.352),
    "86": (3575322.0203, 5708700.9554, 0.211, 0.24, 0.32),
    "87": (3576581.7857, 5709938.0995, 0.279, 0.226, 0.36),
    "1006": (3578284.292, 5708758.6275, 0.203, 0.268, 0.336),
    "1011": (3577052.3287, 5708103.207, 0.24, 0.273, 0.364),
    "1059": (3576852.9606, 5706633.5764, 0.247, 0.212, 0.325),
    "1087": (3576213.6691, 5709199.9319, 0.241, 0.227, 0.331),
}
"""East, north, their standard deviations and the point's (root of the sum of variances) in cm."""
WRONG_LIST = 1789.499


def readings(distances=DISTANCES):
    return [
        NetReading(kind="level distance", points=(a, b), value=value, sd=PRINTED_DISTANCE)
        for a, b, value in distances
    ]


def test_every_printed_digit():
    free = free_net(readings(), approximate=NEAR)
    net = free.net
    assert free.defect == 3
    assert free.movements == ("east", "north", "turn")
    assert net.redundancy == 14
    ratio = math.sqrt(net.vtpv / net.redundancy)
    assert ratio == pytest.approx(4.954393, abs=PRINTED_RATIO)
    for name, (east, north, *sds_cm) in PRINTED.items():
        assert net.place(name)[:2] == pytest.approx([east, north], abs=PRINTED_COORDINATE), name
        sd = net.sd(name)[:2] * ratio
        assert [*sd, np.hypot(*sd)] == pytest.approx(np.array(sds_cm) / 100, abs=PRINTED_SD_M), name
    # A net on tapes has no elevations.
    assert np.isnan(net.enz_m[:, 2]).all()


def test_the_misprinted_distance_is_what_fits_worst():
    wrong = [(a, b, WRONG_LIST if {a, b} == {"1059", "75"} else value) for a, b, value in DISTANCES]
    free = free_net(readings(wrong), approximate=NEAR)
    worst = int(np.argmax(np.abs(free.net.w)))
    assert {wrong[worst][0], wrong[worst][1]} == {"1059", "75"}
    assert free.net.w[worst] < -3.29
