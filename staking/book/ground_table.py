"""A large table of bare ground points on the site's axes: CSV, or LAS, LAZ and GeoTIFF by the extra `ground`.

Read whole: a million points take about a second. Where that fails the rows are looked at one by
one, to say which is wrong.
"""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from staking.base.errors import Mistake, WrongInput
from staking.base.units import from_unit
from staking.book.celltext import decode, delimiter_of
from staking.book.nearest import nearest

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from staking.book.jobreader import JobRead
    from staking.book.records import GroundAssumed

    Floats = NDArray[np.float64]

COLUMNS = ("east", "north", "elevation")
CSV_ENDINGS = (".csv", ".txt")
LAS_ENDINGS = (".las", ".laz")
TIFF_ENDINGS = (".tif", ".tiff")
GROUND_CLASS = 2
"""Of bare ground in LAS files: ASPRS, *LAS Specification* 1.4, table of point classes, from memory."""
MOST_POINTS = 5_000_000
"""More would not fit in the memory of a laptop while they are triangulated."""
MOST_TOLD = 10
"""Rows that cannot be read are told one by one up to this many, then counted."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GroundTable:
    """Bare ground points on the site's axes."""

    file: str
    en_m: Floats
    """(n, 2)."""
    z_m: Floats
    """(n,), with the shift that the job states."""
    sd_m: float
    """Of one point's elevation."""
    note: str = ""
    """What was chosen of the file, for people; empty where all of it was."""


def table_mistakes(asked: GroundAssumed, where: str = "job.toml") -> list[Mistake]:
    """Return what does not go together in ``[ground]``."""

    def mistake(key: str, problem: str, expected: str) -> Mistake:
        return Mistake(file=where, column=f"ground.{key}", problem=problem, expected=expected)

    if asked.table is None:
        if asked.surface == "table":
            return [mistake("surface", "there is no table", 'table = "…", the file with the ground points')]
        extra = [
            key
            for key, value in (("sd", asked.sd_m), ("units", asked.units), ("shift", asked.shift_m or None))
            if value is not None
        ]
        return [mistake(key, "it belongs to a table, and none is named", 'table = "…"') for key in extra]
    if asked.sd_m is None:
        sd = "how far one point's elevation may be off, one standard deviation, from who made the table"
        return [mistake("sd", "missing", sd)]
    return []


def read_named_table(folder: Path, job: JobRead) -> tuple[GroundTable | None, dict[str, bytes]]:
    """Return the table that ``[ground]`` names and its bytes by its name; None where none is named.

    Raises
    ------
    WrongInput
        When it is not there or cannot be read; every mistake of it.
    """
    asked = job.job.ground
    if asked.table is None or asked.sd_m is None:
        return None, {}
    name = asked.table

    def wrong(problem: str, remedy: str | None = None) -> WrongInput:
        return WrongInput(
            [Mistake(file="job.toml", column="ground.table", read=name, problem=problem, remedy=remedy)]
        )

    endings = (*CSV_ENDINGS, *LAS_ENDINGS, *TIFF_ENDINGS)
    if not name.lower().endswith(endings):
        raise wrong("no kind of file that is read", f"It ends in one of {', '.join(endings)}")
    if name in (".", "..") or Path(name).name != name or "\\" in name:
        raise wrong("not the name of a file in the survey's folder", "Put the file beside job.toml")
    path = folder / name
    if not path.is_file():
        close = nearest(name, [one.name for one in folder.iterdir() if one.is_file()])
        raise wrong(
            "there is no such file beside job.toml", None if close is None else f"Did you mean {close}?"
        )
    try:
        data = path.read_bytes()
    except OSError as error:
        problem = f"cannot be read: {error.strerror}"
        raise wrong(problem) from error
    scale = from_unit(1.0, asked.units or job.job.site.units)
    return ground_table(name, data, scale=scale, sd_m=asked.sd_m, shift_m=asked.shift_m), {name: data}


def ground_table(file: str, data: bytes, *, scale: float, sd_m: float, shift_m: float = 0.0) -> GroundTable:
    """Read a table of ground points.

    Parameters
    ----------
    file, data
        Its name, by whose ending it is read, and what is in it.
    scale
        Metres in one of its units.
    sd_m, shift_m
        One standard deviation of an elevation; what is added to every one.

    Raises
    ------
    WrongInput
        With the rows that cannot be read, or when the file as a whole cannot be used.
    """
    import numpy as np

    lower = file.lower()
    if lower.endswith(CSV_ENDINGS):
        enz, note = _csv_points(file, data), ""
    elif lower.endswith(LAS_ENDINGS):
        enz, note = _las_points(file, data)
    else:
        enz, note = _tiff_points(file, data)
    if len(enz) > MOST_POINTS:
        problem = f"{len(enz):,} points; at most {MOST_POINTS:,} are taken"
        raise WrongInput(
            [Mistake(file=file, problem=problem, remedy="Cut it to the yard and what is near it")]
        )
    enz = enz * scale
    spread = np.ptp(enz[:, :2], axis=0) if len(enz) else np.zeros(2)
    if len(enz) < 3 or spread.min() <= 0.0:
        problem = f"{len(enz)} points" if len(enz) < 3 else "its points lie in one line"
        raise WrongInput(
            [Mistake(file=file, problem=problem, expected="three ground points or more, not in line")]
        )
    en, z = np.ascontiguousarray(enz[:, :2]), enz[:, 2] + shift_m
    en.flags.writeable = z.flags.writeable = False
    return GroundTable(file=file, en_m=en, z_m=z, sd_m=sd_m, note=note)


def _csv_points(file: str, data: bytes) -> Floats:
    import numpy as np

    try:
        text = decode(data)
    except ValueError as error:
        raise WrongInput([Mistake(file=file, problem=str(error))]) from error
    lines = io.StringIO(text, newline=None)
    header, header_row = "", 0
    for line in lines:
        header_row += 1
        header = line
        if line.strip() and not line.lstrip().startswith("#"):
            break
    delimiter = delimiter_of(header, COLUMNS)
    names = [name.strip().casefold() for name in next(csv.reader([header], delimiter=delimiter), [])]
    missing = [name for name in COLUMNS if names.count(name) != 1]
    if missing:
        raise WrongInput(
            [
                Mistake(
                    file=file,
                    row=max(header_row, 1),
                    read=header.strip()[:60],
                    problem=f"no column {name}" if name not in names else f"two columns {name}",
                    expected="a header with the columns east, north and elevation, parted by commas",
                )
                for name in missing
            ]
        )
    columns = [names.index(name) for name in COLUMNS]
    first = lines.tell()
    if not any(line.strip() and not line.lstrip().startswith("#") for line in lines):
        return np.zeros((0, 3))
    lines.seek(first)
    try:
        points = np.loadtxt(lines, delimiter=delimiter, usecols=columns, comments="#", quotechar='"', ndmin=2)
    except (ValueError, IndexError):
        points = None
    if points is None or not np.isfinite(points).all():
        raise WrongInput(_wrong_rows(file, text, header_row, columns, delimiter))
    return np.asarray(points.reshape(-1, 3), dtype=np.float64)


def _wrong_rows(file: str, text: str, header_row: int, columns: list[int], delimiter: str) -> list[Mistake]:
    mistakes: list[Mistake] = []
    wrong = 0
    for row, line in enumerate(io.StringIO(text, newline=None), start=1):
        if row <= header_row or not line.strip() or line.lstrip().startswith("#"):
            continue
        cells = next(csv.reader([line], delimiter=delimiter), [])
        for name, column in zip(COLUMNS, columns, strict=True):
            cell = cells[column].split("#")[0].strip() if column < len(cells) else ""
            if not _is_number(cell):
                wrong += 1
                if len(mistakes) < MOST_TOLD:
                    mistakes.append(
                        Mistake(
                            file=file,
                            row=row,
                            column=name,
                            read=cell,
                            problem="not a bare number" if cell else "nothing there",
                            expected="a number in the unit of [ground] units, else of [site] units",
                        )
                    )
    if wrong > len(mistakes):
        mistakes.append(Mistake(file=file, problem=f"{wrong - len(mistakes):,} more cells are wrong"))
    return mistakes or [Mistake(file=file, problem="cannot be read as a table of numbers")]


def _is_number(cell: str) -> bool:
    try:
        return math.isfinite(float(cell))
    except ValueError:
        return False


def _needs(file: str, library: str) -> WrongInput:
    remedy = 'pip install ".[ground]" in the project\'s folder; or save the points as CSV'
    return WrongInput([Mistake(file=file, problem=f"reading it needs the library {library}", remedy=remedy)])


def _las_points(file: str, data: bytes) -> tuple[Floats, str]:
    try:
        import laspy
    except ImportError:
        raise _needs(file, "laspy") from None
    import numpy as np

    try:
        las: Any = laspy.read(io.BytesIO(data))
        points = np.column_stack([np.asarray(las[axis], dtype=np.float64) for axis in "xyz"])
        classes = np.asarray(las.classification)
    except Exception as error:
        # The library and its decompressors raise kinds of their own, with no common root.
        problem = f"cannot be read as LAS or LAZ: {error}"
        raise WrongInput([Mistake(file=file, problem=problem)]) from error
    ground = classes == GROUND_CLASS
    if not ground.any():
        return points, "none of its points is classed as ground: all were taken, shrubs and roofs too"
    left = len(points) - int(ground.sum())
    return points[ground], f"{left:,} points not classed as ground were left out" if left else ""


def _tiff_points(file: str, data: bytes) -> tuple[Floats, str]:
    try:
        import rasterio
    except ImportError:
        raise _needs(file, "rasterio") from None
    import warnings

    import numpy as np

    try:
        with warnings.catch_warnings():
            # A picture that is not on any map says so; that is told below.
            warnings.simplefilter("ignore")
            with rasterio.MemoryFile(data) as memory, memory.open() as picture:
                band = picture.read(1, masked=True)
                placed, bands = picture.transform, picture.count
    except Exception as error:
        # The library raises kinds of its own and of the one beneath it.
        problem = f"cannot be read as GeoTIFF: {error}"
        raise WrongInput([Mistake(file=file, problem=problem)]) from error
    if placed.is_identity:
        problem = "it does not say where its pixels lie"
        raise WrongInput([Mistake(file=file, problem=problem, remedy="Export it with its place on the map")])
    rows, columns = np.nonzero(~np.ma.getmaskarray(band) & np.isfinite(np.ma.getdata(band)))
    along, down = columns + 0.5, rows + 0.5
    east = placed.a * along + placed.b * down + placed.c
    north = placed.d * along + placed.e * down + placed.f
    points = np.column_stack([east, north, np.asarray(band[rows, columns], dtype=np.float64)])
    return points, f"the first of its {bands} bands was taken" if bands > 1 else ""
