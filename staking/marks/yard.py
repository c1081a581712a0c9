"""How each pier of an array is found in the yard: one call, every mark."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from staking.base.units import format_length
from staking.book.records import Accuracy, Stakes
from staking.control.adjustment import Points
from staking.ground.elevations import Ground
from staking.layout.frame import Fit
from staking.marks.baseline import Baseline, baseline_through
from staking.marks.check_choice import pin_that_proves, shown_from, stakes_to_check_from, toward
from staking.marks.checks import LEAST_SHOWN, neighbour_allowed_m
from staking.marks.hubs import offset_hubs
from staking.marks.new_pin import advice
from staking.marks.recoveries import recoveries
from staking.marks.squareness import running_m, sides_and_diagonals
from staking.marks.stakeout import Hub, Mark, StakeOut, Tie
from staking.marks.swing import side_of, tape_sd_m
from staking.marks.ties import Yard, look_round, pin_tie, stake_tie

Floats = NDArray[np.float64]


def stake_out(
    fit: Fit,
    *,
    points: Points,
    pins: tuple[str, ...],
    baseline: tuple[str, str],
    ground: Ground,
    accuracy: Accuracy,
    stakes: Stakes,
    hole_diameter_m: float | None = None,
    lost: tuple[str, ...] = (),
    show: Callable[[float], str] | None = None,
    before_m: float = 0.0,
) -> StakeOut:
    """Return the marks of one array: what places, checks and keeps each pier, and what proves it square.

    Parameters
    ----------
    fit : Fit
        The array laid out.
    points : Points
        Adjusted points with their joint covariance.
    pins, baseline
        As `staking.marks.pins.usable_pins` gives them; pins without a known plan position are passed over.
    ground : Ground
        Gives the hubs' elevations, and a pin's where it has none of its own.
    accuracy : Accuracy
        Of the tape that swings the ties.
    stakes : Stakes
        How far the offset hubs stand from the pier.
    hole_diameter_m : float, optional
        Hubs and pins that stand in a hole are told when it is given.
    lost : tuple of str
        Piers of this array whose stakes are gone.
    show : callable, optional
        Writes a length for the warnings; metres without it.
    before_m : float
        Level distance along the beams from the array's first piers to these: running distances go on over
        all sections of a stepped array.

    Raises
    ------
    ValueError
        When the baseline's ends are unknown or at one place.
    """
    write = show if show is not None else _metres
    line = baseline_through(points, baseline)
    yard = look_round(fit, points=points, pins=pins, ground=ground, accuracy=accuracy)
    hubs, hub_warnings = offset_hubs(
        fit, ground=ground, offset_hub_m=stakes.offset_hub_m, hole_diameter_m=hole_diameter_m
    )
    sides, diagonals = sides_and_diagonals(fit)
    unplaced = [i for i, swing in enumerate(yard.swings) if swing is None]
    return StakeOut(
        baseline=baseline,
        marks=_marks(yard, line=line, hubs=hubs, lost=lost, before_m=before_m),
        sides=sides,
        diagonals=diagonals,
        warnings=(
            *_lost_ends(yard, baseline),
            *advice(
                fit,
                unplaced=unplaced,
                pins_en_m=yard.pins.en_m,
                place_text=lambda en_m: line.place_text(en_m, write),
            ),
            *_pins_in_holes(yard, hole_diameter_m),
            *hub_warnings,
        ),
        recoveries=recoveries(fit, lost=lost, accuracy=accuracy),
    )


def _metres(value_m: float) -> str:
    return f"{format_length(value_m, style='metres')} m"


def _marks(
    yard: Yard,
    *,
    line: Baseline,
    hubs: tuple[tuple[Hub, Hub], ...],
    lost: tuple[str, ...],
    before_m: float,
) -> tuple[Mark, ...]:
    piers = yard.fit.piers
    station, offset = line.station_offset_m(piers.en_m)
    running = before_m + running_m(yard.fit)
    neighbours = stakes_to_check_from(yard, lost=lost)
    marks = []
    for i, name in enumerate(piers.names):
        swing = yard.swings[i]
        check, allowed = _check(yard, i, neighbours.get(i))
        side = None
        if swing is not None:
            first, second = swing.pair
            side = side_of(
                start_en_m=yard.pins.en_m[first], end_en_m=yard.pins.en_m[second], at_en_m=piers.en_m[i]
            )
        marks.append(
            Mark(
                pier=name,
                station_m=float(station[i]),
                offset_m=float(offset[i]),
                ties=() if swing is None else tuple(pin_tie(yard, i, k) for k in swing.pair),
                crossing_rad=None if swing is None else swing.crossing_rad,
                sd_place_m=None if swing is None else swing.semi_major_m,
                check=check,
                running_m=float(running[i]),
                hubs=hubs[i],
                side=side,
                check_allowed_m=allowed,
            )
        )
    return tuple(marks)


def _check(yard: Yard, i: int, neighbour: int | None) -> tuple[Tie | None, float | None]:
    """Return one distance that did not place the stake, and what it may differ by.

    A third pin that shows errors of both ties, else a neighbouring stake that does, else any third pin, else
    any neighbour. A stake set by station and offset is checked from the nearest pin.
    """
    fit, swing = yard.fit, yard.swings[i]
    neighbour_tells = neighbour is not None and shown_from(yard, i, neighbour, swing) >= LEAST_SHOWN
    pin = pin_that_proves(yard, i, enough=LEAST_SHOWN if neighbour_tells else 0.0)
    if pin is not None:
        return pin_tie(yard, i, pin.point), pin.allowed_m
    if neighbour is None:
        return None, None
    other = yard.swings[neighbour]
    tie = stake_tie(fit, start=neighbour, to=i, accuracy=yard.accuracy, swing=other)
    if swing is None or other is None:
        return tie, None
    return tie, neighbour_allowed_m(
        unit=toward(yard, neighbour, i),
        here=(yard.sights[i], swing),
        there=(yard.sights[neighbour], other),
        points_cov_m2=yard.pins.cov_m2,
        tape_sd_m=float(tape_sd_m(yard.accuracy, tie.level_m)),
    )


def _lost_ends(yard: Yard, baseline: tuple[str, str]) -> tuple[str, ...]:
    standing = {name.strip().casefold() for name in yard.pins.names}
    return tuple(
        f"The baseline's end {end} is not a standing pin: mark it again before any station is measured"
        for end in baseline
        if end.strip().casefold() not in standing
    )


def _pins_in_holes(yard: Yard, hole_diameter_m: float | None) -> tuple[str, ...]:
    if hole_diameter_m is None:
        return ()
    names, pins = yard.fit.piers.names, yard.pins.names
    return tuple(
        f"Pin {pins[k]} stands in the hole of {names[i]}: set another before digging"
        for i, sights in enumerate(yard.sights)
        for k in np.flatnonzero(sights.length_m <= hole_diameter_m / 2.0)
    )
