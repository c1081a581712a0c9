"""What stepping an array takes beside what else would do: piers and sticks of pipe."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from staking.base.units import parse_length
from staking.book.records import ArrayJob, FieldBook

_STEPPED = re.compile(
    r'sections = (?P<sections>\d+) with step_max = "(?P<step>[^"]+)"'
    r'(?:, and in \[place\] pier = "A1" with (?P<first>\w+) = "(?P<at>[^"]+)"'
    r' with (?P<second>\w+) = "(?P<beside>[^"]+)")? would do'
)
_ONE_PLANE = re.compile(
    r'(?P<key>above_grade_max|highest|above_grade_min|clearance) = "(?P<value>[^"]+)" would do'
)
"""Limits with which one plane would do: what stepping is set beside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """What a layout takes."""

    piers: int
    sticks: int | None
    """As bought, for posts and beams; None where no pipe is given."""


def with_needs(
    book: FieldBook, would_do: Sequence[str], counted: Callable[[FieldBook], Counted | None]
) -> tuple[str, ...]:
    """Return what would do, of stepping with the piers and sticks that it takes.

    Parameters
    ----------
    book
        As typed.
    would_do
        Sentences whose keys can be pasted; with several arrays each names its own first.
    counted
        From a book that keeps to one array to what its layout takes; None where it cannot be laid out or cut.
    """
    return tuple(_with_needs(book, text, would_do, counted) for text in would_do)


def _with_needs(
    book: FieldBook, text: str, others: Sequence[str], counted: Callable[[FieldBook], Counted | None]
) -> str:
    for array in book.job.arrays:
        front = f"array {array.name}: " if array.name else ""
        match = _STEPPED.fullmatch(text.removeprefix(front)) if text.startswith(front) else None
        if match is None:
            continue
        unit = book.job.site.units
        stepped = counted(_alone(book, _stepped(array, match, unit)))
        if stepped is None:
            return text
        now = (array.frame.piers_per_beam or 0) * len(array.frame.beams_at_m)
        needs = f"{stepped.piers} piers" + (f", {stepped.piers - now} more" if now else "")
        if stepped.sticks is not None:
            needs += f", and {stepped.sticks} sticks of pipe"
            own = [one.removeprefix(front) for one in others if one.startswith(front)]
            found = next((m for one in own if (m := _ONE_PLANE.fullmatch(one))), None)
            plane = None if found is None else counted(_alone(book, _limited(array, found, unit)))
            if found is not None and plane is not None and plane.sticks is not None:
                more = stepped.sticks - plane.sticks
                beside = f'with {found["key"]} = "{found["value"]}"'
                needs += f", {_more(more)} {beside}"
        return f"{text.removesuffix(' would do')} ({needs}) would do"
    return text


def _more(by: int) -> str:
    return "as many as" if by == 0 else f"{abs(by)} {'more' if by > 0 else 'fewer'} than"


def _alone(book: FieldBook, array: ArrayJob) -> FieldBook:
    return replace(book, job=replace(book.job, arrays=(array,)))


def _stepped(array: ArrayJob, keys: re.Match[str], unit: str) -> ArrayJob:
    fit = replace(array.fit, sections=int(keys["sections"]), step_max_m=parse_length(keys["step"], unit=unit))
    place = array.place
    if keys["first"] is not None:
        moved = {keys["first"]: keys["at"], keys["second"]: keys["beside"]}
        lengths = {f"{key}_m": parse_length(value, unit=unit) for key, value in moved.items()}
        place = replace(place, pier="A1", **lengths)  # type: ignore[arg-type]
    return replace(array, fit=fit, place=place)


def _limited(array: ArrayJob, keys: re.Match[str], unit: str) -> ArrayJob:
    limit = {f"{keys['key']}_m": parse_length(keys["value"], unit=unit)}
    return replace(array, fit=replace(array.fit, **limit))  # type: ignore[arg-type]
