"""What an imported file gave: cells for a table, what to say of them, and what is wrong."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from staking.base.errors import Mistake

HeightKind = Literal["ellipsoidal", "orthometric", "none"]
XIs = Literal["east", "north"]
Target = Literal["fixes", "control"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the person said beside the files."""

    point: str | None = None
    """The point on which the receiver stood, for logs without names."""
    session: str | None = None
    """None: the file's name without its ending."""
    height_kind: HeightKind | None = None
    """For heights of which the file does not say it; ``none`` leaves all heights out."""
    unit: str = "m"
    """The survey's, in which a bare number is taken; not asked, but known from its job.toml."""
    x_is: XIs | None = None
    """Where the x of a list runs."""
    grid_in_survey_feet: bool = False
    """Whether numbers in feet in control.csv are the map grid's own US survey feet; known from job.toml."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundRow:
    """One row to add, as it will be typed."""

    line: int | None
    """Of the imported file; None where it has none to show."""
    cells: Mapping[str, str]
    """By column of the table."""


@dataclass(slots=True, kw_only=True)
class Found:
    """What one file gave."""

    file: str
    target: Target = "fixes"
    rows: list[FoundRow] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    mistakes: list[Mistake] = field(default_factory=list)

    def wrong(
        self,
        problem: str,
        *,
        line: int | None = None,
        column: str | None = None,
        read: str | None = None,
        expected: str | None = None,
        remedy: str | None = None,
    ) -> None:
        """Note a mistake in the file."""
        self.mistakes.append(
            Mistake(
                file=self.file,
                row=line,
                column=column,
                read=read,
                problem=problem,
                expected=expected,
                remedy=remedy,
            )
        )

    def heights_of_no_kind(self) -> None:
        """Note once that nothing says above what the heights are: rows without them could not be mended."""
        problem = "it has heights, and nothing says above what they are"
        if not any(mistake.problem == problem for mistake in self.mistakes):
            self.wrong(
                problem,
                remedy="Say --height-kind orthometric (above mean sea level, as most handhelds show) or "
                "ellipsoidal, or --height-kind none to leave them out.",
            )

    def heights_of_no_unit(self, column: str, unit: str) -> None:
        """Note once that a receiver's heights have no unit where the survey's is another than theirs."""
        problem = (
            f"heights without a unit would be read as {unit}, the survey's; receivers mostly write metres"
        )
        if not any(mistake.problem == problem for mistake in self.mistakes):
            self.wrong(
                problem,
                line=1,
                column=column,
                expected=f"the unit in the heading, such as {column} (m) or {column} ({unit})",
            )


def degrees_text(degrees: float) -> str:
    """Return degrees as they are typed into fixes.csv: to a tenth of a millimetre."""
    return f"{degrees:.9f}"


def metres_text(value_m: float) -> str:
    """Return metres with their unit, so that it does not matter what the survey's is."""
    return f"{value_m:.3f} m"
