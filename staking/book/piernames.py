"""The names that the piers of a job will have, so that a reading on one is known for what it is."""

from __future__ import annotations

import re
import string
from collections.abc import Sequence
from dataclasses import dataclass

from staking.book.jobreader import ArrayRead

MOST_LISTED = 2000
"""Names listed to look for a near one: more than any yard has piers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PierNames:
    """Letters of the beams and numbers from the left, with the array's name where there are several."""

    arrays: tuple[tuple[str, int, int | None], ...]
    """Name in front (empty for one array), beams, piers on each (None: not known, any number)."""

    def of(self, name: str) -> str | None:
        """Return the pier's name as the layout writes it, None when the name is no pier's."""
        for front, beams, piers in self.arrays:
            prefix = f"{front}-" if front else ""
            if not name.casefold().startswith(prefix.casefold()):
                continue
            match = re.fullmatch(r"([A-Za-z])([1-9][0-9]{0,5})", name[len(prefix) :])
            if match is None or ord(match[1].upper()) - ord("A") >= beams:
                continue
            if piers is None or int(match[2]) <= piers:
                return f"{prefix}{match[1].upper()}{match[2]}"
        return None

    def listed(self) -> list[str]:
        """Return the names of all piers whose number is known."""
        return [
            f"{front}-{letter}{number}" if front else f"{letter}{number}"
            for front, beams, piers in self.arrays
            for letter in string.ascii_uppercase[:beams]
            for number in range(1, min(piers or 0, MOST_LISTED) + 1)
        ][:MOST_LISTED]


def pier_names(arrays: Sequence[ArrayRead]) -> PierNames:
    """Return the names of the piers of these arrays, leaving out those whose beams are not known."""
    several = len(arrays) > 1
    return PierNames(
        arrays=tuple(
            (one.name if several else "", one.beams, one.piers_per_beam)
            for one in arrays
            if one.beams is not None and (one.name or not several)
        )
    )
