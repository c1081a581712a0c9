"""Which points of a survey a tape can be held on, and the line that stations run along."""

from __future__ import annotations

import numpy as np

from staking.base.errors import Mistake, WrongInput
from staking.book.records import FieldBook, Place
from staking.control.adjustment import Adjustment, Points

SAME_PLACE_M = 0.001
"""Two points nearer than this give no line: less than a tape's smallest division."""


def usable_pins(
    book: FieldBook, adjustment: Adjustment, *, place: Place | None = None
) -> tuple[tuple[str, ...], tuple[str, str]]:
    """Return the names of the pins that still stand and whose plan position is known, and the baseline.

    Pins are points of kind ``pin`` and ``benchmark``, the points of ``[control]``, of ``control.csv`` and of
    every ``[place] line``. The baseline is the array's ``[place] line``, else the azimuth line of
    ``[control]``, else the line between the two pins farthest apart; a line that has lost an end is passed
    over while another stands.

    Parameters
    ----------
    book, adjustment
        The survey and its adjustment.
    place : Place, optional
        Of the array to be staked; without it, the first array that is placed from a line.

    Returns
    -------
    pins : tuple of str
        In the order of the adjusted points. May be empty.
    baseline : tuple of two str
        From the first toward the second. May name a point that is no pin when no other line is left.

    Raises
    ------
    WrongInput
        When no two points have a plan position.
    """
    points = adjustment.points
    lost = {_folded(row.point) for row in book.lost}
    named = _named_pins(book)
    placed = [i for i in range(len(points.names)) if plan_is_known(points, i)]
    pins = tuple(
        points.names[i]
        for i in placed
        if _folded(points.names[i]) not in lost
        and (points.kinds[i] in ("pin", "benchmark") or _folded(points.names[i]) in named)
    )
    lines = _lines(book, place)
    standing = {_folded(pin) for pin in pins}
    for line in lines:
        if _is_line(points, line) and all(_folded(end) in standing for end in line):
            return pins, line
    for names in (pins, tuple(points.names[i] for i in placed if _folded(points.names[i]) not in lost)):
        farthest = _farthest(points, names)
        if farthest is not None:
            return pins, farthest
    for line in lines:
        if _is_line(points, line):
            return pins, line
    raise WrongInput(
        [
            Mistake(
                file="points.csv",
                problem="no two points with a known place are left to measure the piers from",
                remedy="Tape two pins into the survey, or take standing ones out of lost.csv",
            )
        ]
    )


def plan_is_known(points: Points, i: int) -> bool:
    """Return whether the readings give point `i` an east and a north with their covariance."""
    at = [3 * i, 3 * i + 1]
    known = np.isfinite(points.enz_m[i, :2]).all() and np.isfinite(points.cov_of(at)).all()
    return bool(known)


def _named_pins(book: FieldBook) -> set[str]:
    control = book.job.control
    names = [row.point for row in book.control_points]
    if control.origin is not None:
        names.append(control.origin.point)
    if control.azimuth is not None:
        names += [control.azimuth.start, control.azimuth.to]
    if control.benchmark is not None:
        names.append(control.benchmark.point)
    for array in book.job.arrays:
        names += array.place.line or ()
    return {_folded(name) for name in names}


def _lines(book: FieldBook, place: Place | None) -> list[tuple[str, str]]:
    """Return the lines that may be the baseline, best first."""
    lines = []
    if place is None:
        lines += [array.place.line for array in book.job.arrays if array.place.line is not None][:1]
    elif place.line is not None:
        lines.append(place.line)
    azimuth = book.job.control.azimuth
    if azimuth is not None:
        lines.append((azimuth.start, azimuth.to))
    return lines


def _is_line(points: Points, line: tuple[str, str]) -> bool:
    try:
        i, j = (points.index(end) for end in line)
    except KeyError:
        return False
    return (
        plan_is_known(points, i)
        and plan_is_known(points, j)
        and float(np.hypot(*(points.enz_m[j, :2] - points.enz_m[i, :2]))) > SAME_PLACE_M
    )


def _farthest(points: Points, names: tuple[str, ...]) -> tuple[str, str] | None:
    if len(names) < 2:
        return None
    at = np.array([points.enz_m[points.index(name), :2] for name in names])
    apart = np.hypot(*(at[:, None, :] - at[None, :, :]).transpose(2, 0, 1))
    i, j = np.unravel_index(int(np.argmax(apart)), apart.shape)
    if apart[i, j] <= SAME_PLACE_M:
        return None
    return names[min(i, j)], names[max(i, j)]


def _folded(name: str) -> str:
    return name.strip().casefold()
