"""A plan as it was made: an output folder as `plan` wrote it, or a survey that is planned now."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from staking.base.errors import Mistake, WrongInput
from staking.book.folder import read_book
from staking.book.tomltree import FILE as JOB_FILE
from staking.book.workbook import is_workbook
from staking.formats.sheets_json import NAME as SHEETS
from staking.plan import planned
from staking.results import SCHEMA, results
from staking.sheets.notation import STYLES
from staking.sheets.pack import pack
from staking.sheets.printed import PrintedSheet, printed_sheets

RESULTS = "results.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What is compared."""

    place: str
    """The folder, for people."""
    results: Mapping[str, Any]
    style: str | None
    """How lengths were printed; None where nothing tells."""
    sheets: tuple[PrintedSheet, ...] | None
    """None where nothing tells what was printed."""

    @property
    def inputs(self) -> str:
        """The fingerprint of the inputs."""
        return str(self.results.get("fingerprint") or "–")


def made(place: Path) -> Made:
    """Return a plan from where it was written, or from its survey.

    Raises
    ------
    WrongInput
        When the place is neither, its files cannot be read, or the survey cannot be planned.
    """
    if is_workbook(place) or (place / JOB_FILE).is_file():
        plan = planned(read_book(place))
        style = plan.book.job.site.show
        sheets = printed_sheets(pack(plan))
        return Made(
            place=str(place), results=json.loads(json.dumps(results(plan))), style=style, sheets=sheets
        )
    if not (place / RESULTS).is_file():
        problem = "no such folder" if not place.exists() else f"neither {RESULTS} nor {JOB_FILE} is there"
        remedy = "Name a folder that staking plan wrote (--out), or a survey's folder or workbook"
        raise WrongInput([Mistake(file=str(place), problem=problem, remedy=remedy)])
    found = _json(place / RESULTS)
    if not _sound(found):
        problem, remedy = "not the results of a plan", "Plan the survey again with this program"
        raise WrongInput([Mistake(file=str(place / RESULTS), problem=problem, remedy=remedy)])
    if not (place / SHEETS).is_file():
        return Made(place=str(place), results=found, style=None, sheets=None)
    printed = _json(place / SHEETS)
    if printed.get("inputs") != found.get("fingerprint"):
        problem = f"{RESULTS} and {SHEETS} come from different inputs"
        remedy = "Plan into a folder of its own"
        raise WrongInput([Mistake(file=str(place), problem=problem, remedy=remedy)])
    try:
        sheets = tuple(
            PrintedSheet(
                title=str(one["title"]),
                part=int(one["part"]),
                scale=None if one["scale"] is None else int(one["scale"]),
                texts=tuple(map(str, one["texts"])),
                drawn={str(layer): tuple(map(_path, paths)) for layer, paths in one["drawn"].items()},
            )
            for one in printed["sheets"]
        )
        told = str(printed["style"])
        if told not in STYLES:
            raise _broken(place / SHEETS, f"lengths in {told}")
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise _broken(place / SHEETS, str(error)) from error
    return Made(place=str(place), results=found, style=told, sheets=sheets)


def _path(text: str) -> tuple[tuple[float, float], ...]:
    pairs = [pair.split(",") for pair in text.split()]
    return tuple((float(x), float(y)) for x, y in pairs)


def _sound(found: Mapping[str, Any]) -> bool:
    """Return whether results hold what is compared."""
    try:
        piers, points, beams = found["piers"], found["survey"]["points"], found["beams"]
        return (
            found["schema"] == SCHEMA
            and all({"pier", "east", "north", "above_grade"} <= set(row) for row in piers)
            and all({"point", "kind", "east", "north", "elevation"} <= set(row) for row in points)
            and all({"array", "beam", "length"} <= set(row) for row in beams)
        )
    except (KeyError, TypeError):
        return False


def _json(path: Path) -> dict[str, Any]:
    try:
        found = json.loads(path.read_bytes())
    except (OSError, ValueError) as error:
        raise _broken(path, str(error)) from error
    if not isinstance(found, dict):
        raise _broken(path, "no object")
    return found


def _broken(path: Path, why: str) -> WrongInput:
    remedy = "Plan the survey again"
    return WrongInput([Mistake(file=str(path), problem=f"cannot be read: {why}", remedy=remedy)])
