"""What ``staking changes`` prints."""

from __future__ import annotations

from collections.abc import Iterable

from staking.changes.made import Made
from staking.changes.piers import (
    Compared,
    Moved,
    beams_changed,
    marks_changed,
    piers_changed,
)
from staking.changes.sheets import Judged, State, judged
from staking.sheets.notation import Notation, count_words
from staking.sheets.wrapped import bullets, labelled

_OUT = "Take void sheets out of the yard before the new ones go in."


def changes_lines(old: Made, new: Made) -> list[str]:
    """Return what changed, pier by pier, and which printed sheets are void."""
    notation = Notation(style=new.style or old.style or "metric")
    step_m = notation.step_m
    lines = ["CHANGES", *labelled("from", _said(old)), *labelled("to", _said(new))]
    lines += labelled(
        "counts", f"{notation.small_words(step_m)} or more, the last place that the sheets print"
    )
    if old.inputs == new.inputs:
        lines += labelled("inputs", "the same")
    lines += _tests(old, new)
    piers = piers_changed(old.results, new.results, step_m)
    marks = marks_changed(old.results, new.results, step_m)
    lines += ["", "PIERS", *_things(piers, "stake", "pier", notation)]
    lines += ["", "PINS AND MARKS", *_things(marks, "mark", "mark", notation)]
    beams = beams_changed(old.results, new.results, step_m)
    told = (("changed", beams.changed), ("gone", beams.gone), ("new", beams.new))
    if any(names for _, names in told):
        lines += ["", "BEAMS"]
        lines += [line for label, names in told if names for line in labelled(label, ", ".join(names))]
    moved_m = max(piers.most_m, marks.most_m)
    lines += ["", "PRINTED SHEETS", *_sheets(old, new, moved_m, notation)]
    return lines


def _said(one: Made) -> str:
    found = one.results
    parts = [f"{one.place}: inputs {one.inputs}"]
    if found.get("revision"):
        parts.append(f"revision {found['revision']}")
    if found.get("date"):
        parts.append(str(found["date"]))
    return ", ".join(parts)


def _tests(old: Made, new: Made) -> list[str]:
    before, after = (one.results["survey"].get("passes") for one in (old, new))
    if before is after:
        return []
    words = {True: "passes its tests", False: "FAILS ITS TESTS", None: "has nothing to test"}
    return labelled("survey", f"{words[after]}; before, it {words[before].lower()}")


def _things(found: Compared, what: str, one: str, notation: Notation) -> list[str]:
    lines = [line for each in found.changed for line in labelled(each.name, _changed(each, what, notation))]
    if found.gone:
        lines += labelled("gone", ", ".join(found.gone))
    if found.new:
        lines += labelled("new", ", ".join(found.new))
    if found.renamed:
        pairs = ", ".join(f"{now} (was {was})" for was, now in found.renamed)
        lines += labelled("renamed", f"as they stood, under another name: {pairs}")
    if found.same:
        lines += labelled("unchanged", count_words(found.same, one))
    return lines or labelled("none", f"there is no {one}")


def _changed(one: Moved, what: str, notation: Notation) -> str:
    parts = []
    if one.east_m is not None and one.north_m is not None:
        away = notation.small_words(one.moved_m)
        parts.append(
            f"{what} moved {away} ({_way(one.east_m, 'east', 'west', notation)}, "
            f"{_way(one.north_m, 'north', 'south', notation)})"
        )
    for name, was, now in one.lengths:
        parts.append(f"{name} {_told(now, notation)}, was {_told(was, notation)}")
    return "; ".join(parts)


def _way(value_m: float, positive: str, negative: str, notation: Notation) -> str:
    return f"{notation.small_words(abs(value_m))} {positive if value_m >= 0 else negative}"


def _told(value_m: float | None, notation: Notation) -> str:
    return "none" if value_m is None else notation.words(value_m)


def _sheets(old: Made, new: Made, moved_m: float, notation: Notation) -> list[str]:
    if old.sheets is None or new.sheets is None:
        place = old.place if old.sheets is None else new.place
        text = f"{place} has no sheets.json, so that what was printed is not known: take every sheet as void"
        return labelled("not known", text)
    if old.style != new.style:
        return [*labelled("VOID", f"all: they print {old.style}, and now {new.style}"), *bullets([_OUT])]
    found = judged(old.sheets, new.sheets, moved_m)
    step = notation.small_words(notation.step_m)
    lines = []
    for state, label, words in (
        (State.VOID, "VOID", ""),
        (State.GONE, "VOID, gone", ""),
        (State.NEW, "new", ""),
        (State.LAST_PLACE, "last place", f", numbers differ by {step} at most: may be kept"),
        (State.SAME, "still good", ", but for the date and inputs at their foot"),
    ):
        names = _names(found, state)
        if names:
            lines += labelled(label, names + words)
    if any(one.state in (State.VOID, State.GONE) for one in found):
        lines += bullets([_OUT])
    return lines


def _names(found: Iterable[Judged], state: State) -> str:
    """Return the sheets of a state: all parts of one by its title alone."""
    parts: dict[str, list[Judged]] = {}
    for one in found:
        if one.state is state:
            parts.setdefault(one.title, []).append(one)
    names = []
    for title, ones in parts.items():
        if len(ones) == ones[0].parts:
            names.append(title)
        else:
            numbers = ", ".join(str(one.part) for one in ones)
            names.append(f"{title} ({numbers} of {ones[0].parts})")
    return "; ".join(names)
