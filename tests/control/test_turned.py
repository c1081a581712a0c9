"""How sure it is which way a site is turned, by what turns it."""

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from invented_yards import invented

from staking.book.records import Azimuth, BearingRow, Site
from staking.control.adjusting import adjusted
from staking.control.turned import turned
from staking.north.declination import declination_rad

DEG = math.pi / 180
SITE = Site(units="m", latitude_rad=40 * DEG, longitude_rad=-75 * DEG, date=date(2026, 10, 3))


def book_of(*, north, sd_rad=None, count=1, azimuth=None):
    """An invented yard of tapes that bearings P1-P2 alone turn, or an azimuth."""
    yard = invented(3)
    yard.bearings = []
    bearing = math.atan2(*(yard.xy("P2") - yard.xy("P1"))) % math.tau
    rows = tuple(
        BearingRow(
            table="bearings.csv",
            row=2 + k,
            read={"bearing": "1"},
            start="P1",
            to="P2",
            bearing_rad=bearing,
            north=north,
            sd_rad=sd_rad,
        )
        for k in range(count)
    )
    book = yard.book()
    control = replace(book.job.control, azimuth=azimuth)
    job = replace(book.job, control=control, site=replace(SITE, tape_how=book.job.site.tape_how))
    return replace(book, job=job, bearings=rows)


def test_bearings_turn_as_surely_as_their_mean():
    """Four bearings of a degree are half a degree: textbook; other tapes add next to nothing."""
    book = book_of(north="true", sd_rad=1.0 * DEG, count=4)
    found = turned(book, adjusted(book).points)
    assert found.sd_rad == pytest.approx(0.5 * DEG, rel=0.01)
    assert found.by == "bearings"


def test_compass_bearings_share_the_declination_s_error():
    book = book_of(north="magnetic", sd_rad=1.0 * DEG, count=100)
    shared = declination_rad(SITE.latitude_rad, SITE.longitude_rad, SITE.date).sd_rad
    found = turned(book, adjusted(book).points)
    assert found.sd_rad == pytest.approx(math.hypot(shared, 0.1 * DEG), rel=0.01)


def test_an_azimuth_by_compass_is_a_compass_s_and_a_true_one_is_not_known():
    shared = declination_rad(SITE.latitude_rad, SITE.longitude_rad, SITE.date).sd_rad
    for north in ("magnetic", "true"):
        azimuth = Azimuth(start="P1", to="P2", azimuth_rad=1.5, north=north)
        book = book_of(north="true", count=0, azimuth=azimuth)
        found = turned(book, adjusted(book).points)
        wanted = None if north == "true" else math.hypot(shared, 1.0 * DEG)
        assert found.sd_rad == (None if wanted is None else pytest.approx(wanted, rel=1e-6))


def test_the_turn_is_the_spread_of_the_far_points_direction():
    """An independent route: 20,000 draws of the joint covariance, the direction of each."""
    book = book_of(north="true", sd_rad=0.3 * DEG, count=1)
    points = adjusted(book).points
    i, j = points.index("P1"), points.index("P2")
    at = [3 * i, 3 * i + 1, 3 * j, 3 * j + 1]
    mean = points.enz_m[[i, j], :2].ravel()
    draws = np.random.default_rng(1).multivariate_normal(mean, points.cov_of(at), 20_000)
    directions = np.arctan2(draws[:, 2] - draws[:, 0], draws[:, 3] - draws[:, 1])
    # The farthest two points may be others; a stiff yard turns as one.
    assert turned(book, points).sd_rad == pytest.approx(directions.std(), rel=0.05)
