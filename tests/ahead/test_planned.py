"""What planned readings will prove is what they prove once taken."""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.append(str(Path(__file__).parents[1] / "control"))
from invented_yards import Yard, invented

from staking.ahead.planned import filled_in, planned_survey, smallest_blunder
from staking.base.errors import WrongInput
from staking.book.folder import read_book
from staking.book.records import FieldBook, SketchRow
from staking.book.tables import TABLES
from staking.control.adjusting import worked

SAMPLES = Path(__file__).parents[2] / "sample_surveys"
PIERS = frozenset(f"{beam}{number}" for beam in "AB" for number in range(1, 9))
SAME_M = 1e-9


def unread(book: FieldBook) -> FieldBook:
    """The book with every reading yet to be taken."""
    tables = {}
    for table in TABLES:
        if table.planned:
            names = [table.column(name).attribute for name in table.planned]
            tables[table.attribute] = tuple(
                replace(row, **{n: math.nan for n in names if getattr(row, n) is not None})
                for row in getattr(book, table.attribute)
            )
    return replace(book, **tables)


def sketched(book: FieldBook, places: dict[str, tuple[float, float, float]]) -> FieldBook:
    rows = tuple(
        SketchRow(table="sketch.csv", row=k, point=name, east_m=e, north_m=n, elevation_m=z)
        for k, (name, (e, n, z)) in enumerate(places.items(), start=2)
    )
    return replace(book, sketch=rows)


def sds(adjustment) -> dict[str, np.ndarray]:
    return dict(zip(adjustment.points.names, adjustment.points.sd_m(), strict=True))


def same(one, other) -> None:
    assert one.keys() == other.keys()
    for name, sd in one.items():
        assert np.allclose(sd, other[name], rtol=0, atol=SAME_M, equal_nan=True), name


@pytest.mark.parametrize("seed", [1, 2])
def test_planned_sds_are_those_of_the_same_readings_without_error(seed):
    """Tapes, offsets, angles, bearings, two rounds of levelling; the readings by the yard's own sums."""
    yard: Yard = invented(seed, noisy=False)
    book = yard.book()
    read = worked(book).adjustment
    planned = planned_survey(sketched(unread(book), yard.truth))
    same(sds(planned.survey.adjustment), sds(read))
    for one, other in zip(planned.survey.adjustment.readings, read.readings, strict=True):
        assert one.redundancy_number == pytest.approx(other.redundancy_number, abs=1e-9)
    assert planned.planned == len(read.readings)
    assert planned.survey.adjustment.redundancy == read.redundancy


def test_a_sketch_may_lie_in_axes_of_its_own():
    yard = invented(3, noisy=False)
    book = yard.book()
    c, s = math.cos(0.7), math.sin(0.7)
    moved = {k: (e * c + n * s + 900, n * c - e * s - 40, z - 12) for k, (e, n, z) in yard.truth.items()}
    same(
        sds(planned_survey(sketched(unread(book), moved)).survey.adjustment),
        sds(worked(book).adjustment),
    )


def test_what_is_read_already_gives_the_places_and_stays_as_read():
    """The tapes between the pins are read; the sketch has the others, and the pins far off."""
    yard = invented(4, noisy=False, how="level")
    book = yard.book(side="left")
    planned = unread(book)
    planned = replace(planned, tapes=(*book.tapes[:6], *planned.tapes[6:]))
    rough = dict(yard.truth)
    rough["P3"] = (rough["P3"][0] + 1.0, rough["P3"][1] - 1.0, rough["P3"][2])
    done = planned_survey(sketched(planned, rough))
    same(sds(done.survey.adjustment), sds(worked(book).adjustment))
    assert done.book.tapes[:6] == book.tapes[:6]
    assert done.planned == len(done.survey.adjustment.readings) - 6


def test_a_book_without_planned_readings_stays_as_it_is():
    book = invented(1).book()
    assert filled_in(book) is book


def test_a_point_without_a_rough_place_is_told():
    yard = invented(1, noisy=False)
    with pytest.raises(WrongInput) as told:
        planned_survey(unread(yard.book()))
    (mistake,) = told.value.mistakes  # 2026-11-28: 26 lines of one wording for 24 shots and 2 pins
    assert set(str(mistake.read).split(", ")) >= {"P3", "G1"}
    assert mistake.file == "sketch.csv"


def test_a_blunder_of_the_smallest_size_moves_w_to_its_bound():
    """An error d leaves the residual −r d, so w = r d / (sd √r): 4.13 at the smallest detectable one."""
    yard = invented(5, noisy=False)
    book = yard.book()
    clean = worked(book).adjustment
    row = book.rises[0]
    reading = next(r for r in clean.readings if r.kind == "rise")
    size = smallest_blunder(reading)
    wrong = replace(book, rises=(replace(row, rise_m=row.rise_m + size),))
    moved = next(r for r in worked(wrong).adjustment.readings if r.kind == "rise")
    assert abs(moved.w) == pytest.approx(4.13, abs=1e-6)


def test_readings_that_nothing_will_check_are_named():
    yard = invented(6, noisy=False)
    planned = planned_survey(sketched(unread(yard.book()), yard.truth))
    found = {(r.table, r.row, r.column) for r in planned.unchecked}
    assert found
    assert all(smallest_blunder(r) is None for r in planned.unchecked)
    assert all(r.w is None for r in planned.unchecked)


def _marked(folder: Path, name: str) -> None:
    """Copy a sample with every reading marked, and its adjusted places as the sketch."""
    source = SAMPLES / name
    book = read_book(source, purpose="check")
    points = worked(
        book, pier_names=frozenset(f"{b}{n}" for b in "AB" for n in range(1, 9))
    ).adjustment.points
    folder.mkdir()
    for file in ("job.toml", "points.csv"):
        (folder / file).write_text((source / file).read_text(encoding="utf-8"), encoding="utf-8")
    lines = ["point,bs,is,fs"]
    for row in book.levels:
        cells = ["x" if value is not None else "" for value in (row.bs_m, row.is_m, row.fs_m)]
        lines.append(",".join([row.point, *cells]))
    (folder / "levels.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    lines = ["from,to,length,how", *(f"{t.start},{t.to},?,{t.how}" for t in book.tapes)]
    (folder / "tapes.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    lines = ["point,from,to,station,offset,how"]
    lines += [f"{o.point},{o.start},{o.to},,,{o.how}" for o in book.offsets]
    (folder / "offsets.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    lines = ["point,east,north,elevation"]
    for point, enz in zip(points.names, points.enz_m, strict=True):
        lines.append(",".join([point, *("" if math.isnan(v) else f"{v:.6f} m" for v in enz)]))
    (folder / "sketch.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


@pytest.mark.parametrize("name", ["hand_check", "cross_fall", "real_hillside"])
def test_a_folder_of_marks_and_blanks_is_read(name, tmp_path):
    """Against the sample as it was read: its readings have errors, so the places differ by millimetres."""
    _marked(tmp_path / "yard", name)
    book = read_book(tmp_path / "yard", purpose="planned")
    planned = sds(planned_survey(book, pier_names=PIERS).survey.adjustment)
    read = sds(worked(read_book(SAMPLES / name, purpose="check"), pier_names=PIERS).adjustment)
    assert planned.keys() == read.keys()
    for point, sd in planned.items():
        assert np.allclose(sd, read[point], rtol=1e-3, atol=1e-6, equal_nan=True), point


def test_a_mark_is_a_mistake_where_readings_are_to_be_there(tmp_path):
    _marked(tmp_path / "yard", "hand_check")
    # 2026-11-25: it said only that a mark is no length.
    with pytest.raises(WrongInput, match=r"not taken yet.*staking check --planned"):
        read_book(tmp_path / "yard", purpose="check")
