"""Readings to doubt in words: one by one, or together where nothing tells them apart."""

from __future__ import annotations

from collections.abc import Sequence

from staking.control.adjustment import Suspect, where_words
from staking.control.by_chance import STATED
from staking.control.causes import ANY_AMOUNT
from staking.sheets.notation import chance_words

_TOGETHER = 3
"""From so many readings alike they are told in one breath."""
_EVEN = 0.6
"""Of two that nothing else parts, one above this chance is the likelier one."""
_MOST_ALIKE = 3
"""Readings named that cannot be told apart; the others are counted."""
_AS_SURE = 0.05
"""A repair that is less likely by no more than this is told with the chance of its reading alone."""


_AGAIN = (
    "Take them again, one after the other: one that reads otherwise is wrong. A set-up that is gone cannot "
    "be read again: run that leg anew."
)


def false_alarm_words() -> str:
    """Return how often a good survey has a reading named that others check."""
    return (
        f"false alarms: of {round(1 / STATED)} surveys without a mistake, small or large, at most about 1 "
        "has a reading that others check doubted"
    )


def groups_of(suspects: Sequence[Suspect]) -> list[tuple[Suspect, ...]]:
    """Return the suspects in their order, those together that are alike in all the survey can tell."""
    groups: list[tuple[Suspect, ...]] = []
    left = list(suspects)
    while left:
        first = left[0]
        inside = [one for one in left if one is first or _alike(first, one)]
        if len(inside) < _TOGETHER:
            inside = [first]
        groups.append(tuple(inside))
        left = [one for one in left if one not in inside]
    return groups


def _alike(one: Suspect, other: Suspect) -> bool:
    """Whether two suspects explain the survey equally well, with the same chance as it is printed."""
    named = any(name.endswith(f"({where_words(other.table, other.row)})") for name in one.same_as)
    same_end = one.passes_after == other.passes_after
    return named and same_end and chance_words(one.chance) == chance_words(other.chance)


def doubt_words(group: Sequence[Suspect]) -> str:
    """Return what is said of one reading to doubt, or of several alike."""
    first = group[0]
    after = {True: "So the survey passes. ", False: "The survey still fails then. ", None: ""}
    chance, then = chance_words(first.chance) + _repair(first), after[first.passes_after]
    if len(group) > 1:
        rows = "; ".join(f"{reading_words(s)} read {s.read}, likely {s.likely}{_slip(s)}" for s in group)
        return (
            f"any of these {len(group)} may be wrong, and the readings cannot tell which; chance {chance} "
            f"each: {rows}. {then}{_AGAIN}"
        )
    told = (
        f"{first.table}, {f'row {first.row}, column' if first.row else 'key'} {first.column}: read "
        f"{first.read}, likely {first.likely} ({first.why}); chance {chance}. {then}"
    )
    if first.same_as:
        told += f"{not_told_apart(first)} {first.would_tell}"
    return told.strip()


def _repair(suspect: Suspect) -> str:
    """Return the chance of a repair, where it is clearly less than that of the reading."""
    own = suspect.repair_chance
    if own is None or suspect.chance - own < _AS_SURE:
        return ""
    return f", {chance_words(own).removeprefix('chance ')} that the likely value is right"


def _slip(suspect: Suspect) -> str:
    """Return in brackets how people come to misread so, where they do."""
    cause = suspect.why.partition(": ")[2].partition(";")[0]
    return "" if cause.startswith(ANY_AMOUNT) else f" ({cause})"


def reading_words(suspect: Suspect) -> str:
    """Return a reading as people call it, and where it stands."""
    # What stands before the cause.
    return f"{suspect.why.partition(': ')[0]} ({where_words(suspect.table, suspect.row)})"


def not_told_apart(suspect: Suspect) -> str:
    """Return which other readings explain the survey as well as a suspect does, and what parts them."""
    names = suspect.same_as[:_MOST_ALIKE]
    more = len(suspect.same_as) - len(names)
    others = ", ".join(names) + (f" and {more} more" if more else "")
    habit = " What makes it the likelier is only how people go wrong." if suspect.chance > _EVEN else ""
    return f"The readings cannot tell it from {others}.{habit}"
