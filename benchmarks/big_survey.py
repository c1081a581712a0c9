"""Invented folders of 500 to 5,000 points checked whole: processor time and memory against floors.

``python -m benchmarks.big_survey`` for all, ``python -m benchmarks.big_survey tapes 1600`` for one. The
floor of time is scipy's sparse least_squares on a taped net of as many points, from places 5 cm off, as in
`benchmarks.adjust`: no placing, no covariances, no ground. The floor of memory is one dense matrix of points
by points, which kriging of them all takes. Each folder is checked by a process of its own.
"""

from __future__ import annotations

import math
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

KINDS = ("tapes", "offsets", "fixes")
SIZES = (500, 1600, 5000)
SETUP_POINTS = 40
"""Each set-up sights as many new points and two of those before."""
JOB = """[site]
name = "invented for a benchmark"
units = "m"
tape_how = "level"
date = 2026-10-03
[control]
origin = { point = "G0", east = 0, north = 0 }
azimuth = { from = "G0", to = "{far}", degrees = {azimuth:.6f}, north = "true" }
benchmark = { point = "BM", elevation = 100 }
side = "left"
"""
METRES_PER_DEGREE = 111_000.0
"""Near enough for points that are invented in degrees; the same east and north at the equator."""


def write_folder(folder: Path, kind: str, count: int) -> int:
    """Write an invented survey: points on a bent grid of 3 m on a slope; return how many readings.

    All are levelled, each from one set-up. In plan they stand by tapes to four neighbours, by two offsets
    from lines between three pins, or by one fix each.
    """
    rng = np.random.default_rng(count)
    wide = round(math.sqrt(count))
    row, column = np.divmod(np.arange(count), wide)
    en = 3.0 * np.column_stack([column, row]) + rng.uniform(-0.5, 0.5, (count, 2))
    en[0] = 0.0
    z = 100.0 + 0.01 * en.sum(axis=1) + 0.2 * np.sin(en[:, 0] / 17) * np.cos(en[:, 1] / 23)
    pins = (0, wide - 1, count - 1)
    far = en[pins[1]]
    job = JOB.replace("{far}", f"G{pins[1]}").replace("{azimuth:.6f}", f"{_degrees(far):.6f}")
    levels = _levels(z, rng)
    tapes = [(pins[0], pins[1]), (pins[1], pins[2]), (pins[0], pins[2])]
    lines = {"levels.csv": ["point,bs,is,fs", *levels]}
    if kind == "tapes":
        for p in range(count):
            for down, along in ((0, 1), (1, 0), (1, 1), (1, -1)):
                there = (row[p] + down) * wide + column[p] + along
                if 0 <= column[p] + along < wide and there < count:
                    tapes.append((p, int(there)))
    elif kind == "offsets":
        lines["offsets.csv"] = ["point,from,to,station,offset"]
        for a, b in ((pins[0], pins[1]), (pins[1], pins[2])):
            u = (en[b] - en[a]) / math.dist(en[a], en[b])
            stations, offsets = (en - en[a]) @ u, (en - en[a]) @ (u[1], -u[0])
            for p in set(range(count)).difference(pins):
                s, o = stations[p] + rng.normal(0, 0.012), offsets[p] + rng.normal(0, 0.012)
                lines["offsets.csv"].append(f"G{p},G{a},G{b},{s:.3f},{o:.3f}")
    else:
        job = job.replace('tape_how = "level"', 'tape_how = "level"\nlatitude = 0.0\nlongitude = 0.0')
        lines["fixes.csv"] = ["point,lat,lon,sd_h,session"]
        for p in range(count):
            e, n = (en[p] + rng.normal(0, 0.02, 2)) / METRES_PER_DEGREE
            lines["fixes.csv"].append(f"G{p},{n:.9f},{e:.9f},0.02,s{5 * p // count}")
    lines["tapes.csv"] = ["from,to,length"]
    for a, b in tapes:
        lines["tapes.csv"].append(f"G{a},G{b},{math.dist(en[a], en[b]) + rng.normal(0, 0.003):.3f}")
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "job.toml").write_text(job)
    for name, rows in lines.items():
        (folder / name).write_text("\n".join(rows) + "\n")
    return sum(len(rows) - 1 for rows in lines.values()) + len(lines.get("offsets.csv", ())[1:])


def _degrees(place: np.ndarray) -> float:
    return math.degrees(math.atan2(*place))


def _levels(z: np.ndarray, rng: np.random.Generator) -> list[str]:
    """Return the rows of a level book from the benchmark at 100 m over all points and back to it."""

    def rod(high: float, low: float) -> str:
        return f"{high - low + rng.normal(0, 0.0015):.3f}"

    rows, at, before = [], "BM", 100.0
    for first in range(0, len(z), SETUP_POINTS):
        mine = z[first : first + SETUP_POINTS]
        high = max(float(mine.max()), before) + 1.4
        rows.append(f"{at},{rod(high, before)},,")
        rows += [f"G{p},,{rod(high, z[p])}," for p in (first - 7, first - 23) if p >= 0]
        rows += [f"G{first + k},,{rod(high, low)}," for k, low in enumerate(mine[:-1])]
        at, before = f"G{first + len(mine) - 1}", float(mine[-1])
        rows.append(f"{at},,,{rod(high, before)}")
    high = max(before, 100.0) + 1.4
    return [*rows, f"{at},{rod(high, before)},,", f"BM,,,{rod(high, 100.0)}"]


def _check(folder: Path) -> None:
    """Check a folder, and print processor time in seconds, peak memory in MB and the redundancy."""
    from staking.book.folder import read_book
    from staking.plan import surveyed

    start = time.process_time()
    plan = surveyed(read_book(folder, purpose="check"))
    took = time.process_time() - start
    assert plan.ground is not None
    print(took, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, plan.adjustment.redundancy)


def floor_s(count: int) -> float:
    """Return the processor time of scipy's sparse least_squares on a taped net of so many points."""
    from benchmarks.adjust import invented_net, theirs

    _, near, ends, lengths = invented_net(count)
    start = time.process_time()
    theirs(near, ends, lengths, sparse=True)
    return time.process_time() - start


def main(kinds: tuple[str, ...] = KINDS, sizes: tuple[int, ...] = SIZES) -> None:
    """Print times and memory of each folder, as ratios too."""
    for count in sizes:
        floor = min(floor_s(count) for _ in range(3))
        matrix_mb = 8 * count**2 / 2**20
        print(f"{count} points; floors: {floor:.2f} s, {matrix_mb:.0f} MB")
        for kind in kinds:
            with tempfile.TemporaryDirectory() as folder:
                readings = write_folder(Path(folder), kind, count)
                told = subprocess.run(
                    [sys.executable, "-m", "benchmarks.big_survey", "--one", folder],
                    capture_output=True,
                    text=True,
                    check=True,
                ).stdout.split()
            took, peak, redundancy = float(told[0]), float(told[1]), int(told[2])
            print(
                f"  levels and {kind}: {readings} readings, {redundancy} more than needed: {took:.1f} s, "
                f"{took / floor:.0f} times the floor; {peak:.0f} MB at most, {peak / matrix_mb:.1f} times it"
            )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        _check(Path(sys.argv[2]))
    elif len(sys.argv) > 2:
        main((sys.argv[1],), (int(sys.argv[2]),))
    else:
        main()
