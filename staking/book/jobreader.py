"""``job.toml`` to the decisions of a job, every mistake told with its dotted key."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from staking.base.errors import Mistake
from staking.base.units import Unit
from staking.book.instruments import with_instruments
from staking.book.keys import ARRAY_PARTS, ARRAYS, PLAN_ONLY, SECTIONS, SITE, Key, Section
from staking.book.nearest import did_you_mean, nearest
from staking.book.records import (
    Accuracy,
    ArrayJob,
    Braces,
    Control,
    GroundAssumed,
    Instruments,
    Job,
    ShadeHours,
    Site,
    Stakes,
    Tape,
    Tolerance,
)
from staking.book.sheetcells import refused
from staking.book.tomltree import FILE, merged, text_of, tree_of


@dataclass(frozen=True, slots=True, kw_only=True)
class ArrayRead:
    """One array as far as it could be read."""

    name: str
    where: Mapping[str, str]
    """By part: the dotted key it stands at, ``frame`` or ``arrays.north.frame``."""
    parts: Mapping[str, Any]
    """By part: its record, None where a mistake stands in its way or it is absent."""
    beams: int | None
    """Number of beams, None where unknown."""
    piers_per_beam: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRead:
    """What ``job.toml`` gave."""

    job: Job
    """With what could be read; complete when there are no mistakes."""
    arrays: tuple[ArrayRead, ...] = ()
    mistakes: tuple[Mistake, ...] = ()
    readable: bool = True
    """False where the file is not TOML, so that nothing is known of its decisions."""
    has_control: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    """What all readers of sections share."""

    unit: str
    complete: bool
    """Whether a missing needed key is a mistake."""
    mistakes: list[Mistake] = field(default_factory=list)

    def tell(
        self,
        key: str,
        problem: str,
        *,
        read: str | None = None,
        expected: str | None = None,
        remedy: str | None = None,
    ) -> None:
        """Note a mistake at a dotted key."""
        self.mistakes.append(
            Mistake(file=FILE, column=key, read=read, problem=problem, expected=expected, remedy=remedy)
        )


def read_job(data: bytes, *, for_plan: bool, changes: Mapping[str, Any] | None = None) -> JobRead:
    """Read ``job.toml``.

    Parameters
    ----------
    data : bytes
        The file.
    for_plan : bool
        Whether the sections that only a plan needs must be there and complete; where they are, or keys
        of them, they are read in any case.
    changes : mapping, optional
        Keys that take the place of the file's own, as a tree: a variant of the design.
    """
    tree = tree_of(data)
    if isinstance(tree, Mistake):
        return JobRead(job=Job(site=Site()), mistakes=(tree,), readable=False)
    return read_tree(tree, for_plan=for_plan, changes=changes)


def read_tree(
    tree: Mapping[str, Any], *, for_plan: bool, changes: Mapping[str, Any] | None = None
) -> JobRead:
    """Read the decisions from a tree of keys; the parameters are those of `read_job`."""
    tree = merged(tree, changes or {})
    unit, unit_mistake = _unit(tree)
    reading = _Reading(unit=unit, complete=True)
    if unit_mistake is not None:
        reading.mistakes.append(unit_mistake)
    names = [section.name for section in SECTIONS]
    for name in tree:
        if name not in names:
            reading.tell(name, "unknown table", remedy=_known_elsewhere(name, names))
    records: dict[str, Any] = {}
    planning = _Reading(unit=unit, complete=for_plan, mistakes=reading.mistakes)
    several = "arrays" in tree
    for section in SECTIONS:
        if section in (SITE, ARRAYS, *ARRAY_PARTS):
            continue
        within = planning if section in PLAN_ONLY else reading
        records[section.name] = _top_section(section, tree, within)
    arrays = _several_arrays(tree, planning) if several else _one_array(tree, planning)
    values, _ = _values(SITE, tree.get("site", {}), "site", reading)
    site = Site(**{**values, "units": unit})
    stated = tree.get("accuracy")
    instruments = records["instruments"] or Instruments()
    accuracy, instrument_lines = with_instruments(
        records["accuracy"] or Accuracy(),
        instruments,
        stated if isinstance(stated, dict) else {},
        site.show,
    )
    job = Job(
        site=site,
        control=records["control"] or Control(),
        accuracy=accuracy,
        instruments=instruments,
        instrument_lines=instrument_lines,
        tape=records["tape"] or Tape(),
        arrays=tuple(
            ArrayJob(name=one.name if len(arrays) > 1 else "", **one.parts)
            for one in arrays
            if all(part is not None for part in one.parts.values())
        ),
        footing=records["footing"],
        pipe=records["pipe"],
        stakes=records["stakes"] or Stakes(),
        tolerance=records["tolerance"] or Tolerance(),
        ground=records["ground"] or GroundAssumed(),
        shade=records["shade"] or ShadeHours(),
        braces=records["braces"] or Braces(),
    )
    return JobRead(
        job=job,
        arrays=tuple(arrays),
        mistakes=tuple(reading.mistakes),
        has_control=bool(tree.get("control")),
    )


def _unit(tree: Mapping[str, Any]) -> tuple[Unit, Mistake | None]:
    """Return the survey's unit, or metres and a mistake that comes before all others."""
    site = tree.get("site")
    typed = site.get("units") if isinstance(site, dict) else None
    going_on = "lengths were read as metres to look for more mistakes"
    key = next(key for key in SITE.keys if key.name == "units")
    assert isinstance(key, Key)
    if typed is None or typed == "":
        problem = f"nothing says what a bare number is in; {going_on}"
        return "m", Mistake(file=FILE, column="site.units", problem=problem, expected="ft, in, m or mm")
    try:
        return key.kind.read(text_of(typed), ""), None
    except ValueError as error:
        problem = f"{error}; {going_on}"
        return "m", Mistake(
            file=FILE, column="site.units", read=text_of(typed), problem=problem, expected="ft, in, m or mm"
        )


def _top_section(section: Section, tree: Mapping[str, Any], reading: _Reading) -> Any | None:
    """Return the record of a table of the file, None where it is absent or a mistake stands in its way."""
    if section.name not in tree:
        if section.needed and reading.complete:
            reading.tell(section.name, f"the table [{section.name}] is missing", expected=section.meaning)
        return None
    return _record(section, tree[section.name], section.name, reading)


def _one_array(tree: Mapping[str, Any], reading: _Reading) -> list[ArrayRead]:
    if not reading.complete and not any(part.name in tree for part in ARRAY_PARTS):
        return []
    parts = {part.name: _top_section(part, tree, reading) for part in ARRAY_PARTS}
    where = {part.name: part.name for part in ARRAY_PARTS}
    return [_array("", parts, where, tree.get("frame"))]


def _several_arrays(tree: Mapping[str, Any], reading: _Reading) -> list[ArrayRead]:
    """Return the arrays of ``[[arrays]]``; a top-level part serves those that lack their own."""
    entries = tree["arrays"]
    if not isinstance(entries, list) or not entries or not all(isinstance(one, dict) for one in entries):
        reading.tell("arrays", "not a list of arrays", expected="[[arrays]] with name = …, once for each")
        return []
    top = {
        part.name: _record(part, tree[part.name], part.name, reading)
        for part in ARRAY_PARTS
        if part.name in tree
    }
    name_key = ARRAYS.keys[0]
    assert isinstance(name_key, Key)
    known = [key.name for key in ARRAYS.keys]
    arrays: list[ArrayRead] = []
    for number, entry in enumerate(entries, start=1):
        where = f"arrays.{entry['name']}" if isinstance(entry.get("name"), str) else f"arrays.{number}"
        for key in entry:
            if key not in known:
                reading.tell(f"{where}.{key}", "unknown key", remedy=_known_elsewhere(key, known))
        name, good = _value(name_key, entry.get("name"), f"{where}.name", reading)
        if not good:
            name = ""
        if name and any(name.casefold() == other.name.casefold() for other in arrays):
            reading.tell(f"{where}.name", "two arrays of this name", read=name)
        parts: dict[str, Any] = {}
        at: dict[str, str] = {}
        for part in ARRAY_PARTS:
            own = part.name in entry
            at[part.name] = f"{where}.{part.name}" if own else part.name
            if own:
                parts[part.name] = _record(part, entry[part.name], at[part.name], reading)
            elif part.name in top:
                parts[part.name] = top[part.name]
            else:
                parts[part.name] = None
                if reading.complete:
                    problem = f"neither this table nor [{part.name}] is there"
                    reading.tell(f"{where}.{part.name}", problem, expected=part.meaning)
        arrays.append(_array(name, parts, at, entry.get("frame", tree.get("frame"))))
    return arrays


def _array(name: str, parts: dict[str, Any], where: dict[str, str], frame: Any) -> ArrayRead:
    """Return an array; how many beams and piers it has is known even where another key is mistyped."""
    typed = frame if isinstance(frame, dict) else {}
    beams, piers = typed.get("beams_at"), typed.get("piers_per_beam")
    if parts["frame"] is not None:
        piers = parts["frame"].piers_per_beam
    if parts["fit"] is not None and parts["fit"].stepped:
        piers = None  # a stepped array has more piers than its frame undivided
    return ArrayRead(
        name=name,
        where=where,
        parts=parts,
        beams=len(beams) if isinstance(beams, list) and beams else None,
        piers_per_beam=piers if isinstance(piers, int) and not isinstance(piers, bool) else None,
    )


def _record(section: Section, data: Any, where: str, reading: _Reading) -> Any | None:
    """Return a section's record, None where a mistake (told) or a missing key stands in its way."""
    values, good = _values(section, data, where, reading)
    return section.record(**values) if good and section.record is not None else None


def _values(section: Section, data: Any, where: str, reading: _Reading) -> tuple[dict[str, Any], bool]:
    """Return the record's fields from one table, and whether all went well."""
    if not isinstance(data, dict):
        expected = "{ " + ", ".join(f"{key.name} = …" for key in section.keys) + " }"
        reading.tell(where, "not a table", read=text_of(data), expected=expected)
        return {}, False
    good = True
    known = [key.name for key in section.keys]
    for name in data:
        if name not in known:
            good = False
            reading.tell(f"{where}.{name}", "unknown key", remedy=_known_elsewhere(name, known))
    values: dict[str, Any] = {}
    for key in section.keys:
        at = f"{where}.{key.name}"
        typed = data.get(key.name)
        if isinstance(key, Key):
            value, fine = _value(key, typed, at, reading)
            if value is not None:
                values[key.attribute] = value
        elif typed is None:
            fine = not key.needed
            if key.needed and reading.complete:
                reading.tell(at, "this key is missing", expected=key.meaning)
        else:
            inner, fine = _inner(key, typed, at, reading)
            values.update(inner)
        good = good and fine
    if section is SITE:
        values.setdefault("show", "feet-inches" if reading.unit in ("ft", "in") else "metric")
    return values, good


def _inner(section: Section, typed: Any, where: str, reading: _Reading) -> tuple[dict[str, Any], bool]:
    """Return the fields that a table within a table gives, and whether all went well."""
    if section.several:
        items = typed if isinstance(typed, list) else [typed]
        if not items:
            reading.tell(where, "an empty list", expected=section.meaning)
        records = [
            _record(section, item, where if len(items) == 1 else f"{where}.{number}", reading)
            for number, item in enumerate(items, start=1)
        ]
        return {section.attribute: tuple(records)}, bool(items) and None not in records
    if section.record is None:
        return _values(section, typed, where, reading)
    record = _record(section, typed, where, reading)
    return ({} if record is None else {section.attribute: record}), record is not None


def _value(key: Key, typed: Any, where: str, reading: _Reading) -> tuple[Any, bool]:
    """Return what a key holds, None where absent, and whether all went well."""
    if typed is None or (isinstance(typed, str) and not typed.strip()):
        if key.needed and reading.complete and where != "site.units":
            problem = "this key is missing" if typed is None else "nothing there"
            reading.tell(where, problem, expected=f"{key.meaning}, such as {key.typed}")
        return None, not key.needed
    if not key.several:
        return _single(key, typed, where, reading)
    if key.bare and not isinstance(typed, (list, dict)):
        typed = [typed]
    if not isinstance(typed, list) or len(typed) < key.at_least:
        expected = f"{key.meaning}, such as {key.typed}"
        reading.tell(where, "not a list of enough values", read=text_of(typed), expected=expected)
        return None, False
    items = [_single(key, item, where, reading) for item in typed]
    return tuple(value for value, _ in items), all(good for _, good in items)


def _single(key: Key, typed: Any, where: str, reading: _Reading) -> tuple[Any, bool]:
    if isinstance(typed, (dict, list)) or not text_of(typed).strip():
        expected = f"{key.kind.word}, such as {key.typed}"
        reading.tell(where, "not a single value", read=text_of(typed), expected=expected)
        return None, False
    turned = refused(typed, key.kind, expected=f"{key.kind.word}, such as {key.typed}")
    if turned is not None:
        reading.tell(where, read=str(typed), **turned._asdict())
        return None, False
    try:
        return key.kind.read(text_of(typed), reading.unit), True
    except ValueError as error:
        if where != "site.units":
            reading.tell(
                where,
                str(error),
                read=text_of(typed),
                expected=getattr(error, "expected", None),
                remedy=getattr(error, "remedy", None),
            )
        return None, False


def _known_elsewhere(name: str, known: list[str]) -> str:
    """Return a remedy for an unknown key: the nearest one here, else the table that has it."""
    if nearest(name, known) is None:
        for section in SECTIONS:
            if section is not ARRAYS and any(key.name == name for key in section.keys):
                return f"It belongs in [{section.name}]"
    return did_you_mean(name, known)
