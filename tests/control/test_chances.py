"""Chances told are true, and only real evidence parts readings that nothing tells apart.

Full figures over 2000 books: ``python -m benchmarks.chances``.
"""

import math

import numpy as np
import pytest
from scipy.stats import norm

from benchmarks.blunders import booked, circuit, read
from benchmarks.chances import AS_STATED, MIX, ONE, told
from staking.base.units import parse_length
from staking.control.adjusting import adjusted
from staking.control.repairs import reading_repairs
from staking.control.weighing import LARGEST_BY_CHANCE, large_w

BOOKS = 80
ERRORS = 3.3
"""Standard errors by which a share may differ from what was told: once in a thousand seeds."""


def repairs_of(text, unit):
    value_m = parse_length(text, unit=unit)
    found = {}
    for one in reading_repairs(value_m, text, kind="rod", column="fs", unit=unit):
        # The other unit is taken one way only: a survey's own unit is not booked as the other's.
        if ("inches" not in one.why or "misread" in one.why) and "booked as" not in one.why:
            found[one.likely, one.why] = found.get((one.likely, one.why), 0.0) + one.share
    return found


@pytest.mark.parametrize(("unit", "top", "places"), [("ft", 12, 2), ("m", 4, 3)])
def test_a_slip_is_as_likely_forward_as_back(unit, top, places):
    """What was meant may have been taken for what was read, as often as the reverse (2026-11-25).

    A short reading seemed twice as likely to be one that should be a foot longer, and a reading with two like
    digits twice as likely to have come from one without.
    """
    rng = np.random.default_rng(5)
    looked_at = 0
    for _ in range(80):
        text = f"{rng.uniform(0.01, top):.{places}f}"
        for (likely, why), share in repairs_of(text, unit).items():
            back = repairs_of(likely, unit)
            # 12.34 for 2.34 has other pairs of digits than 02.34, which nobody writes.
            if len(likely) != len(text) or likely.startswith("0") or text.startswith("0"):
                continue
            looked_at += 1
            assert back[text, why] == pytest.approx(share), (text, likely, why)
    assert looked_at > 200


def tied(rng, wanted):
    """Return sights and texts of a book, and places of FS and BS of a turning point that are as wanted."""
    for _ in range(500):
        sights = circuit(rng)
        texts = read(sights, 0.007, rng)
        for k in range(1, len(sights)):
            if sights[k - 1].point == sights[k].point and wanted(float(texts[k - 1]), float(texts[k])):
                return sights, texts, k - 1, k
    pytest.fail("no such book")


def chances(sights, texts):
    book, where = booked(sights, texts, 0.007)
    by_place = {(s.row, s.column): s for s in adjusted(book).suspects}
    return [by_place.get(place) for place in where]


def test_a_short_reading_is_no_likelier_wrong_than_its_twin():
    """BS 1.3 read 0.3: as good a foot too long in the FS."""
    sights, texts, fs, bs = tied(np.random.default_rng(1), lambda fs, bs: 1.1 < bs < 1.9 and 1.1 < fs < 3)
    texts[bs] = f"{float(texts[bs]) - 1:.2f}"
    suspects = chances(sights, texts)
    assert suspects[bs].chance == pytest.approx(suspects[fs].chance, abs=0.03)
    assert suspects[bs].chance + suspects[fs].chance == pytest.approx(1.0, abs=0.01)


def test_no_rod_reads_below_its_foot():
    """BS 1.4 ft too short, or FS of 1.2 ft 1.4 ft too long: the second cannot be."""
    sights, texts, fs, bs = tied(np.random.default_rng(2), lambda fs, bs: fs < 1.7 and bs > fs + 0.5)
    texts[bs] = f"{float(texts[bs]) - float(texts[fs]) - 0.24:.2f}"
    suspects = chances(sights, texts)
    assert suspects[bs].chance > 0.98
    assert suspects[fs] is None


@pytest.mark.parametrize("population", [ONE, AS_STATED])
def test_chances_are_true(population):
    rows = list(told(population, BOOKS, 4, MIX))
    for low, high in ((0.0, 0.4), (0.4, 0.6), (0.6, 0.97), (0.97, 1.01)):
        inside = [row for row in rows if low <= row.chance < high]
        if population == ONE and high <= 0.4:
            # Each of these books has a blunder, which the chances do not know: low ones are too modest.
            continue
        misses = math.fsum(row.wrong - row.chance for row in inside)
        # Of two tied readings one is right: their misses are not independent but opposed, if anything.
        variance = math.fsum(row.chance * (1 - row.chance) for row in inside)
        assert abs(misses) <= ERRORS * math.sqrt(variance) + 1.0, (low, high, misses, len(inside))
    # The chance of the repair, over all that is told with more than an even chance.
    inside = [row for row in rows if row.repair_chance >= 0.6]
    misses = math.fsum(row.right - row.repair_chance for row in inside)
    variance = math.fsum(row.repair_chance * (1 - row.repair_chance) for row in inside)
    assert abs(misses) <= ERRORS * math.sqrt(variance) + 1.0, (misses, len(inside))
    assert all(row.repair_chance <= row.chance + 1e-9 for row in rows)
    sure = [row for row in rows if row.chance > 0.97]
    assert len(sure) > (BOOKS / 4 if population == ONE else 3)


def clean_books(setups, books, sd_ft=0.007):
    """Return what is suspected of clean circuits with three pins, readings as good as stated."""
    for k in range(books):
        rng = np.random.default_rng(k)
        sights = circuit(rng, setups=setups, pins=3, shots=2)
        texts = [f"{sight.true_ft + rng.normal(0, sd_ft):.4f}" for sight in sights]
        yield adjusted(booked(sights, texts, sd_ft)[0]).suspects


@pytest.mark.parametrize(("setups", "books"), [(30, 20), (150, 4)])
def test_a_long_clean_book_accuses_as_seldom_as_a_short_one(setups, books):
    """2026-11-25: |w| above 3.29 is bound to happen in a long book; 13 % of 150 checked readings and 65 % of
    750 named up to a hundred readings with chances of a few percent each.

    At most 1 % of clean books of any size are stated to name somebody: more than two of so few here has a
    chance of less than one in a hundred.
    """
    assert sum(bool(suspects) for suspects in clean_books(setups, books)) <= 2


def test_the_limit_of_the_largest_residual_has_no_jump():
    """As many clean surveys pass it at any size: 1 - (1 - p)^n by scipy's normal law."""
    for checked in (1, 5, 20, 200, 239, 241, 2_000, 20_000):
        passed = -math.expm1(checked * math.log1p(-2 * norm.sf(large_w(checked))))
        assert passed == pytest.approx(LARGEST_BY_CHANCE, rel=1e-6)
