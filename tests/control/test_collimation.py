"""A level whose line of sight rises: found, taken out, or only told."""

import math

import numpy as np
import pytest

from staking.base.errors import WrongInput
from staking.book.records import Accuracy, Benchmark, Control, FieldBook, Job, LevelRow, PegRow, Site
from staking.control.adjusting import adjusted
from staking.control.curvature import curvature_and_refraction

RISE = 4e-4
"""12 mm in 30 m: a level that fell off the truck."""
SD_M = 0.0015
POINTS = {"BM1": 100.0, "G1": 99.2, "G2": 98.7, "G3": 100.4, "G4": 101.1, "TP1": 99.9}
SETUPS = [("BM1", "TP1", 5), ("TP1", "G4", 60), ("G4", "G1", 12), ("G1", "BM1", 45)]
"""Backsight, foresight, length of the backsight; every point is sighted from every setup."""


def sight_m(setup, point):
    """Lengths from 5 to 60 m, far from equal."""
    return 5 + (setup * 37 + list(POINTS).index(point) * 23) % 56


def levels(*, seed=None, rise=0.0, with_dist=True, equal=None, instrument="", blunder=None):
    rng = None if seed is None else np.random.default_rng(seed)
    rows = []

    def read(setup, hi, point):
        d = equal or sight_m(setup, point)
        value = hi - POINTS[point] + rise * d + curvature_and_refraction(d)
        value += 0.0 if rng is None else float(rng.normal(0, SD_M))
        value += blunder[2] if blunder is not None and (setup, point) == blunder[:2] else 0.0
        return value, (d if with_dist else None)

    def row(point, column, reading, d):
        rows.append(
            LevelRow(
                table="levels.csv",
                row=len(rows) + 2,
                read={column[:2]: f"{reading:.4f}"},
                point=point,
                dist_m=d,
                instrument=instrument if column == "bs_m" else "",
                **{column: reading},
            )
        )

    for setup, (back, fore, _) in enumerate(SETUPS):
        hi = 102.5 + 0.3 * setup
        row(back, "bs_m", *read(setup, hi, back))
        for point in POINTS:
            if point not in (back, fore):
                row(point, "is_m", *read(setup, hi, point))
        row(fore, "fs_m", *read(setup, hi, fore))
    return tuple(rows)


def pegs(rise, *, seed=0, instrument=""):
    rng = np.random.default_rng(seed)
    found = []
    for setup, point, d in (("mid", "A", 30), ("mid", "B", 30), ("near", "A", 3), ("near", "B", 63)):
        rod = 1.5 + (point == "B") * 0.4 + rise * d + curvature_and_refraction(d) + rng.normal(0, SD_M)
        found.append(
            PegRow(
                table="pegs.csv",
                row=len(found) + 2,
                setup=setup,
                point=point,
                rod_m=rod,
                dist_m=d,
                instrument=instrument,
            )
        )
    return tuple(found)


def book(rows, *, peg_rows=(), accuracy=None):
    job = Job(
        site=Site(units="m"),
        control=Control(benchmark=Benchmark(point="BM1", elevation_m=100.0)),
        accuracy=accuracy or Accuracy(rod_m=SD_M),
    )
    return FieldBook(job=job, levels=rows, pegs=peg_rows)


def errors(adjustment):
    """Elevation errors in standard deviations, the benchmark aside."""
    points = adjustment.points
    z = [k for k, name in enumerate(points.names) if name != "BM1"]
    off = np.array([points.enz_m[k, 2] - POINTS[points.names[k]] for k in z])
    return off / points.sd_m()[z, 2]


def test_without_lengths_of_sights_nothing_changes():
    rows = levels(seed=1, with_dist=False)
    got = adjusted(book(rows))
    assert not got.levels
    assert not got.instruments
    assert adjusted(book(rows, peg_rows=pegs(RISE))).points.enz_m == pytest.approx(
        got.points.enz_m, abs=0, nan_ok=True
    )


def test_a_good_level_with_lengths_is_adjusted_as_without_them():
    """Lengths of sights alone loosen nothing: only earth and air are taken out."""
    near = list(levels(seed=2, equal=20.0))
    with_lengths = adjusted(book(tuple(near)))
    without = adjusted(book(levels(seed=2, equal=20.0, with_dist=False)))
    assert with_lengths.points.sd_m() == pytest.approx(without.points.sd_m(), rel=1e-12, nan_ok=True)
    assert with_lengths.points.enz_m == pytest.approx(without.points.enz_m, abs=1e-9, nan_ok=True)
    assert not with_lengths.levels
    unequal = [adjusted(book(levels(seed=seed))) for seed in range(30)]
    assert {level.why for got in unequal for level in got.levels} == {"told"}
    spread = np.array([level.w for got in unequal for level in got.levels])
    assert len(spread) == 30
    assert 0.7 < math.sqrt((spread**2).mean()) < 1.35


def test_unequal_sights_prove_a_rise_and_it_is_taken_out():
    ws = []
    for seed in range(20):
        got = adjusted(book(levels(seed=seed, rise=RISE)))
        (level,) = got.levels
        assert level.why == "readings"
        assert got.passes
        assert not got.suspects
        assert all(m.passes for m in got.misclosures)
        ws.append((level.rise - RISE) / level.sd)
        assert np.abs(errors(got)).max() < 4.0
        assert sum("mm in 30 m high" in text and "prove it" in text for text in got.warnings) == 1
    assert 0.6 < math.sqrt(np.square(ws).mean()) < 1.5


def test_the_rise_alone_is_found_exactly_and_its_sign():
    for rise, word in ((RISE, "high"), (-RISE, "low")):
        got = adjusted(book(levels(rise=rise)))
        assert got.levels[0].rise == pytest.approx(rise, abs=1e-12)
        assert np.abs(errors(got)).max() < 1e-6
        assert f"12.0 mm in 30 m {word}" in got.instruments[0]
        assert max(abs(m.value_m) for m in got.misclosures) < 1e-9


def test_the_score_is_what_one_unknown_more_would_give():
    """The same c, sd and fall of the sum of squares by adjusting with it free."""
    rows = levels(seed=5, rise=1e-4)
    told = adjusted(book(rows))
    free = adjusted(book(rows, accuracy=Accuracy(rod_m=SD_M, collimation=1e3)))
    assert (told.levels[0].why, free.levels[0].why) == ("told", "accuracy")
    assert told.levels[0].rise == pytest.approx(free.levels[0].rise, rel=1e-6)
    assert told.levels[0].sd == pytest.approx(free.levels[0].sd, rel=1e-6)
    fall = told.variance_factor * told.redundancy - free.variance_factor * free.redundancy
    assert told.levels[0].w ** 2 == pytest.approx(fall, rel=1e-6)


def test_a_stated_bound_is_weighed_with_the_readings():
    rows = levels(seed=6, rise=1e-4)
    free = adjusted(book(rows, accuracy=Accuracy(rod_m=SD_M, collimation=1e3))).levels[0]
    bound = 5e-5
    both = adjusted(book(rows, accuracy=Accuracy(rod_m=SD_M, collimation=bound))).levels[0]
    weight = 1 / free.sd**2 + 1 / bound**2
    assert both.sd == pytest.approx(weight**-0.5, rel=1e-6)
    assert both.rise == pytest.approx(free.rise / free.sd**2 / weight, rel=1e-6)


def test_two_pegs_are_weighed_with_the_readings_and_leave_equal_sights_alone():
    rows = levels(seed=7, rise=RISE)
    got = adjusted(book(rows, peg_rows=pegs(RISE)))
    assert got.levels[0].why == "pegs"
    assert abs(got.levels[0].rise - RISE) < 4 * got.levels[0].sd
    alone = adjusted(book(rows)).levels[0]
    assert got.levels[0].sd < min(alone.sd, 2 * SD_M / 60)
    equal = adjusted(book(levels(seed=7, rise=RISE, equal=20.0), peg_rows=pegs(RISE)))
    assert equal.levels[0].sd == pytest.approx(2 * SD_M / 60, rel=1e-6)
    assert np.abs(errors(equal)).max() < 4


def test_pegs_that_the_book_contradicts_are_told():
    """The level was knocked after the test: 4e-4 in the book, none at the pegs."""
    got = adjusted(book(levels(seed=7, rise=RISE), peg_rows=pegs(0.0)))
    assert sum("speak against the two-peg test" in text for text in got.warnings) == 1
    for seed in range(10):
        agreed = adjusted(book(levels(seed=seed, rise=RISE), peg_rows=pegs(RISE, seed=seed)))
        assert not any("speak against" in text for text in agreed.warnings)


def test_a_misread_rod_is_not_taken_for_a_bad_level():
    """A blunder of one foot or one decimetre on the longest sights is named, never taken out as a rise."""
    for seed, by in ((1, 0.3048), (2, 0.1), (3, -0.1), (4, 0.02)):
        setup, point = max(((s, p) for s in range(4) for p in POINTS), key=lambda sp: sight_m(*sp))
        got = adjusted(book(levels(seed=seed, blunder=(setup, point, by))))
        assert {level.why for level in got.levels} == {"told"}
        assert got.passes is False
        assert got.suspects


def test_two_levels_are_told_apart():
    good = levels(seed=8, instrument="old")
    bad = levels(seed=9, rise=RISE, instrument="New")
    moved = tuple(
        LevelRow(**{f: getattr(r, f) for f in LevelRow.__dataclass_fields__} | {"row": r.row + len(good)})
        for r in bad
    )
    got = adjusted(book(good + moved))
    assert {level.instrument: level.why for level in got.levels} == {"old": "told", "new": "readings"}
    assert got.passes
    by_pegs = adjusted(book(good + moved, peg_rows=pegs(RISE, instrument="NEW")))
    assert {level.instrument: level.why for level in by_pegs.levels}["new"] == "pegs"


def test_another_instrument_within_a_setup_is_a_mistake():
    rows = list(levels(instrument="old"))
    rows[2] = LevelRow(
        **{f: getattr(rows[2], f) for f in LevelRow.__dataclass_fields__} | {"instrument": "new"}
    )
    with pytest.raises(WrongInput, match="BS"):
        adjusted(book(tuple(rows)))


def test_a_blank_length_is_the_mean_of_its_setup_and_that_is_said():
    rows = list(levels(rise=RISE))
    lengths = [r.dist_m for r in rows[:6]]
    blank = rows[1]
    others = [d for k, d in enumerate(lengths) if k != 1]
    fields = {f: getattr(blank, f) for f in LevelRow.__dataclass_fields__}
    reading = blank.is_m - curvature_and_refraction(blank.dist_m) + RISE * (sum(others) / 5 - blank.dist_m)
    rows[1] = LevelRow(**fields | {"dist_m": None, "is_m": reading})
    got = adjusted(book(tuple(rows), accuracy=Accuracy(rod_m=SD_M, collimation=1.0, rod_per_m=1e-5)))
    assert np.abs(errors(got)).max() < 1e-5
    assert any("1 sight without a dist is taken" in text for text in got.warnings)
    assert sum("rod_per_100 adds nothing to 1 of 24 sights" in text for text in got.warnings) == 1


def test_the_sd_of_a_rod_grows_with_its_sight():
    got = adjusted(book(levels(), accuracy=Accuracy(rod_m=SD_M, rod_per_m=5e-5)))
    far = next(r for r in got.readings if r.row == 2)
    assert far.sd == pytest.approx(math.hypot(SD_M, 5e-5 * sight_m(0, "BM1")), rel=1e-12)


def test_a_long_sight_is_said():
    lines = adjusted(book(levels(equal=100.0))).instruments
    assert any("100 m, by 0.7 mm" in text for text in lines)
    assert not adjusted(book(levels(equal=60.0))).instruments
