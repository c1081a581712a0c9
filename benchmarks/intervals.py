"""How often stated 95 % intervals of adjusted points hold: invented yards of mixed kinds, readings as stated.

Run by hand: ``python -m benchmarks.intervals [yards]``. Shares are of all coordinates that the readings give,
standard errors are taken over yards: coordinates of one yard share readings. "Both" is the joint 95 % ellipse
of east and north. A magnetic yard's declination is drawn too, once for all its bearings.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "control"))

from invented_yards import Yard, ground, invented  # type: ignore[import-not-found]

from staking.book.records import Accuracy, Benchmark, Control, ControlRow, FieldBook, Site
from staking.control.adjusting import adjusted
from staking.control.reading_steps import rounded as steps_told
from staking.north.declination import declination_rad

Floats = NDArray[np.float64]

YARDS = 1000
FIRST_SEED = 300_000
"""Other yards than the tests'."""
NORMAL_95 = 1.959964
CHI_SQUARE_2_95 = 5.991465
"""Abramowitz and Stegun, table 26.8."""
HELD_M = 1e-9
STEPS_M = {"unrounded": 0.0, "to 1/8 in": 0.003175, "to 0.01 ft": 0.003048}
AXES = ("east", "north", "elevation", "both")
MAGNETIC_SITE = Site(
    units="m", latitude_rad=math.radians(44.1), longitude_rad=math.radians(-72.4), date=date(2026, 10, 3)
)


def _mixed(seed: int, how: str = "mixed") -> tuple[Yard, FieldBook]:
    turned = np.random.default_rng(seed + 1).uniform(0, 6)
    yard = invented(seed, ground_points=10, how=how, turned_rad=turned)
    return yard, yard.book(side="left")


def _of(names: dict[str, tuple[float, float]], rng: np.random.Generator, accuracy: Accuracy) -> Yard:
    truth = {k: (e, n, ground(e, n) + rng.normal(0, 0.05)) for k, (e, n) in names.items()}
    return Yard(truth=truth, rng=rng, accuracy=accuracy)


def _spots(rng: np.random.Generator, count: int) -> dict[str, tuple[float, float]]:
    """Return four pins, a benchmark and ground points clear of the line from P1 to P2."""
    pins = {"P1": (0.0, 0.0), "P2": (22.0, 0.5), "P3": (21.0, 14.0), "P4": (1.0, 13.0), "BM1": (-3.0, -2.0)}
    return pins | {f"G{k}": (rng.uniform(2, 20), rng.uniform(3, 12)) for k in range(count)}


def _accuracy(rng: np.random.Generator) -> Accuracy:
    """Return accuracies from a careful survey's to a careless one's."""
    return Accuracy(
        rod_m=rng.uniform(0.001, 0.006),
        tape_m=rng.uniform(0.002, 0.015),
        offset_m=rng.uniform(0.005, 0.04),
        rise_m=rng.uniform(0.002, 0.01),
        tape_per_m=rng.uniform(0, 3e-4),
        angle_rad=math.radians(rng.uniform(0.005, 0.1)),
        bearing_rad=math.radians(rng.uniform(0.2, 2.0)),
    )


def _tape_pins(yard: Yard, how: str = "level") -> None:
    for a, b in (("P1", "P2"), ("P2", "P3"), ("P3", "P4"), ("P4", "P1"), ("P1", "P3"), ("P2", "P4")):
        yard.tape(a, b, how)


def levels_alone(seed: int) -> tuple[Yard, FieldBook]:
    """Return a level book of three to six set-ups, pins sighted again, some shots twice; nothing in plan."""
    rng = np.random.default_rng(seed)
    setups = int(rng.integers(3, 7))
    names = {f"G{k}": (rng.uniform(0, 25), rng.uniform(0, 15)) for k in range(4 * setups)}
    names |= {f"TP{k}": (rng.uniform(0, 25), rng.uniform(0, 15)) for k in range(1, setups)}
    names |= {"P1": (0.0, 0.0), "P2": (20.0, 0.0), "BM1": (-3.0, -2.0)}
    yard = _of(names, rng, replace(_accuracy(rng), rod_per_m=0.0))
    chain = ["BM1", *(f"TP{k}" for k in range(1, setups)), "BM1"]
    for k in range(setups):
        sights = [f"G{j}" for j in range(4 * k, 4 * k + 4)] + (["P1"] if k % 2 else ["P2"])
        if rng.random() < 0.5:
            sights.append(f"G{rng.integers(4 * setups)}")
        yard.setup(chain[k], list(dict.fromkeys(sights)), chain[k + 1])
    return yard, yard.book(control=Control(benchmark=Benchmark(point="BM1", elevation_m=yard.z("BM1"))))


def _levelled(yard: Yard, shots: list[str]) -> None:
    half = len(shots) // 2
    yard.setup("BM1", ["P1", "P4", *shots[:half]], "P2")
    yard.setup("P2", ["P3", "P1", *shots[half:]], "P4")
    yard.setup("P4", ["P3"], "BM1")


def _offsets_and_tapes(yard: Yard, count: int) -> None:
    """Read shots by an offset and by three tapes in turn, and level them."""
    shots = [f"G{k}" for k in range(count)]
    for k, name in enumerate(shots):
        if k % 2:
            yard.offset(name, "P1", "P2")
        else:
            for pin in ("P1", "P2", "P3"):
                yard.tape(pin, name)
    _levelled(yard, shots)


def tapes_and_offsets(seed: int) -> tuple[Yard, FieldBook]:
    """Return pins taped to each other, shots by offsets or by three tapes, accuracies of all sizes."""
    rng = np.random.default_rng(seed)
    yard = _of(_spots(rng, 10), rng, _accuracy(rng))
    _tape_pins(yard)
    _offsets_and_tapes(yard, 10)
    return yard, yard.book(side="left")


def angles(seed: int) -> tuple[Yard, FieldBook]:
    """Return pins by tapes and angles, shots by angle and distance from two pins."""
    rng = np.random.default_rng(seed)
    yard = _of(_spots(rng, 10), rng, _accuracy(rng))
    _tape_pins(yard)
    for at, a, b in (("P1", "P4", "P2"), ("P2", "P1", "P3"), ("P3", "P2", "P4"), ("P4", "P3", "P1")):
        yard.angle(at, a, b)
    shots = [f"G{k}" for k in range(10)]
    for k, name in enumerate(shots):
        yard.angle("P1", "P2", name)
        yard.tape("P1", name)
        if k % 2:
            yard.angle("P3", "P4", name)
            yard.tape("P3", name)
    _levelled(yard, shots)
    return yard, yard.book(side="left")


def slope_tapes(seed: int) -> tuple[Yard, FieldBook]:
    """Return a mixed yard taped on the slope throughout."""
    return _mixed(seed, "slope")


def mixed(seed: int) -> tuple[Yard, FieldBook]:
    """Return a yard with readings of every kind, level and slope."""
    return _mixed(seed)


def magnetic(seed: int) -> tuple[Yard, FieldBook]:
    """Return shots by magnetic bearing and tape; the azimuth held is true."""
    rng = np.random.default_rng(seed)
    yard = _of(_spots(rng, 10), rng, _accuracy(rng))
    _tape_pins(yard)
    shots = [f"G{k}" for k in range(10)]
    for a, b in (("P1", "P2"), ("P4", "P3"), ("P1", "P4")):
        yard.bearing(a, b)
    for name in shots:
        yard.bearing("P1", name)
        yard.tape("P1", name)
    _levelled(yard, shots)
    site = MAGNETIC_SITE
    assert site.latitude_rad is not None
    assert site.longitude_rad is not None
    assert site.date is not None
    known = declination_rad(site.latitude_rad, site.longitude_rad, site.date)
    truly = known.declination_rad + rng.normal(0, known.sd_rad)
    book = yard.book(side="left")
    rows = tuple(
        replace(row, bearing_rad=(row.bearing_rad - truly) % (2 * math.pi), north="magnetic")
        for row in book.bearings
    )
    return yard, replace(book, bearings=rows, job=replace(book.job, site=site))


def weighted_control(seed: int) -> tuple[Yard, FieldBook]:
    """Return a yard hung on three control points that have standard deviations, elevations too."""
    rng = np.random.default_rng(seed)
    yard = _of(_spots(rng, 8), rng, _accuracy(rng))
    _tape_pins(yard)
    _offsets_and_tapes(yard, 8)
    sd = rng.uniform(0.003, 0.03)
    rows = tuple(
        ControlRow(
            table="control.csv",
            row=k + 2,
            point=name,
            east_m=yard.truth[name][0] + rng.normal(0, sd),
            north_m=yard.truth[name][1] + rng.normal(0, sd),
            elevation_m=yard.truth[name][2] + rng.normal(0, sd),
            sd_east_m=sd,
            sd_north_m=sd,
            sd_elevation_m=sd,
        )
        for k, name in enumerate(("P1", "P2", "P3"))
    )
    return yard, yard.book(control=Control(side="left"), control_points=rows)


KINDS: dict[str, Callable[[int], tuple[Yard, FieldBook]]] = {
    "levels alone": levels_alone,
    "tapes, offsets": tapes_and_offsets,
    "angles": angles,
    "slope tapes": slope_tapes,
    "mixed": mixed,
    "magnetic": magnetic,
    "weighted control": weighted_control,
}


def rounded(book: FieldBook, step_m: float) -> FieldBook:
    """Return the book with every reading of a length rounded."""
    if step_m == 0.0:
        return book

    def to_step(value: float | None) -> float | None:
        return None if value is None else round(value / step_m) * step_m

    return replace(
        book,
        levels=tuple(
            replace(r, bs_m=to_step(r.bs_m), is_m=to_step(r.is_m), fs_m=to_step(r.fs_m)) for r in book.levels
        ),
        rises=tuple(replace(r, rise_m=to_step(r.rise_m)) for r in book.rises),  # type: ignore[arg-type]
        tapes=tuple(replace(r, length_m=to_step(r.length_m)) for r in book.tapes),  # type: ignore[arg-type]
        offsets=tuple(
            replace(r, station_m=to_step(r.station_m), offset_m=to_step(r.offset_m))  # type: ignore[arg-type]
            for r in book.offsets
        ),
    )


def as_told(book: FieldBook) -> FieldBook:
    """Return the book with the accuracies that `check` says to write for the step of its readings."""
    more = {f"{one.key}_m": math.hypot(one.rounding_m, one.taken_m) for one in steps_told(book)}
    return replace(book, job=replace(book.job, accuracy=replace(book.job.accuracy, **more)))


def held(kind: str, seed: int, step_m: float = 0.0, *, told: bool = False) -> Floats:
    """Return, for one yard, how many intervals hold and how many there are, (4, 2): the axes and both."""
    yard, book = KINDS[kind](seed)
    book = rounded(book, step_m)
    points = adjusted(as_told(book) if told else book).points
    sd = points.sd_m()
    counts = np.zeros((4, 2))
    for i, name in enumerate(points.names):
        error = points.enz_m[i] - np.array(yard.truth[name])
        for axis in range(3):
            if np.isfinite(sd[i, axis]) and sd[i, axis] > HELD_M:
                counts[axis] += abs(error[axis]) < NORMAL_95 * sd[i, axis], 1
        if np.isfinite(sd[i, :2]).all() and (sd[i, :2] > HELD_M).all():
            cov = points.cov_m2[3 * i : 3 * i + 2, 3 * i : 3 * i + 2]
            if np.linalg.cond(cov) < 1e10:
                counts[3] += error[:2] @ np.linalg.solve(cov, error[:2]) < CHI_SQUARE_2_95, 1
    return counts


def share(counts: Floats) -> tuple[float, float]:
    """Return the share that holds over yards (n, 2) and its standard error, in per cent; NaN without any."""
    top, of = counts.T
    if of.sum() == 0:
        return math.nan, math.nan
    p = top.sum() / of.sum()
    return 100 * p, 100 * float(np.sqrt(((top - p * of) ** 2).sum()) / of.sum())


def main() -> None:
    """Print the shares by kind of net and by rounding, then of all."""
    yards = int(sys.argv[1]) if len(sys.argv) > 1 else YARDS
    each = math.ceil(yards / len(KINDS))
    cases = [(name, step_m, False) for name, step_m in STEPS_M.items()]
    cases += [(f"{name}, accuracies as told", step_m, True) for name, step_m in STEPS_M.items() if step_m]
    for name, step_m, told in cases:
        print(f"{name}, {each} yards of a kind")
        print(f"  {'':18}" + "".join(f"{axis:>14}" for axis in AXES))
        every = []
        for k, kind in enumerate(KINDS):
            counts = np.array(
                [held(kind, FIRST_SEED + 10_000 * k + i, step_m, told=told) for i in range(each)]
            )
            every.append(counts)
            _line(kind, counts)
        _line("all", np.concatenate(every))


def _line(kind: str, counts: Floats) -> None:
    cells = [share(counts[:, axis]) for axis in range(4)]
    told = ["" if math.isnan(p) else f"{p:.1f} ± {se:.1f}" for p, se in cells]
    print(f"  {kind:18}" + "".join(f"{cell:>14}" for cell in told), flush=True)


if __name__ == "__main__":
    main()
