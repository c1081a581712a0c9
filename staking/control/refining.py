"""A group of points adjusted in plan with all others held: for choosing among placements."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from staking.base.covariance import carried
from staking.base.lsq import RankDeficient
from staking.control.clouds import started
from staking.control.equations import FIXED, Equation, Kind, Stack, evaluated, misfits, points_of, stacked
from staking.control.loci import XY
from staking.control.placing import Placing
from staking.control.settling import MOST_STEPS, Free, HeldDirection, approached, freed, written_about
from staking.control.together import approached_together

Floats = NDArray[np.float64]
Found = tuple[dict[int, XY], float]
"""Places and the weighted sum of squares."""

BRIEF_STEPS = 15
"""A start that has not settled by then has gone astray."""
MOST_TOGETHER = 200
"""Points of a larger group are adjusted one start after the other, by sparse factors."""


def extras_of(equation: Equation) -> tuple[int, ...]:
    """Return the coordinates of shift and tie that a fix holds."""
    return tuple(k for k in equation.at[1:] if k >= 0) if equation.kind in FIXED else ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Refining:
    """Adjusts groups of points in plan, all others held."""

    placing: Placing
    held: NDArray[np.bool_]
    """True where a coordinate is held fixed."""

    def one(self, placed: dict[int, XY], group: Sequence[int], most_steps: int = MOST_STEPS) -> Found:
        """Adjust a group; return places and weighted sum of squares.

        Where the group is not determined by itself, the places come back as they are.
        """
        part = _Part.of(self, placed, group)
        if part is None:
            return placed, 0.0
        start, free = part.begun(placed)
        return part.found(placed, start, free, approached(part.stack, start, free, most_steps=most_steps))

    def sds(self, placed: Mapping[int, XY], group: Sequence[int]) -> dict[int, float]:
        """Return the standard deviation in plan of the points of a group, all others held.

        Empty where the group is not determined by itself.
        """
        part = _Part.of(self, placed, group)
        if part is None:
            return {}
        start, free = part.begun(placed)
        try:
            about = written_about(part.stack, start, free)
        except RankDeficient:
            return {}
        spread = free.spread(len(start))
        found = {}
        for p in part.members:
            axes = [3 * part.place[p], 3 * part.place[p] + 1]
            found[p] = math.sqrt(
                max(float(np.trace(carried(about.cov, spread.rows_at(np.array(axes))))), 0.0)
            )
        return found

    def all(
        self, starts: Sequence[dict[int, XY]], group: Sequence[int], most_steps: int = MOST_STEPS
    ) -> list[Found]:
        """Adjust a group from several starts, each as by `one`."""
        found: dict[int, Found] = {}
        alike: dict[frozenset[int], list[int]] = {}
        for k, placed in enumerate(starts):
            alike.setdefault(frozenset(p for p in group if p in placed), []).append(k)
        for numbers in alike.values():
            part = _Part.of(self, starts[numbers[0]], group) if len(numbers) > 1 else None
            if part is None:
                found |= {k: self.one(starts[k], group, most_steps) for k in numbers}
                continue
            begun = [part.begun(starts[k]) for k in numbers]
            if part.extras or len(part.place) > MOST_TOGETHER:
                for k, (start, free) in zip(numbers, begun, strict=True):
                    result = approached(part.stack, start, free, most_steps=most_steps)
                    found[k] = part.found(starts[k], start, free, result)
                continue
            results = approached_together(
                part.stack,
                np.array([start for start, _ in begun]),
                [free for _, free in begun],
                most_steps=most_steps,
            )
            for k, (start, free), result in zip(numbers, begun, results, strict=True):
                found[k] = part.found(starts[k], start, free, result)
        return [found[k] for k in range(len(starts))]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Part:
    """The readings of a group, with the points numbered anew."""

    refining: Refining
    members: Sequence[int]
    place: Mapping[int, int]
    """Numbers here of the points involved."""
    extras: Mapping[int, int]
    """Coordinates here of the shifts and ties of fixes."""
    equations: Sequence[Equation]
    own: int
    """The first so many equations are the group's own; behind them stands what tells shifts and ties."""
    stack: Stack
    directions: Sequence[HeldDirection]
    fixed: NDArray[np.bool_]

    @staticmethod
    def of(refining: Refining, placed: Mapping[int, XY], group: Sequence[int]) -> _Part | None:
        placing, held = refining.placing, refining.held
        members = [p for p in group if p in placed]
        numbers = {k for p in members for k in placing.by_point.get(p, ())}
        equations = [placing.equations[k] for k in sorted(numbers)]
        equations = [e for e in equations if all(p in placed for p in points_of(e))]
        if not equations:
            return None
        own = len(equations)
        if any(e.kind in FIXED for e in equations):
            # Shifts and ties of fixes are unknowns here, too; the fixes of all placed points tell them.
            equations += [
                e
                for k, e in enumerate(placing.equations)
                if e.kind in FIXED and k not in numbers and e.at[0] in placed
            ]
        inside = set(members)
        ends = [
            d for d in placing.directions if {d.start, d.to} <= placed.keys() and {d.start, d.to} & inside
        ]
        involved = inside.union(*(points_of(e) for e in equations), *((d.start, d.to) for d in ends))
        place = {p: k for k, p in enumerate(sorted(involved))}
        extras = sorted({k for e in equations for k in extras_of(e)})
        slot = {k: 3 * len(place) + i for i, k in enumerate(extras)}
        fixed = np.ones(3 * len(place) + len(extras), dtype=bool)
        fixed[3 * len(place) :] = False
        for p in members:
            fixed[3 * place[p] : 3 * place[p] + 2] = held[3 * p : 3 * p + 2]
        here = [
            replace(
                e,
                at=(
                    *(place[p] for p in points_of(e)),
                    *(slot.get(k, -1) for k in e.at[1:] if e.kind in FIXED),
                ),
            )
            for e in equations
        ]
        for k in extras:
            if k in placing.fixes.priors:
                value, sd = placing.fixes.priors[k]
                here.append(Equation(kind=Kind.COORDINATE, at=(slot[k],), value=value, sd=sd))
        return _Part(
            refining=refining,
            members=members,
            place=place,
            extras=slot,
            equations=here,
            own=own,
            stack=stacked(here),
            directions=[
                HeldDirection(start=place[d.start], to=place[d.to], azimuth_rad=d.azimuth_rad) for d in ends
            ],
            fixed=fixed,
        )

    def begun(self, placed: Mapping[int, XY]) -> tuple[Floats, Free]:
        """Return the coordinates from which to start, and the unknowns."""
        placing = self.refining.placing
        local = np.zeros(len(self.fixed))
        for p, k in self.place.items():
            local[3 * k : 3 * k + 3] = (*placed[p], placing.elevations.get(p, 0.0))
        if self.extras:
            known = {k: float(x) for k, x in enumerate(local[: 3 * len(self.place)])}
            known |= {slot: 0.0 for k, slot in self.extras.items() if k in placing.fixes.priors}
            for k, value in started(self.equations, known).items():
                local[k] = value
        return local, freed(self.fixed, self.directions, local)

    def found(
        self, placed: dict[int, XY], start: Floats, free: Free, result: tuple[Floats, float] | None
    ) -> Found:
        """Return the places, and the weighted sum of squares, that an adjustment came to."""
        if result is None:
            # The misfit of a place that keeps the held directions: a mirror image over another line does not.
            kept = start.copy()
            free.tie(kept)
            predicted, _ = evaluated(self.stack, kept)
            return placed, float(((misfits(self.stack, predicted) / self.stack.sd) ** 2).sum())
        moved = dict(placed)
        for p in self.members:
            k = 3 * self.place[p]
            moved[p] = float(result[0][k]), float(result[0][k + 1])
        if len(self.equations) == self.own:
            return moved, result[1]
        # What the other points' fixes miss without the group is no misfit of the group.
        shifts = Free(free=np.arange(3 * len(self.place), len(start)))
        alone = approached(stacked(self.equations[self.own :]), start, shifts)
        return moved, result[1] - (alone[1] if alone is not None else 0.0)
