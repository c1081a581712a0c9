"""A small yard that reads without a mistake, for tests to spoil."""

from __future__ import annotations

from pathlib import Path

from staking.base.errors import Mistake, WrongInput
from staking.book.folder import Purpose, read_book
from staking.book.records import FieldBook

JOB = """\
[site]
name = "Yard"
units = "ft"
tape_how = "level"

[control]
origin = { point = "P1", east = 0, north = 0 }
azimuth = { from = "P1", to = "P2", degrees = 88.0, north = "true" }
benchmark = { point = "BM1", elevation = 100 }
side = "left"

[array]
azimuth = 172
tilt = 28
modules_along = 7
modules_up = 3
module = { along = "66.9 in", up = "44.1 in", thick = "30 mm" }
gap = { along = "3/8 in", up = "3/8 in" }

[frame]
piers_per_beam = 5
bay = "8.75 ft"
beams_at = ["1.9 ft", "9.4 ft"]
stack = "130 mm"
takeout = "55 mm"
post_pipe = "NPS 2 sch 40"
beam_pipe = "NPS 2 sch 40"

[place]
line = ["P1", "P2"]
station = "12 ft"
offset = "-8 ft"

[fit]
above_grade_min = "20 in"
above_grade_max = "8 ft"
clearance = "22 in"

[footing]
hole_diameter = "12 in"
embedment = "4 ft"
bottom_cover = "3 in"

[pipe]
stock = [ { length = "21 ft", price = 118.00 } ]
"""

LEVELS = """\
point,bs,is,fs,dist,note
BM1,5.12,,,30,bolt in the slab
P1,,4.31,,,
P2,,3.58,,,
A1,,2.96,,,stake
TP1,4.87,,4.02,32,
G1,,6.05,,,
BM1,,,5.97,30,
"""

TAPES = """\
from,to,length,how,note
P1,P2,60.00,,
P1,G1,33.42,level,
P2,G1,42.75,slope,
"""

FILES = {"job.toml": JOB, "levels.csv": LEVELS, "tapes.csv": TAPES}


def write_yard(folder: Path, files: dict[str, str | bytes | None] | None = None) -> Path:
    """Write the yard with these files instead of, or beside, its own; None leaves one out."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in {**FILES, **(files or {})}.items():
        if text is not None:
            (folder / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


def read_yard(
    folder: Path, files: dict[str, str | bytes | None] | None = None, *, purpose: Purpose = "plan"
) -> FieldBook:
    """Write the yard and read it."""
    return read_book(write_yard(folder, files), purpose=purpose)


def mistakes_of(
    folder: Path, files: dict[str, str | bytes | None] | None = None, *, purpose: Purpose = "plan"
) -> list[Mistake]:
    """Return the mistakes of the yard so written; empty where there are none."""
    try:
        read_yard(folder, files, purpose=purpose)
    except WrongInput as wrong:
        return list(wrong.mistakes)
    return []


def places(mistakes: list[Mistake]) -> list[tuple[str, int | None, str | None]]:
    """Return where each mistake stands."""
    return [(mistake.file, mistake.row, mistake.column) for mistake in mistakes]
