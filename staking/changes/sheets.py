"""Which printed sheets are void: their words or numbers differ by more than the last place printed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

from staking.sheets.printed import PrintedSheet

SEEN_MM = 0.3
"""A thing on a map that moves by less on the paper stands where it stood: about a fine pen's line (common
practice, no source)."""
_NUMBER = re.compile(
    r"""(?<![\w.'"/-])
    (?P<sign>[-+]?)
    (?: (?:(?P<feet>\d+)'[ -]?)?
        (?: (?P<whole>\d+) (?:-(?P<top>\d+)/(?P<low>\d+))? | (?P<up>\d+)/(?P<down>\d+) )"
      | (?P<only_feet>\d+)'(?!\ ?\d)
      | (?P<decimal>\d+\.\d+)
      | (?P<millimetres>\d+)(?=\ mm\b) )
    """,
    re.VERBOSE,
)
"""A length as the sheets print it: feet and inches, decimals, whole millimetres."""
_BARE = re.compile(r"-?\d+")
"""A whole number alone: millimetres, for counts are marked as such."""


class State(Enum):
    """What becomes of a sheet."""

    SAME = "good"
    LAST_PLACE = "last place"
    """Numbers differ by one step of the last place printed."""
    VOID = "void"
    NEW = "new"
    GONE = "gone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One sheet and what becomes of it."""

    title: str
    part: int
    parts: int
    state: State


def judged(old: Sequence[PrintedSheet], new: Sequence[PrintedSheet], moved_m: float) -> tuple[Judged, ...]:
    """Return what becomes of every sheet, in the order of the new pack, those that are gone last.

    Parameters
    ----------
    old, new
        As printed.
    moved_m
        How far the farthest stake or mark moved: a map may say the same and show another place.
    """
    before = {(one.title, one.part): one for one in old}
    after = {(one.title, one.part): one for one in new}
    found = []
    for key, one in after.items():
        state = State.NEW if key not in before else _state(before[key], one, moved_m)
        found.append(_judged(one, new, state))
    found += [_judged(one, old, State.GONE) for key, one in before.items() if key not in after]
    return tuple(found)


def _judged(one: PrintedSheet, among: Sequence[PrintedSheet], state: State) -> Judged:
    parts = sum(other.title == one.title for other in among)
    return Judged(title=one.title, part=one.part, parts=parts, state=state)


def _state(old: PrintedSheet, new: PrintedSheet, moved_m: float) -> State:
    if old.scale != new.scale or len(old.texts) != len(new.texts):
        return State.VOID
    if new.scale is not None and moved_m * 1000.0 / new.scale >= SEEN_MM:
        return State.VOID
    if _drawn_elsewhere(old, new):
        return State.VOID
    if old.texts == new.texts:
        return State.SAME
    if all(_last_place(one, other) for one, other in zip(old.texts, new.texts, strict=True)):
        return State.LAST_PLACE
    return State.VOID


def _drawn_elsewhere(old: PrintedSheet, new: PrintedSheet) -> bool:
    """Return whether some line of a map lies elsewhere: a boundary, pipe, contour, outline."""
    if old.drawn == new.drawn:
        return False
    if old.drawn.keys() != new.drawn.keys():
        return True
    from shapely import MultiLineString, hausdorff_distance

    return any(
        float(hausdorff_distance(MultiLineString(paths), MultiLineString(new.drawn[layer]))) >= SEEN_MM
        for layer, paths in old.drawn.items()
        if paths != new.drawn[layer]
    )


def _last_place(old: str, new: str) -> bool:
    """Return whether two texts differ by no more than one step of each of their lengths."""
    if old == new:
        return True
    if _BARE.fullmatch(old) and _BARE.fullmatch(new):
        return abs(int(old) - int(new)) <= 1
    if _NUMBER.sub("#", old) != _NUMBER.sub("#", new):
        return False
    pairs = zip(_NUMBER.finditer(old), _NUMBER.finditer(new), strict=True)
    return all(_step_apart(one, other) for one, other in pairs)


def _step_apart(old: re.Match[str], new: re.Match[str]) -> bool:
    (value, step), (other, same_step) = _value(old), _value(new)
    return step == same_step and abs(value - other) <= step


def _value(match: re.Match[str]) -> tuple[Fraction, Fraction]:
    """Return a length in its own unit and the step of its last place: sixteenths of inches."""
    sign = -1 if match["sign"] == "-" else 1
    if match["decimal"]:
        places = len(match["decimal"].partition(".")[2])
        return sign * Fraction(match["decimal"]), Fraction(1, 10**places)
    if match["millimetres"]:
        return sign * Fraction(match["millimetres"]), Fraction(1)
    feet = int(match["feet"] or match["only_feet"] or 0)
    inches = Fraction(match["whole"] or 0)
    if match["top"]:
        inches += Fraction(int(match["top"]), int(match["low"]))
    if match["up"]:
        inches += Fraction(int(match["up"]), int(match["down"]))
    return sign * (12 * feet + inches), Fraction(1, 16)
