"""[instruments]: what a kind of instrument can do stands in for what nobody stated."""

import math
import re

import pytest

from staking.book.instruments import ABILITIES
from staking.book.jobreader import read_job
from staking.book.keys import INSTRUMENTS
from staking.book.records import Accuracy

SITE = '[site]\nunits = "ft"\n'
INCH = 0.0254


def read(text):
    return read_job((SITE + text).encode(), for_plan=False)


def test_a_kind_gives_its_accuracy_and_says_so():
    job = read('[instruments]\nrod = "Rotating laser"\ntape = "cloth-tape"\n').job
    assert job.accuracy.rod_m == pytest.approx(INCH / 16)
    assert job.accuracy.tape_m == pytest.approx(INCH / 4)
    assert job.accuracy.tape_per_m == pytest.approx(0.25 / 1200)
    assert job.accuracy.rise_m == Accuracy().rise_m
    kinds = [line.split(",")[0] for line in job.instrument_lines]
    assert kinds == ["rod: rotating laser", "tape: cloth tape"]


def test_accuracy_overrules():
    job = read('[accuracy]\nrod = "2 mm"\n[instruments]\nrod = "builder\'s level"\nrise = "line level"\n').job
    assert job.accuracy.rod_m == pytest.approx(0.002)
    assert job.accuracy.rise_m == pytest.approx(INCH / 4)
    assert "[accuracy] rod as stated" in job.instrument_lines[0]


def test_without_it_nothing_changes():
    job = read("").job
    assert job.accuracy == Accuracy()
    assert job.instrument_lines == ()


def test_an_unknown_kind_names_the_nearest():
    (mistake,) = read('[instruments]\nrod = "builders level"\n').mistakes
    assert (mistake.column, mistake.read) == ("instruments.rod", "builders level")
    assert "builder's level" in (mistake.remedy or "")


def test_every_declared_word_has_its_figures():
    for key in INSTRUMENTS.keys:
        for name in ABILITIES[key.name]:
            assert key.kind.read(name, "") == name
    assert {key.name for key in INSTRUMENTS.keys} == set(ABILITIES)


def test_the_steel_tape_is_half_the_handbook_s_tolerance():
    """NIST Handbook 44, section 5.52: 1/16 in to 30 ft, 1/8 to 55, 3/16 to 80, 1/4 to 100."""
    per_m = ABILITIES["tape"]["steel tape"].accuracy["tape_per_m"]
    for feet, sixteenths in ((30, 1), (55, 2), (80, 3), (100, 4)):
        assert 2 * per_m * feet * 0.3048 == pytest.approx(sixteenths * INCH / 16, abs=0.25 * INCH / 16)
    assert ABILITIES["bearing"]["compass"].accuracy["bearing_rad"] == pytest.approx(math.radians(1))


def test_receivers_have_their_own_kinds():
    phone = read('[instruments]\nfix = "phone"\n').job
    # Within 4.9 m 19 times in 20, taken as two standard deviations.
    assert phone.accuracy.session_m == pytest.approx(4.9 / 2)
    assert "never sets a stake" in phone.instrument_lines[0]
    rtk = read('[instruments]\nfix = "rtk receiver"\n').job.accuracy
    assert (rtk.fix_m, rtk.fix_height_m, rtk.session_m) == (0.02, 0.03, 0.02)
    stated = read('[accuracy]\nsession = "1 m"\n[instruments]\nfix = "RTK receiver"\n').job
    assert stated.accuracy.fix_m == Accuracy().fix_m
    assert "[accuracy] session as stated" in stated.instrument_lines[0]


def test_lengths_are_told_as_the_survey_shows_them():
    # 2026-11-28: a yard in metres or decimal feet was told its rod in inches.
    kinds = '[instruments]\nrod = "builder\'s level"\nrise = "line level"\ntape = "steel tape"\n'
    lines = {
        show: " ".join(read_job(f"[site]\n{site}\n{kinds}".encode(), for_plan=False).job.instrument_lines)
        for show, site in (
            ("metric", 'units = "m"'),
            ("decimal feet", 'units = "ft"\nshow = "decimal feet"'),
            ("feet-inches", 'units = "ft"'),
        )
    }
    # 1/8 in is 3.175 mm or 0.0104 ft, 100 ft are 30.5 m: by hand.
    assert "3.2 mm (± 6.4 mm at 30 m)" in lines["metric"]
    assert "0.0104 ft (± 0.0208 ft at 100 ft)" in lines["decimal feet"]
    assert "1/8 in (± 1/4 in at 100 ft)" in lines["feet-inches"]
    for show, units in (("metric", ("in", "ft")), ("decimal feet", ("in", "mm")), ("feet-inches", ("mm",))):
        assert not re.search(rf"\d (?:{'|'.join(units)})\b", lines[show]), show
