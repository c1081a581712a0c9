"""Clock times and time zones as typed."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

import pytest

from staking.book.clock import read_duration, read_time, read_zone


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("-4:00", -4),
        ("-4", -4),
        ("+5:45", 5.75),
        ("UTC-04:00", -4),
        ("-0330", -3.5),
        ("−3:30", -3.5),
        ("Z", 0),
    ],
)
def test_an_offset(text, hours):
    assert read_zone(text, "").utcoffset(None) == timedelta(hours=hours)


def test_a_name_knows_of_summer_time():
    zone = read_zone("America/New_York", "")
    winter, summer = (datetime(2026, month, 1, tzinfo=UTC).astimezone(zone) for month in (1, 7))
    assert (winter.hour, summer.hour) == (19, 20)


@pytest.mark.parametrize("text", ["America", "+15", "-12:30", "x", "../etc/passwd", "Amerika/New_York", "½"])
def test_no_zone(text):
    with pytest.raises(ValueError, match=r"UTC"):
        read_zone(text, "")


def test_a_misspelled_zone_is_told_the_nearest():
    with pytest.raises(ValueError, match="America/New_York"):
        read_zone("Amerika/New_York", "")


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("14:32", time(14, 32)),
        ("9:05:30", time(9, 5, 30)),
        ("2:32 pm", time(14, 32)),
        ("12:10 AM", time(0, 10)),
        ("12:10 p.m.", time(12, 10)),
    ],
)
def test_a_time(text, read):
    assert read_time(text, "") == read


@pytest.mark.parametrize("text", ["24:00", "1432", "13:00 pm", "0:30 am", "9:60", "noon", ""])
def test_no_time(text):
    with pytest.raises(ValueError, match="time of day"):
        read_time(text, "")


@pytest.mark.parametrize(("text", "seconds"), [("60", 60), ("30 s", 30), ("1 min", 60), ("1.5 minutes", 90)])
def test_a_duration(text, seconds):
    assert read_duration(text, "") == seconds


@pytest.mark.parametrize("text", ["0", "-1", "1 h", "soon"])
def test_no_duration(text):
    with pytest.raises(ValueError, match="span of time"):
        read_duration(text, "")
