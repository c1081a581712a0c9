"""Where one or two more pins would let every pier be swung."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from staking.base.axes import facing_axes
from staking.layout.frame import Fit
from staking.marks.swing import CROSSING_SLACK_RAD, LEAST_CROSSING_RAD, SHORTEST_TIE_M

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NewPin:
    """A place for a pin, clear of the work."""

    where: str
    """In words, from the array's outer stakes."""
    en_m: Floats
    """(2,)."""


def helpful_pins(fit: Fit, *, unplaced: list[int], pins_en_m: Floats) -> tuple[tuple[NewPin, ...], list[int]]:
    """Return the fewest new pins, at most two, that would place most piers, and the piers still left over.

    Parameters
    ----------
    fit : Fit
        The array.
    unplaced : list of int
        Piers that no two pins cross well at.
    pins_en_m : (k, 2)
        The pins there are.
    """
    candidates = _candidates(fit)
    best: tuple[int, int, float] | None = None
    chosen: tuple[NewPin, ...] = ()
    left = list(unplaced)
    for count in (1, 2):
        for group in itertools.combinations(candidates, count):
            points = np.vstack([pins_en_m.reshape(-1, 2), *(pin.en_m for pin in group)])
            strengths = [_best_sine(fit.piers.en_m[i], points) for i in unplaced]
            placed = sum(strength > 0.0 for strength in strengths)
            rank = (placed, -count, sum(strengths))
            if placed and (best is None or rank > best):
                best, chosen = rank, group
                left = [i for i, strength in zip(unplaced, strengths, strict=True) if strength == 0.0]
        if not left:
            break
    return chosen, left


def advice(
    fit: Fit, *, unplaced: list[int], pins_en_m: Floats, place_text: Callable[[Floats], str]
) -> tuple[str, ...]:
    """Return the warning that names the piers no two pins place, and says which pins would place them."""
    if not unplaced:
        return ()
    new_pins, left = helpful_pins(fit, unplaced=unplaced, pins_en_m=pins_en_m)
    names = fit.piers.names
    text = f"No two pins cross between 30° and 150° at {', '.join(names[i] for i in unplaced)}"
    helped = [names[i] for i in unplaced if i not in left]
    if new_pins:
        pins = " and ".join(f"{pin.where} ({place_text(pin.en_m)})" for pin in new_pins)
        text += f". Set {'a pin' if len(new_pins) == 1 else 'two pins:'} {pins} and tape "
        text += f"{'it' if len(new_pins) == 1 else 'them'} into the survey: that would place "
        text += ", ".join(helped) if left else "them all"
    text += ". Until then set the stakes by station and offset"
    return (text,)


def _candidates(fit: Fit) -> list[NewPin]:
    """Return places one bay out from the outer stakes: in line with a beam, or square to it."""
    e, w = (axis[:2] for axis in facing_axes(fit.plane.azimuth_rad))
    beam, number, names = fit.piers.beam, fit.piers.number, fit.piers.names
    middle = int(np.sort(number)[len(number) // 2])
    places = []
    for i, name in enumerate(names):
        end = number[i] in (number.min(), number.max())
        for outer, way, text in (
            (number[i] == number.min(), -e, f"one bay to the left of {name}, in line with its beam"),
            (number[i] == number.max(), e, f"one bay to the right of {name}, in line with its beam"),
            (beam[i] == beam.min(), -w, f"one bay from {name} on the low side, square to its beam"),
            (beam[i] == beam.max(), w, f"one bay from {name} on the high side, square to its beam"),
        ):
            if outer and (end or number[i] == middle):
                places.append(NewPin(where=text, en_m=fit.piers.en_m[i] + fit.bay_m * way))
    return places


def _best_sine(stake_en_m: Floats, points_en_m: Floats) -> float:
    """Return the sine of the best crossing at a stake, 0 where none is good."""
    reach = stake_en_m - points_en_m
    length = np.hypot(reach[:, 0], reach[:, 1])
    unit = reach[length >= SHORTEST_TIE_M] / length[length >= SHORTEST_TIE_M, None]
    sine = np.abs(unit[:, None, 0] * unit[None, :, 1] - unit[:, None, 1] * unit[None, :, 0]).max(initial=0.0)
    return float(sine) if sine >= math.sin(LEAST_CROSSING_RAD - CROSSING_SLACK_RAD) else 0.0
