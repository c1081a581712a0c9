"""Values that are allowed but lie far from what is usual: mostly a unit that was lost."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from staking.base.units import in_unit
from staking.book.records import Accuracy, ArrayJob, FieldBook, Job, Pipe

NOTHING_M = 1e-9
"""Nought is a choice, and asked about nowhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """Between which lengths a key of ``job.toml`` lies as a rule; both common practice, no source."""

    key: str
    least_m: float
    most_m: float


def _usual(key: str, least_m: float, most_m: float) -> Usual:
    return Usual(key=key, least_m=least_m, most_m=most_m)


OF_ARRAYS = (
    _usual("array.module.along", 0.3, 2.6),
    _usual("array.module.up", 0.3, 2.6),
    _usual("array.module.thick", 0.004, 0.08),
    _usual("array.gap.along", 0.001, 0.105),
    _usual("array.gap.up", 0.001, 0.105),
    _usual("frame.bay", 0.9, 6.5),
    _usual("frame.max_bay", 0.9, 6.5),
    _usual("frame.stack", 0.02, 0.4),
    _usual("frame.takeout", 0.01, 0.3),
    _usual("frame.rail_end", 0.005, 0.6),
    _usual("frame.rail_clear", 0.005, 0.6),
    _usual("frame.beam_end", 0.01, 0.9),
    _usual("frame.beam_past_post", 0.01, 0.9),
)
OF_JOB = (
    _usual("footing.hole_diameter", 0.1, 1.0),
    _usual("footing.embedment", 0.3, 4.0),
    _usual("footing.bottom_cover", 0.02, 0.31),
    _usual("footing.side_cover", 0.02, 0.31),
    _usual("footing.frost_depth", 0.1, 2.6),
    _usual("pipe.cut_allowance", 0.003, 0.16),
    _usual("pipe.joint_clear", 0.02, 0.61),
    _usual("stakes.offset_hub", 0.3, 6.1),
)
"""Of what is built. The bounds hold the usual pipe frame of modules on augered piers with room to spare, and
leave out what a number becomes when its inches are taken for feet, its centimetres for metres or for feet."""
LONGEST_STICK_M = 16.0
"""Pipe comes in sticks of up to 42 ft, and no lorry to a yard carries more (common practice, no source)."""

HOLE_M = (0.3, 4.5)
"""How deep augers dig for posts (common practice, no source)."""

OF_READINGS = (
    _usual("rod", 0.00005, 0.02),
    _usual("rise", 0.0001, 0.03),
    _usual("tape", 0.0001, 0.05),
    _usual("offset", 0.001, 0.3),
    _usual("shadow_mark", 0.0005, 0.05),
    _usual("mark", 0.0001, 0.01),
    _usual("saw", 0.0001, 0.01),
    _usual("session", 0.002, 30.0),
    _usual("session_height", 0.002, 60.0),
    _usual("fix", 0.002, 20.0),
    _usual("fix_height", 0.002, 40.0),
)
"""One standard deviation of one reading, from the best instrument to hasty work (common practice, no
source)."""
OF_ANGLES = {
    "angle": (math.radians(0.0001), math.radians(2.0)),
    "bearing": (math.radians(0.0001), math.radians(5.0)),
    "shadow": (math.radians(0.005), math.radians(3.0)),
    "slope": (math.radians(0.0001), math.radians(3.0)),
}
"""The same of angles: from a theodolite to a hasty compass (common practice, no source)."""
OF_SHARES = {"rod_per_100": ("rod_per_m", 0.001), "tape_per_100": ("tape_per_m", 0.002)}
"""What grows with the sight or the length: the key, its field, and the most of it, a share of the way: 0.1 in
100 of a hand level, 0.2 in 100 of a cloth tape (common practice, no source)."""


def usual_remarks(job: Job) -> tuple[str, ...]:
    """Return a question on each value that is far from the usual, once for all arrays that share it."""
    unit = job.site.units
    asked: dict[str, list[str]] = {}
    for array in job.arrays:
        for text in _outside(OF_ARRAYS, {"array": array.array, "frame": array.frame}, unit):
            asked.setdefault(text, []).append(array.name)
    remarks = [_of(names, job.arrays, text) for text, names in asked.items()]
    parts = {"footing": job.footing, "pipe": job.pipe, "stakes": job.stakes}
    remarks += _outside(OF_JOB, parts, unit)
    if job.pipe is not None:
        remarks += _of_pipe(job.pipe, unit)
    return (*remarks, *_accuracy_remarks(job.accuracy, unit))


def _of(names: Sequence[str], arrays: Sequence[ArrayJob], text: str) -> str:
    if len(names) == len(arrays):
        return text
    return f"array {', '.join(names)}: {text}"


def _outside(usual: Sequence[Usual], parts: Mapping[str, object], unit: str) -> Iterator[str]:
    for one in usual:
        part, _, field = one.key.partition(".")
        value_m = getattr(parts[part], f"{field.replace('.', '_')}_m", None)
        if value_m is None or abs(value_m) <= NOTHING_M or one.least_m <= value_m <= one.most_m:
            continue
        yield (
            f"job.toml {one.key} is read as {_with_unit(value_m, unit)}; usual is "
            f"{_from_to(one.least_m, one.most_m, unit)}: is the unit right?"
        )


def _of_pipe(pipe: Pipe, unit: str) -> list[str]:
    long = max((stick.length_m for stick in pipe.stock), default=0.0)
    if long <= LONGEST_STICK_M:
        return []
    return [
        f"job.toml pipe.stock has a stick of {_with_unit(long, unit)}, longer than pipe comes: is the unit "
        "right?"
    ]


def _accuracy_remarks(accuracy: Accuracy, unit: str) -> list[str]:
    remarks = []
    for one in OF_READINGS:
        sd_m = getattr(accuracy, f"{one.key}_m")
        if not one.least_m <= sd_m <= one.most_m:
            read = _with_unit(sd_m, unit)
            remarks.append(_sd_asked(one.key, read, _from_to(one.least_m, one.most_m, unit)))
    for key, (least_rad, most_rad) in OF_ANGLES.items():
        sd_rad = getattr(accuracy, f"{key}_rad")
        if not least_rad <= sd_rad <= most_rad:
            usual = f"{math.degrees(least_rad):.4g}° to {math.degrees(most_rad):.4g}°"
            remarks.append(_sd_asked(key, f"{math.degrees(sd_rad):.4g}°", usual))
    for key, (field, most) in OF_SHARES.items():
        share = getattr(accuracy, field)
        if share > most:
            usual = f"up to {100 * most:.4g} {unit}"
            remarks.append(_sd_asked(key, f"{100 * share:.4g} {unit} in 100 {unit}", usual))
    return remarks


def row_remarks(book: FieldBook) -> tuple[str, ...]:
    """Return a question on each table whose column `sd`, or depth of a hole, is far from the usual."""
    unit, remarks = book.job.site.units, []
    lengths = {one.key: one for one in OF_READINGS}
    for key, rows in (
        ("rod", book.levels),
        ("rise", book.rises),
        ("tape", book.tapes),
        ("offset", book.offsets),
    ):
        usual = lengths[key]
        sds = [(row.table, row.row, row.sd_m) for row in rows if row.sd_m is not None]
        wrong = [one for one in sds if not usual.least_m <= one[2] <= usual.most_m]
        if wrong:
            read = _with_unit(wrong[0][2], unit)
            remarks.append(_row_asked(wrong, read, _from_to(usual.least_m, usual.most_m, unit)))
    for key, turns in (("angle", book.angles), ("bearing", book.bearings)):
        least, most = OF_ANGLES[key]
        sds = [(row.table, row.row, row.sd_rad) for row in turns if row.sd_rad is not None]
        wrong = [one for one in sds if not least <= one[2] <= most]
        if wrong:
            usual_words = f"{math.degrees(least):.4g}° to {math.degrees(most):.4g}°"
            remarks.append(_row_asked(wrong, f"{math.degrees(wrong[0][2]):.4g}°", usual_words))
    dug = [(row.table, row.row, row.hole_depth_m) for row in book.sawn if row.hole_depth_m is not None]
    wrong = [one for one in dug if not HOLE_M[0] <= one[2] <= HOLE_M[1]]
    if wrong:
        table, number, depth_m = wrong[0]
        remarks.append(
            f"{table}, row {number}{_likewise(wrong)}: hole_depth is read as {_with_unit(depth_m, unit)}; "
            f"usual is {_from_to(*HOLE_M, unit)}: is the unit right?"
        )
    return tuple(remarks)


def unused_remarks(book: FieldBook) -> tuple[str, ...]:
    """Return what is read and not made use of."""
    if not book.built:
        return ()
    said = "built.csv is read, and nothing is made of it yet: what was built is not held against the design"
    return (said,)


def _likewise(wrong: Sequence[object]) -> str:
    return f" (and {len(wrong) - 1} more likewise)" if len(wrong) > 1 else ""


def _row_asked(wrong: Sequence[tuple[str, int, float]], read: str, usual: str) -> str:
    table, row, _ = wrong[0]
    return (
        f"{table}, row {row}{_likewise(wrong)}: sd is read as {read}; instruments do {usual}: is the unit "
        "right? Too large a one hides mistakes"
    )


def _sd_asked(key: str, read: str, usual: str) -> str:
    return (
        f"job.toml accuracy.{key} is read as {read}, one standard deviation of one reading; instruments "
        f"do {usual}: is the unit right? Too large a one hides mistakes"
    )


def _with_unit(value_m: float, unit: str) -> str:
    """Return a length in the unit that a bare number has, and in millimetres, by which a slip shows."""
    read = f"{_figures(in_unit(value_m, unit))} {unit}"
    return read if unit == "mm" else f"{read} ({_figures(in_unit(value_m, 'mm'))} mm)"


def _figures(value: float) -> str:
    return f"{value:.4g}" if abs(value) < 9999.5 else f"{value:.0f}"


def _from_to(least_m: float, most_m: float, unit: str) -> str:
    least, most = in_unit(least_m, unit), in_unit(most_m, unit)
    return f"{least:.2g} to {most:.2g} {unit}" if most < 100 else f"{least:.3g} to {most:.0f} {unit}"
