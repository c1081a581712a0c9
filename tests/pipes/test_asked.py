"""Odd values of ``[pipe]`` are asked about, ordinary ones are not; found by typing them, 2026-11-28."""

from dataclasses import replace

import pytest
from test_holes import JOB, PIPE

from staking.book.records import Job, Site, Stock
from staking.pipes.asked import pipe_remarks

PRICED = (Stock(length_m=6.4, price=96.0), Stock(length_m=3.0, count=2))


def said(frame=None, **pipe):
    sizes = {"post_pipe": "NPS 2 sch 40", "beam_pipe": "NPS 2 sch 40", **(frame or {})}
    array = replace(JOB, frame=replace(JOB.frame, **sizes))
    pipe = replace(PIPE, **{"stock": PRICED, **pipe})
    return " ".join(pipe_remarks(Job(site=Site(units="ft", show="feet-inches"), arrays=(array,), pipe=pipe)))


@pytest.mark.parametrize(
    ("pipe", "words"),
    [
        ({"kerf_m": 0.0381}, "wider than any saw cuts"),
        ({"make_up_m": 0.0127}, "make_up is not used"),
        ({"make_up_m": 3.048, "joint": "threaded"}, "more than a coupling makes up"),
        ({"trip_cost": 60.0, "stock": (Stock(length_m=6.4),)}, "trip_cost is not used"),
        ({"stock": (Stock(length_m=6.4, price=0.0),)}, "can be bought for nothing"),
        ({"joint_clear_m": 0.0}, "a joint may come to stand on a post"),
        ({"stock": (*PRICED, Stock(length_m=6.0, pipe="NPS 7 sch 40"))}, "NPS 7 sch 40 is not used"),
    ],
)
def test_odd_values_are_asked_about(pipe, words):
    assert words in said(**pipe)


def test_a_diameter_beside_another_of_the_table_is_asked_about():
    size = {"post_pipe": "NPS 2 sch 40", "post_od_m": 0.070}
    assert "NPS 2 sch 40 of the table has" in said(size)
    assert said(size | {"post_od_m": 0.0603}) == ""


def test_ordinary_values_are_not():
    assert said(stock=PRICED, trip_cost=60.0) == ""
    assert said(joint="threaded", make_up_m=0.0254, stock=(Stock(length_m=6.4, pipe="nps 2 SCH 40"),)) == ""
