"""Pipe sizes by name."""

import pytest

from staking.pipes.sizes import SIZES, pipe_size


@pytest.mark.parametrize(
    "name",
    [
        "NPS 2 sch 40",
        "nps 2 SCH 40",
        "NPS2 sch40",
        "2in sch40",
        '2" sch 40',
        "2 in. schedule 40",
        "2 inch sch. 40",
        "  NPS  2,  sch 40 ",
        "NPS 2 S40",
        "NPS 2 std",
        "2 sch-40",
    ],
)
def test_a_size_is_found_however_it_is_written(name):
    assert pipe_size(name) is SIZES["NPS 2 sch 40"]


@pytest.mark.parametrize("name", ["NPS 2-1/2 SCH 40", "2 1/2 in sch40", "NPS 2.5 sch 40", '2-1/2" std'])
def test_sizes_with_a_half(name):
    assert pipe_size(name) is SIZES["NPS 2-1/2 sch 40"]


@pytest.mark.parametrize(
    ("name", "nearest"),
    [
        ("NPS 2 sch 41", "NPS 2 sch 40"),
        ("NPS 7 sch 40", "sch 40"),
        ("NPS 2-3/4 sch 40", "NPS 2-1/2 sch 40"),
        ("nps2 sched 4O", "NPS 2 sch 40"),
        ("two inch", "NPS"),
        ("", "NPS"),
        ("NPS 12 sch 40", "sch 40"),
    ],
)
def test_an_unknown_name_is_told_with_the_nearest(name, nearest):
    with pytest.raises(ValueError, match=f"the nearest is '.*{nearest}"):
        pipe_size(name)


def test_every_size_is_found_by_its_own_name_and_is_thinner_than_its_radius():
    for name, size in SIZES.items():
        assert pipe_size(name) is size
        assert pipe_size(name.lower().replace(" ", "")) is size
        assert 0 < size.wall_m < size.od_m / 2
    assert len(SIZES) == 22


def test_schedule_80_is_thicker_on_the_same_outside():
    for name, size in SIZES.items():
        if name.endswith("sch 40"):
            thick = pipe_size(name.replace("sch 40", "sch 80"))
            assert thick.od_m == size.od_m
            assert thick.wall_m > size.wall_m
