"""Beams of a large job through what posts leave over: each beam by a short search over chains of pieces."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from staking.pipes.joints import SNAP_M, START
from staking.pipes.laying import farthest
from staking.pipes.rack import JOINT_M, Rack, some_of
from staking.pipes.task import Cutting, Load, Task

WIDTH = 16
"""Chains followed at a time."""
ROOMS = 60
"""Different rooms looked at for one piece."""
NEW = (0.3, 0.15, 0.6)
"""What a new stick counts, as a share of its length: drops that are there are used first."""

Step = tuple[int, int, float]
"""Stick, spot and place where its piece ends; a new stick of kind `k` is ``-1 - k``."""
Chain = tuple[float, float, int, tuple[Step, ...]]
"""Waste, place and spot reached, pieces so far."""


class _Rack(Rack):
    """Sticks with what is left of them, and beams laid so far."""

    def __init__(
        self,
        task: Task,
        weights: Sequence[float],
        sticks: Sequence[tuple[int, Sequence[int]]],
        new: float,
    ) -> None:
        super().__init__(task, weights, new)
        self.kinds = [kind for kind, _ in sticks]
        self.posts = [tuple(posts) for _, posts in sticks]
        self.rooms = [
            self.beside(kind, posts) if task.kinds[kind].for_beams else 0.0 for kind, posts in sticks
        ]
        self.parts: list[list[int]] = [[] for _ in sticks]
        for kind, _ in sticks:
            self.take(kind)

    def idle(self, room_m: float) -> float:
        """Return how much of a drop will go to waste as a rule."""
        room_m = max(room_m, 0.0)
        return room_m if room_m < self.least else room_m * max(0.0, 1 - room_m / self.ready)

    def open_rooms(self) -> list[tuple[float, int]]:
        """Return different rooms with a stick each, some of them where there are many, then new sticks."""
        by_size: dict[int, tuple[float, int]] = {}
        for stick, room in enumerate(self.rooms):
            if room >= self.least:
                by_size.setdefault(round(room * 1000), (room, stick))
        found = some_of(sorted(by_size.values()), ROOMS)
        task = self.task
        return found + [
            (task.room_m(k), -1 - k)
            for k, kind in enumerate(task.kinds)
            if kind.for_beams and self.on_hand[k] != 0
        ]

    def lay(self, beam: int) -> bool:
        """Lay one beam with little waste; False when nothing reaches its end."""
        task, kerf = self.task, self.task.kerf_m
        rooms, end = self.open_rooms(), len(self.task.spots[beam])
        best: Chain | None = None
        chains: list[Chain] = [(0.0, 0.0, START, ())]
        while chains:
            longer: list[Chain] = []
            for cost, at, left, steps in chains:
                used = [stick for stick, _, _ in steps]
                for room, stick in rooms:
                    most = 1 if stick >= 0 else self.on_hand[-1 - stick]
                    if most is not None and used.count(stick) >= most:
                        continue
                    reach = farthest(task, beam, at, left, room - kerf)
                    if reach is None:
                        continue
                    right, place = reach
                    rest = room - kerf - (place - at)
                    waste = cost + self.idle(rest) - self.idle(room) + (JOINT_M if right < end else 0.0)
                    waste += self.dear[-1 - stick] if stick < 0 else 0.0
                    chain = (waste, place, right, (*steps, (stick, right, place)))
                    if right < end:
                        longer.append(chain)
                    elif best is None or waste < best[0]:
                        best = chain
            longer.sort()
            chains = longer[:WIDTH]
        if best is None:
            return False
        at, left = 0.0, START
        for stick, right, place in best[3]:
            self._put(stick, beam, left, right, place - at)
            at, left = place, right
            if right < end:
                self.places[beam, right] = place
        return True

    def _put(self, stick: int, beam: int, left: int, right: int, length_m: float) -> None:
        """Cut one part from a stick, or from a new one."""
        if stick < 0:
            kind = -1 - stick
            self.take(kind)
            self.kinds.append(kind)
            self.posts.append(())
            self.parts.append([])
            self.rooms.append(self.task.room_m(kind))
            stick = len(self.kinds) - 1
        self.rooms[stick] -= length_m + self.task.kerf_m
        if self.rooms[stick] < SNAP_M:
            self.rooms[stick] = 0.0
        self.parts[stick].append(self.part_at[beam, left, right])

    def cutting(self) -> Cutting:
        """Return what is laid."""
        loads = tuple(
            Load(kind=kind, posts=tuple(sorted(posts)), parts=tuple(sorted(parts)))
            for kind, posts, parts in zip(self.kinds, self.posts, self.parts, strict=True)
            if posts or parts
        )
        return Cutting(loads=loads, places_m=self.places)


def chained(
    task: Task, weights: Sequence[float], sticks: Sequence[tuple[int, Sequence[int]]]
) -> Iterator[Cutting]:
    """Yield cuttings with posts on these sticks (kind, posts), beams on what they leave and new sticks.

    For butted joints; none when the stock does not do.
    """
    for new in NEW:
        rack = _Rack(task, weights, sticks, new)
        if all(rack.lay(beam) for beam in range(len(task.beams))):
            yield rack.cutting()
