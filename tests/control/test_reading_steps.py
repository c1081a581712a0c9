"""The step to which rods and tapes were written, and what rounding adds to a reading's error."""

import math
import random
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from staking.book.folder import read_book
from staking.control.reading_steps import rounded, step_of
from staking.plan import surveyed

SAMPLES = Path(__file__).parents[2] / "sample_surveys"
FOOT, INCH = 0.3048, 0.0254


@pytest.mark.parametrize(
    ("step", "unit_m", "part"),
    [
        ("0.01 ft", FOOT, 0.01),
        ("0.05 ft", FOOT, 0.05),
        ("1/8 in", INCH, 0.125),
        ("1/16 in", INCH, 0.0625),
        ("5 mm", 0.001, 5),
        ("1 mm", 0.001, 1),
    ],
)
def test_the_step_of_invented_readings_is_found(step, unit_m, part):
    draw = random.Random(4)
    values = [round(draw.uniform(0.2, 3.9) / (unit_m * part)) * part * unit_m for _ in range(30)]
    assert step_of(values)[0] == step
    # One reading to half the step is a finer step; some few tell none.
    assert step_of([*values, values[0] + unit_m * part / 2]) != step_of(values)
    assert step_of(values[:5]) is None


def test_readings_of_no_step_have_none():
    draw = random.Random(5)
    assert step_of([draw.uniform(0.2, 3.9) for _ in range(30)]) is None


def test_rounding_is_the_uniform_law_s():
    """Standard deviation of 20,000 numbers rounded: the spread of the rounding itself (invented)."""
    draw = random.Random(6)
    off = [v - round(v / 0.003048) * 0.003048 for v in (draw.uniform(0.2, 3.9) for _ in range(20_000))]
    spread = math.sqrt(sum(x * x for x in off) / len(off))
    book = read_book(SAMPLES / "planted_blunder")
    fine = replace(book, job=replace(book.job, accuracy=replace(book.job.accuracy, rod_m=0.0005)))
    [found] = rounded(fine)
    assert (found.step, found.more_than_taken) == ("0.01 ft", True)
    assert found.rounding_m == pytest.approx(spread, rel=0.02)
    assert 'write rod = "1.0 mm"' in found.words("metric")


def test_a_step_that_is_much_of_the_accuracy_is_told_and_one_that_is_little_is_not():
    """2026-11-28: rods of 1.5 mm read to 1/8 in held in 89 to 92 of 100 intervals, and nothing was said."""
    lines = surveyed(read_book(SAMPLES / "cross_fall", purpose="check")).adjustment.instruments
    assert any("levels.csv is read to 1/8 in" in line and 'rod = "0.07 in"' in line for line in lines)
    lines = surveyed(read_book(SAMPLES / "planted_blunder", purpose="check")).adjustment.instruments
    assert not any("is read to" in line for line in lines)


@pytest.mark.parametrize(("decimals", "sd_h", "told"), [(4, "0.03 m", 1), (7, "0.03 m", 0), (4, "8 m", 0)])
def test_fixes_with_fewer_decimals_than_their_accuracy_are_told(tmp_path, decimals, sd_h, told):
    # 2026-11-28: degrees to four decimals (11 m) counted as good to 30 mm without a word.
    shutil.copytree(SAMPLES / "tied_meadow", tmp_path / "yard")
    file = tmp_path / "yard" / "fixes.csv"
    rows = [line.split(",") for line in file.read_text().splitlines()]
    for row in rows[1:]:
        row[1:3] = [f"{float(angle):.{decimals}f}" for angle in row[1:3]]
        row[5] = sd_h
    file.write_text("\n".join(",".join(row) for row in rows))
    warnings = surveyed(read_book(tmp_path / "yard", purpose="check")).warnings
    said = [text for text in warnings if text.startswith("fixes.csv is written to")]
    assert len(said) == told
    # A ten-thousandth of a degree along a meridian of 6371 km radius is 11.1 m or 36.5 ft, by hand.
    assert all("36.48 ft" in text and "10.53 ft" in text for text in said)
