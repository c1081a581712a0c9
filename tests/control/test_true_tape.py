"""Rows of tapes.csv with what was noted of the tape, from file to adjusted length."""

import math

import pytest

from staking.base.errors import WrongInput
from staking.book.folder import read_book
from staking.control.adjusting import adjusted
from staking.control.directions import Norths
from staking.control.observing import observed_book

JOB = """\
[site]
units = "ft"
tape_how = "level"
[control]
origin = { point = "P1", east = 0, north = 0 }
azimuth = { from = "P1", to = "P2", degrees = 90, north = "true" }
benchmark = { point = "P1", elevation = 100 }
"""
TAPE = """
[tape]
nominal = "100 ft"
true = "100.02 ft"
pull = "10 lb"
weight = "2.8 lb"
"""
FT = 0.3048


def book_of(folder, tapes, job=JOB, header="from,to,length,how"):
    (folder / "job.toml").write_text(job, encoding="utf-8")
    (folder / "tapes.csv").write_text(f"{header}\n{tapes}\n", encoding="utf-8")
    return read_book(folder, purpose="check")


def tape_of(folder, tapes, job=JOB, header="from,to,length,how"):
    """The one tape's equation and its source."""
    book = book_of(folder, tapes, job, header)
    observed = observed_book(book, Norths(book=book))
    if observed.mistakes:
        raise WrongInput(observed.mistakes)
    return observed.equations[0], observed.sources[0], observed


def test_without_columns_and_constants_a_tape_is_as_read(tmp_path):
    equation, source, _ = tape_of(tmp_path, "P1,P2,60.00,level")
    assert (equation.value, source.shift) == (pytest.approx(60 * FT, abs=1e-12), 0.0)


def test_temperature_length_and_sag_add_up(tmp_path):
    equation, source, _observed = tape_of(
        tmp_path,
        "P1,P2,60.00,level,88 F,12 lb,ends",
        JOB + TAPE,
        "from,to,length,how,temperature,pull,supports",
    )
    area_sq_in = 2.8 / (100 * 12 * 7850 * 2.20462262 * 0.0254**3)
    by_hand = 60 * 0.0002 + 6.45e-6 * 20 * 60 + 2 * 60 / (area_sq_in * 29e6) - 0.028**2 * 60**3 / (24 * 144)
    assert source.shift / FT == pytest.approx(by_hand, abs=2e-6)
    assert equation.value == pytest.approx((60 + by_hand) * FT, abs=1e-6)
    assert source.read == "60.00"


def test_bare_numbers_go_with_the_survey_s_units(tmp_path):
    header = "from,to,length,how,temperature,pull"
    feet = tape_of(tmp_path, "P1,P2,60,level,88,12", JOB + TAPE, header)[1].shift
    said = tape_of(tmp_path, "P1,P2,60,level,31.111111 C,53.3787 N", JOB + TAPE, header)[1].shift
    assert feet == pytest.approx(said, abs=1e-8)


def test_a_rise_of_the_tape_reduces_it_to_level(tmp_path):
    equation, _, _observed = tape_of(tmp_path, "P1,P2,50.00,,30.00", header="from,to,length,how,tape_rise")
    assert equation.kind.name == "LEVEL_TAPE"
    assert equation.value == pytest.approx(40 * FT, abs=1e-12)
    # 3 mm along the tape count 5/4, 3 mm of rise 3/4.
    assert equation.sd == pytest.approx(0.003 * math.hypot(1.25, 0.75), rel=1e-12)
    by_angle, _, _ = tape_of(
        tmp_path,
        f"P1,P2,50.00,slope,{math.degrees(math.asin(0.6))}",
        header="from,to,length,how,tape_slope",
    )
    assert by_angle.value == pytest.approx(40 * FT, abs=1e-9)
    # The angle of 0.25° moves the rise by 40 ft · 0.25°, which counts 30/40; the length counts 40/50.
    sd_m = math.hypot(0.8 * 0.003, 0.75 * 40 * FT * math.radians(0.25))
    assert by_angle.sd == pytest.approx(sd_m, rel=1e-9)


@pytest.mark.parametrize(
    ("row", "header", "column"),
    [
        ("P1,P2,50,level,3", "from,to,length,how,tape_rise", "tape_rise"),
        ("P1,P2,50,slope,60", "from,to,length,how,tape_rise", "tape_rise"),
        ("P1,P2,50,slope,3,4", "from,to,length,how,tape_rise,tape_slope", "tape_slope"),
        ("P1,P2,50,level,ends", "from,to,length,how,supports", "supports"),
        ("P1,P2,50,level,1 supports", "from,to,length,how,supports", "supports"),
        ("P1,P2,50,level,hot", "from,to,length,how,temperature", "temperature"),
        ("P1,P2,50,level,12 stone", "from,to,length,how,pull", "pull"),
    ],
)
def test_what_makes_no_sense_is_told_at_its_cell(tmp_path, row, header, column):
    with pytest.raises(WrongInput) as error:
        tape_of(tmp_path, row, header=header)
    assert [(m.file, m.row, m.column) for m in error.value.mistakes] == [("tapes.csv", 2, column)]


def test_a_second_reading_is_averaged_and_makes_nothing_more_exact(tmp_path):
    equation, source, observed = tape_of(
        tmp_path, "P1,P2,60.00,level,60.02", header="from,to,length,how,length2"
    )
    assert equation.value == pytest.approx(60.01 * FT, abs=1e-12)
    assert equation.sd == 0.003
    assert source.shift == pytest.approx(0.01 * FT, abs=1e-12)
    assert not observed.warnings
    _, _, observed = tape_of(tmp_path, "P1,P2,60.00,level,61.00", header="from,to,length,how,length2")
    assert "row 2" in observed.warnings[0]
    assert "1.000 ft" in observed.warnings[0]


def test_a_blunder_is_mended_in_what_was_typed(tmp_path):
    """A misread foot of a corrected tape: the repair is the typed number less one, not the corrected one."""
    rows = ["P1,P2,60.00,level,ends", "P1,P2,60.00,level,ends", "P1,P2,61.00,level,ends"]
    book = book_of(
        tmp_path,
        "\n".join(rows),
        JOB + TAPE.replace('"10 lb"', '"4 lb"'),
        "from,to,length,how,supports",
    )
    suspect = adjusted(book).suspects[0]
    assert (suspect.row, suspect.read, suspect.likely) == (4, "61.00", "60.00")
