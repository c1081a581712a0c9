"""What can be proved, by pencil."""

from __future__ import annotations

import math

import numpy as np
import pytest

from staking.ahead.proof import HALF_95, MOST_REPEATS, Claim, claims, repeats_needed, sight_sd_m
from staking.book.records import Accuracy, Control, FieldBook, Instruments, Job, RiseRow, Site
from staking.control.adjustment import Points
from staking.sheets.ahead_lines import proof_lines
from staking.sheets.notation import Notation

INCH_M = 0.0254


def points(*, sd_plan_m: float = 0.0, sd_benchmark_m: float = 0.0) -> Points:
    """Two pins 10 m apart to the east, their errors along the line independent; a benchmark."""
    cov = np.zeros((9, 9))
    cov[0, 0] = cov[3, 3] = sd_plan_m**2
    cov[8, 8] = sd_benchmark_m**2
    return Points(
        names=("P1", "P2", "BM1"),
        kinds=("pin", "pin", "benchmark"),
        shapes_ground=(False, False, False),
        enz_m=np.array([[0.0, 0, 5], [10, 0, 5], [np.nan, np.nan, 5]]),
        cov_m2=cov,
    )


def told(accuracy: Accuracy, *, rises: bool = False, at: Points | None = None, **more):
    row = RiseRow(table="rises.csv", row=2, start="P1", to="P2", rise_m=0.0)
    book = FieldBook(job=Job(site=Site(units="ft"), accuracy=accuracy), rises=(row,) if rises else ())
    more.setdefault("diagonal_m", 10.0)
    return {c.what: c for c in claims(book, at or points(), **more)}


def test_defaults_of_the_trade():
    """Rod 1.5 mm: two sights err by 2.12 mm, 95 % of them by 4.16 mm; 1/4 in is 6.35, 1/8 in 3.175 mm."""
    found = told(Accuracy())
    assert found["tops"].shown_m == pytest.approx(1.96 * math.sqrt(2) * 0.0015, rel=1e-4)
    assert found["tops"].proved
    assert found["tops"].repeats == 1
    assert not found["neighbours"].proved
    # (1.96 · 2.1213 / 3.175)² = 1.715: two sights each.
    assert found["neighbours"].repeats == 2
    # Pencil and saw, 1/16 in each, of both posts: 1.96 · 2 · 1/16 in.
    assert found["neighbours"].made_m == pytest.approx(1.96 * 2 * INCH_M / 16, rel=1e-4)
    assert not found["neighbours"].holds
    # One more sight, of the benchmark: √(1.5² + 2 · 1.5875²) mm.
    assert found["tops"].made_m == pytest.approx(1.96 * math.sqrt(1.5**2 + 2 * 1.5875**2) / 1e3, rel=1e-4)
    assert found["tops"].holds


def test_a_line_level_cannot_prove_a_quarter_inch():
    """One good to 1/4 in needs eight sights each; to 0.35 in more than nine: one of 2.29 mm would do."""
    found = told(Accuracy(rise_m=0.25 * INCH_M), rises=True)["tops"]
    assert not found.proved
    assert found.repeats == 8  # 2 · (1.96)² = 7.68
    worse = told(Accuracy(rise_m=0.35 * INCH_M), rises=True)["tops"]
    assert worse.repeats is None
    assert worse.instrument_m == pytest.approx(0.25 * INCH_M / 1.96 / math.sqrt(2), rel=1e-4)


def test_the_instrument_is_the_rod_wherever_one_was_read():
    book = FieldBook(job=Job(site=Site(units="m")))
    assert sight_sd_m(book) == Accuracy().rod_m


@pytest.mark.parametrize("n", range(1, MOST_REPEATS + 1))
def test_so_many_repeats_are_enough_and_one_fewer_is_not(n):
    """At the very tolerance that n sights meet."""
    sd, fixed = 0.002, 0.001**2

    def half(k: int) -> float:
        return HALF_95 * math.sqrt(2 * sd**2 / k + fixed)

    assert repeats_needed(half(n), sd, 2.0, fixed) == n
    assert repeats_needed(half(n) * 0.999, sd, 2.0, fixed) == (n + 1 if n < MOST_REPEATS else None)


def test_a_loose_benchmark_no_instrument_can_mend():
    found = told(Accuracy(), at=points(sd_benchmark_m=0.004))["tops"]
    assert found.repeats is None
    assert found.instrument_m == 0.0
    assert found.shown_m == pytest.approx(HALF_95 * math.sqrt(2 * 0.0015**2 + 0.004**2))


def test_long_sights_and_tapes_grow():
    far = told(Accuracy(rod_per_m=1e-4, tape_per_m=1e-3), sight_length_m=20.0)
    assert far["row"].shown_m == pytest.approx(HALF_95 * math.sqrt(2 * (0.0015**2 + 0.002**2)))
    assert far["diagonals"].shown_m == pytest.approx(HALF_95 * math.sqrt(2 * (0.003**2 + 0.01**2)))


def test_the_pins_least_sure_of_each_other_and_the_tapes_that_would_do():
    """4.24 mm along their line, asked 3.24 mm: n tapes of 3 mm, n > 9·(1/10.5 − 1/18) = 0.36."""
    found = told(Accuracy(), at=points(sd_plan_m=0.003), diagonal_m=None)
    assert set(found) == {"pins"}
    assert found["pins"].between == ("P1", "P2")
    assert found["pins"].shown_m == pytest.approx(HALF_95 * math.sqrt(2) * 0.003)
    assert found["pins"].repeats == 1
    left = 1 / (1 / (2 * 0.003**2) + 1 / 0.003**2)
    assert HALF_95 * math.sqrt(left) < found["pins"].tolerance_m < found["pins"].shown_m


def test_the_instrument_that_cannot_is_named():
    """2026-11-28: "NOT PROVED" said of what, not by what: a line level read as the laser's figure."""
    rise = RiseRow(table="rises.csv", row=2, start="BM1", to="P1", rise_m=0.1)
    book = FieldBook(
        job=Job(
            site=Site(units="ft", show="feet-inches"),
            control=Control(),
            instruments=Instruments(rise="line level"),
        ),
        rises=(rise,),
    )
    claim = Claim(
        what="tops", tolerance_m=0.00635, made_m=None, shown_m=0.0175, repeats=8, instrument_m=0.002
    )
    text = " ".join(" ".join(proof_lines([claim], Notation(style="feet-inches"), book)).split())
    assert 'within 1/4": NOT PROVED, your line level cannot; one rise to each top shows ±0.69 in' in text
    assert "8 times and take the mean" in text
