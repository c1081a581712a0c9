"""Places where the equations are as good as linear, however gross the blunder."""

import math

import numpy as np

from staking.control.equations import Equation, Kind
from staking.control.near_truth import near_the_truth
from staking.control.network import Network, adjusted_network
from staking.control.placing import Sides
from staking.control.settling import HeldDirection

FOOT_M = 0.3048
POINTS = 28
PINS = np.array([(0.0, 0.0), (50.0, 0.0), (-3.0, 30.0), (53.0, 31.0)]) * FOOT_M


def test_a_tape_put_right_brings_back_the_image_that_it_turned_over():
    """2026-11-25: 60.90 ft booked 06.90. Its row was named, but as wrong by some other amount.

    On the image where the net then stood another length fitted.
    """
    rng = np.random.default_rng(10)
    equations = [
        Equation(
            kind=Kind.LEVEL_TAPE,
            at=(a, b),
            value=math.dist(PINS[a], PINS[b]) + float(rng.normal(0, 0.003)),
            sd=0.003,
        )
        for a, b in ((0, 1), (0, 2), (1, 2), (0, 3), (1, 3), (2, 3))
    ]
    blunder = 2
    booked = equations[blunder]
    equations[blunder] = Equation(kind=booked.kind, at=booked.at, value=6.90 * FOOT_M, sd=booked.sd)
    bearing = math.atan2(*(PINS[3] - PINS[0]))
    equations.append(Equation(kind=Kind.BEARING, at=(0, 3, -1), value=bearing, sd=math.radians(0.25)))
    for p in range(4, POINTS):
        # Ground shots that nothing checks.
        at = (p, 0, 1)
        equations.append(Equation(kind=Kind.STATION, at=at, value=0.5 * p, sd=0.012))
        equations.append(Equation(kind=Kind.OFFSET, at=at, value=-1.0 - 0.3 * p, sd=0.012))
    start, held = np.full(3 * POINTS, np.nan), np.zeros(3 * POINTS, dtype=bool)
    start[:2], held[:2] = PINS[0], True
    network = Network(
        points=POINTS,
        equations=equations,
        start=start,
        held=held,
        directions=[HeldDirection(start=0, to=1, azimuth_rad=math.pi / 2)],
        sides=Sides(line=(0, 1), default=-1),
    )
    result = adjusted_network(network)
    far = near_the_truth(network, result, lambda number: [])
    near = near_the_truth(network, result, lambda number: [60.90 * FOOT_M] if number == blunder else [])
    away = [np.abs(at.coordinates.reshape(-1, 3)[:4, :2] - PINS).max() for at in (far, near)]
    # Since 2026-11-28 the image is mostly found without the repair, too: never a worse one with it.
    assert away[1] < 0.02
    assert away[1] <= away[0] + 0.01
