"""What a pack is made of: sheets of words, tables and drawings, and the title block that all share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from staking.sheets.drawing import Drawing
from staking.sheets.earth_model import EarthModel
from staking.sheets.letters import shortened
from staking.sheets.site_model import SiteModel
from staking.sheets.stamp import Stamp
from staking.sheets.table import Table

Paper = Literal["letter", "a4", "tabloid", "a3"]

PAPER_MM: dict[Paper, tuple[float, float]] = {
    "letter": (215.9, 279.4),
    "a4": (210.0, 297.0),
    "tabloid": (279.4, 431.8),
    "a3": (297.0, 420.0),
}
"""Width and height upright: ANSI A 8.5 × 11 in and B 11 × 17 in; ISO 216 A4 and A3."""
HALF: dict[Paper, Paper] = {"letter": "letter", "a4": "a4", "tabloid": "letter", "a3": "a4"}
"""What all but the maps are printed on: the large papers fold to it once."""

MARGIN_MM = 13.0
"""White on all sides of a sheet; printers leave up to 6.4 mm unprinted (common practice, no source)."""
HEADER_MM = 11.0
"""Room for the sheet's title, below the margin."""
ALARM_DOWN_MM = 8.0
"""From the margin down to the baseline of what every sheet must say, below the sheet's number."""
FOOTER_MM = 12.0
TITLE_SHARES = {
    "Job": 2.4,
    "Date": 0.9,
    "Revision": 0.72,
    "Inputs": 1.15,
    "Benchmark": 2.0,
    "Lengths in": 1.27,
}
"""Widths of the title block's parts against each other."""
TITLE_LAYERS = ("title", "whose")
"""Of a drawing's items that repeat the title block: of the sheet, and of each card on it."""
TITLE_GUTTER_MM = 4.0
"""White between the title block's parts."""
TITLE_PT = 9.0
"""Size of the title block's letters."""
"""Room for the title block, above the margin."""
SMALLEST_PT = 9.0
"""No letter on a sheet is smaller: it must be read outdoors at arm's length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """A headed list of sentences."""

    heading: str = ""
    lines: tuple[str, ...]
    bullets: bool = True
    alarm: bool = False
    """In a heavy frame: it must not be missed."""
    size_pt: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TitleBlock:
    """What every sheet says of itself; each is a label and its text."""

    job: str
    date: str
    fingerprint: str
    benchmark: str
    lengths_in: str
    revision: str = ""
    alarm: str = ""
    """What every sheet must say besides: that the survey fails its tests."""

    def fitted(self, room_mm: float) -> tuple[tuple[str, str, float], ...]:
        """Return the labels, the texts cut off where wider than their part, and the parts' widths."""
        parts = self.parts()
        shares = [TITLE_SHARES[label] for label, _ in parts]
        shared = room_mm - TITLE_GUTTER_MM * (len(parts) - 1)
        widths = [shared * share / sum(shares) for share in shares]
        return tuple(
            (label, shortened(text, width_mm=width, size_pt=TITLE_PT, strong=True), width)
            for width, (label, text) in zip(widths, parts, strict=True)
        )

    def parts(self) -> tuple[tuple[str, str], ...]:
        """Return the labels and texts from left to right; a revision only where there is one."""
        return (
            ("Job", self.job),
            ("Date", self.date),
            *((("Revision", self.revision),) if self.revision else ()),
            ("Inputs", self.fingerprint),
            ("Benchmark", self.benchmark),
            ("Lengths in", self.lengths_in),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet; it runs on over further pages where its tables need them."""

    name: str
    """Short, for files: ``stakeout_map``."""
    title: str
    blocks: tuple[Words | Table, ...] = ()
    drawing: Drawing | None = None
    """A drawing of the whole sheet, its title and title block included."""
    landscape: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class DataFile:
    """A table for other programs: bare numbers in the survey's own unit."""

    name: str
    table: Table


@dataclass(frozen=True, slots=True, kw_only=True)
class Pack:
    """All that is written into the output folder, before it is written."""

    paper: Paper
    title_block: TitleBlock
    sheets: tuple[Sheet, ...]
    drawings: tuple[tuple[str, Drawing], ...]
    """File name and drawing."""
    data: tuple[DataFile, ...]
    stamp: Stamp | None = None
    """What files for other programs say of themselves."""
    site: SiteModel | None = None
    """For drawing programs."""
    earth: EarthModel | None = None
    """For receivers and map programs; None where the site is not tied to the earth well enough."""
