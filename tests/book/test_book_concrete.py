"""What of concrete is typed: a bag's yield with its unit, and over-dig as a share or in percent."""

import pytest

from staking.book.jobreader import read_job

FOOT3 = 0.3048**3
FOOTING = (
    '[site]\nunits = "{units}"\n[footing]\nhole_diameter = 12\nembedment = 4\nbottom_cover = 0.25\n{more}\n'
)


def footing(more, units="ft"):
    read = read_job(FOOTING.format(units=units, more=more).encode(), for_plan=False)
    assert read.mistakes == ()
    return read.job.footing


def told(more, units="ft"):
    read = read_job(FOOTING.format(units=units, more=more).encode(), for_plan=False)
    assert read.job.footing is None
    (mistake,) = read.mistakes
    return str(mistake)


@pytest.mark.parametrize(
    ("typed", "m3"),
    [
        ("0.6", 0.6 * FOOT3),
        ('"0.6 cu ft"', 0.6 * FOOT3),
        ('"0.60 ft³"', 0.6 * FOOT3),
        ('"17 L"', 0.017),
        ('"17 litres"', 0.017),
        ('"0.017 m3"', 0.017),
        ('"0.02 cu yd"', 0.54 * FOOT3),
    ],
)
def test_the_yield_of_a_bag(typed, m3):
    assert footing(f"bag_yield = {typed}").bag_yield_m3 == pytest.approx(m3, rel=1e-12)


def test_a_bare_yield_is_cubic_metres_on_a_metric_site():
    assert footing("bag_yield = 0.012", units="mm").bag_yield_m3 == 0.012
    assert "17 L" in told("bag_yield = 12", units="m")


@pytest.mark.parametrize(
    "typed", ['"6 lb"', '"0.6 sq ft"', "0", "-1", '"a bag"', '"0,6 cu ft"', "1e300", "nan"]
)
def test_what_is_no_yield_is_told_with_what_to_write(typed):
    assert "footing.bag_yield" in told(f"bag_yield = {typed}")


@pytest.mark.parametrize(
    ("typed", "share"), [('"10 %"', 0.1), ("0.1", 0.1), ('"10%"', 0.1), ("0", 0.0), ("1", 1.0)]
)
def test_over_dig(typed, share):
    assert footing(f"over_dig = {typed}").over_dig == pytest.approx(share)
    assert footing("").over_dig == 0.0


@pytest.mark.parametrize("typed", ["10", '"110 %"', "-0.1", '"10 in"', '"some"', "nan"])
def test_what_is_no_share_is_told(typed):
    assert "footing.over_dig" in told(f"over_dig = {typed}")


def test_ten_is_asked_about_as_percent():
    assert "write 10 % if percent is meant" in told("over_dig = 10")
