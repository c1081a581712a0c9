"""Moving the array as what would do: the least shift that fits and keeps clear, rounded and tried."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from staking.base.units import format_angle, told
from staking.book.records import ArrayJob
from staking.layout.around import Around
from staking.layout.moving import Short, least_move
from staking.layout.replacing import moves_near
from staking.layout.room import Print, room_of, wider

MOST_MOVE_M = 3.0
"""No shift over this is looked for: further away it is another place, to be chosen by eye.
Common practice, no source."""


def shift_would_do(
    job: ArrayJob,
    placed_en_m: tuple[float, float],
    *,
    quick: Short,
    exact: Short,
    fits: Callable[[tuple[float, float]], bool],
    around: Around,
    called: str,
    style: str,
) -> Iterator[str]:
    """Yield the least shift of the place with which the limits as they are would do.

    Parameters
    ----------
    job, placed_en_m
        As given.
    quick, exact
        From a shift to what is lacking there, about and exactly; 0 or less where nothing is.
    fits
        Whether the job, placed there and asked in full, can be laid out and keeps clear.
    around
        Whose line the place names.
    called
        The placed pier's name.
    style
        In which lengths are told.
    """
    if job.place.line is not None and around.ahead is None:
        return
    shift = least_move(quick, exact, most_m=MOST_MOVE_M)
    if shift is None:
        return
    for move in moves_near(job.place, shift, ahead=around.ahead, style=style):
        if fits((placed_en_m[0] + move.east_m, placed_en_m[1] + move.north_m)):
            toward = math.atan2(move.east_m, move.north_m) + job.axes_north_rad
            yield (
                f"{move.text} in [place], {called} moved {told(move.length_m, style)} toward azimuth "
                f"{format_angle(toward % math.tau)}, would do"
            )
            return


def may_stand(
    own: Print, now_en_m: tuple[float, float], around: Around, *, swing_m: float = 0.0
) -> Callable[[tuple[float, float]], bool]:
    """Return whether an array may stand with its placed pier at a place, by plan alone.

    It keeps what it should from everything but overhead lines, and its middle has not been carried across a
    boundary from where it stands now.

    Parameters
    ----------
    own
        Its shape about the placed pier.
    now_en_m
        Where that stands now.
    around
        What to keep clear of.
    swing_m
        By which a cross-slope may move any part of it.
    """
    from shapely import LineString, Point, prepare
    from shapely.affinity import translate

    obstacles = [one for one in around.obstacles if one.kind != "overhead"]
    if not obstacles:
        return lambda at: True
    start = Point(now_en_m).buffer(2 * MOST_MOVE_M)
    room = room_of(start, wider(obstacles, swing_m), own)
    prepare(room)
    middle = np.mean(np.vstack(own.faces_en_m), axis=0)
    lines = [
        translate(LineString(one.en_m), -middle[0], -middle[1]) for one in obstacles if one.kind == "boundary"
    ]

    def may(at: tuple[float, float]) -> bool:
        if not room.covers(Point(at)):
            return False
        return not any(line.crosses(LineString([now_en_m, at])) for line in lines)

    return may
