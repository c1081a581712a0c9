"""Blunders planted in invented books are named, with honest chances; clean books are left in peace."""

import math
from dataclasses import replace

import numpy as np
import pytest
from invented_yards import Yard, invented

from staking.base.units import parse_length
from staking.book.records import (
    Accuracy,
    Azimuth,
    Benchmark,
    Control,
    FieldBook,
    Job,
    LevelRow,
    Origin,
    Site,
)
from staking.control.adjusting import adjusted

FOOT_M = 0.3048
ROD_SD_FT = 0.007
LEAST_BLUNDER_FT = 0.1
READ_TO_FT = 0.01


class LevelBook:
    """A circuit from BM1 and back over turning points; every setup may re-sight pins P1 and P2."""

    def __init__(self, seed, *, setups=4, pins=("P1", "P2"), shots=2):
        self.rng = np.random.default_rng(seed)
        z = {"BM1": 100.0}
        chain = ["BM1", *(f"TP{k}" for k in range(1, setups)), "BM1"]
        self.sights, shot = [], 0
        for k in range(setups):
            names = [chain[k], *pins]
            for _ in range(shots):
                shot += 1
                names.append(f"G{shot}")
            names.append(chain[k + 1])
            for name in names:
                z.setdefault(name, 100 + self.rng.uniform(-3, 3))
            hi = 104 + self.rng.uniform(-0.5, 0.8)
            for i, name in enumerate(names):
                column = "bs" if i == 0 else "fs" if i == len(names) - 1 else "is"
                self.sights.append((name, column, hi - z[name]))
        self.texts = [f"{true + self.rng.normal(0, ROD_SD_FT):.2f}" for *_, true in self.sights]
        self.checked = [k for k, (name, *_) in enumerate(self.sights) if not name.startswith("G")]

    def book(self, changes=None):
        texts = list(self.texts)
        for k, text in (changes or {}).items():
            texts[k] = text
        rows, self.where = [], []
        for (name, column, _), text in zip(self.sights, texts, strict=True):
            if column == "bs" and rows and rows[-1][0] == name:
                rows[-1][1][column] = text
            else:
                rows.append((name, {column: text}))
            self.where.append((len(rows) + 1, column))
        levels = tuple(
            LevelRow(
                table="levels.csv",
                row=k + 2,
                read=read,
                point=name,
                **{f"{c}_m": parse_length(t, unit="ft") for c, t in read.items()},
            )
            for k, (name, read) in enumerate(rows)
        )
        return FieldBook(
            job=Job(
                site=Site(units="ft"),
                control=Control(benchmark=Benchmark(point="BM1", elevation_m=100 * FOOT_M)),
                accuracy=Accuracy(rod_m=ROD_SD_FT * FOOT_M),
            ),
            levels=levels,
        )

    def planted(self):
        """Return one checked reading and a wrong text for it."""
        k = int(self.rng.choice(self.checked))
        text, value = self.texts[k], float(self.texts[k])
        kind = self.rng.choice(["foot", "tenth", "digits", "other"])
        sign = self.rng.choice([-1, 1])
        if kind == "foot":
            wrong = value + sign
        elif kind == "tenth":
            wrong = value + sign * LEAST_BLUNDER_FT
        elif kind == "other":
            wrong = value + sign * self.rng.uniform(LEAST_BLUNDER_FT, 3)
        else:
            swaps = [float(text[0] + "." + text[3] + text[2]), float(text[2] + "." + text[0] + text[3])]
            swaps = [s for s in swaps if abs(s - value) >= LEAST_BLUNDER_FT]
            wrong = swaps[0] if swaps else value + 0.3
        return k, f"{max(wrong, READ_TO_FT):.2f}"


def at_the_top(suspects):
    return [s for s in suspects if s.chance == pytest.approx(suspects[0].chance, rel=1e-6)]


def test_planted_blunders_are_named_and_repaired():
    """Every setup re-sights two pins; blunders of 0.1 ft or more at an sd of 0.007 ft.

    A turning point is read by two setups only, so its FS and BS stand in the same equation: one of the two
    is named, parted only by what slips people make.
    """
    found = first = alone = repaired = told_alone = 0
    count = 60
    for seed in range(count):
        circuit = LevelBook(seed)
        k, wrong = circuit.planted()
        suspects = adjusted(circuit.book({k: wrong})).suspects
        pin = circuit.sights[k][0] in ("P1", "P2")
        mine = [s for s in suspects[: 1 if pin else 2] if (s.row, s.column) == circuit.where[k]]
        found += bool(mine)
        first += (suspects[0].row, suspects[0].column) == circuit.where[k]
        repaired += bool(mine) and abs(float(mine[0].likely) - float(circuit.texts[k])) <= 2 * READ_TO_FT
        if suspects[0].chance > 0.95:
            told_alone += 1
            alone += (suspects[0].row, suspects[0].column) == circuit.where[k]
    assert found == count
    assert first / count > 0.75
    assert repaired / count > 0.85
    assert told_alone > count / 3
    assert alone == told_alone


def test_clean_books_are_left_in_peace():
    """The tests fail for some clean books in a hundred; a single large residual among many is not enough."""
    accused = sum(bool(adjusted(LevelBook(seed).book()).suspects) for seed in range(80))
    assert accused <= 1


def test_one_loop_alone_names_nobody():
    circuit = LevelBook(3, pins=(), shots=0)
    for wrong in ("foot", "digits"):
        text = circuit.texts[3]
        changed = f"{float(text) + 1:.2f}" if wrong == "foot" else text[0] + "." + text[3] + text[2]
        got = adjusted(circuit.book({3: changed}))
        assert not got.misclosures[0].passes
        assert len(got.suspects) == 8
        chances = [s.chance for s in got.suspects]
        assert chances == pytest.approx([chances[0]] * 8)
        assert sum(chances) <= 1.0 + 8 * 0.06
        assert chances[0] < 0.2


def test_a_foot_is_put_right_in_the_notation_of_the_reading():
    circuit = LevelBook(5)
    k = next(i for i in circuit.checked if circuit.sights[i][1] == "is")
    good = circuit.texts[k]
    (best, *others) = adjusted(circuit.book({k: f"{float(good) + 1:.2f}"})).suspects
    assert (best.table, best.row, best.column) == ("levels.csv", *circuit.where[k])
    assert (best.read, best.likely) == (f"{float(good) + 1:.2f}", good)
    assert "one foot" in best.why
    assert best.chance > 0.95
    assert sum(s.chance for s in others) < 0.05


def test_feet_and_inches_stay_feet_and_inches():
    circuit = LevelBook(5)
    k = next(i for i in circuit.checked if circuit.sights[i][1] == "is")
    feet, inches = divmod(round(float(circuit.texts[k]) * 12 * 4) / 4 + 1, 12)
    best = adjusted(circuit.book({k: f"{feet:.0f}' {inches:.2f}\""})).suspects[0]
    assert best.likely == f"{feet:.0f}' {inches - 1:.2f}\""
    assert "one inch" in best.why


def test_bs_and_fs_exchanged_in_a_setup():
    circuit = LevelBook(8)
    a = next(i for i, (name, column, _) in enumerate(circuit.sights) if (name, column) == ("TP1", "bs"))
    b = next(i for i, (name, column, _) in enumerate(circuit.sights) if (name, column) == ("TP2", "fs"))
    got = adjusted(circuit.book({a: circuit.texts[b], b: circuit.texts[a]}))
    told = {(s.row, s.column): s for s in got.suspects}
    for k in (a, b):
        suspect = told[circuit.where[k]]
        assert suspect.likely == circuit.texts[k]
        assert "exchanged" in suspect.why


# 2026-11-25: mending the one cell that was named left half of the error.
def test_bs_and_fs_exchanged_in_a_row_names_both_cells():
    circuit = LevelBook(8)
    fs, bs = (
        next(i for i, (name, column, _) in enumerate(circuit.sights) if (name, column) == ("TP1", which))
        for which in ("fs", "bs")
    )
    got = adjusted(circuit.book({fs: circuit.texts[bs], bs: circuit.texts[fs]}))
    told = {(s.row, s.column): s for s in got.suspects}
    for one, other in ((fs, bs), (bs, fs)):
        suspect = told[circuit.where[one]]
        assert suspect.likely == circuit.texts[one]
        assert f"with it: likely {circuit.texts[other]}" in suspect.why
        assert suspect.same_as == ()


def test_two_blunders_are_both_found():
    circuit = LevelBook(12, setups=5)
    pins = [k for k in circuit.checked if circuit.sights[k][1] == "is"]
    one, two = pins[0], pins[5]
    changes = {k: f"{float(circuit.texts[k]) + by:.2f}" for k, by in ((one, 1.0), (two, -0.5))}
    got = adjusted(circuit.book(changes))
    assert {(s.row, s.column) for s in got.suspects[:2]} == {circuit.where[one], circuit.where[two]}


def test_accuracies_stated_too_small_accuse_nobody():
    """All errors four times as large as stated: the test fails, yet no reading stands out."""
    accused = 0
    for seed in range(20):
        circuit = LevelBook(seed)
        book = circuit.book()
        small = replace(book, job=replace(book.job, accuracy=Accuracy(rod_m=ROD_SD_FT * FOOT_M / 4)))
        got = adjusted(small)
        assert got.passes is False
        accused += bool(got.suspects)
    assert accused <= 2


def pin_yard(seed=2):
    yard = invented(seed, ground_points=4)
    yard.tape("G1", "P3")
    yard.angle("P2", "P3", "P1")
    return yard


def test_a_rise_with_its_sign_lost():
    book = pin_yard().book()
    (rise,) = book.rises
    wrong = replace(rise, rise_m=-rise.rise_m, read={"rise": f"{-rise.rise_m:.3f}"})
    best = adjusted(replace(book, rises=(wrong,))).suspects[0]
    assert (best.table, best.row) == ("rises.csv", rise.row)
    assert best.likely == f"{rise.rise_m:.3f}"
    assert "sign" in best.why


def test_a_tape_misread_by_a_metre():
    book = pin_yard().book()
    tape = next(t for t in book.tapes if {t.start, t.to} == {"P1", "P3"})
    wrong = replace(tape, length_m=tape.length_m + 1, read={"length": f"{tape.length_m + 1:.3f}"})
    got = adjusted(replace(book, tapes=tuple(wrong if t is tape else t for t in book.tapes)))
    mine = next(s for s in at_the_top(got.suspects) if (s.table, s.row) == ("tapes.csv", tape.row))
    assert mine.likely == f"{tape.length_m:.3f}"
    assert got.passes is False


def test_a_slope_tape_booked_as_level():
    steep = {"P1": (0, 0, 0), "P2": (20, 0, 0.5), "P3": (20, 12, 5.0), "P4": (0, 12, 4.5), "BM1": (0, 0, 0)}
    yard = Yard(truth=steep, rng=np.random.default_rng(4))
    for a, b in (("P1", "P2"), ("P2", "P3"), ("P3", "P4"), ("P4", "P1"), ("P1", "P3"), ("P2", "P4")):
        yard.tape(a, b)
    yard.angle("P1", "P4", "P2")
    yard.angle("P2", "P1", "P3")
    yard.setup("BM1", ["P1", "P2", "P3"], "P4")
    yard.setup("P4", ["P1", "P2", "P3"], "BM1")
    book = yard.book(side="left")
    assert adjusted(book).suspects == ()
    tape = book.tapes[1]
    slant = float(np.hypot(tape.length_m, 4.5))
    wrong = replace(tape, length_m=slant, read={"length": f"{slant:.3f}"})
    best = adjusted(replace(book, tapes=tuple(wrong if t is tape else t for t in book.tapes))).suspects[0]
    assert (best.table, best.row, best.column) == ("tapes.csv", tape.row, "how")
    assert (best.read, best.likely) == ("level", "slope")


def test_nothing_to_check_suspects_nobody():
    circuit = LevelBook(1, pins=(), shots=3)
    book = circuit.book()
    opened = replace(book, levels=book.levels[:5])
    got = adjusted(opened)
    assert got.suspects == ()
    assert got.passes is None
    assert got.sighted_once == len(got.readings)


def slipped(slip):
    """A yard whose diagonal P1-P3 was booked with its point one place off; the tape and its true length."""
    yard = invented(1, ground_points=6)
    tape = next(t for t in yard.tapes if {t.start, t.to} == {"P1", "P3"})
    k = yard.tapes.index(tape)
    length = round(tape.length_m, 2)
    yard.tapes[k] = replace(tape, length_m=length * slip, read={"length": f"{length * slip:.3f}"})
    return adjusted(yard.book()), tape, length


@pytest.mark.parametrize("slip", [10.0, 0.1])
def test_a_slipped_point_in_a_tape_is_named_and_the_survey_still_adjusted(slip):
    """2026-11-25: such a book was refused, for the adjustment did not settle."""
    got, tape, _ = slipped(slip)
    assert got.passes is False
    assert ("tapes.csv", tape.row) in {(s.table, s.row) for s in at_the_top(got.suspects)}


@pytest.mark.parametrize("slip", [10.0, 0.1])
def test_a_slipped_point_in_a_tape_is_put_right(slip):
    got, tape, length = slipped(slip)
    mine = next(s for s in got.suspects if (s.table, s.row) == ("tapes.csv", tape.row))
    assert float(mine.likely) == pytest.approx(length, abs=0.05)


@pytest.mark.parametrize("never_shot", [True, False])
def test_a_sight_of_a_point_booked_under_its_neighbour_s_name(never_shot):
    """2026-11-25: G23 booked as G24, which the set-up then sighted twice, was "wrong by some other amount".

    Where G23 was shot from another set-up nothing is said of it.
    """
    yard = Yard(truth={"BM1": (0.0, 0.0, 30.0), "P1": (0.0, 0.0, 30.3), "P2": (20.0, 0.0, 30.1)})
    yard.truth |= {f"G2{k}": (3.0 * k, 5.0, 30.0 + 0.07 * k) for k in range(1, 6)}
    names = ["BM1", "P1", "P2", "G21", "G22", "G23", "G24", "G25"]
    rows = [level(yard, k, name, 31.5, "bs" if k == 0 else "is") for k, name in enumerate(names)]
    rows[5] = replace(rows[5], point="G24")
    rows.append(level(yard, 8, "BM1", 31.5, "fs"))
    if not never_shot:
        rows += [level(yard, 9, "BM1", 31.8, "bs"), level(yard, 10, "G23", 31.8, "fs")]
    yard.levels = rows
    yard.tape("P1", "P2")
    for k in range(1, 6):
        yard.offset(f"G2{k}", "P1", "P2")
    got = adjusted(
        yard.book(
            control=Control(
                origin=Origin(point="P1", east_m=0.0, north_m=0.0),
                azimuth=Azimuth(start="P1", to="P2", azimuth_rad=math.pi / 2, north="true"),
                benchmark=Benchmark(point="BM1", elevation_m=30.0),
            )
        )
    )
    told = {(s.row, s.column, s.likely): s.chance for s in got.suspects}
    if never_shot:
        assert told[7, "point", "G23"] == pytest.approx(0.5, abs=0.05)
        assert told[8, "point", "G23"] == pytest.approx(0.5, abs=0.05)
    else:
        assert got.suspects[0].row == 7
        assert not any("never shot" in s.why for s in got.suspects)


def level(yard, k, point, hi, column):
    """One row of the level book from one height of instrument."""
    rod = hi - yard.z(point)
    sights = {f"{column}_m": rod}
    return LevelRow(table="levels.csv", row=k + 2, read={column: f"{rod:.3f}"}, point=point, **sights)
