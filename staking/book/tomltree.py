"""The text of ``job.toml`` to a tree of values, numbers kept as typed, or what is wrong with it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from staking.base.errors import Mistake
from staking.book.celltext import decode

FILE = "job.toml"


class _AsTyped(str):
    """A TOML number kept as typed, so that it is read exactly."""

    __slots__ = ()


def tree_of(data: bytes, *, file: str = FILE) -> Mapping[str, Any] | Mistake:
    """Return the tree of a file, or what is wrong where it is not readable as TOML."""
    try:
        text = decode(data)
    except ValueError as error:
        return Mistake(file=file, problem=str(error))
    try:
        return tomllib.loads(text, parse_float=_AsTyped)
    except RecursionError:
        return Mistake(file=file, problem="brackets within brackets without end")
    except ValueError as error:
        return _syntax_mistake(text, str(error), file)


def merged(tree: Mapping[str, Any], changes: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the tree with other values for the keys of `changes`, table within table."""
    both = dict(tree)
    for name, value in changes.items():
        old = both.get(name)
        both[name] = merged(old, value) if isinstance(old, Mapping) and isinstance(value, Mapping) else value
    return both


def _syntax_mistake(text: str, message: str, file: str) -> Mistake:
    """Return what is wrong with a file that is not TOML, with the line and what people usually mistype."""
    match = re.search(r"at line (\d+)", message)
    row = int(match[1]) if match else None
    lines = text.split("\n")
    line = lines[row - 1] if row is not None and row <= len(lines) else ""
    remedy = None
    if re.search("[“”‘’]", line):
        remedy = 'Quotes round a text must be straight: "67 1/8 in"'
    elif re.search(r"=.*\d\s*\"\s*\"", line):
        remedy = "An inch mark ends the text: write 67 1/8 in"
    elif re.search(r"=\s*[-+]?\d[\d\s./-]*(ft|in|mm?|')", line):
        remedy = 'Put a length with its unit in double quotes: "8.75 ft"'
    elif re.search(r"=\s*[-+]?\d+,\d", line):
        remedy = "Write a decimal point, not a comma"
    elif re.search(r"=\s*[A-Za-z]", line):
        remedy = 'Put words in double quotes: "level"'
    return Mistake(
        file=file, row=row, read=line.strip() or None, problem=f"not TOML: {message}", remedy=remedy
    )


def text_of(typed: Any) -> str:
    """Return a TOML value as text, numbers as typed."""
    if isinstance(typed, _AsTyped):
        return typed.replace("_", "")
    if isinstance(typed, bool):
        return "true" if typed else "false"
    if isinstance(typed, date) and not isinstance(typed, datetime):
        return typed.isoformat()
    if isinstance(typed, list):
        return "[" + ", ".join(text_of(item) for item in typed) + "]"
    if isinstance(typed, dict):
        return "{ " + ", ".join(f"{name} = {text_of(item)}" for name, item in typed.items()) + " }"
    return str(typed)
