"""`variants.toml`: other designs of the same yard, each a name and the keys of job.toml that differ."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from staking.base.errors import Mistake, WrongInput
from staking.book.folder import read_book
from staking.book.keys import ARRAY_PARTS, FOOTING, PIPE
from staking.book.nearest import did_you_mean
from staking.book.records import FieldBook
from staking.book.tomltree import tree_of

FILE = "variants.toml"
PARTS = tuple(section.name for section in (*ARRAY_PARTS, FOOTING, PIPE))
"""Tables of job.toml that a variant may change: the survey is the same for all."""
_EXPECTED = '["23° of tilt"] and below it the keys that differ, such as array.tilt = 23'


def read_variants(folder: Path) -> tuple[tuple[str, FieldBook], ...]:
    """Return the variants of a survey by name, in the order of the file; none where there is no file.

    Raises
    ------
    WrongInput
        With all mistakes of all variants. The survey itself has been read before without one.
    """
    path = folder / FILE
    if not path.is_file():
        return ()
    tree = tree_of(path.read_bytes(), file=FILE)
    if isinstance(tree, Mistake):
        raise WrongInput([tree])
    mistakes: list[Mistake] = []
    found: list[tuple[str, FieldBook]] = []
    for name, changes in tree.items():
        wrong = _wrong(name, changes)
        if wrong:
            mistakes += wrong
            continue
        try:
            found.append((name, read_book(folder, changes=changes)))
        except WrongInput as error:
            mistakes += [_of_variant(name, mistake) for mistake in error.mistakes]
    if mistakes:
        raise WrongInput(mistakes)
    return tuple(found)


def marked(book: FieldBook, folder: Path) -> FieldBook:
    """Return the book with a fingerprint that counts the variants in; its own where there are none."""
    path = folder / FILE
    if not path.is_file():
        return book
    digest = hashlib.sha256(book.fingerprint.encode() + b"\0" + path.read_bytes())
    return replace(book, fingerprint=digest.hexdigest()[:12])


def _wrong(name: str, changes: Any) -> list[Mistake]:
    """Return what is wrong with the shape of a variant, before its values are read."""
    if not isinstance(changes, Mapping) or not changes:
        return [Mistake(file=FILE, column=name, problem="a variant changes nothing", expected=_EXPECTED)]
    return [
        Mistake(
            file=FILE,
            column=f"{name}: {part}",
            problem="a variant cannot change this",
            expected=f"one of {', '.join(PARTS)}",
            remedy=did_you_mean(part, list(PARTS)),
        )
        for part, values in changes.items()
        if part not in PARTS or not isinstance(values, Mapping)
    ]


def _of_variant(name: str, mistake: Mistake) -> Mistake:
    where = mistake.column or ""
    if mistake.file != "job.toml":
        where = f"{mistake.file} {where}".rstrip()
    return Mistake(
        file=FILE,
        row=mistake.row if mistake.file != "job.toml" else None,
        column=f"{name}: {where}",
        read=mistake.read,
        problem=mistake.problem,
        expected=mistake.expected,
        remedy=mistake.remedy,
    )
