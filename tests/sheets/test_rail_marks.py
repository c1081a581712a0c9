"""Rail marks: each leads from its post to one place in space, the outer ones as far apart as printed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from staking.base.units import parse_length
from staking.book.folder import read_book
from staking.plan import planned
from staking.sheets.notation import Notation
from staking.sheets.rail_table import rail_square, rail_tables

SAMPLES = Path(__file__).parents[2] / "sample_surveys"
BARE = {"feet-inches": "ft", "decimal feet": "ft", "metric": "mm"}


@pytest.mark.parametrize("name", ["cross_fall", "planted_blunder", "hand_check"])
def test_rails_from_both_end_posts_and_the_diagonals_in_space(name):
    plan = planned(read_book(SAMPLES / name))
    array, style = plan.arrays[0], plan.book.job.site.show
    notation = Notation(style=style)
    half_m = notation.step_m / 2.0 + 1e-9

    def read(text):
        value, _, side = text.rpartition(" ") if text.endswith(("left", "right")) else (text, "", "right")
        return parse_length(value, unit=BARE[style]) * (-1.0 if side == "left" else 1.0)

    at = {}
    (table,) = rail_tables(array, notation=notation)
    for b, beam in enumerate(array.fit.beams):
        # The ends of the beam in space come from the layout, not from distances along it.
        start, end = np.array(beam.left_end_enz_m), np.array(beam.right_end_enz_m)
        along = (end - start) / np.linalg.norm(end - start)
        for row in table.rows:
            from_end, from_first, from_last = (read(text) for text in row[1 + 3 * b : 4 + 3 * b])
            assert beam.posts_m[0] + from_first == pytest.approx(from_end, abs=2 * half_m)
            assert beam.posts_m[-1] + from_last == pytest.approx(from_end, abs=2 * half_m)
            at[beam.letter, int(row[0])] = start + from_end * along
    low, high, last = array.fit.beams[0].letter, array.fit.beams[-1].letter, array.fit.rails
    corners = [(low, 1), (low, last), (high, 1), (high, last)]
    pairs = [((0, 1), (2, 3)), ((0, 2), (1, 3)), ((0, 3), (1, 2))]
    printed = [read(row[1]) for row in rail_square(array, notation=notation).rows]
    for both, length in zip(pairs, printed, strict=True):
        for i, j in both:
            apart = np.linalg.norm(at[corners[i]] - at[corners[j]])
            # Both marks and the length are rounded to what is printed.
            assert apart == pytest.approx(length, abs=3 * half_m), (corners[i], corners[j])
