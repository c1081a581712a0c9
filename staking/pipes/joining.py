"""The ways to join a beam with threaded couplings.

It is an end piece, uncut sticks, and an end piece; so it is settled by which spans its joints stand in, by
the kinds of its uncut sticks, and by one length: where the first joint stands.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from staking.pipes.joints import SNAP_M, START
from staking.pipes.task import THREADS, Task

WAYS = 6000
"""Ways to join one beam, at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """How one beam is joined; without joints it is one piece."""

    spots: tuple[int, ...]
    uncut: tuple[int, ...]
    """Kinds of the uncut sticks, from the left."""
    low_m: float
    """Where the first joint may stand; a later one may then miss its place by `SNAP_M` / 2."""
    high_m: float
    runs_m: tuple[float, ...]
    """From the first joint to each."""

    @property
    def run_m(self) -> float:
        """From the first joint to the last."""
        return self.runs_m[-1] if self.runs_m else 0.0


def ways_to_join(task: Task, beam: int) -> tuple[list[Way], bool]:
    """Return the ways to join a beam whose uncut sticks are stock of their very lengths, and whether all.

    Of kinds of stick of one length the first stands for all; of ways from one place to another by the same
    sticks in another order one, unless it lets the first joint stand where no other does.
    """
    part_at = {(p.left, p.right) for p in task.parts if p.beam == beam}
    spots, end = task.spots[beam], len(task.spots[beam])
    kinds = {
        k.stock_m: n for n, k in reversed(list(enumerate(task.kinds))) if k.for_beams and k.threads == THREADS
    }
    found: list[Way] = []
    if (START, end) in part_at:
        found.append(Way(spots=(), uncut=(), low_m=0.0, high_m=0.0, runs_m=()))
    layer = [
        Way(spots=(n,), uncut=(), low_m=low, high_m=high, runs_m=(0.0,))
        for n, spot in enumerate(spots)
        if (START, n) in part_at
        for low, high in spot.intervals
    ]
    all_of_them = True
    while layer and len(found) < WAYS:
        found += [_settled(way) for way in layer if (way.spots[-1], end) in part_at]
        longer: dict[tuple[object, ...], list[Way]] = {}
        for way in layer:
            for stock_m, kind in kinds.items():
                run = way.run_m + stock_m + task.make_up_m
                for later in range(way.spots[-1] + 1, end):
                    if (way.spots[-1], later) not in part_at:
                        continue
                    for low, high in spots[later].intervals:
                        a, b = max(way.low_m, low - run), min(way.high_m, high - run)
                        if a <= b + SNAP_M:
                            uncut = (*way.uncut, kind)
                            alike = longer.setdefault((way.spots[0], later, tuple(sorted(uncut))), [])
                            if any(w.low_m <= a and b <= w.high_m for w in alike):
                                continue
                            alike[:] = [w for w in alike if not (a <= w.low_m and w.high_m <= b)]
                            alike.append(
                                Way(
                                    spots=(*way.spots, later),
                                    uncut=uncut,
                                    low_m=a,
                                    high_m=b,
                                    runs_m=(*way.runs_m, run),
                                )
                            )
        layer = [way for alike in longer.values() for way in alike]
        all_of_them &= len(layer) <= WAYS
        layer = layer[:WAYS]
    return found[:WAYS], all_of_them and not layer and len(found) <= WAYS


def _settled(way: Way) -> Way:
    """Return a way whose places for the first joint are in order: its middle where they cross by a hair."""
    middle_m = (way.low_m + way.high_m) / 2
    return replace(way, low_m=middle_m, high_m=middle_m) if way.low_m > way.high_m else way
