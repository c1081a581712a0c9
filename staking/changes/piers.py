"""Piers, marks and beams that changed by as much as is printed, from two results."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

SAME = 1e-7
"""Metres by which a difference may fall short of a step and still be that step: results are rounded so."""
LENGTHS = {
    "above_grade": "above grade",
    "post_length": "post as cut",
    "hole_depth": "hole depth",
    "top": "top of post",
}
"""What is told of a pier beside its place, and what it is called."""
LASTING = ("pin", "benchmark", "tree", "corner", "other")


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A stake or mark that stands elsewhere, or whose lengths changed; metres."""

    name: str
    east_m: float | None
    """How far it moved; None where it did not by as much as is printed."""
    north_m: float | None
    lengths: tuple[tuple[str, float | None, float | None], ...]
    """What changed: its name, as it was, as it is."""

    @property
    def moved_m(self) -> float:
        """Level distance."""
        return 0.0 if self.east_m is None or self.north_m is None else math.hypot(self.east_m, self.north_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """All of one kind of thing."""

    changed: tuple[Moved, ...]
    gone: tuple[str, ...]
    new: tuple[str, ...]
    same: int
    most_m: float
    """How far the farthest of all moved, told or not."""
    renamed: tuple[tuple[str, str], ...] = ()
    """Of those gone and new: what stands alike at one place, by its old and its new name."""


def piers_changed(old: Mapping[str, Any], new: Mapping[str, Any], step_m: float) -> Compared:
    """Compare the piers of two results; a change of less than a step is none."""
    return _compared(_by(old["piers"], "pier"), _by(new["piers"], "pier"), LENGTHS, step_m)


def marks_changed(old: Mapping[str, Any], new: Mapping[str, Any], step_m: float) -> Compared:
    """Compare the points that last, which stakes are set from."""
    both = [
        _by([p for p in found["survey"]["points"] if p["kind"] in LASTING], "point") for found in (old, new)
    ]
    return _compared(both[0], both[1], {"elevation": "elevation"}, step_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class Beams:
    """Names of beams by what became of them."""

    changed: tuple[str, ...]
    gone: tuple[str, ...]
    new: tuple[str, ...]


def beams_changed(old: Mapping[str, Any], new: Mapping[str, Any], step_m: float) -> Beams:
    """Return the beams of both whose length, posts, rails or joints changed, those that are gone or new."""
    before, after = (_by_beam(found["beams"]) for found in (old, new))
    return Beams(
        changed=tuple(
            name
            for name, beam in after.items()
            if name in before
            and any(
                _differ(before[name].get(key), beam.get(key), step_m)
                for key in ("length", "first_post", "rise", "rails", "joints")
            )
        ),
        gone=tuple(name for name in before if name not in after),
        new=tuple(name for name in after if name not in before),
    )


def _by_beam(beams: Sequence[Mapping[str, Any]]) -> dict[str, Mapping[str, Any]]:
    """Return the beams by name, with their section as on the sheets where an array has several: A.2."""
    parted = {beam["array"] for beam in beams if (beam.get("section") or 1) > 1}
    found = {}
    for beam in beams:
        letter = f"{beam['beam']}.{beam['section']}" if beam["array"] in parted else beam["beam"]
        found[f"{beam['array']}-{letter}" if beam["array"] else letter] = beam
    return found


def _differ(old: Any, new: Any, step_m: float) -> bool:
    if isinstance(old, Sequence) and isinstance(new, Sequence):
        return len(old) != len(new) or any(
            _differ(one, other, step_m) for one, other in zip(old, new, strict=True)
        )
    if old is None or new is None:
        return old is not new
    return abs(float(new) - float(old)) >= step_m - SAME


def _by(rows: Sequence[Mapping[str, Any]], key: str) -> dict[str, Mapping[str, Any]]:
    return {str(row[key]): row for row in rows}


def _compared(
    old: Mapping[str, Mapping[str, Any]],
    new: Mapping[str, Mapping[str, Any]],
    lengths: Mapping[str, str],
    step_m: float,
) -> Compared:
    changed, most_m = [], 0.0
    both = [name for name in new if name in old]
    for name in both:
        one = _moved(name, old[name], new[name], lengths, step_m)
        most_m = max(most_m, _away(old[name], new[name]))
        if one is not None:
            changed.append(one)
    gone = [name for name in old if name not in new]
    added = [name for name in new if name not in old]
    renamed = [
        (was, name)
        for name in added
        for was in gone
        if None not in (old[was]["east"], new[name]["east"])
        and _moved(name, old[was], new[name], lengths, step_m) is None
    ]
    return Compared(
        changed=tuple(changed),
        gone=tuple(gone),
        new=tuple(added),
        renamed=tuple(renamed),
        same=len(both) - len(changed),
        most_m=most_m,
    )


def _away(old: Mapping[str, Any], new: Mapping[str, Any]) -> float:
    if None in (old["east"], old["north"], new["east"], new["north"]):
        return 0.0
    return math.hypot(new["east"] - old["east"], new["north"] - old["north"])


def _moved(
    name: str, old: Mapping[str, Any], new: Mapping[str, Any], lengths: Mapping[str, str], step_m: float
) -> Moved | None:
    told = tuple(
        (words, old.get(key), new.get(key))
        for key, words in lengths.items()
        if _differ(old.get(key), new.get(key), step_m)
    )
    away = _away(old, new) >= step_m - SAME
    if not told and not away:
        return None
    return Moved(
        name=name,
        east_m=new["east"] - old["east"] if away else None,
        north_m=new["north"] - old["north"] if away else None,
        lengths=told,
    )
