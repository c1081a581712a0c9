"""Mistakes that are not one wrong number: are they named for what they are, and nothing else with them?

Run by hand: ``python -m benchmarks.conflicts [yards] [seed] [words of a kind]``. Invented yards of four pins
and five ground points, each taped from three or four pins and levelled twice; the datum is local, or four
control points are fixed, or all nine points have fixes to 15 mm. Every figure has its standard error.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from itertools import combinations
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "control"))

from fixed_yards import FixedYard  # type: ignore[import-not-found]

from benchmarks.blunders import share
from staking.base.errors import WrongInput
from staking.book.records import Azimuth, Benchmark, Control, ControlRow, FieldBook, Origin
from staking.control.adjusting import adjusted
from staking.control.adjustment import Suspect

YARDS = 100
SEED = 0
FOOT_M = 0.3048
PINS = ("P1", "P2", "P3", "P4")
GROUND = ("G1", "G2", "G3", "G4", "G5")
SURE = 0.97
Cells = frozenset[tuple[str, int, str]]


@dataclass(kw_only=True)
class Spoilt:
    """A book with a mistake in it."""

    book: FieldBook
    cells: Cells
    """Table, row and column of what is wrong; one of them named is enough where the mistake is one."""
    likely: frozenset[str] = frozenset()
    """What should stand there, where it is known to the letter."""
    why: str = ""
    """Words that name the mistake."""


@dataclass
class Tally:
    """What came of one kind of mistake."""

    yards: int = 0
    refused: int = 0
    named: int = 0
    repaired: int = 0
    others: int = 0
    sure: int = 0
    sure_wrong: int = 0
    seconds: list[float] = field(default_factory=list)


def yard_of(rng: np.random.Generator) -> FixedYard:
    """Return an invented yard with its tapes and levels."""
    spots = {"P1": (0.0, 0.0), "P2": (20.0, 0.7), "P3": (19.0, 12.0), "P4": (1.0, 11.0)}
    spots = {k: (e + rng.uniform(-3, 3), n + rng.uniform(-3, 3)) for k, (e, n) in spots.items()}
    spots |= {k: (rng.uniform(2, 18), rng.uniform(2, 10)) for k in GROUND}
    truth = {
        k: (100 + e, 50 + n, 30 + 0.04 * e + 0.1 * n + rng.normal(0, 0.2)) for k, (e, n) in spots.items()
    }
    yard = FixedYard(truth=truth, rng=rng)
    for a, b in combinations(PINS, 2):
        yard.tape(a, b)
    for name in GROUND:
        for pin in rng.permutation(PINS)[: rng.integers(3, 5)]:
            yard.tape(str(pin), name)
    for back in ("P1", "P4"):
        yard.setup(back, [str(n) for n in rng.permutation([k for k in truth if k != back])], back)
    return yard


def local(yard: FixedYard) -> FieldBook:
    """Return its book with a local datum."""
    e, n, z = yard.truth["P1"]
    azimuth_rad = yard.azimuth("P1", "P2")
    control = Control(
        origin=Origin(point="P1", east_m=e, north_m=n),
        azimuth=Azimuth(start="P1", to="P2", azimuth_rad=azimuth_rad, north="true"),
        benchmark=Benchmark(point="P1", elevation_m=z),
        side="left",
    )
    return yard.book(control=control)


def controlled(yard: FixedYard) -> FieldBook:
    """Return its book with four fixed control points."""
    rows = []
    for k, name in enumerate(PINS):
        e, n, z = (round(value, 3) for value in yard.truth[name])
        read = {"east": f"{e:.3f}", "north": f"{n:.3f}", "elevation": f"{z:.3f}"}
        rows.append(
            ControlRow(
                table="control.csv",
                row=k + 2,
                read=read,
                point=name,
                east_m=e,
                north_m=n,
                elevation_m=z,
            )
        )
    return yard.book(control=Control(side="left"), control_points=tuple(rows))


def with_fixes(yard: FixedYard) -> FieldBook:
    """Return its book with fixes of all points."""
    for name in yard.truth:
        yard.fix(name, "one", sd_h=0.015)
    return replace(local(yard), fixes=tuple(yard.fixes))


def _put(book: FieldBook, table: str, k: int, **values: object) -> FieldBook:
    rows = list(getattr(book, table))
    rows[k] = replace(rows[k], **values)
    return replace(book, **{table: tuple(rows)})


def control_far(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return one control coordinate wrong by 100 m to 100 km."""
    book, k, axis = controlled(yard), int(rng.integers(4)), str(rng.choice(["east", "north"]))
    row = book.control_points[k]
    value = float(row.read[axis]) + float(rng.choice([-1, 1])) * 10 ** rng.uniform(2, 5)
    read = {**row.read, axis: f"{value:.3f}"}
    book = _put(book, "control_points", k, read=read, **{f"{axis}_m": round(value, 3)})
    return Spoilt(book=book, cells=frozenset({("control.csv", k + 2, axis)}))


def control_digits(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return two neighbouring digits of a control coordinate exchanged."""
    book = controlled(yard)
    while True:
        k, axis = int(rng.integers(4)), str(rng.choice(["east", "north"]))
        text = book.control_points[k].read[axis]
        at = int(rng.choice([i for i in range(len(text) - 1) if text[i : i + 2].isdigit()]))
        wrong = text[:at] + text[at + 1] + text[at] + text[at + 2 :]
        if abs(float(wrong) - float(text)) > 0.05:
            break
    read = {**book.control_points[k].read, axis: wrong}
    book = _put(book, "control_points", k, read=read, **{f"{axis}_m": float(wrong)})
    return Spoilt(
        book=book,
        cells=frozenset({("control.csv", k + 2, axis)}),
        likely=frozenset({text}),
        why="two digits changed places",
    )


def control_turned(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return east and north of one control point exchanged."""
    book, k = controlled(yard), int(rng.integers(4))
    row = book.control_points[k]
    read = {**row.read, "east": row.read["north"], "north": row.read["east"]}
    book = _put(book, "control_points", k, read=read, east_m=row.north_m, north_m=row.east_m)
    cells = frozenset({("control.csv", k + 2, axis) for axis in ("east", "north")})
    return Spoilt(book=book, cells=cells, why="east and north exchanged")


def control_names(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return two control points under each other's names."""
    book = controlled(yard)
    a, b = (int(k) for k in rng.permutation(4)[:2])
    book = _put(_put(book, "control_points", a, point=PINS[b]), "control_points", b, point=PINS[a])
    cells = frozenset({("control.csv", k + 2, "point") for k in (a, b)})
    return Spoilt(book=book, cells=cells, why="exchanged")


def fix_names(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return two fixes under each other's names."""
    book = with_fixes(yard)
    a, b = (int(k) for k in rng.permutation(len(book.fixes))[:2])
    first, second = book.fixes[a].point, book.fixes[b].point
    book = _put(_put(book, "fixes", a, point=second), "fixes", b, point=first)
    cells = frozenset({("fixes.csv", k + 2, "point") for k in (a, b)})
    return Spoilt(book=book, cells=cells, why="exchanged")


def _other(rng: np.random.Generator, names: Iterable[str], *taken: str) -> str:
    return str(rng.choice([name for name in names if name not in taken]))


def tape_name(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return a tape booked to another pin, 0.2 m or more nearer or farther."""
    book = local(yard)
    while True:
        k = int(rng.integers(len(book.tapes)))
        row = book.tapes[k]
        wrong = _other(rng, PINS, row.start, row.to)
        if abs(math.dist(yard.xy(wrong), yard.xy(row.to)) - row.length_m) > 0.2:
            break
    book = _put(book, "tapes", k, start=wrong)
    return Spoilt(
        book=book,
        cells=frozenset({("tapes.csv", row.row, "from")}),
        likely=frozenset({row.start}),
        why="booked as",
    )


def sight_name(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return a sight booked to another point, whose own sight of that set-up is lost."""
    book = local(yard)
    while True:
        k = int(rng.integers(len(book.levels)))
        row = book.levels[k]
        wrong = _other(rng, yard.truth, row.point)
        first = k < len(book.levels) // 2
        half = range(len(book.levels) // 2) if first else range(len(book.levels) // 2, len(book.levels))
        lost = [i for i in half if book.levels[i].point == wrong]
        if row.is_m is not None and len(lost) == 1 and abs(yard.z(wrong) - yard.z(row.point)) > 0.05:
            break
    book = _put(book, "levels", k, point=wrong)
    book = replace(book, levels=tuple(r for i, r in enumerate(book.levels) if i != lost[0]))
    return Spoilt(
        book=book,
        cells=frozenset({("levels.csv", row.row, "point")}),
        likely=frozenset({row.point}),
        why="booked as",
    )


def rise_name(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return a rise booked to another point."""
    for a, b in combinations(PINS, 2):
        yard.rise(a, b)
    for k, row in enumerate(yard.rises):
        yard.rises[k] = replace(row, read={"rise": f"{row.rise_m:.3f}"})
    book = local(yard)
    while True:
        k = int(rng.integers(len(book.rises)))
        row = book.rises[k]
        wrong = _other(rng, yard.truth, row.start, row.to)
        if abs(yard.z(wrong) - yard.z(row.to)) > 0.05:
            break
    book = _put(book, "rises", k, to=wrong)
    return Spoilt(
        book=book,
        cells=frozenset({("rises.csv", row.row, "to")}),
        likely=frozenset({row.to}),
        why="booked as",
    )


def offset_name(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return an offset row booked to another point."""
    for name in ("P3", "P4", *GROUND):
        yard.offset(name, "P1", "P2")
    book = local(yard)
    k = int(rng.integers(len(book.offsets)))
    row = book.offsets[k]
    wrong = _other(rng, ("P3", "P4", *GROUND), row.point)
    book = _put(book, "offsets", k, point=wrong)
    return Spoilt(
        book=book,
        cells=frozenset({("offsets.csv", row.row, "point")}),
        likely=frozenset({row.point}),
        why="booked as",
    )


def one_sign(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return one wrong sign among the offsets of seven points."""
    for name in ("P3", "P4", *GROUND):
        yard.offset(name, "P1", "P2")
    book = local(yard)
    k = int(rng.integers(len(book.offsets)))
    row = book.offsets[k]
    read = {**row.read, "offset": f"{-row.offset_m:.3f}"}
    book = _put(book, "offsets", k, offset_m=-row.offset_m, read=read)
    return Spoilt(book=book, cells=frozenset({("offsets.csv", row.row, "offset")}), why="sign")


def _in_feet(book: FieldBook) -> FieldBook:
    rows = tuple(
        replace(t, length_m=t.length_m / FOOT_M, read={"length": f"{t.length_m / FOOT_M:.3f}"})
        for t in book.tapes
    )
    return replace(book, tapes=rows)


def feet_and_control(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return all tapes read in feet, with control points in metres."""
    cells = frozenset({("tapes.csv", 2, "length")})
    return Spoilt(book=_in_feet(controlled(yard)), cells=cells, why="and so all")


def feet_and_fixes(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return all tapes read in feet, with fixes."""
    cells = frozenset({("tapes.csv", 2, "length")})
    return Spoilt(book=_in_feet(with_fixes(yard)), cells=cells, why="and so all")


def _tape_off(book: FieldBook, k: int, rng: np.random.Generator) -> FieldBook:
    row = book.tapes[k]
    by = float(rng.choice([-1, 1])) * float(rng.choice([1.0, 0.1, 10 ** rng.uniform(-1, 0.5)]))
    length = round(row.length_m + (by if row.length_m + by > 0.5 else abs(by)), 3)
    return _put(book, "tapes", k, length_m=length, read={"length": f"{length:.3f}"})


def _tapes(yard: FixedYard, rng: np.random.Generator, many: int) -> Spoilt:
    # Tapes of a point that four pins see can be told from each other.
    for a, b in combinations(GROUND, 2):
        yard.tape(a, b)
    book = local(yard)
    chosen = [int(k) for k in rng.choice(len(book.tapes), many, replace=False)]
    for k in chosen:
        book = _tape_off(book, k, rng)
    return Spoilt(book=book, cells=frozenset({("tapes.csv", k + 2, "length") for k in chosen}))


def one_tape(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return one tape wrong by 0.1 to 3 m, ground points taped to each other as well."""
    return _tapes(yard, rng, 1)


def two_tapes(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return two tapes wrong."""
    return _tapes(yard, rng, 2)


def three_tapes(yard: FixedYard, rng: np.random.Generator) -> Spoilt:
    """Return three tapes wrong."""
    return _tapes(yard, rng, 3)


KINDS: dict[str, Callable[[FixedYard, np.random.Generator], Spoilt]] = {
    "a control coordinate off by 0.1 to 100 km": control_far,
    "digits of a control coordinate exchanged": control_digits,
    "east and north of a control point exchanged": control_turned,
    "names of two control points exchanged": control_names,
    "names of two fixes exchanged": fix_names,
    "a tape booked to another pin": tape_name,
    "a sight booked to another point": sight_name,
    "a rise booked to another point": rise_name,
    "an offset booked to another point": offset_name,
    "one wrong sign of seven offsets": one_sign,
    "all tapes in feet, control in metres": feet_and_control,
    "all tapes in feet, fixes": feet_and_fixes,
    "one tape wrong": one_tape,
    "two tapes wrong": two_tapes,
    "three tapes wrong": three_tapes,
}


def _of(one: Suspect, cells: Cells) -> bool:
    """Whether a suspect stands in a row of the mistake."""
    return any((one.table, one.row) == (table, row) for table, row, _ in cells)


def tallied(kind: Callable[[FixedYard, np.random.Generator], Spoilt], yards: int, seed: int) -> Tally:
    """Return what comes of one kind of mistake in so many yards."""
    tally = Tally()
    for number in range(yards):
        rng = np.random.default_rng([seed, number])
        spoilt = kind(yard_of(rng), rng)
        started = time.process_time()
        try:
            got = adjusted(spoilt.book)
        except WrongInput:
            tally.refused += 1
            continue
        tally.seconds.append(time.process_time() - started)
        suspects = got.suspects
        rows = {(table, row) for table, row, _ in spoilt.cells}
        tally.yards += 1
        tally.named += {(s.table, s.row) for s in suspects[: len(rows)]} == rows
        tally.repaired += (
            bool(suspects)
            and spoilt.why in suspects[0].why
            and _of(suspects[0], spoilt.cells)
            and (not spoilt.likely or suspects[0].likely in spoilt.likely)
        )
        tally.others += any(not _of(s, spoilt.cells) and s.chance > SURE for s in suspects)
        sure = [s for s in suspects if s.chance > SURE]
        tally.sure += len(sure)
        tally.sure_wrong += sum(not _of(s, spoilt.cells) for s in sure)
    return tally


def main() -> None:
    """Print what comes of each kind."""
    yards = int(sys.argv[1]) if len(sys.argv) > 1 else YARDS
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else SEED
    sure = wrong = 0
    wanted = " ".join(sys.argv[3:])
    for words, kind in KINDS.items():
        if wanted not in words:
            continue
        tally = tallied(kind, yards, seed)
        sure, wrong = sure + tally.sure, wrong + tally.sure_wrong
        yards_of_it = tally.yards
        print(f"{words}, {tally.refused} refused because a pin could not be placed")
        print(f"  the row, or all rows, named first        {share(tally.named, yards_of_it)}")
        print(f"  for what it is, and put right            {share(tally.repaired, yards_of_it)}")
        print(f"  a good reading named above {SURE:.2f}          {share(tally.others, yards_of_it)}")
        print(
            f"  {np.median(tally.seconds):.1f} s in the middle, {max(tally.seconds):.1f} s at most",
            flush=True,
        )
    print(f"of all readings named above {SURE:.2f} good ones  {share(wrong, sure)}")


if __name__ == "__main__":
    main()
