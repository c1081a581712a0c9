"""The errors a user can meet.

StakingError
├── WrongInput      exit status 2: every mistake found, all at once
└── NoPlaneFits     exit status 3 (staking.layout): the input is right, no layout meets the limits
"""

from __future__ import annotations

from dataclasses import dataclass

LONGEST_READ = 200
"""Signs of what was read that are told: a file of another kind may be one line of a million."""


class StakingError(Exception):
    """The root of all errors that this package raises on purpose."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    """One mistake in the input: where it stands, what was read, what was expected, what to do."""

    file: str
    """File name as the user knows it, ``levels.csv`` or ``job.toml``."""
    row: int | None = None
    """Row as a spreadsheet shows it: the header is row 1."""
    column: str | None = None
    """Column of a table, or the dotted key of a TOML file (``frame.bay``)."""
    read: str | None = None
    """What stands there, as typed."""
    place: str | None = None
    """Where it stands in a workbook, instead of the row: ``sheet levels, cell C7``."""
    kind: str | None = None
    """What `column` is, ``key`` or ``column``; without it, by the file's name."""
    problem: str
    """What is wrong with it, as a clause: ``not a length``, ``unknown column``."""
    expected: str | None = None
    """What belongs there, with an example."""
    remedy: str | None = None
    """What to do: the nearest known name, the missing reading, the other reading of a number."""

    def __str__(self) -> str:
        where = self.file
        if self.place is not None:
            where += f", {self.place}"
        if self.row is not None:
            where += f", row {self.row}"
        if self.column is not None:
            kind = self.kind or ("key" if self.file.endswith(".toml") else "column")
            where += f", {kind} {self.column}"
        text = f"{where}: {self.problem}"
        if self.read is not None:
            # As typed: repr would put backslashes before foot and inch marks.
            read = self.read[:LONGEST_READ]
            text += f"; read '{read}'" if read.isprintable() else f"; read {read!r}"
            if len(self.read) > LONGEST_READ:
                text += f" and {len(self.read) - LONGEST_READ} signs more"
        if self.expected is not None:
            text += f"; expected {self.expected}"
        if self.remedy is not None:
            text += f". {self.remedy}"
        return text


class WrongInput(StakingError):
    """The input cannot be used; `mistakes` holds every reason, in the order of the files.

    `asked` holds sentences on what is no mistake for certain, so that it need not wait for the next run.
    """

    def __init__(self, mistakes: list[Mistake] | tuple[Mistake, ...], *, asked: tuple[str, ...] = ()) -> None:
        self.mistakes = tuple(mistakes)
        self.asked = asked
        super().__init__("\n".join(str(mistake) for mistake in self.mistakes))
