"""The concrete of each hole as printed adds up, and every file says the same."""

import json
from dataclasses import replace

import pytest
import synthetic_plan as synthetic

from staking.base.units import parse_length
from staking.results import results
from staking.sheets.pack import pack
from staking.sheets.terminal import plan_lines

FOOT3 = 0.3048**3


def planned(show, bag_m3, over_dig=0.1):
    plan = synthetic.full_plan(show=show)
    footing = replace(plan.book.job.footing, over_dig=over_dig, bag_yield_m3=bag_m3)
    array = plan.arrays[0]
    dug = tuple(
        replace(
            hole,
            hole_m3=0.0937 + 0.001 * k,
            over_dig_m3=0.00937,
            bags=None if bag_m3 is None else (0.0937 + 0.001 * k + 0.00937 - 0.0037) / bag_m3,
        )
        for k, hole in enumerate(array.holes)
    )
    book = replace(plan.book, job=replace(plan.book.job, footing=footing))
    return replace(plan, book=book, arrays=(replace(array, holes=dug),))


def table_of(plan):
    (sheet,) = [one for one in pack(plan).sheets if one.name == "form_holes"]
    return next(block for block in sheet.blocks if getattr(block, "title", "") == "Concrete")


@pytest.mark.parametrize("show", ["feet-inches", "decimal feet", "metric"])
def test_columns_add_up_as_printed(show):
    table = table_of(planned(show, 0.017))
    for k, column in enumerate(table.columns):
        if column.kind == "text" and column.name not in ("pier", "hole_depth"):
            assert float(table.totals[k]) == pytest.approx(sum(float(row[k]) for row in table.rows))
    names = [column.name for column in table.columns]
    hole, over, post, concrete = (names.index(name) for name in ("hole", "over_dig", "post", "concrete"))
    for row in table.rows:
        parts = float(row[hole]) + float(row[over]) - float(row[post])
        assert float(row[concrete]) == pytest.approx(parts, abs=0.016)


def test_volumes_are_in_the_units_of_the_pack():
    feet, metric = table_of(planned("feet-inches", 0.017)), table_of(planned("metric", 0.017))
    (k,) = [k for k, column in enumerate(feet.columns) if column.name == "concrete"]
    assert (feet.columns[k].unit, metric.columns[k].unit) == ("ft³", "m³")
    assert float(feet.rows[0][k]) == pytest.approx(0.09937 / FOOT3, abs=0.006)
    assert float(metric.rows[0][k]) == pytest.approx(0.09937, abs=0.0006)


def test_sheet_terminal_results_and_file_order_the_same():
    plan = planned("feet-inches", 0.6 * FOOT3)
    exact = sum(0.0937 + 0.001 * k + 0.00937 - 0.0037 for k in range(10))
    bags = exact / (0.6 * FOOT3)
    assert bags == pytest.approx(61.1, abs=0.06)
    words = "1.36 yd³, 62 bags of 0.6 ft³"
    assert exact / (27 * FOOT3) == pytest.approx(1.36, abs=0.0101)
    assert any(words in note for note in table_of(plan).notes)
    assert words in " ".join(" ".join(plan_lines(plan)).split())
    written = json.loads(json.dumps(results(replace(plan, ground=None))))
    assert written["concrete"]["bags"] == 62
    assert written["concrete"]["volume"] == pytest.approx(exact)
    assert sum(pier["concrete"] for pier in written["piers"]) == pytest.approx(exact)
    assert sum(pier["bags"] for pier in written["piers"]) == pytest.approx(bags)
    (file,) = [one.table for one in pack(plan).data if one.name == "piers.csv"]
    heads = [f"{column.name}_{column.unit}".rstrip("_") for column in file.columns]
    assert sum(float(row[heads.index("concrete_ft3")]) for row in file.rows) == pytest.approx(
        exact / FOOT3, abs=1e-3
    )
    assert sum(float(row[heads.index("bags")]) for row in file.rows) == pytest.approx(bags, abs=0.05)


def test_without_a_yield_no_bags_are_spoken_of():
    plan = planned("metric", None, over_dig=0.0)
    table = table_of(plan)
    assert "bags" not in [column.name for column in table.columns]
    assert "bag" not in " ".join(table.notes)
    assert "nothing added" in table.notes[0]
    written = results(replace(plan, ground=None))
    assert written["concrete"]["bags"] is None
    assert written["piers"][0]["bags"] is None


def test_hole_depths_stand_beside_the_volumes():
    plan = planned("feet-inches", None)
    for row, hole in zip(table_of(plan).rows, plan.arrays[0].holes, strict=True):
        assert parse_length(row[1], unit="ft") == pytest.approx(hole.hole_depth_m, abs=0.0009)
