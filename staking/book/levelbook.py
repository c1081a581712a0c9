"""The grammar of a level book: which sights may follow which.

A backsight opens a setup, intermediate sights stand between, a foresight closes it; a turning point has the
foresight of the old setup and the backsight of the new one in one row. A backsight without a foresight before
it opens a new setup too, as lasers are used: the old one stays unclosed, and that is said.
"""

from __future__ import annotations

from collections.abc import Sequence

from staking.base.errors import Mistake
from staking.book.tablereader import TypedRow

SIGHTS = ("bs", "is", "fs")


def check_levels(rows: Sequence[TypedRow], *, file: str) -> tuple[list[Mistake], list[str]]:
    """Return the mistakes of grammar and the warnings of a level book, from its rows as typed."""
    mistakes: list[Mistake] = []
    unclosed: list[int] = []
    opened: int | None = None  # row of the backsight that opened the present setup
    known = True  # whether what went before is known for certain
    told = False  # whether sights without a setup have been told since the last backsight
    for row in rows:
        sights = [sight for sight in SIGHTS if sight in row.read]
        if not row.sound:
            opened, known, told = None, False, False
            continue
        if not sights:
            remedy = "Write a bs, is or fs, or make the row a remark with # in front"
            mistakes.append(Mistake(file=file, row=row.row, problem="a row without a reading", remedy=remedy))
            continue
        if "is" in sights and len(sights) > 1:
            other = "bs" if "bs" in sights else "fs"
            problem = f"an intermediate sight and a {'back' if other == 'bs' else 'fore'}sight in one row"
            remedy = "Keep the one it is, or write two rows; only fs and bs share a row, at a turning point"
            mistakes.append(
                Mistake(
                    file=file, row=row.row, column="is", read=row.read["is"], problem=problem, remedy=remedy
                )
            )
        elif opened is None and known and not told and sights != ["bs"]:
            told = True
            mistakes.append(_no_setup(row, sights, file=file, first=row is rows[0]))
        if "fs" in sights:
            opened = None
        if "bs" in sights:
            if opened is not None:
                unclosed.append(opened)
            opened, known, told = row.row, True, False
    if opened is not None:
        unclosed.append(opened)
    return mistakes, _unclosed(unclosed, file=file)


def _no_setup(row: TypedRow, sights: Sequence[str], *, file: str, first: bool) -> Mistake:
    column = "fs" if "fs" in sights else "is"
    before = "the level book does not begin with a bs" if first else "no bs after the last fs"
    return Mistake(
        file=file,
        row=row.row,
        column=column,
        read=row.read[column],
        problem=f"a sight from no setup: {before}",
        remedy="A setup opens with a bs: write it beside the turning point's fs, or in a row before this one",
    )


def _unclosed(rows: Sequence[int], *, file: str) -> list[str]:
    if not rows:
        return []
    which = f"row {rows[0]}" if len(rows) == 1 else "rows " + ", ".join(str(row) for row in rows)
    setups = "the setup" if len(rows) == 1 else "setups"
    return [f"{file}: {setups} opened in {which} not closed by an fs: nothing shows a level that moved."]
