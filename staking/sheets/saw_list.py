"""The list to saw from in the columns of ``sawn.csv``: copied there, it takes how each piece fared.

A list cut again holds what was sawn and spoilt before as well, and the depths of holes, so that it can be
copied over the old one and be sawn from again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from staking.base.units import in_unit
from staking.book.records import SawnRow
from staking.pipes.cutlist import Stick
from staking.pipes.sawn_list import FITS_M, NO_STICK, before, key_of_piece, never_sawn
from staking.plan import Plan
from staking.sheets.bare_table import bare_table
from staking.sheets.table import Table

_DECIMALS = {"ft": 7, "in": 6, "m": 8, "mm": 5}
"""It is read again: what a stick holds to the hair must still fit."""
_NAMES = ("stick", "stock", "piece", "length", "state", "hole_depth", "pipe", "note")

_Row = tuple[str, ...]
_Fine = Callable[[float | None], str]


def saw_list(plan: Plan, sticks: Sequence[Stick]) -> Table:
    """Return the list of these sticks."""
    unit = plan.book.job.site.units

    def fine(value_m: float | None) -> str:
        if value_m is None:
            return ""
        return f"{in_unit(value_m, unit):.{_DECIMALS[unit]}f}".rstrip("0").rstrip(".")

    named = {stick.name or str(n): stick for n, stick in enumerate(sticks, start=1)}
    rows = list(_rows(plan.book.sawn, named, fine))
    return bare_table("saw list", [(name, "") for name in _NAMES], rows)


def _rows(old: Sequence[SawnRow], named: dict[str, Stick], fine: _Fine) -> Iterator[_Row]:
    """Yield every stick: what was sawn or spoilt of it, what is to be sawn, what is left without either."""
    depths = {
        key_of_piece(row.piece): row.hole_depth_m for row in old if row.piece and row.hole_depth_m is not None
    }
    again = {key_of_piece(piece.piece) for stick in named.values() for piece in stick.pieces}
    to_saw = {key_of_piece(name): (name, stick) for name, stick in named.items()}
    sticks: dict[str, list[SawnRow]] = {}
    for row in old:
        sticks.setdefault(key_of_piece(row.stick or ""), []).append(row)

    def planned(key: str, stock_m: float | None = None) -> list[_Row]:
        if key not in to_saw:
            return []
        name, stick = to_saw.pop(key)
        return [
            (
                name,
                fine(stick.stock_m if stock_m is None else stock_m),
                piece.piece,
                fine(piece.length_m),
                "",
                fine(depths.get(key_of_piece(piece.piece))),
                stick.pipe,
                "",
            )
            for piece in stick.pieces
        ]

    free = dict(to_saw)

    def uses(row: SawnRow) -> bool:
        """Whether a stick to saw from is this length of pipe, each taken once."""
        called = key_of_piece(row.stick or NO_STICK)
        for key, (_, stick) in free.items():
            mine = key == called or key.startswith(f"{called} ")
            if mine and stick.on_hand and abs(stick.stock_m - (row.length_m or 0.0)) <= FITS_M:
                del free[key]
                return True
        return False

    def gone(row: SawnRow, name: str) -> _Row:
        piece = key_of_piece(row.piece or "")
        spoilt = row.state == "spoilt" or piece in again  # Sawn, but too short by now.
        depth = None if spoilt else depths.get(piece)
        state = "spoilt" if spoilt else "sawn"
        stock, length = fine(row.stock_m), fine(row.length_m)
        return (name, stock, row.piece or "", length, state, fine(depth), row.pipe or "", "")

    for key, rows in sticks.items():
        name = rows[0].stick or ""
        pieces = [row for row in rows if row.piece]
        done = [row for row in pieces if row.state is not None]
        told = [row for row in rows if not row.piece]
        if not pieces and len(told) == 1 and never_sawn(told[0]) and key in to_saw:
            yield from planned(key, told[0].stock_m)
        elif told and key in to_saw:
            # What is sawn from a length that was told stands under the stick's name with that length.
            stock_m = pieces[0].stock_m if pieces else told[0].stock_m
            yield from (gone(row, before(name)) for row in done)
            yield _left(before(name), stock_m, 0.0, rows[0].pipe, fine)
            yield from (_left("", None, row.length_m, row.pipe, fine) for row in told if not uses(row))
            yield from planned(key)
        elif told:
            yield from (gone(row, name) for row in done)
            stock_m = pieces[0].stock_m if pieces else told[0].stock_m
            yield from (_left(name, stock_m, row.length_m, row.pipe, fine) for row in told if not uses(row))
        elif key not in to_saw and not done:
            yield _left(name, pieces[0].stock_m, pieces[0].stock_m, pieces[0].pipe, fine)
        else:
            some = planned(key, pieces[0].stock_m)
            lines = [gone(row, name) for row in done]
            yield from (*lines, *some) if pieces[0].state is not None else (*some, *lines)
    for key in list(to_saw):
        yield from planned(key)


def _left(name: str, stock_m: float | None, length_m: float | None, pipe: str | None, fine: _Fine) -> _Row:
    return (name, fine(stock_m), "", fine(length_m) or "0", "left", "", pipe or "", "")
