"""A survey folder to fill in, made from the declarations."""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Collection
from pathlib import Path

from staking.base.errors import Mistake, WrongInput
from staking.base.units import format_length, parse_length
from staking.book.keys import ARRAY_PARTS, ARRAYS, SECTIONS, SITE, Key, Section
from staking.book.kinds import PER_100, UNITS, Kind
from staking.book.nearest import plain
from staking.book.tables import TABLES, Table
from staking.book.tomltree import FILE as JOB_FILE

STYLES = {"ft": "decimal feet", "in": "inches", "m": "metres", "mm": "metric"}
"""How a bare number of a unit is printed."""
_WIDTH = 100

_HEAD = """\
# The decisions of one survey. To fill in: take away the # before a key and put your own value behind it.
# Lines that begin with # and a blank are remarks. A key marked "needed" has no default.
# A bare number is in the survey's units; a length may carry its own: "5.43 ft", "5' 5-1/8 in", "1655 mm".
# Angles are degrees: 88.5, "88°30'", "88-30-00"; a bearing may be "N 88°30' E".
"""


def write_starter(folder: Path, *, units: str) -> list[Path]:
    """Write ``job.toml`` and one CSV file for each table, every example a remark.

    Parameters
    ----------
    folder : Path
        Made where it does not exist.
    units : str
        ft, in, m or mm: what a bare number will mean.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    WrongInput
        When a file of the same name exists (nothing is written then), the unit is unknown, or the folder
        cannot be written to.
    """
    try:
        unit: str = UNITS.read(units, "")
    except ValueError as error:
        raise WrongInput([Mistake(file=str(folder), read=units, problem=str(error))]) from error
    texts = {JOB_FILE: job_text(unit)} | {table.file: table_text(table, unit) for table in TABLES}
    taken = [folder / name for name in texts if (folder / name).exists()]
    if taken:
        remedy = "Nothing was written; name an empty folder, or move the file away"
        raise WrongInput([Mistake(file=str(path), problem="exists already", remedy=remedy) for path in taken])
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            (folder / name).write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        problem = f"cannot be written: {error.strerror}"
        raise WrongInput([Mistake(file=str(folder), problem=problem)]) from error
    return [folder / name for name in texts]


def table_text(table: Table, unit: str) -> str:
    """Return a table's CSV file: the column names, and example rows as remarks."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([column.name for column in table.columns])
    out.write(f"# One row is {table.meaning}.\n")
    for number in range(max(len(column.examples) for column in table.columns)):
        out.write("#")
        writer.writerow(
            [
                example_cell(column.examples[number], column.kind, unit)
                if number < len(column.examples)
                else ""
                for column in table.columns
            ]
        )
    return out.getvalue()


def example_cell(example: str, kind: Kind, unit: str) -> str:
    """Return an example, typed in feet, in the survey's unit."""
    if kind.suffix != "_m" or not example:
        return example
    return format_length(parse_length(example, unit="ft"), style=STYLES[unit])


def job_text(unit: str) -> str:
    """Return a ``job.toml`` with every key, its meaning and an example."""
    parts = [_HEAD]
    for section in SECTIONS:
        if section is ARRAYS:
            names = ", ".join(f"[arrays.{part.name}]" for part in ARRAY_PARTS)
            how = f"Several arrays: for each [[arrays]] with its name, then {names}: {section.meaning}"
            parts.append(_remark(how))
            continue
        lines = [_remark(section.meaning) + f"[{section.name}]"]
        lines.extend(_line(key, unit, section) for key in section.keys)
        parts.append("\n".join(lines) + "\n")
    return "\n".join(parts)


def _remark(text: str) -> str:
    return textwrap.fill(text, _WIDTH, initial_indent="# ", subsequent_indent="# ") + "\n"


def _line(key: Key | Section, unit: str, section: Section) -> str:
    if isinstance(key, Section):
        told = "".join(f"#   {inner.name}: {_meaning(inner)}\n" for inner in key.keys)
        tables = [_braces(key, unit, without=set(key.apart) - {one}) for one in key.apart or ("",)]
        value = ", ".join(tables)
        needed = "needed: " if key.needed else ""
        head = _remark(f"{key.name}: {needed}{key.meaning}") + told
        return f"{head}#{key.name} = {f'[ {value} ]' if key.several else value}"
    if section is SITE and key.kind is UNITS:
        return f'{key.name} = "{unit}"  # {_meaning(key)}'
    before = "# or " if key.instead else "#"
    return f"{before}{key.name} = {_typed(key, unit)}  # {_meaning(key)}"


def _meaning(key: Key | Section) -> str:
    if isinstance(key, Section):
        return key.meaning
    if key.needed:
        return f"needed: {key.meaning}"
    default = key.default
    return (
        f"{key.meaning}; default: {default}"
        if default and plain(default) != plain(key.meaning)
        else key.meaning
    )


def _braces(section: Section, unit: str, *, without: Collection[str] = ()) -> str:
    keys = [key for key in section.keys if isinstance(key, Key) and key.name not in without]
    return "{ " + ", ".join(f"{key.name} = {_typed(key, unit)}" for key in keys) + " }"


def example_value(key: Key, unit: str) -> list[str]:
    """Return the items of a key's example, lengths in millimetres for a metric survey."""
    items = key.example.split(" | ")
    if unit in ("m", "mm") and key.kind.suffix == "_m" and key.kind is not PER_100:
        return [
            format_length(parse_length(item, unit=unit), style="metric") + " mm" if " " in item else item
            for item in items
        ]
    return items


def _typed(key: Key, unit: str) -> str:
    """Return the example as it stands in the file."""
    items = example_value(key, unit)
    quoted = [key.quoted(item) for item in items]
    return f"[{', '.join(quoted)}]" if key.listed(quoted) else quoted[0]
