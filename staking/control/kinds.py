"""What each point is, whether it may shape the ground, and which points must be placed."""

from __future__ import annotations

from dataclasses import dataclass

from staking.book.names import BENCHMARK_NAME, TURNING_NAME
from staking.book.records import FieldBook, PointKind, PointRow, Side


def key_of(name: str) -> str:
    """Return a point's name as it is compared: without case and outer blanks."""
    return name.strip().casefold()


@dataclass(frozen=True, slots=True, kw_only=True)
class PointSort:
    """What is known of a point beside its readings."""

    kind: PointKind
    shapes_ground: bool
    side: Side | None
    must_place: bool
    """Whether the survey is of no use without it: a pin, a benchmark, or named by a decision."""


def sorts(book: FieldBook, keys: dict[str, str]) -> dict[str, PointSort]:
    """Return the sort of every point, by key.

    A name of BM alone, with digits or with one more word is a benchmark, so is the point of
    ``[control] benchmark``; TP with digits is a turning point; a mark of a shadow that no rod, rise, offset
    or fix measures is other; else a point is ground. `points.csv` overrules.

    Parameters
    ----------
    book
        The field book.
    keys
        Names by key of every point.
    """
    rows: dict[str, PointRow] = {key_of(row.point): row for row in book.points}
    control = book.job.control
    needed: set[str] = set()
    if control.origin is not None:
        needed.add(key_of(control.origin.point))
    if control.azimuth is not None:
        needed |= {key_of(control.azimuth.start), key_of(control.azimuth.to)}
    for job in book.job.arrays:
        if job.place.line is not None:
            needed |= {key_of(name) for name in job.place.line}
    datum = None if control.benchmark is None else key_of(control.benchmark.point)
    marks = _shadow_marks(book)
    result: dict[str, PointSort] = {}
    for key in keys:
        row = rows.get(key)
        kind: PointKind = "other" if key in marks else "ground"
        if row is not None and row.kind is not None:
            kind = row.kind
        elif key == datum or BENCHMARK_NAME.fullmatch(key):
            kind = "benchmark"
        elif TURNING_NAME.fullmatch(key):
            kind = "turning"
        shapes = kind == "ground" if row is None or row.ground is None else row.ground
        result[key] = PointSort(
            kind=kind,
            shapes_ground=shapes,
            side=None if row is None else row.side,
            must_place=key in needed or kind in ("pin", "benchmark") or key == datum,
        )
    return result


def _shadow_marks(book: FieldBook) -> set[str]:
    """Return the points that shadows fell on and that nothing measures as ground."""
    marks = {key_of(row.to) for row in book.shadows} | {key_of(row.to) for row in book.equal_shadows}
    measured = {key_of(row.point) for row in book.levels} | {key_of(row.point) for row in book.offsets}
    measured |= {key_of(row.point) for row in book.fixes}
    measured |= {key_of(name) for row in book.rises for name in (row.start, row.to)}
    return marks - measured
