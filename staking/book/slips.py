"""Names that are one stroke from another: what handwriting and small screens do to point names."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from itertools import combinations

from staking.book.names import Mention
from staking.book.piernames import PierNames

ALIKE = ("o0", "|il1", "s5", "b8", "z2")
"""Signs that are taken for one another in handwriting and on small screens."""


def slips(mentions: Sequence[Mention], piers: PierNames) -> list[str]:
    """Return a warning for each name that is used once and is one stroke from another.

    One stroke: a look-alike sign for another, a blank or dash more or less, a letter doubled, an upright
    stroke too much, a zero before a number. Consecutive numbers are ordinary names.
    """
    uses = Counter(mention.fold for mention in mentions)
    first: dict[str, Mention] = {}
    for mention in mentions:
        first.setdefault(mention.fold, mention)
    spelled = {fold: mention.name for fold, mention in first.items()}
    for pier in piers.listed():
        spelled.setdefault(pier.casefold(), pier)
        uses[pier.casefold()] += 2  # the job itself uses it
    near: dict[str, set[str]] = defaultdict(set)
    for group in _groups(spelled).values():
        for one, other in combinations(sorted(group), 2):
            if _one_stroke(one, other):
                near[one].add(other)
                near[other].add(one)
    found: list[str] = []
    asked: set[frozenset[str]] = set()
    for fold, mention in first.items():
        others = [other for other in sorted(near[fold]) if frozenset((fold, other)) not in asked]
        if uses[fold] != 1 or not others:
            continue
        asked.update(frozenset((fold, other)) for other in others)
        where = f"{mention.file}, " + (f"row {mention.row}" if mention.row is not None else mention.column)
        names = " or ".join(spelled[other] for other in others)
        found.append(f"{where}: {mention.name} is used once, one stroke from {names}: is it that point?")
    return found


def _groups(names: Iterable[str]) -> dict[str, set[str]]:
    """Return names that may be one stroke apart, by what is left when all such strokes are undone."""
    groups: dict[str, set[str]] = defaultdict(set)
    for name in names:
        bare = re.sub(r"[\s._-]", "", name)
        for signs in ALIKE:
            bare = re.sub(f"[{signs}]", signs[-1], bare)
        groups[re.sub(r"(.)\1+", r"\1", re.sub(r"[01]", "", bare))].add(name)
    return groups


def _one_stroke(one: str, other: str) -> bool:
    """Whether two folded names differ by a single stroke."""
    if len(one) == len(other):
        apart = [(a, b) for a, b in zip(one, other, strict=True) if a != b]
        return len(apart) == 1 and any(a in signs and b in signs for a, b in apart for signs in ALIKE)
    short, long = sorted((one, other), key=len)
    if len(long) != len(short) + 1:
        return False
    for at, sign in enumerate(long):
        if long[:at] + long[at + 1 :] != short:
            continue
        doubled = sign.isalpha() and (long[at - 1 : at] == sign or long[at + 1 : at + 2] == sign)
        leading = sign == "0" and not long[at - 1 : at].isdigit() and long[at + 1 : at + 2].isdigit()
        # An upright stroke by itself: a false start of the next sign, or an edge of the paper.
        upright = sign in "il|"
        if sign in " -_." or doubled or leading or upright:
            return True
    return False
