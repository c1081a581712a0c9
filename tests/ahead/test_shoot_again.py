"""What to shoot again, on small books whose gaps are plain to see."""

from __future__ import annotations

from dataclasses import replace

import pytest

from staking.ahead.shoot_again import shoot_again
from staking.book.records import Benchmark, Control, FieldBook, Job, LevelRow, PointRow, Site
from staking.control.adjusting import worked

Z = {"BM1": 100.0, "P1": 100.4, "P2": 99.7, "TP1": 101.0, "G1": 100.9, "A1": 100.2}


def book(*rows: tuple[str, str], hi: float = 102.0, off: dict[int, float] | None = None) -> FieldBook:
    """Rows of point and column, read without error but for `off`, by row."""
    levels = []
    for number, (point, column) in enumerate(rows, start=2):
        reading = hi - Z[point] + (off or {}).get(number, 0.0)
        read = {column: f"{reading:.3f}"}
        levels.append(
            LevelRow(table="levels.csv", row=number, point=point, read=read, **{f"{column}_m": reading})
        )
    pins = tuple(PointRow(table="points.csv", row=k, point=p, kind="pin") for k, p in ((2, "P1"), (3, "P2")))
    control = Control(benchmark=Benchmark(point="BM1", elevation_m=100.0))
    return FieldBook(job=Job(site=Site(units="m"), control=control), levels=tuple(levels), points=pins)


@pytest.fixture(autouse=True)
def _no_plan(monkeypatch):
    """Only heights are read here: pins need no place."""
    monkeypatch.setattr(
        "staking.control.adjusting.advised", lambda **_: type("A", (), {"mistakes": [], "warnings": []})()
    )


def last(rows: FieldBook, **more):
    return shoot_again(rows, worked(rows), **more)[-1]


def test_sights_that_nothing_repeats_come_pins_first_then_turning_points_then_piers():
    found = last(book(("BM1", "bs"), ("G1", "is"), ("A1", "is"), ("P1", "is"), ("TP1", "fs")), piers=("A1",))
    assert [(one.point, one.why) for one in found.again if one.point != "BM1"] == [
        ("P1", "mark"),
        ("TP1", "turning"),
        ("A1", "pier"),
        ("G1", "shot"),
    ]
    assert found.closed


def test_a_setup_without_a_foresight_is_to_close_on_its_backsight():
    found = last(book(("BM1", "bs"), ("G1", "is")))
    assert (found.closed, found.close_on) == (False, "BM1")
    assert last(book(("BM1", "bs"), ("G1", "is"), ("BM1", "fs"))).closed


def test_a_setup_on_one_known_point_asks_for_another():
    one = last(book(("BM1", "bs"), ("P1", "is"), ("G1", "fs")))
    assert one.checked_on == ("BM1",)
    assert len(one.sight_too) == 1
    two = last(book(("BM1", "bs"), ("P1", "is"), ("P2", "fs"), ("P2", "bs"), ("P1", "is"), ("G1", "fs")))
    assert set(two.checked_on) == {"P1", "P2"}
    assert two.sight_too == ()


def test_pins_known_from_elsewhere_are_asked_for_first():
    rows = book(("BM1", "bs"), ("P2", "is"), ("TP1", "fs"), ("TP1", "bs"), ("G1", "fs"))
    assert last(rows).checked_on == ("TP1",)
    assert last(rows).sight_too[0] in ("P2", "BM1")
    assert last(rows).sight_too[0] != "P1"


def test_a_reading_that_fits_badly_comes_first_with_its_w():
    """2.6 sd: worth a second look, and too little for anyone to be suspected."""
    rows = (
        ("BM1", "bs"),
        ("P1", "is"),
        ("P2", "is"),
        ("G1", "fs"),
        ("BM1", "bs"),
        ("P1", "is"),
        ("P2", "fs"),
    )
    odd = book(*rows, off={7: 0.0055})
    survey = worked(odd)
    assert survey.adjustment.suspects == ()
    found = shoot_again(odd, survey)[-1]
    assert found.again[0].why == "odd"
    assert abs(found.again[0].w) > 2.0
    clean = last(book(*rows))
    assert all(one.why not in ("odd", "doubted") for one in clean.again)


def test_a_suspect_comes_first_and_those_it_drags_are_not_named():
    rows = []
    for _ in range(3):
        rows += [("BM1", "bs"), ("P1", "is"), ("P2", "is"), ("TP1", "fs")]
    wrong = book(*rows, off={11: 1.0})
    survey = worked(wrong)
    assert survey.adjustment.suspects[0].row == 11
    found = shoot_again(wrong, survey)[-1]
    assert (found.again[0].point, found.again[0].why) == ("P1", "doubted")
    assert all(one.why != "odd" for one in found.again)


def test_every_setup_is_told_in_the_order_of_the_book():
    rows = book(("BM1", "bs"), ("TP1", "fs"), ("TP1", "bs"), ("G1", "is"))
    found = shoot_again(rows, worked(rows))
    assert [one.row for one in found] == [2, 4]
    assert [one.closed for one in found] == [True, False]
    assert shoot_again(replace(rows, levels=()), worked(replace(rows, levels=rows.levels[:2])))[0].row == 2
