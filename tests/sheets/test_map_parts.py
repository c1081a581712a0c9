"""A crowded map: a key and its parts; every pier named once with its length, at the scale that is said."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from benchmarks.page_boxes import invented
from staking.book.folder import read_book
from staking.plan import planned
from staking.sheets.drawing import Circle, Line, Text
from staking.sheets.notation import Notation
from staking.sheets.pack import pack

SAMPLES = Path(__file__).parents[2] / "sample_surveys"


@pytest.mark.parametrize("seed", [0, 1])
def test_every_pier_of_a_crowded_map_has_its_name_and_length_on_one_part(seed, tmp_path):
    piers = invented(tmp_path, seed, most_piers=100)
    assert piers >= 16
    plan = planned(read_book(tmp_path))
    made = pack(plan)
    key, *parts = [sheet for sheet in made.sheets if sheet.name == "stakeout_map"]
    assert key.title == "Stake-out map: key to its parts"
    assert [sheet.title for sheet in parts] == [
        f"Stake-out map, part {k} of {len(parts)}" for k in range(1, len(parts) + 1)
    ]
    assert [name for name, _ in made.drawings] == [
        "map.svg",
        *(f"map_{k}.svg" for k in range(1, len(parts) + 1)),
    ]
    notation, array = Notation(style=plan.book.job.site.show), plan.arrays[0]
    texts = [
        item.text
        for sheet in parts
        for item in sheet.drawing.items
        if isinstance(item, Text) and item.layer == "pier names"
    ]
    for name, above in zip(array.fit.piers.names, array.fit.lengths.above_grade_m, strict=True):
        assert texts.count(name) == 1
        assert notation.length(float(above)) in texts
    numbers = [i.text for i in key.drawing.items if isinstance(i, Text) and i.layer == "parts"]
    assert sorted(numbers) == sorted(f"part {k}" for k in range(1, len(parts) + 1))
    for sheet in parts:
        assert sheet.drawing.scale < key.drawing.scale
        beams = [i for i in sheet.drawing.items if isinstance(i, Line) and i.layer == "beams"]
        for line in beams:
            # Nothing is drawn past the sheet's own window.
            assert all(13.0 <= x <= sheet.drawing.width_mm - 13.0 for x, _ in line.xy_mm)


def test_piers_stand_as_far_apart_on_a_part_as_its_scale_says(tmp_path):
    invented(tmp_path, 1, most_piers=60)
    plan = planned(read_book(tmp_path))
    part = [sheet for sheet in pack(plan).sheets if sheet.name == "stakeout_map"][1]
    at = [i.xy_mm for i in part.drawing.items if isinstance(i, Circle) and i.layer == "piers"]
    nearest = min(math.dist(a, b) for k, a in enumerate(at) for b in at[:k])
    en = plan.arrays[0].fit.piers.en_m
    least_m = min(math.dist(a, b) for k, a in enumerate(en) for b in en[:k])
    assert nearest * part.drawing.scale / 1000.0 == pytest.approx(least_m, abs=1e-4 * part.drawing.scale)


def test_a_crowded_small_array_has_one_sheet_at_a_larger_scale(tmp_path):
    piers = invented(tmp_path, 2, most_piers=6)
    assert piers <= 6
    made = pack(planned(read_book(tmp_path)))
    key, larger = [sheet for sheet in made.sheets if sheet.name == "stakeout_map"]
    assert larger.title == "Stake-out map, at a larger scale"
    assert larger.drawing.scale < key.drawing.scale


def test_a_map_with_room_for_all_names_is_one_sheet():
    made = pack(planned(read_book(SAMPLES / "cross_fall")))
    assert [sheet.title for sheet in made.sheets if sheet.name == "stakeout_map"] == ["Stake-out map"]
    assert [name for name, _ in made.drawings] == ["map.svg"]
