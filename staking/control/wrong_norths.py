"""Bearings booked from another north than they were taken from, or with the declination the wrong way."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from staking.control.causes import WRONG_READINGS, WRONG_SETUPS, Cause, Change, known
from staking.control.directions import Norths
from staking.control.equations import Equation, Kind
from staking.control.observing import Observed
from staking.control.repairs import angle_written

SHARE_NORTH = 0.10
"""Of one bearing's blunders; that all bearings of a survey are booked so is as likely as a moved set-up."""


def wrong_norths(
    observed: Observed, equations: Sequence[Equation], used: frozenset[int], norths: Norths
) -> Iterator[Cause]:
    """Return every bearing, and all bearings of one north together, as taken from another north.

    Parameters
    ----------
    observed, equations
        Readings and their equations.
    used
        Equations that took part and are checked by others.
    norths
        The norths of the survey, from which the declination is known.
    """
    bearings = [
        k
        for k in sorted(used)
        if equations[k].kind is Kind.BEARING
        and (s := observed.sources[k]) is not None
        and s.kind == "bearing"
    ]
    if not bearings:
        return
    site = norths.book.job.site
    if site.latitude_rad is None or site.longitude_rad is None or site.date is None:
        return
    turn = norths.turn("magnetic", file="bearings.csv", row=None, column="north")
    if turn is None:
        return
    north_of = {row.row: row.north for row in norths.book.bearings}
    declination = turn.angle_rad
    groups: dict[tuple[str, str], list[Change]] = {}
    turned: dict[tuple[str, str], str] = {}
    for number in bearings:
        source = observed.sources[number]
        assert source is not None
        north = north_of.get(source.row, "true")
        if north == "magnetic":
            ways = [("true", -declination, "already from true north, booked as magnetic")]
        elif north == "true":
            ways = [
                ("magnetic", declination, "magnetic taken for true"),
                ("", 2 * declination, "brought to true north with the declination's sign reversed"),
            ]
        else:
            continue
        for name, by, why in ways:
            by = math.remainder(by, 2 * math.pi)
            if name:
                change = Change(equation=number, by=by, column="north", read=north, likely=name)
            else:
                likely = angle_written(equations[number].value, by, source.read)
                change = Change(equation=number, by=by, column=source.column, read=source.read, likely=likely)
            yield known([change], SHARE_NORTH / 2, why)
            groups.setdefault((north, why), []).append(change)
            turned[north, why] = f"all bearings {why}; or the azimuth of [control] is turned so"
    for key, changes in groups.items():
        if len(changes) > 1:
            yield known(changes, WRONG_SETUPS / WRONG_READINGS, turned[key])
