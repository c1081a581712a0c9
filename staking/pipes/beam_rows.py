"""Which rows of the list that was sawn from are a beam's pieces as its joints stand now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from staking.book.records import SawnRow

_DECIMALS = 5
"""Sums of lengths nearer than a hundredth of a millimetre are one sum: so few are kept of many rows."""


def rows_that_make_up(
    rows: Mapping[int, Sequence[SawnRow]], length_m: float, *, make_up_m: float, within_m: float
) -> list[SawnRow] | None:
    """Return a row a piece, in order, whose lengths make up the beam, or None.

    A list cut again keeps what was spoilt before, perhaps of pieces that had other lengths, or numbers that
    the beam no longer has, before its joints moved. So a spoilt piece may be any of its spoilt rows, and the
    last numbers may be none of the beam's where all their rows are spoilt.

    Parameters
    ----------
    rows
        By the piece's number, the first is 1.
    length_m, make_up_m
        Of the beam, and of each of its joints.
    within_m
        What the sum may be off.
    """
    found: list[SawnRow] | None = None
    ways: list[tuple[float, list[SawnRow]]] = [(-make_up_m, [])]
    for number in range(1, max(rows, default=0) + 1):
        mine = rows.get(number, ())
        good = [row for row in mine if row.state != "spoilt"]
        longer = [
            (at + make_up_m + (row.length_m or 0.0), [*way, row]) for at, way in ways for row in good or mine
        ]
        ways = list({round(at, _DECIMALS): (at, way) for at, way in longer}.values())
        if all(row.state == "spoilt" for n, some in rows.items() if n > number for row in some):
            found = next((way for at, way in ways if abs(at - length_m) <= within_m), found)
    return found
