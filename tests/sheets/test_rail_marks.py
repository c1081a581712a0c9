"""Rail marks: each leads from its post to one place in space, the outer ones as far apart as printed."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from staking.base.units import parse_length
from staking.book.folder import read_book
from staking.plan import planned
from staking.sheets.beam_table import beam_sheet
from staking.sheets.notation import Notation
from staking.sheets.rail_table import rail_square, rail_tables

SAMPLES = Path(__file__).parents[2] / "sample_surveys"
BARE = {"feet-inches": "ft", "decimal feet": "ft", "metric": "mm"}


@cache
def plan_of(name):
    return planned(read_book(SAMPLES / name))


def test_what_the_array_really_is_follows_from_the_ends_of_its_beams_in_space():
    """Tilt and facing as they will be, what levels read, overhangs and drop: by plain vectors."""
    plan = plan_of("cross_fall")
    array, notation = plan.arrays[0], Notation(style=plan.book.job.site.show)
    low, high = array.fit.beams[0], array.fit.beams[-1]
    ends = {b.letter: np.array([b.left_end_enz_m, b.right_end_enz_m]) for b in array.fit.beams}
    along = np.subtract(*ends[low.letter][::-1]) / low.length_m
    on_low, on_high = (ends[b.letter][0] + b.rails_m[0] * along for b in (low, high))
    rail = (on_high - on_low) / np.linalg.norm(on_high - on_low)
    normal = np.cross(along, rail)
    tilt = np.degrees(np.arccos(normal[2]))
    facing = np.degrees(np.arctan2(normal[0], normal[1])) % 360
    wished = plan.book.job.arrays[0].array
    sheet = beam_sheet(plan, array, notation=notation)
    [table] = [b for b in sheet.blocks if getattr(b, "title", "").startswith("Lengths, past the end posts")]
    said = " ".join(table.notes)
    slope = np.degrees(np.arcsin([rail[2], abs(along[2])]))
    assert f"A level laid along a rail reads {slope[0]:.2f}°, along a beam {slope[1]:.2f}°." in said
    assert slope[1] > 0.5, "the sample's beams slope"
    assert f"Tilt wished {math.degrees(wished.tilt_rad):.2f}°, real {tilt:.2f}°" in said
    assert f"facing wished {math.degrees(wished.azimuth_rad):.2f}°, real {facing:.2f}°" in said
    # The skew: how much further to the left the rails meet the high beam in plan.
    level = along[:2] / np.hypot(*along[:2])
    skew = float((on_low - on_high)[:2] @ level)
    told = said.split("high beam ")[1].split(" further")[0]
    assert parse_length(told, unit="ft") == pytest.approx(abs(skew), abs=0.002)
    assert f"to the {'left' if skew > 0 else 'right'} than" in said
    posts = array.fit.piers
    for row, beam in zip(table.rows, array.fit.beams, strict=True):
        own = [posts.en_m[i] for i in np.flatnonzero(posts.beam == ord(beam.letter) - ord("A"))]
        reach = [np.hypot(*(own[k] - ends[beam.letter][k][:2])) / np.hypot(*along[:2]) for k in (0, -1)]
        read = [parse_length(text, unit="ft") for text in row[2:4]]
        assert read == pytest.approx(reach, abs=notation.step_m)
        drop = ends[beam.letter][1][2] - ends[beam.letter][0][2]
        assert row[4].startswith("higher by" if drop > 0 else "lower by")
        assert parse_length(row[4].split(" by ")[1], unit="in") == pytest.approx(abs(drop), abs=0.002)


@pytest.mark.parametrize("name", ["cross_fall", "planted_blunder", "hand_check"])
def test_rails_from_both_end_posts_and_the_diagonals_in_space(name):
    plan = plan_of(name)
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
