"""How sure it is which way the whole site is turned: what no tape shows, and every facing rests on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from staking.base.units import format_angle
from staking.book.records import FieldBook
from staking.control.adjustment import Points
from staking.control.directions import Norths
from staking.control.ellipses import pair

HELD_RAD = 1e-9
"""What is less unsure was given, not measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Turned:
    """The standard deviation of the azimuth of all lines together."""

    sd_rad: float | None
    """None where it rests on what is given as exact: nothing tells how sure that is."""
    by: str
    """What it rests on."""

    def words(self) -> str:
        """Return how sure, and by what."""
        if self.sd_rad is None:
            return f"only as given by {self.by} and held as exact: nothing here says how sure that is"
        sd = max(self.sd_rad, math.radians(0.01))
        return f"to ±{format_angle(sd, 2)}° (one standard deviation), by {self.by}"


def turned(book: FieldBook, points: Points) -> Turned | None:
    """Return how sure the turn of the site is, against the earth; None where no two points have a place.

    With `[control] azimuth` held it is that of the azimuth as it was taken: by compass with the declination's
    own standard deviation. Else it is that of the line between the two points that lie farthest apart, from
    their joint covariance.
    """
    ends = _farthest(points)
    if ends is None:
        return None
    fixed = [
        row
        for row in book.control_points
        if row.east_m is not None
        and row.north_m is not None
        and row.sd_east_m is None
        and row.sd_north_m is None
    ]
    if len(fixed) > 1:
        return Turned(sd_rad=None, by="control.csv")
    azimuth = book.job.control.azimuth
    if azimuth is not None and azimuth.north == "magnetic":
        turn = Norths(book=book).turn("magnetic", file="", row=None, column="")
        if turn is None:
            return None
        sd_rad = math.hypot(turn.sd_rad, book.job.accuracy.bearing_rad)
        return Turned(sd_rad=sd_rad, by="the compass of [control] azimuth")
    if azimuth is not None:
        return Turned(sd_rad=None, by="[control] azimuth")
    between = pair(points, *ends)
    if between is None:
        return None
    cov = points.cov_of([3 * points.index(name) + k for name in ends for k in (0, 1)])
    run = np.diff([points.enz_m[points.index(name), :2] for name in ends], axis=0)[0] / between.length_m
    across = np.array([run[1], -run[0], -run[1], run[0]])
    sd_rad = math.sqrt(max(float(across @ cov @ across), 0.0)) / between.length_m
    if sd_rad < HELD_RAD:
        return Turned(sd_rad=None, by="control.csv")
    return Turned(sd_rad=sd_rad, by=_rests_on(book))


def _rests_on(book: FieldBook) -> str:
    """Return the readings that turn a site without an azimuth."""
    norths = {row.north for row in book.bearings}
    kinds = [
        word
        for word, there in (
            ("compass bearings", "magnetic" in norths),
            ("bearings", bool(norths - {"magnetic"})),
            ("shadows", bool(book.shadows or book.equal_shadows)),
            ("fixes", bool(book.fixes)),
            ("control.csv", bool(book.control_points)),
        )
        if there
    ]
    return " and ".join([", ".join(kinds[:-1]), kinds[-1]] if len(kinds) > 1 else kinds) or "the readings"


def _farthest(points: Points) -> tuple[str, str] | None:
    """Return two points that lie about as far apart as any."""
    known = np.flatnonzero(np.isfinite(points.enz_m[:, :2]).all(axis=1))
    if len(known) < 2:
        return None
    en = points.enz_m[known, :2]
    first = int(np.hypot(*(en - en[0]).T).argmax())
    away = np.hypot(*(en - en[first]).T)
    second = int(away.argmax())
    if away[second] <= 0.0:
        return None
    return points.names[known[first]], points.names[known[second]]
