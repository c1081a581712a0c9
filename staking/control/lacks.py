"""Points that lack a place for one reason, told together: one sentence where one would do."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

MOST_NAMES = 12
"""Names told one by one; the others are counted."""
FEW = 3
"""So many mistakes, or points that no one remedy would place, are told one by one."""
ONE_SIDE = " (one will do for points that readings join), or side in [control] where all lie on one side"
EACH = "each"
"""Stands for a point's own name in what is told of several."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lack:
    """What a point lacks and what would give it."""

    of: Literal["plan", "elevation"]
    state: str
    """Clause with the point as its subject."""
    ways: tuple[str, ...]
    """What would place it, as orders: any one of them."""
    own_side: bool = False
    """Whether the side of the point itself would tell: one side may then do for all."""

    @property
    def remedy(self) -> str:
        """What to do, as an order."""
        return ", or ".join(self.ways)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Points that lack the same, and what places them all; the ways are those of the first otherwise."""

    points: tuple[int, ...]
    state: str
    remedy: str
    all_alike: bool
    """Whether the remedy is one for each of them."""

    def subject(self, names: Sequence[str]) -> str:
        """Return who lacks it, as the subject of the clause."""
        told = [names[p] for p in self.points]
        return told[0] if len(told) == 1 else f"each of {listed(told)}"

    def to_place(self, names: Sequence[str]) -> str:
        """Return what to do, with whom it places."""
        if len(self.points) == 1:
            return f"To place it, {self.remedy}"
        if self.all_alike:
            return f"To place them, {self.remedy}"
        return f"To place {names[self.points[0]]}, {self.remedy}; then look what it places of the others"


def together(lacks: Iterable[tuple[int, Lack]], names: Sequence[str], *, few: int = 1) -> list[Told]:
    """Return the lacks of points, those of one kind together, in the order of their first points.

    Parameters
    ----------
    lacks
        Point numbers with what they lack.
    names
        Point names by number.
    few : int
        So many of one kind are told one by one; so are up to three that no one remedy would place.
    """
    groups: dict[tuple[str, str, bool], list[tuple[int, Lack]]] = {}
    for p, lack in lacks:
        groups.setdefault((lack.of, _of_each(lack.state, names[p]), lack.own_side), []).append((p, lack))
    found: list[Told] = []
    for members in groups.values():
        first, lack = members[0]
        by_member = [[_of_each(way, names[p]) for way in one.ways] for p, one in members]
        shared = [way for way in by_member[0] if all(way in ways for ways in by_member)]
        if len(members) <= (few if shared else max(few, FEW)):
            found += [
                Told(points=(p,), state=one.state, remedy=one.remedy, all_alike=True) for p, one in members
            ]
            continue
        found.append(
            Told(
                points=tuple(p for p, _ in members),
                state=_of_each(lack.state, names[first]),
                remedy=(", or ".join(shared) or lack.remedy) + (ONE_SIDE if lack.own_side else ""),
                all_alike=bool(shared),
            )
        )
    return found


def listed(names: Sequence[str]) -> str:
    """Return names in a row with an "and"; those past the twelfth are counted."""
    more = len(names) - MOST_NAMES
    if more > 1:
        return f"{', '.join(names[:MOST_NAMES])} and {more} more"
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]


def _of_each(text: str, name: str) -> str:
    return re.sub(rf"(?<![\w-]){re.escape(name)}(?![\w-])", EACH, text)
