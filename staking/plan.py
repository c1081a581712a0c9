"""The whole flow on one page: a field book in, one frozen Plan out."""

from __future__ import annotations

from dataclasses import dataclass

from staking.book.records import FieldBook
from staking.control.adjustment import Adjustment
from staking.ground.elevations import Ground
from staking.layout.frame import Conflict, Fit
from staking.marks.stakeout import StakeOut
from staking.pipes.cutlist import CutList
from staking.pipes.holes import Hole


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArrayPlan:
    """One array, planned."""

    name: str
    fit: Fit
    holes: tuple[Hole, ...]
    stakeout: StakeOut

    def pier_name(self, pier: str) -> str:
        """Return a pier's name in the whole job: with several arrays ``name-A1``."""
        return f"{self.name}-{pier}" if self.name else pier

    def beam_name(self, letter: str) -> str:
        """Return a beam's name in the cut list: ``beam A``, with several arrays ``beam name-A``."""
        return f"beam {self.pier_name(letter)}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """Everything that sheets and files are made from."""

    book: FieldBook
    adjustment: Adjustment
    ground: Ground | None
    arrays: tuple[ArrayPlan, ...]
    """Empty when no layout meets the limits, or for a survey alone."""
    cuts: CutList | None
    conflicts: tuple[Conflict, ...] = ()
    would_do: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
