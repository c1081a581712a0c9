"""Nets of 50, 500 and 5,000 taped points: the adjustment against scipy's least_squares on the same net.

The adjustment gives covariances, redundancy numbers and w as well, least_squares coordinates alone. Both
start from places wrong by 5 cm and must come to the same. Processor time, the least of three; what is kept
from one adjustment to the next of the same pattern is thrown away between.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np
from scipy.optimize import least_squares
from scipy.sparse import csr_array

from staking.control.nets import NetReading, adjusted_net

SIZES = (50, 500, 5000)
MOST_DENSE = 500
"""The dense Jacobian of 5,000 points would take 1.6 GB."""
SD_M = 0.003
SAME_M = 1e-5


def invented_net(points: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return true places, near places, pairs and lengths: a bent grid, each point taped to four others."""
    rng = np.random.default_rng(points)
    wide = max(5, round(math.sqrt(points / 2)))
    row, column = np.divmod(np.arange(points), wide)
    truth = 10.0 * np.column_stack([column, row]) + rng.uniform(-2, 2, (points, 2))
    pairs = [
        (p, (row[p] + down) * wide + column[p] + along)
        for p in range(points)
        for down, along in ((0, 1), (1, 0), (1, 1), (1, -1))
        if 0 <= column[p] + along < wide and (row[p] + down) * wide + column[p] + along < points
    ]
    ends = np.array(pairs)
    lengths = np.hypot(*(truth[ends[:, 1]] - truth[ends[:, 0]]).T) + rng.normal(0, SD_M, len(ends))
    near = truth + rng.normal(0, 0.05, truth.shape)
    near[[0, points - 1]] = truth[[0, points - 1]]
    return truth, near, ends, lengths


def _ours(near: np.ndarray, ends: np.ndarray, lengths: np.ndarray) -> np.ndarray:
    last = len(near) - 1
    readings = [
        NetReading(kind="level distance", points=(str(a), str(b)), value=float(length), sd=SD_M)
        for (a, b), length in zip(ends, lengths, strict=True)
    ]
    net = adjusted_net(
        readings,
        fixed={"0": (*near[0], None), str(last): (*near[last], None)},
        approximate={str(p): (float(e), float(n)) for p, (e, n) in enumerate(near)},
    )
    order = {name: k for k, name in enumerate(net.names)}
    return net.enz_m[[order[str(p)] for p in range(len(near))], :2]


def theirs(near: np.ndarray, ends: np.ndarray, lengths: np.ndarray, *, sparse: bool) -> np.ndarray:
    count = len(near) - 2

    def places(x: np.ndarray) -> np.ndarray:
        return np.vstack([near[:1], x.reshape(-1, 2), near[-1:]])

    def misses(x: np.ndarray) -> np.ndarray:
        run = np.diff(places(x)[ends], axis=1)[:, 0]
        return (np.hypot(*run.T) - lengths) / SD_M

    def derivatives(x: np.ndarray) -> csr_array | np.ndarray:
        run = np.diff(places(x)[ends], axis=1)[:, 0]
        toward = run / np.hypot(*run.T)[:, None] / SD_M
        rows, columns, values = [], [], []
        for end, sign in ((0, -1), (1, 1)):
            free = np.flatnonzero((ends[:, end] > 0) & (ends[:, end] <= count))
            for axis in (0, 1):
                rows.append(free)
                columns.append(2 * (ends[free, end] - 1) + axis)
                values.append(sign * toward[free, axis])
        matrix = csr_array(
            (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))),
            shape=(len(ends), 2 * count),
        )
        return matrix if sparse else matrix.toarray()

    # lsmr's own tolerance must follow, or the steps stay short of the bottom.
    keys = {"tr_solver": "lsmr", "tr_options": {"atol": 1e-12, "btol": 1e-12}} if sparse else {}
    found = least_squares(misses, near[1:-1].ravel(), derivatives, xtol=1e-12, ftol=1e-12, gtol=1e-8, **keys)
    return places(found.x)


def _took(run: Callable[[], np.ndarray]) -> tuple[float, np.ndarray]:
    """Return the least processor time of three runs, and what the last returned."""
    from staking.base import symmetric

    times = []
    for _ in range(3):
        symmetric._filled.cache_clear()
        start = time.process_time()
        found = run()
        times.append(time.process_time() - start)
    return min(times), found


def main() -> None:
    """Print times, ratios, and how the adjustment grows."""
    times = []
    for points in SIZES:
        _, near, ends, lengths = invented_net(points)
        took, mine = _took(lambda near=near, ends=ends, lengths=lengths: _ours(near, ends, lengths))
        times.append(took)
        said = f"{points:5} points, {len(ends):6} tapes: {took:6.3f} s"
        for sparse in (True, False) if points <= MOST_DENSE else (True,):
            took, other = _took(
                lambda near=near, ends=ends, lengths=lengths, sparse=sparse: theirs(
                    near, ends, lengths, sparse=sparse
                )
            )
            apart = float(np.abs(other - mine).max())
            word = "sparse" if sparse else "dense"
            agree = "same places" if apart < SAME_M else f"stopped {1000 * apart:.2f} mm away"
            said += f"; least_squares {word} {took / times[-1]:6.2f} times as long, {agree}"
        print(said)
    for k in range(1, len(SIZES)):
        grown = math.log(times[k] / times[k - 1]) / math.log(SIZES[k] / SIZES[k - 1])
        print(f"from {SIZES[k - 1]} to {SIZES[k]} points: time as the power {grown:.2f} of their number")


if __name__ == "__main__":
    main()
