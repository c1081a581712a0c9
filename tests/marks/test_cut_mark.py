"""Marking the cut: up, down, or by the rod."""

from __future__ import annotations

import pytest

from staking.base.units import format_length
from staking.marks.cut_mark import CutCase, cut_mark

CUT, TOP = 31.250, 31.275


def show(length_m):
    return format_length(length_m, style="metric")


@pytest.mark.parametrize(
    ("hi", "case", "amount"),
    [
        (31.000, CutCase.UP, 0.250),
        (31.2499, CutCase.UP, 0.0001),
        (31.250, CutCase.DOWN, 0.0),
        (31.260, CutCase.DOWN, 0.010),
        (31.275, CutCase.DOWN, 0.025),
        (31.2751, CutCase.ROD, 0.0251),
        (32.600, CutCase.ROD, 1.350),
    ],
)
def test_three_cases_and_their_borders(hi, case, amount):
    mark = cut_mark(cut_m=CUT, hi_m=hi, uncut_top_m=TOP)
    assert mark.case is case
    assert mark.amount_m == pytest.approx(amount, abs=1e-12)


@pytest.mark.parametrize("hi", [30.0, 31.25, 31.26, 31.3, 33.0])
def test_doing_what_the_words_say_ends_at_the_cut(hi):
    mark = cut_mark(cut_m=CUT, hi_m=hi, uncut_top_m=TOP)
    ends_at = hi + mark.amount_m if mark.case is CutCase.UP else hi - mark.amount_m
    assert ends_at == pytest.approx(CUT)
    assert mark.amount_m >= 0.0


def test_words():
    def words(hi):
        return cut_mark(cut_m=CUT, hi_m=hi, uncut_top_m=TOP).sentence(show)

    assert words(31.0) == "Mark the line on the post, measure UP 250"
    assert words(31.26) == "Mark the line on the post, measure DOWN 10"
    assert words(31.25) == "Mark the line on the post: it is the cut"
    assert "rod reads 1350" in words(32.6)
    assert "No line on the post" in words(32.6)


def test_a_post_without_allowance_has_its_end_as_the_cut():
    assert cut_mark(cut_m=CUT, hi_m=CUT, uncut_top_m=CUT).case is CutCase.DOWN
    assert cut_mark(cut_m=CUT, hi_m=CUT + 0.01, uncut_top_m=CUT).case is CutCase.ROD


def test_a_post_that_is_too_short_is_refused():
    with pytest.raises(ValueError, match="too short"):
        cut_mark(cut_m=CUT, hi_m=31.0, uncut_top_m=CUT - 0.001)
