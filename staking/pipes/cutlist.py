"""What goes into the cutting of pipe and what comes out; lengths in metres."""

from __future__ import annotations

from dataclasses import dataclass

from staking.base.errors import StakingError


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One length to be cut that has no joint: a post."""

    name: str
    """``A3``."""
    length_m: float
    """With the cut allowance left on it."""
    pipe: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamToCut:
    """One beam, whose joints may fall anywhere that is legal."""

    name: str
    """``beam A``."""
    length_m: float
    posts_m: tuple[float, ...]
    """Distances from the left end, rising."""
    rails_m: tuple[float, ...]
    pipe: str
    threads: int = 0
    """One where it is the end piece of a beam that is begun, which lies in a coupling on one side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPiece:
    """One piece as cut; beams in pieces are ``beam A 1``, ``beam A 2`` from the left."""

    piece: str
    length_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stick:
    """One stick and what is cut from it, in order from one end."""

    stock_m: float
    price: float | None
    pipe: str
    pieces: tuple[CutPiece, ...]
    drop_m: float
    """What is left after the last kerf."""
    last_from_far_end: bool = False
    """The last piece keeps the stick's other threaded end: measured from there, the drop lies before it."""
    on_hand: bool = False
    """Taken from what is there already, with its real length, not bought."""

    name: str = ""
    """Its number on the list that was sawn from first; empty where it is counted anew."""

    def useful(self, useful_drop_m: float | None) -> bool | None:
        """Return whether the drop is worth keeping; None where it is not said from what length on."""
        return None if useful_drop_m is None else self.drop_m >= useful_drop_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """What is cut again from what is left, against the list that was sawn from."""

    sawn: tuple[CutPiece, ...]
    """Good already."""
    changed: dict[str, str]
    """By piece: what is other than on that list, in a few words; pieces that stay are not in it."""
    to_buy: int
    """Sticks that what is left does not do without."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutList:
    """A way to cut everything, and what is proven of it."""

    sticks: tuple[Stick, ...]
    joints_m: dict[str, tuple[float, ...]]
    """By beam name: distances of the joints from its left end."""
    count: int
    bound: int
    """No legal cutting, with the joints anywhere, needs fewer sticks."""
    cost: float | None
    cost_bound: float | None
    proven: bool
    """The objective (cost when priced, else sticks) equals its bound."""
    again: Again | None = None
    """Set where it is cut again from what is left; None for a first list."""
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    """What more joints than need be save."""

    @property
    def joints(self) -> int:
        """How many joints, so many sleeves or couplings."""
        return sum(len(joints) for joints in self.joints_m.values())

    @property
    def on_hand(self) -> int:
        """How many of the sticks are on hand."""
        return sum(stick.on_hand for stick in self.sticks)


class CannotCut(StakingError):
    """The pieces cannot be cut from the stock; `reasons` holds every reason found."""

    def __init__(self, reasons: tuple[str, ...]) -> None:
        self.reasons = reasons
        super().__init__("\n".join(reasons))
